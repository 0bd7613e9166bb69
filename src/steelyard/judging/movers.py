"""Which studies moved an answer since it was told, and by how much."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from itertools import combinations
from math import comb

from steelyard.errors import EmptyQuestionError
from steelyard.judging.repool import pooled_rows, used_rows
from steelyard.pooling.weighing import Weighing
from steelyard.records.fingerprint import content, fingerprint_of
from steelyard.records.question import Question
from steelyard.records.study import Study

ADDED, RETRACTED, CORRECTED, REMOVED = "added", "retracted", "changed", "removed"
PERHAPS = "perhaps"
Changed = dict[str, tuple[str, Study | None]]
Weigh = Callable[[Question, Mapping[str, Study]], Weighing]
NEARER = 0.5
NO_SHIFT = 1e-12
MOST_BYTES = 500_000_000  # to hash in search of a fingerprint: a second or so


@dataclass(frozen=True, slots=True)
class Mover:
    """One study whose change moved the estimate.

    Attributes
    ----------
    study : str
    what : str
        ``added``, ``retracted``, ``changed``, ``removed``, or ``perhaps`` where the earlier
        records are not to be had: without the study the answer is nearer to the one told,
        which does not show that it is the one that changed.
    shift : float
        Estimate with the study as it is less the estimate with it as it was, all else as it
        is now; machine scale; NaN where nothing could be pooled without it.
    """

    study: str
    what: str
    shift: float


def touched_studies(weighing: Weighing) -> tuple[str, ...]:
    """Every study behind a weighing's fingerprint, pooled or not."""
    named = {*weighing.effects["study"], *(out.study for out in weighing.left_out)}
    return tuple(sorted(named))


def find_movers(
    weighing: Weighing,
    studies: Mapping[str, Study],
    *,
    told_fingerprint: str,
    told_estimate: float,
    weigh: Weigh,
    earlier: Callable[[str], Mapping[str, Study] | None] | None = None,
) -> tuple[Mover, ...]:
    """The studies that changed since the fingerprint was taken.

    Parameters
    ----------
    weighing : Weighing
        As it is now.
    studies : mapping of str to Study
        As they are now.
    told_fingerprint : str
    told_estimate : float
    weigh : callable
        From a question and studies to a weighing.
    earlier : callable, optional
        From a fingerprint to the studies as they were, or None where nobody kept them.

    Returns
    -------
    tuple of Mover
        Largest shift first; empty if the fingerprint is the present one.

    Notes
    -----
    Tried in turn: one or two studies without which, or retractions without which, the
    fingerprint is exactly the one told; the earlier records; else the fewest studies
    (up to three, one by one) whose removal brings the estimate nearest to the one told, marked
    ``perhaps``.
    """
    if told_fingerprint == weighing.fingerprint:
        return ()
    changed = _matching(weighing, studies, told_fingerprint)
    if changed is None and earlier is not None:
        before = earlier(told_fingerprint)
        changed = None if before is None else compared(studies, before)
    if changed is None:
        return _nearest(weighing, told_estimate)
    return shifts_of(changed, weighing, studies, weigh=weigh)


def shifts_of(
    changed: Changed, weighing: Weighing, studies: Mapping[str, Study], *, weigh: Weigh
) -> tuple[Mover, ...]:
    """How far each change moved the estimate, largest first; those that did not are left out."""
    found = [
        Mover(study, what, _shift(weighing, studies, study, before, weigh))
        for study, (what, before) in changed.items()
    ]
    moved = [mover for mover in found if not abs(mover.shift) <= NO_SHIFT]
    return tuple(sorted(moved, key=lambda mover: (-abs(mover.shift), mover.study)))


def compared(now: Mapping[str, Study], before: Mapping[str, Study]) -> Changed:
    """What became of each study that is not as it was, with the study as it was."""
    changed: Changed = {}
    for study in sorted({*now, *before}):
        if study not in before:
            changed[study] = (ADDED, None)
        elif study not in now:
            changed[study] = (REMOVED, before[study])
        elif content(now[study]) != content(before[study]):
            newly = now[study].retracted and not before[study].retracted
            changed[study] = (RETRACTED if newly else CORRECTED, before[study])
    return changed


def _matching(weighing: Weighing, studies: Mapping[str, Study], fingerprint: str) -> Changed | None:
    """One or two changes whose undoing gives exactly the fingerprint; None if there are none.

    None too where there are so many studies that the search would take long.
    """
    names = touched_studies(weighing)
    asked = content(weighing.question)
    contents = {name: content(studies[name]) for name in names}
    undoings: list[tuple[str, tuple[str, Study | None], str | None]] = [
        (name, (ADDED, None), None) for name in names
    ]
    for name in names:
        undoings += [
            (name, (RETRACTED, before), content(before)) for before in _unretracted(studies[name])
        ]
    bytes_each = sum(map(len, contents.values()))
    for size in (1, 2):
        if comb(len(undoings), size) * bytes_each > MOST_BYTES:
            return None
        for chosen in combinations(undoings, size):
            if len({name for name, _, _ in chosen}) < size:
                continue
            left = dict(contents)
            for name, _, before in chosen:
                left.pop(name)
                if before is not None:
                    left[name] = before
            if fingerprint_of([asked, *left.values()]) == fingerprint:
                return {name: change for name, change, _ in chosen}
    return None


def _unretracted(study: Study) -> Iterator[Study]:
    if not study.retracted:
        return
    for status in ("published", "preprint", "corrected"):
        for note in dict.fromkeys((None, study.source.status_note)):
            source = study.source.model_copy(update={"status": status, "status_note": note})
            yield study.model_copy(update={"source": source})


def _shift(
    weighing: Weighing,
    studies: Mapping[str, Study],
    study: str,
    before: Study | None,
    weigh: Weigh,
) -> float:
    others = {name: each for name, each in studies.items() if name != study}
    if before is not None:
        others[study] = before
    try:
        return weighing.estimate - weigh(weighing.question, others).estimate
    except EmptyQuestionError:
        return float("nan")


def _nearest(weighing: Weighing, told: float) -> tuple[Mover, ...]:
    """Studies whose removal, one after another, brings the estimate to the one told."""
    rows, movers = used_rows(weighing), []
    current = whole = pooled_rows(weighing, rows).estimate
    while len(rows) > 1 and len(movers) < 3:
        without = {
            study: pooled_rows(weighing, rows[rows["study"] != study]).estimate
            for study in rows["study"]
        }
        best = min(without, key=lambda study: abs(without[study] - told))
        if abs(without[best] - told) > NEARER * abs(current - told):
            break
        movers.append(Mover(best, PERHAPS, current - without[best]))
        current, rows = without[best], rows[rows["study"] != best]
        if abs(current - told) <= NEARER * NEARER * abs(whole - told):
            break
    return tuple(movers)
