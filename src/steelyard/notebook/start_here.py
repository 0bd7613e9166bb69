"""The first notebook: what this is, every answer, and where to go next."""

from __future__ import annotations

from collections.abc import Iterable

from nbformat import NotebookNode

from steelyard.notebook.template import Part, notebook_of, title_of

FILE_NAME = "00-start-here.ipynb"

_WORDS = """# Start here

Training studies go in as records; what comes out is a weighed answer behind each programming
recommendation, fit to be cited to a client. Each answer says how large the effect is, how sure one
can be, what a further study would probably show, and what it rests on.

Run a cell with Shift and Enter. Each cell is one plain call: there is nothing to program."""

_OVERVIEW = """## Every answer

What is said to clients, and what the studies behind it say."""

_CALL = "from steelyard.notebook import cautions, overview\n\noverview()"

_ENTER = """## Enter a study

In a terminal, `steelyard add FILE` puts a table of results (csv or xlsx) or a study's record (toml)
into the library. A record is a text file in the folder `studies` of the library: open a neighbour's
to see how one looks, and give every number with the place in the paper where it stands.
`steelyard check` then lists every fault and every warning, and a notebook run again shows the new
answer. `steelyard report` runs all of them and writes the pages."""

_CAUTIONS = """## Cautions

They stand under every recommendation, whatever its answer."""


def start_notebook(recommendations: Iterable[str], questions: Iterable[str] = ()) -> NotebookNode:
    """The first notebook, not yet run.

    Parameters
    ----------
    recommendations : iterable of str
        Ids to link to.
    questions : iterable of str
        Ids of questions that have a notebook of their own.
    """
    links = [
        *(f"- [{title_of(each)}](recommendations/{each}.ipynb)" for each in recommendations),
        *(f"- [{title_of(each)}](questions/{each}.ipynb)" for each in questions),
    ]
    parts = [
        Part("opening", _WORDS),
        Part(
            "overview", _OVERVIEW, "from steelyard.notebook import cautions, overview\n\noverview()"
        ),
        Part("links", "\n".join(["## The notebooks", "", *links])) if links else None,
        Part("enter", _ENTER),
        Part("cautions", _CAUTIONS, "cautions()"),
    ]
    return notebook_of([part for part in parts if part], kind="start")
