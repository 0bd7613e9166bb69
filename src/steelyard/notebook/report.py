"""From notebooks that were run to a folder of pages with one page of all answers."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path, PurePosixPath

from steelyard.errors import SteelyardError
from steelyard.explaining.page import notebook_page
from steelyard.explaining.page_index import IndexEntry, index_page
from steelyard.library import Library
from steelyard.notebook.missing import left_out, missing_answers, short_of
from steelyard.notebook.page import QuestionPage
from steelyard.notebook.running import Run
from steelyard.notebook.says import InShort
from steelyard.notebook.template import title_of
from steelyard.notebook.workbook import lonely_questions

INDEX = "index.html"


def pages_of(library: Library) -> list[InShort]:
    """What each recommendation, and each question without one, says in short."""
    return [short for short, _ in _shorts(library).values()]


def write_pages(runs: Iterable[Run], *, library: Library, out: Path) -> Path:
    """Write a page per notebook and the page of all answers.

    Parameters
    ----------
    runs : iterable of Run
    library : Library
    out : Path
        Folder that is there.

    Returns
    -------
    Path
        Of the page of all answers.
    """
    shorts = _shorts(library)
    invented = any(short.invented for short, _ in shorts.values())
    entries, further = [], []
    for run in runs:
        path = PurePosixPath(run.name)
        short, title = shorts.get(run.name, (None, title_of(path.name.lstrip("0123456789-"))))
        up = "../" * (len(path.parts) - 1)
        page = notebook_page(
            run.book,
            title=title,
            invented=invented if short is None else short.invented,
            index=f"{up}{INDEX}",
        )
        target = out / f"{run.name}.html"
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_text(page, encoding="utf-8", newline="\n")
        if short is None:
            further.append(IndexEntry(f"{run.name}.html", title))
        else:
            rows = tuple(row for row in short._rows() if row[0] != "data")
            entries.append(IndexEntry(f"{run.name}.html", short.title, rows))
    index = out / INDEX
    index.write_text(
        index_page(
            entries,
            further=further,
            missing=list(map(str, missing_answers(library))),
            left_out=left_out(library),
            title="Every answer",
            invented=invented,
        ),
        encoding="utf-8",
        newline="\n",
    )
    return index


def _shorts(library: Library) -> dict[str, tuple[InShort, str]]:
    found = {}
    for each in library.recommendations:
        try:
            short = short_of(library, each)
        except SteelyardError:
            continue
        found[f"recommendations/{each}"] = (short, title_of(each))
    for each in lonely_questions(library):
        found[f"questions/{each}"] = (QuestionPage.of(library, each).in_short(), title_of(each))
    return found
