"""The picture in the readme is the one the library gives now."""

from __future__ import annotations

from steelyard import open_library
from steelyard.library import shipped_workbook
from steelyard.notebook.refresh import PICTURED, picture


def test_the_readme_shows_the_answer_of_the_library():
    path = shipped_workbook() / "pictures" / f"{PICTURED}.svg"
    assert f"workbook/pictures/{path.name}" in (path.parents[2] / "README.md").read_text("utf-8")
    assert path.read_text(encoding="utf-8") == picture(open_library())
