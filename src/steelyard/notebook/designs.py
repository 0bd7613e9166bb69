"""What the designs of an answer's studies do to its effects."""

from __future__ import annotations

from steelyard.effects.design_notes import design_notes
from steelyard.effects.formed import PAIRED_DESIGNS
from steelyard.explaining.page_caution import INVENTED_DATA
from steelyard.notebook.answer import Answer
from steelyard.records.study import Study
from steelyard.show import Table, count

COLUMNS = ("design", "what it does", "studies")
_KINDS = {
    "within-person": "two limbs of the same people",
    "crossover": "the same people doing both in turn",
    "cluster": "whole groups allotted",
    "single-group": "one group only",
}
_NOT_BY_CHANCE = "people not allotted by chance"


def design_words(answer: Answer) -> str:
    """Which designs among the pooled studies need a word; empty where none does."""
    kinds: dict[str, int] = {}
    for study in _noted(answer):
        kinds[_kind(study)] = kinds.get(_kind(study), 0) + 1
    if not kinds:
        return ""
    told = "; ".join(f"{kind} ({count(n, 'study', 'studies')})" for kind, n in kinds.items())
    return f"Designs with something to mind: {told}."


def design_table(answer: Answer) -> Table | None:
    """Cross-education, carry-over and the like, with the studies they touch; None for none."""
    found: dict[tuple[str, str], list[str]] = {}
    for study in _noted(answer):
        for note in design_notes(study):
            found.setdefault((_kind(study), note), []).append(study.label)
    if not found:
        return None
    rows = tuple((kind, note, "\n".join(labels)) for (kind, note), labels in found.items())
    notes = (INVENTED_DATA,) if answer.invented else ()
    return Table("What the designs do to the answer", COLUMNS, rows, notes)


def holds_pairs(answer: Answer) -> bool:
    """Whether a pooled study compares two conditions in the same people."""
    rows = answer.weighing.effects
    return bool(rows.loc[rows["used"], "design"].isin(PAIRED_DESIGNS).any())


def _noted(answer: Answer) -> list[Study]:
    rows = answer.weighing.studies
    used = rows.loc[rows["used"], "study"]
    studies = (answer.library.studies[each] for each in dict.fromkeys(used))
    return [study for study in studies if design_notes(study)]


def _kind(study: Study) -> str:
    return _KINDS.get(study.design.kind, _NOT_BY_CHANCE)
