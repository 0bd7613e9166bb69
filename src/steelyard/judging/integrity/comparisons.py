"""Reported differences, intervals and tests that do not follow from each other."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations

from steelyard.judging.integrity import significance
from steelyard.judging.integrity import thresholds as limits
from steelyard.judging.integrity.finding import IntegrityFinding, found
from steelyard.judging.integrity.reading import Laid, Row
from steelyard.judging.integrity.rounded import Rounded, told
from steelyard.judging.integrity.spreads import off_centre
from steelyard.records.study import INTERVAL_KEYS, Comparison

EFFECTS = (
    *("difference", "standardised", "log_ratio_of_means", "log_risk_ratio", "log_odds_ratio"),
    *("risk_difference", "log_sd_ratio"),
)
_PAIRED = ("within-person", "crossover")
_OTHER_TEST = "log_sd_ratio"  # its p tells of spreads, not of means


def comparison_findings(laid: Laid) -> Iterator[IntegrityFinding]:
    """What a paper's own comparisons say against its arms and against themselves."""
    for index, comparison in enumerate(laid.study.comparisons, 1):
        path = f"comparison[{index}]"
        one = laid.row(
            outcome=comparison.outcome, arm=comparison.intervention, week=comparison.week
        )
        other = laid.row(
            outcome=comparison.outcome, arm=comparison.comparator, week=comparison.week
        )
        sharp = comparison.read_off != "figure"
        yield from _within_itself(laid, comparison, path, one, other, sharp)
        if one is not None and other is not None and not comparison.adjusted and sharp:
            yield from _against_arms(laid.study.id, comparison, path, one, other)


def differences_of_arms(one: Row, other: Row) -> dict[str, Rounded]:
    """Differences between two arms that a paper may print, each with its rounding."""
    found_ones = {}
    if one.gain is not None and other.gain is not None:
        found_ones["changes"] = one.gain - other.gain
    for name, words in (("change", "printed changes"), ("post", "scores after training")):
        cells = (getattr(one, name), getattr(other, name))
        if all(cell is not None and cell.mean is not None for cell in cells):
            found_ones[words] = cells[0].mean - cells[1].mean
    return found_ones


def _against_arms(
    study: str, comparison: Comparison, path: str, one: Row, other: Row
) -> Iterator[IntegrityFinding]:
    if comparison.difference is None or _any_figure(one, other):
        return
    printed = Rounded.printed(comparison.difference.value)
    candidates = differences_of_arms(one, other)
    if printed is None or not candidates:
        return
    if any(printed.meets(each) for each in candidates.values()):
        return
    name, nearest = min(candidates.items(), key=lambda item: abs(item[1].value - printed.value))
    turned = [words for words, each in candidates.items() if (-printed).meets(each)]
    if turned:
        name, nearest = turned[0], candidates[turned[0]]
        fix = "its sign is turned: write it as intervention less comparator"
    else:
        fix = "check the means and the difference; if the paper adjusted it, write adjusted = true"
    sds = [row.pre.sd.value for row in (one, other) if row.pre is not None and row.pre.sd]
    off = abs(nearest.value - printed.value)
    large = bool(turned) or not sds or off > limits.CHANGE_WARNING * max(sds)
    yield found(
        study,
        f"{path}.difference.value",
        "difference-mismatch",
        f"the difference {comparison.difference.value} is not the {told(nearest.value)} between "
        f"the arms' {name}: {fix}",
        severity="warning" if large else "note",
        outcome=comparison.outcome,
        arithmetic="; ".join(
            f"difference of {words} = {told(each.value)}" for words, each in candidates.items()
        ),
    )


def _any_figure(*rows: Row) -> bool:
    cells = (cell for row in rows for cell in (row.pre, row.post, row.change))
    return any(cell is not None and not cell.sharp for cell in cells)


