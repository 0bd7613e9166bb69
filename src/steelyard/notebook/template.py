"""The one template of evidence notebooks: same cells, same order, for every recommendation.

Nothing in a cell but the id depends on the library, and no number is typed, so that a change in
the evidence changes outputs only.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import nbformat
from nbformat import NotebookNode

IGNORE_OUTPUT = "nbval-ignore-output"
MARK = "steelyard"


@dataclass(frozen=True, slots=True)
class Part:
    """A heading with a sentence, and the one call below it.

    Attributes
    ----------
    name : str
        From which the cells' ids are made.
    words : str
        Markdown.
    call : str
        Python; empty for words alone.
    of_the_day : bool
        Whether the output depends on the day it is run, and so is not compared.
    """

    name: str
    words: str
    call: str = ""
    of_the_day: bool = False


_OPENING = (
    "Every number below comes from the library's records. After a change in them, run the cells "
    "from top to bottom; each is one plain call."
)

_PARTS = (
    Part(
        "asked",
        "## What is asked\n\nAn effect is held against the smallest one worth having, which was "
        "set before the studies were weighed.",
        "page.asked()",
    ),
    Part(
        "how-big",
        "## How big?\n\nThe average of all studies, and what a next group like these may show. On "
        "top of the picture the answer of all studies together, below it each study by itself.",
        "page.how_big()",
    ),
    Part(
        "how-sure",
        "## How sure?\n\nHow much weight rests on doubtful ground, and the chance that it is worth "
        "having. In the table each domain with its facts, the rule that held, and the step it "
        "takes; where a person overruled a step, it says who, when and why.",
        "page.how_sure()",
    ),
    Part(
        "for-whom",
        "## For whom?\n\nHow much of the weight comes from people like those asked about, and "
        "whether the effect goes with anything the studies differ in. For somebody else, say who "
        'in the brackets, such as `sex="female"` or `training_status="trained"`; to look at '
        'something else, name it, such as `"age_mean"`.',
        "page.for_whom()",
    ),
    Part(
        "how-much",
        "## How much of it?\n\nDose and response where the studies compared amounts, and whether "
        "the dose lies inside what was tested.",
        "page.how_much()",
    ),
    Part(
        "turns-on",
        "## Does it turn on one study or one assumption?\n\nThe answer without each study, and "
        "under every defensible way to weigh it at once.",
        "page.turns_on()",
    ),
    Part(
        "missing",
        "## What is missing?\n\nWhether small studies tell another story, and how many more "
        "people would settle it.",
        "page.missing()",
    ),
    Part(
        "history",
        "## How the answer came to be\n\nWhat the studies up to each year would have said, how "
        "sure one could have been, and what clients were told.",
        "page.history()",
    ),
    Part(
        "would-change",
        "## What would change our mind\n\nBounds near by, one more study, how many more people "
        "would settle it, and the study whose absence moves it most.",
        "page.would_change()",
    ),
    Part(
        "studies",
        "## The studies\n\nWho took part, what they did, what was measured, and where in the paper "
        "it stands.",
        "page.studies()",
    ),
    Part(
        "rests-on",
        "## What it rests on\n\nHow each effect was reached from the numbers printed, what had to "
        "be assumed, and what was left out and why.",
        "page.rests_on()",
    ),
)
_SAYS = Part(
    "says",
    "## The recommendation\n\nWhat to programme, for whom and for whom not, what it costs, and "
    "what would change it.",
    "page.says()",
)
_CAUTIONS = Part(
    "cautions",
    "## Cautions\n\nNo recommendation rests on this question yet.",
    "page.says()",
)


def recommendation_notebook(recommendation_id: str) -> NotebookNode:
    """The notebook of a recommendation, not yet run."""
    return _evidence_notebook("recommendation", recommendation_id, _SAYS)


def question_notebook(question_id: str) -> NotebookNode:
    """The notebook of a question on which no recommendation rests, not yet run."""
    return _evidence_notebook("question", question_id, _CAUTIONS)


def _evidence_notebook(kind: str, record_id: str, last: Part) -> NotebookNode:
    first = Part(
        "opening",
        f"# {title_of(record_id)}\n\n{_OPENING}",
        f'from steelyard.notebook import {kind}\n\npage = {kind}("{record_id}")\npage',
    )
    return notebook_of([first, *_PARTS, last], kind=kind, record_id=record_id)


def title_of(record_id: str) -> str:
    """An id as a title."""
    words = record_id.replace("-", " ")
    return words[:1].upper() + words[1:]


def notebook_of(parts: Iterable[Part], *, kind: str, record_id: str = "") -> NotebookNode:
    """A notebook of parts; ids of cells follow from the parts' names.

    Parameters
    ----------
    parts : iterable of Part
    kind : str
        ``recommendation``, ``question`` or ``start``; kept in the notebook.
    record_id : str
        The record it is about.
    """
    cells = []
    for part in parts:
        words = nbformat.v4.new_markdown_cell(part.words)
        words["id"] = f"{part.name}-words"
        cells.append(words)
        if part.call:
            cell = nbformat.v4.new_code_cell(part.call)
            cell["id"] = part.name
            if part.of_the_day:
                cell.metadata["tags"] = [IGNORE_OUTPUT]
            cells.append(cell)
    book = nbformat.v4.new_notebook(cells=cells)
    book.metadata = nbformat.from_dict(plain_metadata())
    book.metadata[MARK] = {"kind": kind, "id": record_id}
    return book


def plain_metadata() -> dict:
    """The part of a notebook's metadata that is the same on every computer."""
    return {
        "kernelspec": {"display_name": "Python 3", "language": "python", "name": "python3"},
        "language_info": {"name": "python"},
    }
