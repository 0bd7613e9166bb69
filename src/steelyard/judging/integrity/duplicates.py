"""The same study twice, or the same people in two papers."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence
from itertools import combinations

from steelyard.judging.integrity import thresholds as limits
from steelyard.judging.integrity.finding import IntegrityFinding, found
from steelyard.judging.integrity.reading import Laid
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


def _shared_numbers(studies: Sequence[Laid]) -> Iterator[IntegrityFinding]:
    holders: dict[tuple[str, str], dict[str, tuple[str, str]]] = defaultdict(dict)
    for laid in studies:
        for row in laid.rows:
            for cell in (row.pre if row.own_pre else None, row.post, row.change):
                if cell is None:
                    continue
                mean = cell.spread.mean
                spread = cell.spread.sd if cell.spread.sd is not None else cell.spread.se
                if not usable(mean) or not usable(spread):
                    continue
                if significant_digits(mean) + significant_digits(spread) < (
                    limits.SHARED_CELL_DIGITS
                ):
                    continue
                place = (cell.path, row.outcome.id)
                holders[str(mean), str(spread)].setdefault(laid.study.id, place)
    shared: Counter[tuple[str, str]] = Counter()
    examples: dict[tuple[str, str], list[str]] = defaultdict(list)
    places: dict[tuple[str, str], tuple[str, str]] = {}
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
        earlier, later = pair
        path, outcome = places[pair]
        alike = ", ".join(examples[pair])
        message = (
            f"{times} cells are printed as in {earlier!r} ({alike} …): expected other numbers "
            "from other people; if both papers tell of one sample, keep one record"
        )
        yield found(
            later,
            path,
            "shared-sample",
            message,
            severity="warning",
            outcome=outcome,
            arithmetic=f"{times} pairs of mean and spread alike to the last digit",
        )
