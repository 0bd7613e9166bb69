"""Printed ratios and risk differences that the arms' means, counts and SDs do not give."""

from __future__ import annotations

from collections.abc import Iterator
from math import log

from steelyard.judging.integrity import thresholds as limits
from steelyard.judging.integrity.finding import IntegrityFinding, found
from steelyard.judging.integrity.pooled_number import pooled_number
from steelyard.judging.integrity.reading import Laid, Row
from steelyard.judging.integrity.rounded import Rounded, told
from steelyard.judging.integrity.signs import sign_finding, sign_of
from steelyard.records.study import Comparison

RULE = "ratio-mismatch"
_WORDS = {
    "log_ratio_of_means": "log ratio of means",
    "log_risk_ratio": "log risk ratio",
    "log_odds_ratio": "log odds ratio",
    "risk_difference": "risk difference",
    "log_sd_ratio": "log ratio of SDs",
}
_METRICS = {
    "log_ratio_of_means": "percent",
    "log_risk_ratio": "risk-ratio",
    "log_odds_ratio": "odds-ratio",
    "risk_difference": "risk-difference",
    "log_sd_ratio": "variability-ratio",
}


def ratio_findings(laid: Laid) -> Iterator[IntegrityFinding]:
    """Each printed ratio against every way in which the arms may give it."""
    for index, comparison in enumerate(laid.study.comparisons, 1):
        if comparison.adjusted or comparison.read_off == "figure":
            continue
        arms = (comparison.intervention, comparison.comparator)
        one, other = (
            laid.row(outcome=comparison.outcome, arm=arm, week=comparison.week) for arm in arms
        )
        if one is None or other is None:
            continue
        sizes = [
            comparison.n_intervention or one.n,
            comparison.n_comparator or other.n,
        ]
        for name in _WORDS:
            effect = getattr(comparison, name)
            value = None if effect is None else Rounded.printed(effect.value)
            ours = ratios_of_arms(name, one, other, sizes) if value is not None else {}
            if ours:
                slack = _slack(name, one, other)
                yield from _judged(laid, comparison, index, name, value, ours, slack)


def ratios_of_arms(name: str, one: Row, other: Row, sizes) -> dict[str, Rounded]:
    """What two arms give for one kind of ratio, by the words of each way; empty where nothing.

    Parameters
    ----------
    name : str
        Field of a comparison, for example ``log_risk_ratio``.
    one, other : Row
        Intervention and comparator.
    sizes : pair of int or None
        People analysed in each.
    """
    if name == "log_ratio_of_means":
        return _of_means(one, other)
    if name == "log_sd_ratio":
        return _of_sds(one, other, sizes)
    return _of_counts(name, one, other, sizes)


def _log_ratio(top: Rounded | None, bottom: Rounded | None) -> Rounded | None:
    if top is None or bottom is None or top.low <= 0 or bottom.low <= 0:
        return None
    return Rounded(
        log(top.value / bottom.value), log(top.low / bottom.high), log(top.high / bottom.low)
    )


def _minus(one: Rounded | None, other: Rounded | None) -> Rounded | None:
    return None if one is None or other is None else one - other


def _of_means(one: Row, other: Row) -> dict[str, Rounded]:
    """ln(post/pre) of one arm less the other's, ln(post₁/post₂), and from percent changes."""
    ways = {
        "changes": _minus(_log_gain(one), _log_gain(other)),
        "scores after training": _log_ratio(_mean(one, "post"), _mean(other, "post")),
        "percent changes": _minus(_log_percent(one), _log_percent(other)),
    }
    return {words: span for words, span in ways.items() if span is not None}


def _mean(row: Row, name: str) -> Rounded | None:
    cell = getattr(row, name)
    return cell.mean if cell is not None and cell.sharp else None


def _log_gain(row: Row) -> Rounded | None:
    pre, post, change = (_mean(row, name) for name in ("pre", "post", "change"))
    if post is None and pre is not None and change is not None:
        post = pre - (-change)
    return _log_ratio(post, pre)


def _log_percent(row: Row) -> Rounded | None:
    percent = row.result.change_percent
    span = None if percent is None else Rounded.printed(percent.mean)
    if span is None or span.low <= -100:
        return None
    return Rounded(*(log(1 + end / 100) for end in (span.value, span.low, span.high)))


def _of_sds(one: Row, other: Row, sizes) -> dict[str, Rounded]:
    """ln(s₁/s₂) after training, of change, and beyond that before; plain or less its bias."""
    logs = {
        words: _log_ratio(_sd(one, name), _sd(other, name))
        for name, words in (("post", "SDs after training"), ("change", "SDs of change"))
    }
    before = _log_ratio(_sd(one, "pre"), _sd(other, "pre"))
    logs["SDs after training less those before"] = _minus(logs["SDs after training"], before)
    ways = {words: span for words, span in logs.items() if span is not None}
    if None not in sizes and min(sizes) > 1:
        bias = 1 / (2 * (sizes[0] - 1)) - 1 / (2 * (sizes[1] - 1))
        for words, span in list(ways.items()):
            ways[f"{words}, corrected"] = Rounded(
                span.value + bias, span.low + bias, span.high + bias
            )
    return ways


def _sd(row: Row, name: str) -> Rounded | None:
    cell = getattr(row, name)
    return cell.sd if cell is not None and cell.sharp else None