def _within_itself(
    laid: Laid,
    comparison: Comparison,
    path: str,
    one: Row | None,
    other: Row | None,
    sharp: bool,
) -> Iterator[IntegrityFinding]:
    study, outcome = laid.study.id, comparison.outcome
    df = _df(laid, comparison, one, other)
    sources: list[tuple[str, str, Rounded]] = []
    for name in EFFECTS:
        effect = getattr(comparison, name)
        if effect is None:
            continue
        for key in INTERVAL_KEYS:
            pair, value = getattr(effect, key), Rounded.printed(effect.value)
            if pair is None or value is None or not sharp:
                continue
            low, high = (Rounded.printed(limit) for limit in pair)
            off = None if low is None or high is None else off_centre(value, low, high)
            if off is not None:
                yield found(
                    study,
                    f"{path}.{name}.{key}",
                    "interval-off-centre",
                    f"the interval {pair[0]} to {pair[1]} is centred on {told(off)}, not on "
                    f"{effect.value}: check the digits and signs, and that a ratio stands on "
                    "the log scale",
                    severity="warning",
                    outcome=outcome,
                    arithmetic=f"({pair[0]} + {pair[1]}) / 2 = {told(off)}",
                )
        if name == _OTHER_TEST:
            continue
        statistic = significance.statistic_of(effect, df)
        if statistic is not None and sharp:
            words = f"{name.replace('_', ' ')} with its uncertainty"
            p_span = significance.p_of_statistic(statistic, df)
            sources.append((f"{path}.{name}", words, p_span))
        p = significance.p_as_printed(comparison.p)
        if p is not None and significance.opposite_at_five_percent(effect, p):
            yield _opposite(study, path, comparison, name)
            return
    sources += printed_tests(comparison, path, df)
    for (_, words, span), (place, other_words, other_span) in combinations(sources, 2):
        if significance.disagree(span, other_span):
            yield found(
                study,
                place,
                "test-mismatch",
                f"the {words} means p = {told(span.value)} and the {other_words} "
                f"p = {told(other_span.value)}: expected the same p; check the digits, n, and "
                "whether both tell of the same comparison",
                severity="warning",
                outcome=outcome,
                arithmetic=f"p from {told(span.low)} to {told(span.high)} against "
                f"{told(other_span.low)} to {told(other_span.high)}"
                + (f", {told(df)} degrees of freedom" if df else ""),
            )
            return


def _opposite(study: str, path: str, comparison: Comparison, name: str) -> IntegrityFinding:
    low, high = getattr(comparison, name).ci95
    return found(
        study,
        f"{path}.p",
        "test-mismatch",
        f"p = {comparison.p} and the 95 % interval {low} to {high} stand on different sides of "
        "0.05: expected an interval without 0 exactly where p is below 0.05; check both against "
        "the paper",
        severity="warning",
        outcome=comparison.outcome,
        arithmetic=f"0 lies {'inside' if low < 0 < high else 'outside'} {low} to {high}",
    )


def printed_tests(
    comparison: Comparison, path: str, df: float | None
) -> list[tuple[str, str, Rounded]]:
    """Each printed t, F and p as path, words and the span of its p."""
    found_ones = []
    t = Rounded.printed(comparison.t)
    if t is not None:
        size = significance.size_of(t)
        found_ones.append((f"{path}.t", "t", significance.p_of_statistic(size, df)))
    f = significance.statistic_from_f(comparison.f)
    if f is not None:
        found_ones.append((f"{path}.f", "F", significance.p_of_statistic(f, df)))
    p = significance.p_as_printed(comparison.p)
    if p is not None:
        found_ones.append((f"{path}.p", "printed p", p))
    return found_ones


def _df(laid: Laid, comparison: Comparison, one: Row | None, other: Row | None) -> float | None:
    arms = {arm.id: arm.n for arm in laid.study.arms}
    sizes = [
        comparison.n_intervention or (one.n if one else arms.get(comparison.intervention)),
        comparison.n_comparator or (other.n if other else arms.get(comparison.comparator)),
    ]
    if None in sizes or max(sizes) > 1_000_000:
        return None
    if laid.study.design.kind in _PAIRED:
        return max(1, min(sizes) - 1)
    return max(1, sum(sizes) - (3 if comparison.adjusted else 2))
