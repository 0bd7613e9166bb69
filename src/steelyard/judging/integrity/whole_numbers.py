"""Means and SDs that whole-number scores cannot have."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from fractions import Fraction
from math import ceil, floor

from steelyard.judging.integrity.finding import IntegrityFinding, found
from steelyard.judging.integrity.reading import Cell, Laid, Row
from steelyard.judging.integrity.rounded import told, usable
from steelyard.records.printed import decimals

MOST_ITEMS = 1_000_000
"""No questionnaire has more items, and no arm more people."""

MOST_SUMS = 2000
"""Past so many sums that fit a mean, some SD always fits: nothing to find."""


def _half(printed: Decimal) -> Fraction:
    return Fraction(1, 2) * Fraction(10) ** int(printed.as_tuple().exponent)


def possible_sums(mean: Decimal, *, n: int, items: int = 1) -> range:
    """Whole-number totals whose mean prints as `mean`, rounded either way at a tie.

    With n people and k items each, the total S of all answers is whole and the mean is
    S/(n·k) [1]_; S fits when |S/(n·k) − mean| is at most half a unit of the last digit.

    Parameters
    ----------
    mean : Decimal
        As printed, with its decimals.
    n : int
        People, ≥ 1.
    items : int
        Whole-number answers averaged into each person's score, ≥ 1.

    Returns
    -------
    range
        Empty where the mean is impossible.

    References
    ----------
    .. [1] Brown, N. J. L., & Heathers, J. A. J. (2017). The GRIM test. Social Psychological
           and Personality Science 8, 363-369.
    """
    answers, exact, half = n * items, Fraction(mean), _half(mean)
    return range(ceil((exact - half) * answers), floor((exact + half) * answers) + 1)


def sd_possible(mean: Decimal, sd: Decimal, *, n: int, items: int = 1) -> bool:
    """Whether whole-number scores with this printed mean can have this printed SD.

    Let x be a person's total over k items, whole; S = Σx and Q = Σx². The person's score is
    x/k, so (n − 1)·(k·SD)² = Q − S²/n. Three things bind Q: it is whole; it is even or odd as
    S is, since x² and x are; and it is at least what S spread as evenly as can be gives,
    (n − r)·q² + r·(q + 1)² with S = q·n + r. The SD is possible when, for some S that fits the
    mean, such a Q lies in the span that rounds to the SD.

    Parameters
    ----------
    mean, sd : Decimal
        As printed; sd > 0.
    n : int
        People, ≥ 2.
    items : int
        Whole-number answers averaged into each person's score, ≥ 1.

    Returns
    -------
    bool
        True also where the mean itself is impossible: that is another finding.
    """
    sums = possible_sums(mean, n=n, items=items)
    if not sums or sums.stop - sums.start > MOST_SUMS:
        return True
    half = _half(sd)
    low, high = max(Fraction(sd) - half, Fraction(0)), Fraction(sd) + half
    scale = (n - 1) * items**2
    for total in sums:
        around = Fraction(total**2, n)
        q, r = divmod(total, n)
        evenest = (n - r) * q**2 + r * (q + 1) ** 2
        first = max(ceil(scale * low**2 + around), evenest)
        first += (first - total) % 2
        if first <= scale * high**2 + around:
            return True
    return False


def whole_number_findings(laid: Laid) -> Iterator[IntegrityFinding]:
    """Impossible means and SDs of outcomes that count in whole numbers."""
    for row in laid.rows:
        items = row.outcome.items or 1
        if not row.outcome.whole_numbers or row.n is None or items > MOST_ITEMS:
            continue
        sizes = {row.n, min(row.arm.n or row.n, MOST_ITEMS)}
        cells = ((row.pre if row.own_pre else None, sizes), (row.post, {row.n}))
        for cell, allowed in (*cells, (row.change, {row.n})):
            if cell is not None and cell.sharp and cell.mean is not None:
                yield from _judged(laid.study.id, row, cell, sorted(allowed))


def _judged(study: str, row: Row, cell: Cell, sizes: list[int]) -> Iterator[IntegrityFinding]:
    mean, items = cell.spread.mean, row.outcome.items or 1
    if usable(cell.spread.reading_error) and cell.spread.reading_error > 0:
        return
    if not any(possible_sums(mean, n=n, items=items) for n in sizes):
        yield _impossible_mean(study, row, cell, sizes[0], items)
        return
    sd = cell.spread.sd
    if not usable(sd) or any(sd_possible(mean, sd, n=n, items=items) for n in sizes):
        return
    n = sizes[0]
    total = floor(Fraction(mean) * n * items + Fraction(1, 2))
    squares = (n - 1) * (items * float(sd)) ** 2 + total**2 / n
    yield found(
        study,
        f"{cell.path}.sd",
        "impossible-sd",
        f"no {n} whole-number scores with the mean {mean} have the SD {sd}: expected a sum of "
        f"squares that is whole and {'even' if total % 2 == 0 else 'odd'}; check n, the decimals "
        "and whether it is a standard error",
        severity="warning",
        outcome=row.outcome.id,
        arithmetic=f"({n} − 1) × ({items} × {sd})² + {total}² / {n} = {told(squares)}",
    )


def _impossible_mean(study: str, row: Row, cell: Cell, n: int, items: int) -> IntegrityFinding:
    mean = cell.spread.mean
    answers = n * items
    product = float(mean) * answers
    shown = decimals(mean)
    below, above = (f"{total / answers:.{shown}f}" for total in (floor(product), ceil(product)))
    people = f"{n} people" if items == 1 else f"{n} people on {items} items"
    return found(
        study,
        f"{cell.path}.mean",
        "impossible-mean",
        f"the mean {mean} cannot come from whole-number answers of {people}: expected "
        f"{below} or {above}; check n (was somebody missing here?) and the digits",
        severity="warning",
        outcome=row.outcome.id,
        arithmetic=f"{mean} × {answers} = {product:.{max(shown, 1)}f}, not a whole number",
    )
