"""The page of all answers, from which every other page is reached."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from html import escape

from steelyard.explaining.page import document


@dataclass(frozen=True, slots=True)
class IndexEntry:
    """One page in the list.

    Attributes
    ----------
    address : str
        Of the page, relative to the list.
    title : str
        What the link says.
    rows : tuple of (str, str)
        Name and text, such as a question and its answer.
    """

    address: str
    title: str
    rows: tuple[tuple[str, str], ...] = ()


def index_page(
    entries: Iterable[IndexEntry],
    *,
    further: Iterable[IndexEntry] = (),
    missing: Sequence[str] = (),
    left_out: str = "",
    title: str,
    invented: bool,
    language: str = "en",
) -> str:
    """Write the list of pages.

    Parameters
    ----------
    entries : iterable of IndexEntry
        Recommendations and questions with their answers.
    further : iterable of IndexEntry
        Other pages.
    missing : sequence of str
        Answers that cannot be given, each with the file and the reason.
    left_out : str
        What every answer goes without; empty for nothing.
    title : str
    invented : bool
        Whether any data is invented.
    language : str

    Returns
    -------
    html : str
        A whole document: no script, and nothing that is loaded.
    """
    items = "\n".join(_item(entry) for entry in entries)
    body = f"<h1>{escape(title)}</h1>\n"
    body += (
        f'<ul class="answers">\n{items}\n</ul>' if items else "<p>There is no answer to list.</p>"
    )
    if missing or left_out:
        said = "\n".join(f"<li>{escape(each)}</li>" for each in filter(None, (*missing, left_out)))
        body += f"\n<h2>Faults in the library</h2>\n<ul>\n{said}\n</ul>"
    links = "\n".join(f"<li>{_link(entry)}</li>" for entry in further)
    if links:
        body += f"\n<h2>Further pages</h2>\n<ul>\n{links}\n</ul>"
    return document(body, title=title, invented=invented, language=language)


def _item(entry: IndexEntry) -> str:
    rows = "".join(f"<dt>{escape(name)}</dt><dd>{escape(text)}</dd>" for name, text in entry.rows)
    return f"<li><h2>{_link(entry)}</h2><dl>{rows}</dl></li>"


def _link(entry: IndexEntry) -> str:
    return f'<a href="{escape(entry.address)}">{escape(entry.title)}</a>'
