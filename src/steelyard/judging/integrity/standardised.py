"""A reported standardised effect that the arms' own numbers do not give."""

from __future__ import annotations

from collections.abc import Iterator

from steelyard.effects.small_sample import small_sample_factor, small_sample_factor_approximate
from steelyard.judging.integrity.change_sds import change_sd
from steelyard.judging.integrity.comparisons import differences_of_arms
from steelyard.judging.integrity.finding import IntegrityFinding, found
from steelyard.judging.integrity.reading import Laid, Row
from steelyard.judging.integrity.rounded import Rounded, pooled, told
from steelyard.judging.integrity.signs import direction_of_arms, sign_finding, sign_of
from steelyard.records.study import Comparison

_DIVISORS = (("pre", "before training"), ("post", "after training"), ("change", "of change"))


def standardised_findings(laid: Laid) -> Iterator[IntegrityFinding]:
    """Printed standardised effects that no usual choice of difference and SD reproduces."""
    for index, comparison in enumerate(laid.study.comparisons, 1):
        printed = comparison.standardised
        value = None if printed is None else Rounded.printed(printed.value)
        if value is None or comparison.adjusted or comparison.read_off == "figure":
            continue
        arms = (comparison.intervention, comparison.comparator)
        one, other = (
            laid.row(outcome=comparison.outcome, arm=arm, week=comparison.week) for arm in arms
        )
        if one is None or other is None:
            continue
        path = f"comparison[{index}].standardised.value"
        ours = standardised_by(one, other, over=printed.over)
        if any(value.meets(each) for each in ours.values()):
            continue
        name, nearest = min(
            ours.items(),
            key=lambda item: abs(abs(item[1].value) - abs(value.value)),
            default=("", None),
        )
        plain = {words: each for words, each in ours.items() if "corrected" not in words}
        sums = "; ".join(f"{words}: {told(each.value)}" for words, each in plain.items())
        of = "change" if printed.over == "change-sd" else comparison.of
        if sign_of(value) * direction_of_arms(one, other, of=of) < 0:
            turned = [words for words, each in ours.items() if (-value).meets(each)]
            if turned:
                name, nearest = turned[0], ours[turned[0]]
            yield _turned(laid, comparison, path, name, nearest, sums, one, other)
        elif nearest is not None:
            yield found(
                laid.study.id,
                path,
                "standardised-mismatch",
                f"the standardised effect {printed.value} is none that the arms' numbers give; "
                f"the nearest is {told(nearest.value)}, the {name}: find out which SD the paper "
                "divided by, and whether it was a standard error",
                outcome=comparison.outcome,
                arithmetic=sums,
            )


def _turned(
    laid: Laid,
    comparison: Comparison,
    path: str,
    name: str,
    nearest: Rounded | None,
    sums: str,
    one: Row,
    other: Row,
) -> IntegrityFinding:
    """A sign that contradicts the arms, whichever way the outcome is better."""
    differences = differences_of_arms(one, other)
    shown = "; ".join(f"difference of {k}: {told(each.value)}" for k, each in differences.items())
    if nearest is None:
        arms = f"arms, whose means differ by {told(next(iter(differences.values())).value)}"
    else:
        arms = f"arms, which give {told(nearest.value)}, the {name}"
    printed = comparison.standardised.value
    return sign_finding(
        laid.study,
        comparison,
        path,
        "standardised-mismatch",
        printed=printed,
        because=f"the standardised effect {printed} has the opposite sign of the {arms}",
        arithmetic=f"{shown}; {sums}" if sums else shown,
        metric="standardised",
    )


def standardised_by(one: Row, other: Row, *, over: str | None = None) -> dict[str, Rounded]:
    """Differences over pooled and over the comparator's SDs, plain and corrected for few people.

    Each with the span that the rounding of its means and SDs leaves. With `over` the SD of
    change, it is changes over that SD alone; where none is printed, over what any plausible
    pre-post r gives.
    """
    if one.n is None or other.n is None:
        return {}
    differences = differences_of_arms(one, other)
    if over == "change-sd":
        differences.pop("scores after training", None)
    ours = {}
    for divisor_words, (divisor, df) in _divisors(one, other, over).items():
        for difference_words, difference in differences.items():
            ratio = _over(difference, divisor)
            if ratio is None:
                continue
            label = f"difference of {difference_words} over the {divisor_words}"
            ours[label] = ratio
            if df > 1:
                factors = (small_sample_factor(df), small_sample_factor_approximate(df))
                ours[f"{label}, corrected"] = Rounded(
                    ratio.value * float(factors[0]),
                    min(ratio.low * float(factor) for factor in factors),
                    max(ratio.high * float(factor) for factor in factors),
                )
    return ours


def _divisors(one: Row, other: Row, over: str | None) -> dict[str, tuple[Rounded, int]]:
    """SDs that a paper may have divided by, each with its degrees of freedom."""
    found_ones: dict[str, tuple[Rounded, int]] = {}
    if over == "change-sd":
        pairs = [("of change", [change_sd(row) for row in (one, other)])]
        pairs = [(words, [known and known.sd for known in pair]) for words, pair in pairs]
    else:
        pairs = [
            (words, [cell and cell.sd for cell in (getattr(one, name), getattr(other, name))])
            for name, words in _DIVISORS
        ]
    for words, sds in pairs:
        if None in sds:
            continue
        ends = [
            pooled(getattr(sds[0], end), one.n, getattr(sds[1], end), other.n)
            for end in ("value", "low", "high")
        ]
        found_ones[f"pooled SD {words}"] = (Rounded(*ends), one.n + other.n - 2)
        found_ones[f"comparator's SD {words}"] = (sds[1], other.n - 1)
    return found_ones


def _over(difference: Rounded, divisor: Rounded) -> Rounded | None:
    if divisor.low <= 0:
        return None
    ends = [
        top / bottom
        for top in (difference.low, difference.high)
        for bottom in (divisor.low, divisor.high)
    ]
    return Rounded(difference.value / divisor.value, min(ends), max(ends))
