"""What a study's record says of its conduct, as facts that rules can be held against."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from steelyard.judging.integrity.reading import lay_out
from steelyard.records.appraisal import FACTS, NOT_REPORTED
from steelyard.records.study import Study

NOT_ANSWERED = "not answered"
COMPUTED = {
    "randomised": "Were groups formed by chance?",
    "share_analysed": "What share of those who started was measured at the end?",
    "baseline_gap": "How far apart were the groups at the start, in SD?",
    "repeatability": "Does the paper print how repeatable the test is?",
    "crosses": "Does training one limb move this outcome in the other?",
}
PAIRED = ("crossover", "within-person")
_FREE_TEXT = {
    "allocated_by": "allocation",
    "next_place": "allocation",
    "counted_where_allocated": "deviations",
    "sessions_attended": "deviations",
    "training_beside": "deviations",
    "leavers": "missing_data",
    "measured_by": "measurement",
    "tried_before": "measurement",
    "plan_made_public": "registered",
    "measured_and_reported": "selective_reporting",
    "back_at_start": "carry_over",
    "other_limb": "cross_education",
}


@dataclass(frozen=True, slots=True)
class Fact:
    """One fact with the question it answers and where it stands.

    Attributes
    ----------
    name : str
    asks : str
    value : str, float or None
        A word, or a number (shares as fractions); None where it cannot be computed.
    where : str
        Place in the paper, the record's own words, or ``computed``.
    """

    name: str
    asks: str
    value: Any
    where: str

    def text(self) -> str:
        """The value as a person reads it."""
        if self.value is None or self.value != self.value:
            return "not known"
        if self.name == "share_analysed":
            return f"{100 * self.value:.0f} %"
        return f"{self.value:.2f}" if isinstance(self.value, float) else str(self.value)


def study_facts(study: Study, outcome_id: str, *, crosses: frozenset[str]) -> dict[str, Fact]:
    """All facts of one study on one outcome, by name.

    A question without an answer in the record takes what the design fields say plainly:
    ``randomised`` for what decided, ``blinded_assessors`` for whether the measurer knew, and
    ``registered`` for the plan. Other free text is shown and not interpreted.
    """
    found = {name: _answered(study, name, outcome_id) for name in FACTS}
    outcome = study.outcome(outcome_id)
    randomised = {True: "yes", False: "no", None: NOT_REPORTED}[study.design.randomised]
    printed = outcome.reliability is not None
    where = (outcome.reliability.where or "") if printed else ""
    values = {
        "randomised": (randomised, "design"),
        "share_analysed": (share_analysed(study, outcome_id), "computed"),
        "baseline_gap": (baseline_gap(study, outcome_id), "computed"),
        "repeatability": ("printed" if printed else NOT_REPORTED, where),
        "crosses": ("yes" if outcome.construct_id in crosses else "no", "construct"),
    }
    for name, (value, place) in values.items():
        found[name] = Fact(name, COMPUTED[name], value, place)
    return found


def _answered(study: Study, name: str, outcome_id: str) -> Fact:
    asks = FACTS[name][0]
    given = getattr(study.appraisal, name) if study.appraisal else None
    if given is not None:
        return Fact(name, asks, given.of(outcome_id), given.where or "")
    text = getattr(study.design, _FREE_TEXT[name], None) if name in _FREE_TEXT else None
    return Fact(name, asks, _from_design(study, name), text or "")


def _from_design(study: Study, name: str) -> str:
    design = study.design
    if name == "measured_by" and design.blinded_assessors is not None:
        return "did not know" if design.blinded_assessors else "knew"
    decides = {"crossover": "order_by", "within-person": "limb_by"}.get(design.kind)
    if design.randomised and name in ("allocated_by", decides):
        return "chance"
    if name == "plan_made_public" and design.registered:
        first = design.registered.split()[0].strip(".,;:").lower()
        return "never" if first in ("no", "not", "none") else "date not given"
    return NOT_ANSWERED


def share_analysed(study: Study, outcome_id: str) -> float | None:
    """People measured at the end, as a fraction of those randomised or, failing that, trained."""
    results = [result for result in study.results if result.outcome == outcome_id]
    sizes = {arm.id: arm.n for arm in study.arms}
    last: dict[str, int] = {}
    for result in sorted(results, key=lambda result: result.week):
        n = result.n or sizes.get(result.arm)
        if n is not None:
            last[result.arm] = n
    if not last:
        return None
    paired = study.design.kind in PAIRED
    measured = max(last.values()) if paired else sum(last.values())
    started = study.population.n_randomised
    if started is None or (not paired and len(last) < len(study.arms)):
        known = [sizes[arm] for arm in last if sizes[arm] is not None]
        if len(known) < len(last):
            return None
        started = max(known) if paired else sum(known)
    return min(measured / started, 1.0) if started else None


def baseline_gap(study: Study, outcome_id: str) -> float | None:
    """Largest distance between two arms' starting means, in SD pooled over the two."""
    if study.design.kind in PAIRED:
        return None
    gaps = []
    for one, other in lay_out(study).arm_pairs():
        if one.outcome.id != outcome_id or not (one.pre and other.pre):
            continue
        cells = (one.pre, other.pre)
        if any(cell.mean is None or cell.sd is None for cell in cells):
            continue
        sd = np.sqrt(np.mean([cell.sd.value**2 for cell in cells]))
        if sd > 0:
            gaps.append(abs(one.pre.mean.value - other.pre.mean.value) / sd)
    return float(max(gaps)) if gaps else None
