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

In JupyterLab, Shift and Enter run a cell. Each is one plain call: there is nothing to program."""

_GLANCE = """## At a glance

Every recommendation: how large the effect behind it is, how sure, when it was last read, and
whether it has moved since clients were told."""

_TOLD = """## Told and now

What clients were told at the last review, what the studies say now, and which study moved it."""

_DUE = """## To be read again

By age, or because the evidence moved. Once it is read,
`steelyard review --mark RECOMMENDATION --by NAME --note TEXT` says so and keeps the numbers of the
day as the new told."""

_MIND = """## To mind

Retracted, corrected, unread and heavy studies behind each answer."""

_OVERVIEW = """## Every answer

What is said to clients, and what the studies behind it say."""

_IMPORT = """from steelyard.notebook import (
    at_a_glance,
    cautions,
    overview,
    to_mind,
    to_read_again,
    told_and_now,
)"""

_WORK = """## The work

- [Enter a study](01-enter-a-study.ipynb): a form that checks while you type, with the paper open
  beside it.
- [Read a study](02-read-a-study.ipynb): what one study found, could have found, and leaves open.
- [Weigh a question](03-weigh-a-question.ipynb): how big, how sure, for whom, how much of it.
- [Explain to a client](04-explain-to-a-client.ipynb): a sentence, a picture, a page to hand out."""

_ENTER = """## Studies without the form

In a terminal, `steelyard add FILE` puts a table of results (csv or xlsx) or a study's record (toml)
into the library. A record is a text file in the folder `studies` of the library: open a neighbour's
to see how one looks, and give every number with the place in the paper where it stands.
`steelyard check` then lists every fault and every warning, and a notebook run again shows the new
answer. `steelyard report` runs all of them and writes the pages.

`steelyard new recommendation` asks plain questions and makes a recommendation, its question and its
notebook."""

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
        Part("glance", _GLANCE, f"{_IMPORT}\n\nat_a_glance()"),
        Part("told", _TOLD, "told_and_now()"),
        Part("due", _DUE, "to_read_again()", of_the_day=True),
        Part("mind", _MIND, "to_mind()"),
        Part("overview", _OVERVIEW, "overview()"),
        Part("work", _WORK),
        Part("links", "\n".join(["## Behind each answer", "", *links])) if links else None,
        Part("enter", _ENTER),
        Part("cautions", _CAUTIONS, "cautions()"),
    ]
    return notebook_of([part for part in parts if part], kind="start")
