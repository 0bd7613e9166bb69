"""What an answer rests on: from printed numbers to effects, and what was left out and why."""

from __future__ import annotations

import numpy as np

from steelyard.explaining.page_caution import INVENTED_DATA
from steelyard.notebook.answer import Answer
from steelyard.notebook.stack import Sentence, Stack
from steelyard.show import Table, number

COLUMNS = ("study", "effect", "size", "how it was reached", "where")


def routes(answer: Answer) -> Stack:
    """The effects with their routes, the assumptions, and what was not pooled."""
    notes = (INVENTED_DATA,) if answer.invented else ()
    parts: list = [Sentence(answer.question.asks)]
    weighing = answer.weighing
    if weighing is None:
        parts.append(Sentence(f"Nothing was pooled: {answer.why_not}."))
    else:
        parts.append(_effects(answer, notes))
        assumed = tuple((text,) for text in weighing.assumptions)
        if assumed:
            parts.append(Table("Assumed, because the papers are silent", ("assumption",), assumed))
        else:
            parts.append(Sentence("Nothing had to be assumed."))
    left_out = answer.table.left_out if weighing is None else weighing.left_out
    if left_out:
        rows = tuple((_label(answer, out.study), out.reason) for out in left_out)
        parts.append(Table("Not pooled", ("study", "why"), rows, notes))
    else:
        parts.append(Sentence("No study that touches the question was left out."))
    return Stack(tuple(parts))


def _effects(answer: Answer, notes: tuple[str, ...]) -> Table:
    weighing = answer.weighing
    rows = []
    for row in weighing.effects.itertuples():
        outcome = answer.library.studies[row.study].outcome(row.outcome)
        route = row.route
        if not np.isnan(row.r_used):
            route += f"\nr {number(row.r_used)}, {row.r_from}"
        if row.flags:
            route += f"\n{row.flags}"
        if not row.used:
            route += "\nnot pooled"
        arms = f"\n{row.comparison}"
        rows.append(
            (
                row.label,
                f"{outcome.name}, week {row.week:g}{arms}",
                weighing.text(row.effect),
                route,
                row.where,
            )
        )
    return Table("From printed numbers to effects", COLUMNS, tuple(rows), notes)


def _label(answer: Answer, study_id: str) -> str:
    return answer.library.studies[study_id].label
