"""Drawing the people of one invented study, with everything known that a paper hides."""

from __future__ import annotations

import zlib
from dataclasses import dataclass

import numpy as np

from tests.invented.plan import ArmPlan, OutcomePlan, StudyPlan
from tests.invented.truth import (
    R_BETWEEN_OUTCOMES,
    R_BETWEEN_TIMES,
    R_LIMBS_BEFORE,
    R_LIMBS_CHANGE,
    TRUTHS,
)


@dataclass(frozen=True, slots=True)
class Drawn:
    """One study's people.

    Attributes
    ----------
    before : dict of (outcome, arm) to ndarray of float, shape (people,)
    after : dict of (outcome, arm, week) to ndarray of float, shape (people,)
        Same people in the same order; limbs and periods share their order across arms.
    events : dict of (outcome, arm) to int
    true_effects : dict of question to float
        What was true in this study, on the truth's scale.
    """

    before: dict[tuple[str, str], np.ndarray]
    after: dict[tuple[str, str, int], np.ndarray]
    events: dict[tuple[str, str], int]
    true_effects: dict[str, float]


def draw(plan: StudyPlan, *, seed: int) -> Drawn:
    """Draw one study; a study's people do not depend on which other studies there are."""
    rng = np.random.default_rng([seed, zlib.crc32(plan.id.encode())])
    true_effects = {
        name: rng.normal(plan.inflate * truth.effect, truth.between_sd)
        for name, truth in TRUTHS.items()
    }
    measured = [outcome for outcome in plan.outcomes if outcome.base_risk is None]
    counted = [outcome for outcome in plan.outcomes if outcome.base_risk is not None]
    weeks = sorted({part.week for part in (*plan.results, *plan.comparisons)})
    before, after, events = {}, {}, {}
    starts = _standard_scores(plan, rng, len(measured), R_LIMBS_BEFORE, clustered=False)
    responses = _responses(plan, rng, len(measured), weeks)
    for arm_index, arm in enumerate(plan.arms):
        people = arm.n - arm.lost
        for index, outcome in enumerate(measured):
            start = starts[arm_index][:people, index]
            before[outcome.id, arm.id] = _as_measured(outcome, outcome.mean + outcome.sd * start)
            for week in weeks:
                response = responses[week][arm_index][:people, index]
                score = outcome.r * start + np.sqrt(1 - outcome.r**2) * response
                mean = _mean_after(plan, arm, outcome, true_effects, week)
                after[outcome.id, arm.id, week] = _as_measured(outcome, mean + outcome.sd * score)
        for outcome in counted:
            ratio = np.exp(arm.share * true_effects.get(outcome.truth, 0.0))
            events[outcome.id, arm.id] = int(rng.binomial(people, outcome.base_risk * ratio))
    return Drawn(before, after, events, true_effects)


def _standard_scores(
    plan: StudyPlan, rng: np.random.Generator, outcomes: int, r_limbs: float, *, clustered: bool
) -> list[np.ndarray]:
    """Standard normal scores, shape (people, outcomes) per arm, alike within a person."""
    limbs = plan.kind in ("within-person", "crossover")
    shared = _alike(rng, plan.arms[0].n, outcomes) if limbs else None
    found = []
    for arm in plan.arms:
        own = _alike(rng, arm.n, outcomes)
        if shared is not None:
            own = np.sqrt(r_limbs) * shared + np.sqrt(1 - r_limbs) * own
        if clustered and plan.kind == "cluster":
            own = _in_clusters(plan, rng, own)
        found.append(own)
    return found


def _alike(rng: np.random.Generator, people: int, outcomes: int) -> np.ndarray:
    person = rng.standard_normal((people, 1))
    own = rng.standard_normal((people, outcomes))
    return np.sqrt(R_BETWEEN_OUTCOMES) * person + np.sqrt(1 - R_BETWEEN_OUTCOMES) * own


def _in_clusters(plan: StudyPlan, rng: np.random.Generator, own: np.ndarray) -> np.ndarray:
    size, icc = int(plan.design["cluster_size"]), float(plan.design["cluster_icc"].value)
    clubs = -(-len(own) // size)
    club = np.repeat(rng.standard_normal((clubs, own.shape[1])), size, axis=0)[: len(own)]
    return np.sqrt(icc) * club + np.sqrt(1 - icc) * own


def _responses(
    plan: StudyPlan, rng: np.random.Generator, outcomes: int, weeks: list[int]
) -> dict[int, list[np.ndarray]]:
    lasting = _standard_scores(plan, rng, outcomes, R_LIMBS_CHANGE, clustered=True)
    if len(weeks) == 1:
        return {weeks[0]: lasting}
    found = {}
    for week in weeks:
        passing = _standard_scores(plan, rng, outcomes, R_LIMBS_CHANGE, clustered=True)
        found[week] = [
            np.sqrt(R_BETWEEN_TIMES) * one + np.sqrt(1 - R_BETWEEN_TIMES) * other
            for one, other in zip(lasting, passing, strict=True)
        ]
    return found


def _mean_after(
    plan: StudyPlan,
    arm: ArmPlan,
    outcome: OutcomePlan,
    true_effects: dict[str, float],
    week: int,
) -> float:
    """True mean of one arm at one week; a training effect builds up with the root of time."""
    done = np.sqrt(week / plan.last_week)
    comparator = outcome.mean * (1 + outcome.gain * done)
    if outcome.truth is None:
        return comparator
    effect = done * arm.share * true_effects[outcome.truth]
    scale = TRUTHS[outcome.truth].scale
    if scale == "sd":
        return comparator + effect * outcome.sd
    if scale == "raw":
        return comparator + effect
    if scale == "log-mean":
        return comparator * np.exp(effect)
    growth_percent = effect * np.log1p(float(arm.dose["sets_per_week"]))
    return outcome.mean * (1 + growth_percent / 100)


def _as_measured(outcome: OutcomePlan, values: np.ndarray) -> np.ndarray:
    return np.clip(np.rint(values), 0, 10) if outcome.whole_numbers else values
