"""Printing simulated people the way papers do: rounded, and seldom as mean and SD."""

from __future__ import annotations

from decimal import ROUND_HALF_EVEN, Decimal
from typing import Any

import numpy as np
from scipy import stats

from tests.invented.plan import ArmPlan, ComparisonPlan, OutcomePlan, ResultPlan, StudyPlan
from tests.invented.simulate import Drawn

LEVELS = {"ci90": 0.90, "ci95": 0.95, "ci99": 0.99}
BOUNDS = (0.001, 0.01, 0.05)


def rounded(value: float, decimals: int) -> Decimal:
    """A number with as many decimals as a paper would show."""
    found = Decimal(float(value)).quantize(Decimal(1).scaleb(-decimals), rounding=ROUND_HALF_EVEN)
    return abs(found) if found == 0 else found


def result_numbers(
    plan: StudyPlan, result: ResultPlan, arm: ArmPlan, drawn: Drawn
) -> dict[str, Any]:
    """What the paper prints for one arm, outcome and week, as keys of a result."""
    outcome = plan.outcome(result.outcome)
    prints = result.prints if isinstance(result.prints, str) else result.prints[arm.id]
    if "events" in prints.split():
        return {"events": drawn.events[outcome.id, arm.id]}
    before = drawn.before[outcome.id, arm.id]
    after = drawn.after[outcome.id, arm.id, result.week]
    found: dict[str, Any] = {}
    for part in prints.split():
        name, _, keys = part.partition(":")
        if name == "r":
            found["r"] = rounded(np.corrcoef(before, after)[0, 1], 2)
        elif name == "correlation":
            change = drawn.after[result.correlation_with, arm.id, result.week]
            change = change - drawn.before[result.correlation_with, arm.id]
            found["correlation"] = rounded(np.corrcoef(change, after - before)[0, 1], 2)
        else:
            values, decimals = _measured(name, before, after), outcome.decimals
            decimals = 1 if name == "change_percent" else decimals
            found[name] = spread(values, keys.split(","), decimals=decimals)
            if keys.endswith("of-means"):
                found[name]["mean"] = rounded(100 * (after.mean() / before.mean() - 1), decimals)
            if result.reading_error is not None:
                found[name] = _as_read(found[name], result.reading_error)
    return found


def _measured(name: str, before: np.ndarray, after: np.ndarray) -> np.ndarray:
    if name == "change_percent":
        return 100 * (after / before - 1)
    return {"pre": before, "post": after, "change": after - before}[name]


def spread(values: np.ndarray, keys: list[str], *, decimals: int) -> dict[str, Any]:
    """A mean or median with its printed spread.

    ``sd-is-se`` prints a standard error where a reader expects an SD; ``mean-impossible`` a
    mean that whole numbers from so many people cannot have; ``p-bound`` only a bound;
    ``by-normal`` says that the interval is made with 1.96 and its like, ``by-t`` that it is not;
    ``groups`` prints the people in two parts with SDs, ``groups-se`` and so on with another spread.
    """
    n, mean, sd = len(values), values.mean(), values.std(ddof=1)
    se = sd / np.sqrt(n)
    p = 2 * stats.t.sf(abs(mean / se), n - 1)
    found: dict[str, Any] = {}
    for key in keys:
        if key in LEVELS:
            made = stats.norm if "by-normal" in keys else stats.t(n - 1)
            reach = made.ppf((1 + LEVELS[key]) / 2) * se
            found[key] = [rounded(mean - reach, decimals), rounded(mean + reach, decimals)]
        elif key.startswith("by-"):
            found["ci_by"] = key.removeprefix("by-")
        elif key.startswith("of-"):
            found["of"] = key.removeprefix("of-")
        elif key.startswith("groups"):
            found["groups"] = _cohorts(values, key.partition("-")[2] or "sd", decimals)
        elif key == "iqr":
            found[key] = [rounded(q, decimals) for q in np.percentile(values, [25, 75])]
        elif key == "range":
            found[key] = [rounded(values.min(), decimals), rounded(values.max(), decimals)]
        elif key == "sd-is-se":
            found["sd"] = rounded(se, decimals)
        elif key == "mean-impossible":
            found["mean"] = _impossible(mean, n)
        elif key == "p":
            found[key] = _exact_p(p)
        elif key == "p-bound":
            found["p"] = _bound(p)
        else:
            number = {"mean": mean, "median": np.median(values), "sd": sd, "se": se}
            number["t"] = mean / se
            extra = {"se": decimals + 1, "t": 2}
            found[key] = rounded(number[key], extra.get(key, decimals))
    return found


