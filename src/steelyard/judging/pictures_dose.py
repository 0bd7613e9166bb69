"""A recommended dose beside what the pooled studies tested, in words and as a picture shows it."""

from __future__ import annotations

from math import nan

import pandas as pd

from steelyard.judging.dose import BEYOND, LABELS, PARTLY, UNKNOWN, UNUSUAL, DoseCheck
from steelyard.pooling.forest_data import TITLE_NOTE_INVENTED
from steelyard.pooling.pictures import TestedDoseData
from steelyard.pooling.weighing import Weighing
from steelyard.show import count


def tested_dose_data(checks: tuple[DoseCheck, ...], weighing: Weighing) -> TestedDoseData:
    """A row per part of the dose.

    Parameters
    ----------
    checks : tuple of DoseCheck
        At least one.
    weighing : Weighing
        Whose studies the dose was held against.

    Returns
    -------
    TestedDoseData
    """
    rows = [
        {
            "part": _part(each),
            "low": each.recommended[0],
            "high": each.recommended[1],
            "tested_low": nan if each.tested is None else each.tested[0],
            "tested_high": nan if each.tested is None else each.tested[1],
            "recommended": range_in_words(each.recommended),
            "tested": tested_in_words(each),
            "mark": each.mark,
        }
        for each in checks
    ]
    return TestedDoseData(
        title="Is the dose what was tested?",
        subtitle=dose_sentence(checks),
        notes=(TITLE_NOTE_INVENTED,) if weighing.invented else (),
        parts=pd.DataFrame(rows),
    )


def dose_sentence(checks: tuple[DoseCheck, ...]) -> str:
    """Which parts of a dose the studies cover, and which rest on judgement."""
    marked: dict[str, list[str]] = {}
    for each in checks:
        marked.setdefault(each.mark, []).append(_part(each).partition(",")[0])
    if not marked.keys() & {BEYOND, PARTLY, UNKNOWN, UNUSUAL}:
        return "Every part of the dose lies inside what the pooled studies tested."
    told = []
    for mark, words in (
        (BEYOND, "beyond the evidence, where it rests on judgement"),
        (PARTLY, "only partly tested"),
        (UNKNOWN, "told by no pooled study, so resting on judgement"),
        (UNUSUAL, "other than common practice"),
    ):
        if mark in marked:
            told.append(f"{', '.join(marked[mark])}: {words}")
    inside = len(checks) - sum(len(marked.get(m, ())) for m in (BEYOND, PARTLY, UNKNOWN, UNUSUAL))
    return (
        f"The studies tested {inside} of {count(len(checks), 'part')} of the dose in full. "
        f"{'; '.join(told)[:1].upper()}{'; '.join(told)[1:]}."
    )


def _part(check: DoseCheck) -> str:
    """A part of the dose, said to be added where it is held against what one arm did more."""
    return f"added {LABELS[check.part]}" if check.added else LABELS[check.part]


def tested_in_words(check: DoseCheck) -> str:
    """What the studies did in one part of the dose."""
    if check.tested is None:
        return "no study says"
    span = range_in_words(check.tested)
    if check.sides is not None:
        one, other = (range_in_words(side) for side in check.sides)
        return f"compared: {one} against {other} in {count(check.studies, 'study', 'studies')}"
    if not check.studies:  # held against common practice, not against studies
        return f"usual: {span}"
    return f"tested: {span} in {count(check.studies, 'study', 'studies')}"


def range_in_words(span: tuple[float, float]) -> str:
    """Both ends, or one number where they are the same."""
    low, high = span
    return f"{low:g}" if low == high else f"{low:g} to {high:g}"
