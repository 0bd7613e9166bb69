"""The same study twice, or the same people in two papers."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations

from steelyard.judging.integrity import thresholds as limits
from steelyard.judging.integrity.finding import IntegrityFinding, found
from steelyard.judging.integrity.reading import Cell, Laid
from steelyard.judging.integrity.rounded import usable
from steelyard.judging.integrity.spreads import significant_digits


def duplicate_findings(studies: Sequence[Laid]) -> Iterator[IntegrityFinding]:
    """Same DOI, same title, or the same printed numbers, told on the later of two studies."""
    named: set[tuple[str, str]] = set()
    for key, path, rule, words in (
        (bare_doi, "source.DOI", "same-doi", "the DOI"),
        (bare_title, "source.title", "same-title", "the title"),
    ):
        first: dict[str, str] = {}
        for laid in studies:
            value = key(laid)
            if not value:
                continue
            earlier = first.setdefault(value, laid.study.id)
            if earlier == laid.study.id or (earlier, laid.study.id) in named:
                continue
            named.add((earlier, laid.study.id))
            message = (
                f"{words} is that of {earlier!r} too: expected one record per study; keep one "
                "of the two and bring its results together"
            )
            yield found(
                laid.study.id, path, rule, message, severity="warning", arithmetic=f"{value} twice"
            )
    yield from _shared_numbers(studies)


def bare_doi(laid: Laid) -> str:
    """A DOI in lower case without the address or the word before it."""
    doi = (laid.study.source.DOI or "").strip().lower()
    start = doi.find("10.")
    return doi[start:] if start >= 0 else ""


def bare_title(laid: Laid) -> str:
    """Letters and digits of a title, in lower case."""
    return "".join(sign for sign in laid.study.source.title.casefold() if sign.isalnum())


@dataclass(frozen=True, slots=True)
class _Place:
    """Where a study prints something that another prints too."""

    path: str
    outcome: str


def _telling(cell: Cell | None) -> tuple[str, str] | None:
    """Mean and spread as printed, where they have digits enough to tell a sample."""
    if cell is None:
        return None
    mean = cell.spread.mean
    spread = cell.spread.sd if cell.spread.sd is not None else cell.spread.se
    if not usable(mean) or not usable(spread):
        return None
    digits = significant_digits(mean) + significant_digits(spread)
    return (str(mean), str(spread)) if digits >= limits.SHARED_CELL_DIGITS else None


def _shared_numbers(studies: Sequence[Laid]) -> Iterator[IntegrityFinding]:
    """Three cells anywhere, or the starting values of two arms, printed alike in two studies."""
    holders: dict[tuple[str, str], dict[str, _Place]] = defaultdict(dict)
    starts: dict[frozenset, dict[str, _Place]] = defaultdict(dict)
    for laid in studies:
        for row in laid.rows:
            for cell in (row.pre if row.own_pre else None, row.post, row.change):
                shown = _telling(cell)
                if shown is not None:
                    place = _Place(cell.path, row.outcome.id)
                    holders[shown].setdefault(laid.study.id, place)
        for both, place in _starting_values(laid):
            starts[both].setdefault(laid.study.id, place)
    shared: Counter[tuple[str, str]] = Counter()
    examples: dict[tuple[str, str], list[str]] = defaultdict(list)
    places: dict[tuple[str, str], _Place] = {}
    for (mean, spread), where in holders.items():
        if not 2 <= len(where) <= limits.SHARED_CELL_STUDIES:
            continue
        for pair in combinations(where, 2):
            shared[pair] += 1
            places.setdefault(pair, where[pair[1]])
            if len(examples[pair]) < limits.SHARED_CELLS:
                examples[pair].append(f"{mean} ± {spread}")
    for pair, times in shared.items():
        if times < limits.SHARED_CELLS:
            continue
        alike = ", ".join(examples[pair])
        yield _shared(
            *pair,
            places[pair],
            f"{times} cells are printed as in {pair[0]!r} ({alike} …)",
            f"{times} pairs of mean and spread alike to the last digit",
        )
    told = {pair for pair, times in shared.items() if times >= limits.SHARED_CELLS}
    for both, where in starts.items():
        if not 2 <= len(where) <= limits.SHARED_CELL_STUDIES:
            continue
        for pair in combinations(where, 2):
            if pair in told:
                continue
            told.add(pair)
            alike = " and ".join(f"{mean} ± {spread}" for mean, spread in sorted(both))
            yield _shared(
                *pair,
                where[pair[1]],
                f"two arms start at the values printed in {pair[0]!r} ({alike})",
                "2 pairs of mean and spread before training alike to the last digit",
            )


def _starting_values(laid: Laid) -> Iterator[tuple[frozenset, _Place]]:
    """Every two arms' different values before training on one outcome."""
    cells: dict[str, dict[str, tuple[tuple[str, str], _Place]]] = defaultdict(dict)
    for row in laid.rows:
        shown = _telling(row.pre) if row.own_pre else None
        if shown is not None:
            place = _Place(row.pre.path, row.outcome.id)
            cells[row.outcome.id].setdefault(row.arm.id, (shown, place))
    for by_arm in cells.values():
        for (one, place), (other, _) in combinations(by_arm.values(), 2):
            if one != other:
                yield frozenset((one, other)), place


def _shared(
    earlier: str, later: str, place: _Place, what: str, arithmetic: str
) -> IntegrityFinding:
    return found(
        later,
        place.path,
        "shared-sample",
        f"{what}: expected other numbers from other people; if both papers tell of one sample, "
        "keep one record",
        severity="warning",
        outcome=place.outcome,
        arithmetic=arithmetic,
    )