def _cohorts(values: np.ndarray, key: str, decimals: int) -> list[dict[str, Any]]:
    """The same people in the order they came, printed as two cohorts."""
    parts = np.array_split(values, 2)
    return [
        {"label": f"{name} cohort", "n": len(part)} | spread(part, ["mean", key], decimals=decimals)
        for name, part in zip(("first", "second"), parts, strict=True)
    ]


def comparison_numbers(plan: StudyPlan, comparison: ComparisonPlan, drawn: Drawn) -> dict[str, Any]:
    """What the paper prints for one arm against another, as keys of a comparison."""
    outcome = plan.outcome(comparison.outcome)
    found: dict[str, Any] = {}
    effects = _effects(plan, comparison, drawn)
    for part in comparison.prints.split():
        name, _, keys = part.partition(":")
        over = [key for key in keys.split(",") if key.startswith("over-")]
        kind = "p" if name.startswith("p-") else name
        value, se, df = effects[" ".join([kind, *over])]
        if kind == "p":
            found["p"] = P_VALUES[name](2 * stats.t.sf(abs(value / se), df))
        elif name == "t":
            found["t"] = rounded(value / se, 2)
        elif name == "f":
            found["f"] = rounded((value / se) ** 2, 2)
        else:
            decimals = outcome.decimals if name == "difference" else 2
            decimals = 3 if name.startswith(("log", "risk")) else decimals
            found[name] = _reported(value, se, df, keys.split(","), decimals=decimals)
    return found


def between_arms_correlation(plan: StudyPlan, outcome: OutcomePlan, drawn: Drawn) -> Decimal:
    """Correlation of the first two limbs' changes, or of two periods' scores without pre."""
    first, second = plan.arms[:2]
    week = max(result.week for result in plan.results if result.outcome == outcome.id)
    one, other = (drawn.after[outcome.id, arm.id, week] for arm in (first, second))
    if plan.kind == "within-person":
        one = one - drawn.before[outcome.id, first.id]
        other = other - drawn.before[outcome.id, second.id]
    return rounded(np.corrcoef(one, other)[0, 1], 2)


def _effects(plan: StudyPlan, comparison: ComparisonPlan, drawn: Drawn):
    """Every effect a paper might print: name to (value, standard error, degrees of freedom)."""
    arms, week = (comparison.intervention, comparison.comparator), comparison.week
    if plan.outcome(comparison.outcome).base_risk is not None:
        sizes = [plan.arm(arm).n - plan.arm(arm).lost for arm in arms]
        return _count_effects([drawn.events[comparison.outcome, arm] for arm in arms], sizes)
    before = [drawn.before[comparison.outcome, arm] for arm in arms]
    after = [drawn.after[comparison.outcome, arm, week] for arm in arms]
    change = [post - pre for pre, post in zip(before, after, strict=True)]
    sizes = [len(values) for values in change]
    variances = [values.var(ddof=1) for values in change]
    df = sum(sizes) - 2
    pooled = sum((n - 1) * v for n, v in zip(sizes, variances, strict=True)) / df
    value = change[0].mean() - change[1].mean()
    se = np.sqrt(pooled * (1 / sizes[0] + 1 / sizes[1]))
    if plan.kind == "within-person":
        differences = change[0] - change[1]
        df = len(differences) - 1
        se = differences.std(ddof=1) / np.sqrt(len(differences))
    found = dict.fromkeys(("difference", "t", "f", "p"), (value, se, df))
    if comparison.adjusted:
        found["difference"] = _adjusted(before, after)
    found["standardised"] = _standardised(before, after, value)
    found["standardised over-pre-sd"] = found["standardised"]
    found["standardised over-post-sd"] = _unpaired(after)
    found["standardised over-change-sd"] = _unpaired(change)
    ratio, ratio_variance = 0.0, 0.0
    for sign, pre, post in zip((1, -1), before, after, strict=True):
        ratio += sign * np.log(post.mean() / pre.mean())
        ratio_variance += (post / post.mean() - pre / pre.mean()).var(ddof=1) / len(pre)
    found["log_ratio_of_means"] = (ratio, np.sqrt(ratio_variance), df)
    spreads = [post.std(ddof=1) for post in after]
    bias = 1 / (2 * (sizes[0] - 1)) - 1 / (2 * (sizes[1] - 1))
    spread_variance = 1 / (2 * (sizes[0] - 1)) + 1 / (2 * (sizes[1] - 1))
    found["log_sd_ratio"] = (
        np.log(spreads[0] / spreads[1]) + bias,
        np.sqrt(spread_variance),
        df,
    )
    return found


