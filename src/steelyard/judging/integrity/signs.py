"""The direction in which the arms differ, against the sign that the paper prints."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from steelyard.judging.integrity import thresholds as limits
from steelyard.judging.integrity.comparisons import differences_of_arms
from steelyard.judging.integrity.finding import IntegrityFinding, found
from steelyard.judging.integrity.pooled_number import pooled_number
from steelyard.judging.integrity.reading import Laid, Row
from steelyard.judging.integrity.rounded import Rounded, pooled, told
from steelyard.records.study import Comparison, Outcome, Study


def direction_of_arms(one: Row, other: Row, *, of: str | None = None) -> int:
    """1 or −1 where every difference between two arms points one way, past its rounding; else 0.

    Parameters
    ----------
    one, other : Row
        Intervention and comparator.
    of : {"change", "post"}, optional
        What the paper compared, where it says so.
    """
    candidates = differences_of_arms(one, other)
    if of == "post":
        candidates = {k: v for k, v in candidates.items() if k == "scores after training"}
    elif of == "change":
        candidates = {k: v for k, v in candidates.items() if k != "scores after training"}
    if candidates and all(each.low > 0 for each in candidates.values()):
        return 1
    if candidates and all(each.high < 0 for each in candidates.values()):
        return -1
    return 0


def sign_of(value: Rounded) -> int:
    """1 or −1 where rounding leaves no doubt of the sign; else 0."""
    return (value.low > 0) - (value.high < 0)


def sign_finding(
    study: Study,
    comparison: Comparison,
    path: str,
    rule: str,
    *,
    printed,
    because: str,
    arithmetic: str,
    metric: str,
) -> IntegrityFinding:
    """A warning that a printed sign is the other way round, which says what is pooled.

    Suspect only where an answer takes the printed number.
    """
    outcome = study.outcome(comparison.outcome)
    taken = pooled_number(study, comparison, metric=metric)
    pools = f"; {taken.words}" if taken is not None else "; left as it is, it gives no effect"
    message = (
        f"{because}: {_how_to_write(outcome, comparison, printed)}, or check which arm is named "
        f"first{pools}"
    )
    return found(
        study.id,
        path,
        rule,
        message,
        severity="warning",
        outcome=comparison.outcome,
        arithmetic=arithmetic,
        suspect=taken is not None and taken.from_paper,
    )


def _how_to_write(outcome: Outcome, comparison: Comparison, printed) -> str:
    turned = f"{-printed}" if isinstance(printed, int) else f"{printed.copy_negate()}"
    write = f"write it as {comparison.intervention} less {comparison.comparator}, {turned}"
    if outcome.better == "lower":
        return f"papers may print a sign that is positive for the better group; here {write}"
    return f"if the paper subtracts the other way, {write}"


def sign_findings(laid: Laid) -> Iterator[IntegrityFinding]:
    """A t whose sign the answer takes, and adjusted differences, against the arms."""
    for index, comparison in enumerate(laid.study.comparisons, 1):
        if comparison.read_off == "figure":
            continue
        arms = (comparison.intervention, comparison.comparator)
        one, other = (
            laid.row(outcome=comparison.outcome, arm=arm, week=comparison.week) for arm in arms
        )
        if one is None or other is None:
            continue
        path = f"comparison[{index}]"
        if comparison.adjusted:
            yield from _adjusted(laid.study, comparison, path, one, other)
        else:
            yield from _t(laid.study, comparison, path, one, other)


def _t(
    study: Study, comparison: Comparison, path: str, one: Row, other: Row
) -> Iterator[IntegrityFinding]:
    """Many papers print t without its sign; that matters only where the answer takes it."""
    t = Rounded.printed(comparison.t)
    direction = direction_of_arms(one, other, of=comparison.of)
    if t is None or direction * sign_of(t) >= 0:
        return
    taken = pooled_number(study, comparison, metric="standardised")
    if taken is None or not taken.from_paper or taken.value * direction > 0:
        return
    differences = differences_of_arms(one, other)
    yield sign_finding(
        study,
        comparison,
        f"{path}.t",
        "test-sign",
        printed=comparison.t,
        because=f"t = {comparison.t} says the opposite of the arms, which differ by "
        + " and ".join(f"{told(each.value)} in {words}" for words, each in differences.items()),
        arithmetic="; ".join(
            f"difference of {words} = {told(each.value)}" for words, each in differences.items()
        ),
        metric="standardised",
    )


@dataclass(frozen=True, slots=True)
class AdjustedSpan:
    """Where a difference adjusted for the start may lie.

    Post − b·gap for b from 0 (scores after training) to 1 (changes), and somewhat beyond.

    Attributes
    ----------
    low, high : float
        Ends of that span; raw units.
    slack : float
        What other covariates, or people left out, may move it by.
    sd : float or None
        Pooled SD before, else after training.
    arithmetic : str
    """

    low: float
    high: float
    slack: float
    sd: float | None
    arithmetic: str


def adjusted_span(one: Row, other: Row) -> AdjustedSpan | None:
    """None where the arms do not print enough to say."""
    differences = differences_of_arms(one, other)
    change = differences.get("changes") or differences.get("printed changes")
    post = differences.get("scores after training")
    if change is None and post is None:
        return None
    sums = "; ".join(f"difference of {k} = {told(each.value)}" for k, each in differences.items())
    ends = [end for each in (change, post) if each is not None for end in (each.low, each.high)]
    low, high = min(ends), max(ends)
    sd = next((sd for name in ("pre", "post") if (sd := _pooled(one, other, name))), None)
    both = change is not None and post is not None
    if both:
        beyond = limits.ADJUSTED_BEYOND * abs(post.value - change.value)
        low, high = low - beyond, high + beyond
    share = limits.ADJUSTED_SLACK if both else limits.ADJUSTED_SLACK_OPEN
    slack = share * (sd if sd is not None else 2 * max(abs(low), abs(high)))
    return AdjustedSpan(low, high, slack, sd, sums)


def _pooled(one: Row, other: Row, name: str) -> float | None:
    cells = (getattr(one, name), getattr(other, name))
    if one.n is None or other.n is None or any(cell is None or cell.sd is None for cell in cells):
        return None
    return pooled(cells[0].sd.value, one.n, cells[1].sd.value, other.n)


def _adjusted(
    study: Study, comparison: Comparison, path: str, one: Row, other: Row
) -> Iterator[IntegrityFinding]:
    """A sign that no adjustment for the start explains, and that turned round would fit."""
    span = adjusted_span(one, other)
    if span is None or not (span.low > 0 or span.high < 0):
        return
    for name, unit, widest in (
        ("difference", 1.0, 1.0),
        ("standardised", span.sd, limits.RESIDUAL),
    ):
        effect = getattr(comparison, name)
        printed = None if effect is None else Rounded.printed(effect.value)
        if printed is None or unit is None:
            continue
        direction = 1 if span.low > 0 else -1
        ends = sorted((direction * span.low, direction * span.high))
        low, high = (ends[0] - span.slack) / unit, (ends[1] + span.slack) / unit * widest
        turned = -printed if direction > 0 else printed
        if low <= 0 or turned.low <= 0 or turned.high < low or turned.low > high:
            continue
        words = "adjusted difference" if name == "difference" else "adjusted standardised effect"
        between = (
            f"{told(span.low)} to {told(span.high)}"
            if span.high > span.low
            else f"{told(span.low)}"
        )
        yield sign_finding(
            study,
            comparison,
            f"{path}.{name}.value",
            "adjusted-sign",
            printed=effect.value,
            because=f"the {words} {effect.value} lies on the other side of 0 than what the arms "
            f"leave after adjusting for the start, {between}",
            arithmetic=span.arithmetic,
            metric="raw" if name == "difference" else "standardised",
        )
