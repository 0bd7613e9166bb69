"""The notebook of a recommendation that is just being made."""

from __future__ import annotations

from pathlib import Path

import nbformat

from steelyard.library import Library, shipped_library, shipped_workbook
from steelyard.notebook.template import recommendation_notebook


def new_notebook(library: Library, recommendation_id: str) -> dict[Path, bytes]:
    """Where the notebook goes, and what is in it: the template's cells, not yet run.

    The shipped library keeps its notebooks in the shipped workbook, another in its own folder
    ``workbook``.
    """
    folder = library.folder / "workbook"
    if library.folder.resolve() == shipped_library().resolve():
        folder = shipped_workbook()
    path = folder / "recommendations" / f"{recommendation_id}.ipynb"
    text = nbformat.writes(recommendation_notebook(recommendation_id)) + "\n"
    return {path: text.encode("utf-8")}