def _adjusted(before, after):
    pre, post = np.concatenate(before), np.concatenate(after)
    group = np.repeat([1.0, 0.0], [len(values) for values in before])
    design = np.column_stack([np.ones_like(pre), group, pre])
    inverse = np.linalg.inv(design.T @ design)
    weights = inverse @ design.T @ post
    df = len(pre) - 3
    residual = ((post - design @ weights) ** 2).sum() / df
    return weights[1], np.sqrt(residual * inverse[1, 1]), df


def _standardised(before, after, difference):
    """Morris (2008), from memory: pooled pre-training SD, small-sample factor."""
    sizes = [len(values) for values in before]
    df = sum(sizes) - 2
    pooled = sum((len(pre) - 1) * pre.var(ddof=1) for pre in before) / df
    r = np.mean([np.corrcoef(a, b)[0, 1] for a, b in zip(before, after, strict=True)])
    factor = 1 - 3 / (4 * df - 1)
    g = factor * difference / np.sqrt(pooled)
    k = 2 * (1 - r) * sum(1 / n for n in sizes)
    variance = factor**2 * k * df / (df - 2) * (1 + g**2 / k) - g**2
    return g, np.sqrt(variance), df


def _unpaired(groups):
    """Hedges' g of two groups' values, with its large-sample standard error (Hedges 1981)."""
    sizes = [len(values) for values in groups]
    df = sum(sizes) - 2
    parts = zip(sizes, groups, strict=True)
    pooled = sum((n - 1) * values.var(ddof=1) for n, values in parts) / df
    g = (1 - 3 / (4 * df - 1)) * (groups[0].mean() - groups[1].mean()) / np.sqrt(pooled)
    return g, np.sqrt(sum(1 / n for n in sizes) + g**2 / (2 * sum(sizes))), df


def _count_effects(events, sizes):
    ill = np.array(events, float) + 0.5 * (min(events) == 0)
    n = np.array(sizes, float) + 0.5 * (min(events) == 0)
    risk, well, df = ill / n, n + 0.5 * (min(events) == 0) - ill, np.inf
    sign = np.array([1, -1])
    return {
        "log_risk_ratio": (sign @ np.log(risk), np.sqrt((1 / ill - 1 / n).sum()), df),
        "log_odds_ratio": (sign @ np.log(ill / well), np.sqrt((1 / ill + 1 / well).sum()), df),
        "risk_difference": (sign @ risk, np.sqrt((risk * (1 - risk) / n).sum()), df),
    }


def _reported(value, se, df, keys, *, decimals):
    found = {"value": rounded(value, decimals)}
    for key in keys:
        if key in LEVELS:
            reach = stats.t.ppf((1 + LEVELS[key]) / 2, df) * se
            found[key] = [rounded(value - reach, decimals), rounded(value + reach, decimals)]
        elif key.startswith("over-"):
            found["over"] = key.removeprefix("over-")
        else:
            found[key] = rounded(se * np.sqrt(df + 1) if key == "sd" else se, decimals)
    return found


def _exact_p(p: float) -> Decimal | str:
    return "<0.001" if p < 0.001 else rounded(p, 3)


def _bound(p: float) -> Decimal | str:
    for bound in BOUNDS:
        if p < bound:
            return f"<{bound}"
    return rounded(p, 2)


def _not_significant(p: float) -> str:
    if p <= 0.05:
        raise ValueError(f"p {p:.3f} cannot be printed as not significant: draw another study")
    return ">0.05"


P_VALUES = {"p": _exact_p, "p-bound": _bound, "p-not-significant": _not_significant}


def _impossible(mean: float, n: int) -> Decimal:
    """The nearest two-decimal number above the mean that no whole total over n rounds to."""
    candidate = rounded(mean, 2)
    while any(
        rounded(total / n, 2) == candidate
        for total in range(int(candidate * n) - 1, int(candidate * n) + 3)
    ):
        candidate += Decimal("0.01")
    return candidate


def _as_read(numbers: dict[str, Any], error: float) -> dict[str, Any]:
    """Numbers as a ruler on a figure gives them: to the nearest reading error."""
    step = Decimal(str(error))

    def read(value: Decimal) -> Decimal:
        return (value / step).to_integral_value() * step

    found = {
        key: [read(v) for v in value] if isinstance(value, list) else read(value)
        for key, value in numbers.items()
    }
    return {**found, "reading_error": step}
