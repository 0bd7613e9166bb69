"""The facts about a weighing that the rules of certainty are held against."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from steelyard.effects.formed import RETRACTED, SUSPECT
from steelyard.errors import DesignError
from steelyard.judging.appraisal.weights import ConcernWeights
from steelyard.judging.directness import Directness
from steelyard.judging.people_needed import people_needed_per_arm, typical_unit_variance
from steelyard.judging.repool import pooled_rows, used_rows
from steelyard.pooling.held_out import holds_suspects
from steelyard.pooling.small_studies import alike_by_size
from steelyard.pooling.small_study_test import small_study_test
from steelyard.pooling.weighing import Weighing
from steelyard.records.study import Study

PUBLIC_PLANS = ("before it began", "later", "date not given")
NOT_KNOWN = float("nan")
SHARES = frozenset(
    (
        *("randomised_weight", "weight_high", "weight_some_or_high", "weight_not_appraised"),
        *("overlap", "match_together", "match_worst", "surrogate", "elsewhere"),
        "suspect_weight",
    )
)
OF_WORTHWHILE = frozenset(
    (
        *("worthwhile", "bounds_crossed", "zones_more", "people_needed_per_arm"),
        *("information_ratio", "all_small"),
    )
)


def certainty_facts(
    weighing: Weighing,
    studies: Mapping[str, Study],
    *,
    concerns: ConcernWeights,
    directness: Directness,
) -> dict[str, Any]:
    """Everything the rules may ask, by name; NaN or None where it cannot be computed.

    Shares of weight are fractions; effects are on the machine scale of the weighing.
    """
    facts: dict[str, Any] = {
        "k_studies": weighing.k_studies,
        "people": weighing.people,
        "randomised_weight": _weight(weighing, studies, lambda study: study.design.randomised),
        "weight_high": concerns.share("high"),
        "weight_some_or_high": concerns.share("some") + concerns.share("high"),
        "weight_not_appraised": concerns.unanswered,
        "shift_without_high": _shift_without_high(weighing, concerns),
        **_information(weighing),
        "tau": float(np.sqrt(weighing.tau2)),
        "overlap": _overlap(weighing),
        "match_together": directness.together if directness.person.described else None,
        "compared": directness.compared,
        "match_worst": min(directness.shares.values()),
        "surrogate": directness.surrogate,
        "elsewhere": 1 - directness.shares.get("part of the body", 1.0),
        **_small_studies(weighing, studies, concerns),
        **_integrity(weighing),
    }
    # Weights add up to their share only within rounding, and rules ask for "at least a half".
    facts |= {name: round(facts[name], 12) for name in SHARES if facts[name] is not None}
    return facts | facts_of_worthwhile(weighing, weighing.worthwhile, facts)


def facts_of_worthwhile(
    weighing: Weighing, worthwhile: float | None, facts: Mapping[str, Any]
) -> dict[str, Any]:
    """The facts that change with the smallest worthwhile effect."""
    interval = (weighing.low, weighing.high)
    prediction = (weighing.prediction_low, weighing.prediction_high)
    found: dict[str, Any] = {
        "worthwhile": NOT_KNOWN if worthwhile is None else worthwhile,
        "bounds_crossed": NOT_KNOWN,
        "zones_more": NOT_KNOWN,
        "people_needed_per_arm": NOT_KNOWN,
        "information_ratio": NOT_KNOWN,
        "all_small": None,
    }
    if worthwhile is not None:
        found["bounds_crossed"] = len(zones(*interval, worthwhile=worthwhile)) - 1
        unit = facts["unit_variance"]
        if unit is not None:
            needed = people_needed_per_arm(worthwhile=worthwhile, unit_variance=unit)
            found["people_needed_per_arm"] = needed
            found["information_ratio"] = facts["people_per_arm"] / needed
            found["all_small"] = "yes" if facts["largest_study_per_arm"] < needed else "no"
    if not np.isnan(prediction[0]):
        # Without a worthwhile effect the only line left to cross is no effect at all.
        line = 0.0 if worthwhile is None else worthwhile
        more = zones(*prediction, worthwhile=line) - zones(*interval, worthwhile=line)
        found["zones_more"] = len(more)
    return found


def zones(low: float, high: float, *, worthwhile: float) -> frozenset[str]:
    """Which of worse, too small to matter and better an interval reaches into.

    An end that lies exactly on a line does not reach across it.
    """
    if worthwhile == 0:
        return frozenset(
            name for name, reaches in (("worse", low < 0), ("better", high > 0)) if reaches
        )
    reached = {
        "worse": low < -worthwhile,
        "between": high > -worthwhile and low < worthwhile,
        "better": high > worthwhile,
    }
    return frozenset(name for name, reaches in reached.items() if reaches)


def _weight(weighing: Weighing, studies: Mapping[str, Study], wanted) -> float:
    used = used_rows(weighing)
    mask = np.array([bool(wanted(studies[study])) for study in used["study"]])
    weights = used["weight"].to_numpy(float)
    return 1.0 if mask.all() else float(weights[mask].sum())


def _shift_without_high(weighing: Weighing, concerns: ConcernWeights) -> float:
    """How far the estimate moves without studies of high concern; NaN if none or all are."""
    used = used_rows(weighing)
    table = concerns.studies
    high = set(table.loc[table["concern"] == "high", "study"])
    rest = used[~used["study"].isin(high)]
    if rest.empty or len(rest) == len(used):
        return NOT_KNOWN
    whole = pooled_rows(weighing, used).estimate
    return abs(pooled_rows(weighing, rest).estimate - whole)


def _information(weighing: Weighing) -> dict[str, Any]:
    used = used_rows(weighing)
    sizes = {name: used[name].to_numpy(float) for name in ("n_intervention", "n_comparator")}
    per_arm = min(float(np.nansum(sizes[name])) for name in sizes)
    # A study without known sizes stands for none here, so the check errs on the strict side.
    smaller = np.fmin(sizes["n_intervention"], sizes["n_comparator"])
    return {
        "people_per_arm": per_arm,
        "unit_variance": typical_unit_variance(used["variance"], **sizes),
        "largest_study_per_arm": float(np.nanmax(np.append(smaller, 0.0))),
    }


def _overlap(weighing: Weighing) -> float:
    used = used_rows(weighing)
    inside = (used["low_95"] <= weighing.estimate) & (used["high_95"] >= weighing.estimate)
    return float(inside.mean())


def _small_studies(weighing: Weighing, studies, concerns: ConcernWeights) -> dict[str, Any]:
    used = used_rows(weighing)
    effects = used["effect"].to_numpy(float)
    plans = {
        (each.study, fact.value)
        for each in concerns.appraised
        for judgement in each.judgements
        for fact in judgement.facts
        if fact.name == "plan_made_public"
    }
    found: dict[str, Any] = {
        "asymmetry_p": NOT_KNOWN,
        "shift_unlimited": NOT_KNOWN,
        "unlimited": NOT_KNOWN,
        "unlimited_low": NOT_KNOWN,
        "unlimited_high": NOT_KNOWN,
        "alike_by_size": None,
        "all_positive": "yes" if (effects > 0).all() else "no",
        "none_planned": "no" if any(plan in PUBLIC_PLANS for _, plan in plans) else "yes",
    }
    try:
        line = small_study_test(weighing).regression
    except DesignError:
        return found
    found["asymmetry_p"] = line.p
    found["shift_unlimited"] = abs(line.limit - weighing.estimate)
    found |= {
        "unlimited": line.limit,
        "unlimited_low": line.limit_low,
        "unlimited_high": line.limit_high,
        "alike_by_size": "yes" if alike_by_size(line, weighing) else "no",
    }
    return found


def _integrity(weighing: Weighing) -> dict[str, Any]:
    table = weighing.studies
    used = used_rows(weighing)
    suspect = used["flags"].str.contains(SUSPECT, regex=False)
    out = table[~table["used"]]
    retracted = out["flags"].str.contains(RETRACTED, regex=False)
    held = out["flags"].str.contains(SUSPECT, regex=False) & holds_suspects(weighing.question)
    return {
        "suspect_weight": float(used.loc[suspect, "weight"].sum()),
        "studies_held_out": int((held & ~retracted).sum()),
        "studies_retracted": int(retracted.sum()),
    }
