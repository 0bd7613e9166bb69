"""Where the library and the workbook that ship are found."""

from __future__ import annotations

from pathlib import Path

from steelyard.errors import UsageError


def shipped_library() -> Path:
    """The library that ships: ``evidence/`` of the checkout, else the copy in the package."""
    here = Path(__file__).resolve()
    for folder in (here.parents[3] / "evidence", here.parents[1] / "shipped" / "evidence"):
        if (folder / "vocabulary.toml").exists():
            return folder
    raise UsageError("the shipped library is not there; name one with --library")


def shipped_workbook() -> Path:
    """The folder of notebooks that ships beside the library."""
    here = Path(__file__).resolve()
    for folder in (here.parents[3] / "workbook", here.parents[1] / "shipped" / "workbook"):
        if folder.is_dir():
            return folder
    raise UsageError("the workbook is not there: expected the folder workbook of the project")
