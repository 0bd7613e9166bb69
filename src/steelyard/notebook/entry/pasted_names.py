"""The names before the rows of a pasted block: which arm, time or measure each is."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from steelyard.notebook.entry.pasted_rows import NOTHING, PasteError, Row
from steelyard.notebook.entry.pasted_told import NotUnderstood, Told, told
from steelyard.notebook.entry.pasted_words import (
    KIND_WORDS,
    SIZE_WORDS,
    named_n,
    same_name,
    tokens,
)
from steelyard.notebook.entry.state import ArmForm, OutcomeForm
from steelyard.records.printed import brief

_OF_OTHERS = frozenset({"p", "age", "height", "weight", "difference", "effect", "d", "g", "total"})


@dataclass(frozen=True, slots=True)
class Names:
    """What is told before each row, and as a sentence what was taken for granted."""

    rows: tuple[Told, ...]
    said: str = ""


def by_names(
    rows: Sequence[Row], outcome: OutcomeForm, arms: Sequence[ArmForm], *, arms_above: bool
) -> Names:
    """Understand the names before the rows; rows without any are the arms in their order.

    Parameters
    ----------
    rows : sequence of Row
    outcome : OutcomeForm
    arms : sequence of ArmForm
    arms_above : bool
        Whether the headings tell the arms, so that the rows need not.

    Raises
    ------
    PasteError
        If a name is not understood, stands before some rows only, or before two.
    """
    labels = [row.label for row in rows]
    if len(rows) > len(arms) and not any(labels):
        raise PasteError(
            f"expected at most {len(arms)} rows, one per arm, found {len(rows):,}: {NOTHING}"
        )
    if not any(labels):
        if arms_above:
            return Names(tuple(Told() for _ in rows))
        in_order = tuple(Told(arm=arm.key) for arm, _ in zip(arms, rows, strict=False))
        return Names(
            in_order, "No names stood before the rows, so they went in the order of the arms."
        )
    if not all(labels):
        raise PasteError(f"expected a name before every row, or before none: {NOTHING}")
    found: list[Told | None] = []
    why: list[str] = []
    for label in labels:
        try:
            one = told(label, outcome, arms, arm_first=True)
            found.append(None if one.empty else one)
            why.append("")
        except NotUnderstood as error:
            found.append(None)
            why.append(str(error))
    lost = [label for label, one in zip(labels, found, strict=True) if one is None]
    if lost:
        return _unknown(labels, lost, found, why, outcome, arms, arms_above=arms_above)
    facets = {frozenset(one.facets()) for one in found if not (one.n and not one.arm)}
    if len(facets) > 1:
        when = next((x for x, one in zip(labels, found, strict=True) if one.column), labels[0])
        raise PasteError(
            f"expected names of arms before the rows, found the time {brief(when)} among them: "
            f"{NOTHING}"
        )
    places = [replace(one, named="") for one in found]
    if len(set(places)) < len(places):
        if all(one.arm for one in found):
            raise PasteError(
                f"two rows could be the same arm ({', '.join(map(brief, labels[:4]))}): {NOTHING}"
            )
        twice = next(x for x, one in zip(labels, places, strict=True) if places.count(one) > 1)
        raise PasteError(
            f"cannot tell which column of the grid the row {brief(twice)} is: {NOTHING}"
        )
    return Names(tuple(found), _taken(labels, found, arms))


def _unknown(
    labels: Sequence[str],
    lost: Sequence[str],
    found: Sequence[Told | None],
    why: Sequence[str],
    outcome: OutcomeForm,
    arms: Sequence[ArmForm],
    *,
    arms_above: bool,
) -> Names:
    """Names that tell nothing: allowed where nothing is left for them to tell."""
    # A word for a time or for something else than the outcome may not be passed over.
    harmless = not any(_speaks(label) for label in lost)
    if outcome.label.strip():
        harmless = harmless and not any(why)
    if len(labels) == 1 and harmless and (arms_above or len(arms) == 1):
        one = Told() if arms_above else Told(arm=arms[0].key, named=named_n(labels[0]))
        return Names((one,), f"The row {brief(labels[0])} was taken for this outcome.")
    nameless = not any(arm.label.strip() for arm in arms)
    if nameless and harmless and len(lost) == len(labels) <= len(arms) and not arms_above:
        if len(set(labels)) < len(labels):
            raise PasteError(f"two rows are called {brief(labels[0])}: {NOTHING}")
        in_order = zip(arms, labels, strict=False)
        return Names(
            tuple(Told(arm=arm.key, named=named_n(label)) for arm, label in in_order),
            "The arms have no names yet, so the rows went in the order of the arms.",
        )
    when = [x for x, one in zip(labels, found, strict=True) if one is not None and one.column]
    if when or arms_above:
        raise PasteError(
            f"cannot tell which column of the grid the row {brief(lost[0])} is"
            f"{_because(lost[0], labels, why)}: {NOTHING}"
        )
    names = ", ".join(brief(arm.label.strip()) for arm in arms if arm.label.strip())
    raise PasteError(
        f"cannot tell which arm is meant by {' and '.join(map(brief, lost[:3]))}: the arms "
        f"here are {names}{_because(lost[0], labels, why)}. Call the rows so, leave out rows that "
        f"are something else, or take the names away to have them go in the order of the arms; "
        f"{NOTHING}"
    )


def _speaks(label: str) -> bool:
    words = set(tokens(label))
    about = {"mean", "median", "sd", "se", "sem", "ci", "iqr", "range", "%", "week", "weeks"}
    return bool(words & (set(KIND_WORDS) | SIZE_WORDS | _OF_OTHERS | about))


def _because(label: str, labels: Sequence[str], why: Sequence[str]) -> str:
    reason = why[labels.index(label)]
    return f" ({reason})" if reason else ""


def _taken(labels: Sequence[str], found: Sequence[Told], arms: Sequence[ArmForm]) -> str:
    by_key = {arm.key: arm for arm in arms}
    taken = [
        f"{brief(label)} was taken for {brief(by_key[one.arm].label.strip())}"
        for label, one in zip(labels, found, strict=True)
        if one.arm and not one.column and not same_name(label, by_key[one.arm])
    ]
    return f"{', '.join(dict.fromkeys(taken))}." if taken else ""
