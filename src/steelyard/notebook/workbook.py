"""Which notebooks a library has: those on disk where they fit it, the template's otherwise."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path

import nbformat
from nbformat import NotebookNode
from nbformat.sign import NotebookNotary

from steelyard.errors import UsageError
from steelyard.library import Library, shipped_library, shipped_workbook
from steelyard.notebook.shipped_cells import SHIPPED_CELLS
from steelyard.notebook.start_here import FILE_NAME, start_notebook
from steelyard.notebook.template import MARK, question_notebook, recommendation_notebook

LIVE = "application/vnd.jupyter.widget-view+json"


def templated(library: Library) -> dict[str, NotebookNode]:
    """The notebooks that the templates make for a library, by file name below the workbook.

    One to start from, one per recommendation, and one per question that no recommendation
    rests on.
    """
    lonely = lonely_questions(library)
    books = {FILE_NAME: start_notebook(library.recommendations, lonely)}
    for each in library.recommendations:
        books[f"recommendations/{each}.ipynb"] = recommendation_notebook(each)
    for each in lonely:
        books[f"questions/{each}.ipynb"] = question_notebook(each)
    return books


def lonely_questions(library: Library) -> list[str]:
    """Ids of questions on which no recommendation rests."""
    used = {each for record in library.recommendations.values() for each in record.questions}
    return [each for each in library.questions if each not in used]


def for_every_library() -> dict[str, NotebookNode]:
    """The shipped notebooks that name no record: to enter, read, weigh and explain; not yet run."""
    books = {
        path.name: nbformat.read(path, as_version=4)
        for path in sorted(shipped_workbook().glob("*.ipynb"))
        if path.name != FILE_NAME
    }
    for book in books.values():
        for cell in book.cells:
            if cell.cell_type == "code":
                cell.outputs, cell.execution_count = [], None
    return books


def made_for(library: Library) -> dict[str, NotebookNode]:
    """Every notebook a library should have, not yet run, by file name below the workbook."""
    return {**for_every_library(), **templated(library)}


def on_disk(workbook: Path) -> dict[str, NotebookNode]:
    """Every notebook of a folder, by file name below it; an editor's spare copies left out."""
    return {
        path.relative_to(workbook).as_posix(): nbformat.read(path, as_version=4)
        for path in sorted(workbook.rglob("*.ipynb"))
        if ".ipynb_checkpoints" not in path.parts
    }


def notebooks_for(library: Library, workbook: Path) -> dict[str, NotebookNode]:
    """The notebooks to run for a library.

    A notebook on disk is taken with its cells as they are, unless it is about a record that this
    library does not have. What the folder lacks comes from the templates, and from those that ship
    for every library; so does the notebook to start from, whose links must fit the library.
    """
    books, made = {}, made_for(library)
    for name, book in on_disk(workbook).items():
        kind = book.metadata.get(MARK, {}).get("kind")
        if name in made:
            fits = name != FILE_NAME or _same_cells(book, made[name])
            books[name] = book if fits or kind is None else made[name]
        elif kind is None and not name.startswith(("recommendations/", "questions/")):
            books[name] = book
    return dict(sorted({**made, **books}.items()))


def cells_digest(book: NotebookNode) -> str:
    """SHA-256 of a notebook's kinds of cells and their sources, outputs left aside."""
    told = json.dumps([[cell.cell_type, cell.source] for cell in book.cells])
    return hashlib.sha256(told.encode()).hexdigest()


def _same_cells(one: NotebookNode, other: NotebookNode) -> bool:
    return [cell.source for cell in one.cells] == [cell.source for cell in other.cells]


def own_workbook(library: Library) -> Path:
    """The folder of notebooks of a library, with what is missing made from the template.

    The shipped library has the shipped workbook, which is left as it is. Another has the folder
    ``workbook`` inside its own, with the notebooks for every library among them, not yet run; only
    the notebook to start from is made anew, so that its links fit.

    Raises
    ------
    UsageError
        If the folder cannot be written to.
    """
    if library.folder.resolve() == shipped_library().resolve():
        return shipped_workbook()
    folder = library.folder / "workbook"
    try:
        for name, book in made_for(library).items():
            path = folder / name
            if name == FILE_NAME or not path.exists():
                path.parent.mkdir(parents=True, exist_ok=True)
                save(book, path)
    except OSError as refused:
        raise UsageError(
            f"no notebooks can be kept in {str(folder)!r}: {refused.strerror}"
        ) from refused
    return folder


def workbook_of(library: Library) -> Path:
    """The folder whose notebooks a report runs: the library's own if it has one."""
    folder = library.folder / "workbook"
    return folder if folder.is_dir() else shipped_workbook()


def save(book: NotebookNode, path: Path) -> None:
    """Write a notebook so that the same cells and outputs are the same text.

    Live widgets are dead once saved, under a name that is new each time: they are left out.
    """
    book.metadata.pop("widgets", None)
    for cell in book.cells:
        if cell.cell_type == "code":
            cell.outputs = [out for out in cell.outputs if LIVE not in out.get("data", {})]
    path.write_text(nbformat.writes(book) + "\n", encoding="utf-8", newline="\n")


def trust(workbook: Path) -> None:
    """Let JupyterLab show the saved pictures of notebooks whose cells are as they ship.

    It hides pictures that are saved in a notebook until the notebook is run or trusted. One with
    a cell that is neither the template's nor a shipped notebook's is left for the person to judge.
    """
    notary = NotebookNotary()
    for name, book in on_disk(workbook).items():
        if SHIPPED_CELLS.get(name) == cells_digest(book):
            notary.sign(book)
            continue
        mark = book.metadata.get(MARK, {})
        make = {"recommendation": recommendation_notebook, "question": question_notebook}.get(
            mark.get("kind")
        )
        if make is not None and _same_cells(book, make(mark["id"])):
            notary.sign(book)
