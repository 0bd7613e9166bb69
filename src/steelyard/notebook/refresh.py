"""``python -m steelyard.notebook.refresh``: make and run every notebook of the workbook."""

from __future__ import annotations

import sys
from pathlib import Path

from steelyard.charts import forest_svg
from steelyard.library import Library, open_library, shipped_workbook
from steelyard.notebook.running import Job, run_notebooks
from steelyard.notebook.template import MARK
from steelyard.notebook.workbook import on_disk, save, templated
from steelyard.pooling.forest_data import forest_data

PICTURED = "slow-lowering-strength"


def refresh(workbook: Path, library: Library) -> list[str]:
    """Make, run and save the notebooks of a workbook.

    Templated ones are made anew, and those of recommendations that are gone are deleted; other
    notebooks keep their cells and get fresh outputs. A notebook that fails is not saved.

    Returns
    -------
    failures : list of str
    """
    books = templated(library)
    for name, book in on_disk(workbook).items():
        if name in books:
            continue
        if MARK in book.metadata:
            (workbook / name).unlink()
        else:
            books[name] = book
    runs = run_notebooks(
        [Job(name, book) for name, book in books.items()],
        library=library.folder,
        folder=workbook,
        started=lambda number, of, name: print(f"{number} of {of}: {name}", file=sys.stderr),
    )
    failures = []
    for run in runs:
        if run.failure:
            failures.append(f"{run.name}: {run.failure}")
            continue
        path = workbook / run.name
        path.parent.mkdir(parents=True, exist_ok=True)
        save(run.book, path)
    return failures


def picture(library: Library, question_id: str = PICTURED) -> str:
    """The forest plot that the readme shows, as SVG text."""
    return forest_svg(forest_data(library.weigh(question_id)))


def main() -> int:
    """Refresh the shipped workbook, and the readme's picture, from the shipped library."""
    library, workbook = open_library(), shipped_workbook()
    failures = refresh(workbook, library)
    path = workbook / "pictures" / f"{PICTURED}.svg"
    path.parent.mkdir(exist_ok=True)
    path.write_text(picture(library), encoding="utf-8")
    for failure in failures:
        print(failure, file=sys.stderr)
    return 1 if failures else 0


if __name__ == "__main__":
    sys.exit(main())