def _of_counts(name: str, one: Row, other: Row, sizes) -> dict[str, Rounded]:
    """From events and people, with one half added to every cell where one is empty."""
    events = (one.result.events, other.result.events)
    if None in events:
        return {}
    ways = {}
    people = {"": tuple(sizes)}
    if (one.arm.n, other.arm.n) != tuple(sizes):
        people[" of all in the arms"] = (one.arm.n, other.arm.n)
    for words, totals in people.items():
        if None in totals or any(n < count for n, count in zip(totals, events, strict=True)):
            continue
        cells = [
            float(each)
            for n, count in zip(totals, events, strict=True)
            for each in (count, n - count)
        ]
        for added in (0.0, 0.5):
            value = _count_effect(name, *(cell + added for cell in cells))
            if value is not None and (added == 0 or min(cells) == 0):
                half = ", one half added" if added else ""
                counts = f"{events[0]} of {totals[0]} and {events[1]} of {totals[1]}"
                ways[f"{counts}{words}{half}"] = Rounded(value, value, value)
    return ways


def _count_effect(name: str, a: float, b: float, c: float, d: float) -> float | None:
    """Log risk ratio, log odds ratio or risk difference of a table of events and others."""
    if a + b <= 0 or c + d <= 0:
        return None
    if name == "risk_difference":
        return a / (a + b) - c / (c + d)
    if name == "log_risk_ratio":
        return log((a / (a + b)) / (c / (c + d))) if a > 0 and c > 0 else None
    return log((a * d) / (b * c)) if min(a, b, c, d) > 0 else None


def _slack(name: str, one: Row, other: Row) -> float:
    """What may lie between, beyond rounding: people's own logs lie CV²/2 below those of means."""
    if name == "risk_difference":
        return limits.RISK_OPEN
    if name != "log_ratio_of_means":
        return limits.LOG_OPEN
    cells = (cell for row in (one, other) for cell in (row.pre, row.post) if cell is not None)
    shares = [
        cell.sd.value / cell.mean.value
        for cell in cells
        if cell.sd is not None and cell.mean is not None and cell.mean.value > 0
    ]
    return max(limits.LOG_MEANS_OPEN, max(shares, default=0.0) ** 2 / 2)


def _fits(value: Rounded, ours: dict[str, Rounded], slack: float) -> str:
    """The first way that gives a value, give or take `slack`; empty where none does."""
    for words, each in ours.items():
        if value.meets(Rounded(each.value, each.low - slack, each.high + slack)):
            return words
    return ""


def _judged(
    laid: Laid,
    comparison: Comparison,
    index: int,
    name: str,
    value: Rounded,
    ours: dict[str, Rounded],
    slack: float,
) -> Iterator[IntegrityFinding]:
    path = f"comparison[{index}].{name}.value"
    if _fits(value, ours, slack):
        return
    printed = getattr(comparison, name).value
    plain = {words: each for words, each in ours.items() if "corrected" not in words}
    sums = "; ".join(f"{words}: {told(each.value)}" for words, each in plain.items())
    signs = {sign_of(each) for each in ours.values()}
    if sign_of(value) and signs == {-sign_of(value)} and _fits(-value, ours, slack):
        words = _fits(-value, ours, slack)
        yield sign_finding(
            laid.study,
            comparison,
            path,
            RULE,
            printed=printed,
            because=f"the {_WORDS[name]} {printed} has the opposite sign of the "
            f"{told(ours[words].value)} that the arms give ({words})",
            arithmetic=sums,
            metric=_METRICS[name],
        )
        return
    way, nearest = min(plain.items(), key=lambda item: abs(item[1].value - value.value))
    hint = _off_scale(name, value, ours, slack)
    other_kind = _other_kind(name, comparison, laid, value, slack)
    taken = pooled_number(laid.study, comparison, metric=_METRICS[name])
    far = abs(nearest.value - value.value) > limits.LOG_FAR
    fix = (
        hint
        or other_kind
        or "check it against the paper; if it was adjusted, write adjusted = true"
    )
    yield found(
        laid.study.id,
        path,
        RULE,
        f"the {_WORDS[name]} {printed} is none that the arms give; the nearest is "
        f"{told(nearest.value)} ({way}): {fix}" + (f"; {taken.words}" if taken else ""),
        severity="warning" if hint or other_kind or far else "note",
        outcome=comparison.outcome,
        arithmetic=sums,
        suspect=bool(hint) and taken is not None and taken.from_paper,
    )


def _off_scale(name: str, value: Rounded, ours: dict[str, Rounded], slack: float) -> str:
    """Words where the ratio, or a percent, stands in place of its logarithm."""
    if name == "risk_difference":
        return ""
    if value.low > 0:
        as_ratio = Rounded(*(log(end) for end in (value.value, value.low, value.high)))
        if _fits(as_ratio, ours, slack):
            return f"it fits as the ratio itself: write its logarithm, {told(as_ratio.value)}"
    if value.low > -100 and name == "log_ratio_of_means":
        spans = (log(1 + end / 100) for end in (value.value, value.low, value.high))
        as_percent = Rounded(*spans)
        if _fits(as_percent, ours, slack):
            return f"it fits as a percent: write ln(1 + percent/100), {told(as_percent.value)}"
    return ""


_COUNTED = ("log_risk_ratio", "log_odds_ratio", "risk_difference")


def _other_kind(name: str, comparison: Comparison, laid: Laid, value: Rounded, slack: float) -> str:
    """Words where the number is that of another measure of the same counts."""
    if name not in _COUNTED:
        return ""
    one, other = (
        laid.row(outcome=comparison.outcome, arm=arm, week=comparison.week)
        for arm in (comparison.intervention, comparison.comparator)
    )
    sizes = [comparison.n_intervention or one.n, comparison.n_comparator or other.n]
    for kind in _COUNTED:
        if kind != name and _fits(value, ratios_of_arms(kind, one, other, sizes), slack):
            return f"it is their {_WORDS[kind]}: write it as {kind}"
    return ""
