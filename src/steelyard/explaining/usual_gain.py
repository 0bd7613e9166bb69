"""What people gain with the comparator: the yardstick for weeks and for shares of people."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

import pandas as pd

from steelyard.explaining.evidence import Evidence
from steelyard.reporting.default_correlation import default_correlation
from steelyard.reporting.summary import find_result, summarise

# What a within-person or crossover study prints as r may belong to the two conditions.
R_IS_PRE_POST = ("parallel", "cluster")
FEWEST_STUDIES = 3


@dataclass(frozen=True, slots=True)
class UsualGain:
    """Gain with the comparator, the middle of the pooled studies.

    Attributes
    ----------
    in_sd : float
        In pre-training SDs between people, positive for better.
    percent : float
        Of the mean before training, positive for better.
    weeks : float
        Over which it came; the middle of the studies.
    studies : int
    source : str
    """

    in_sd: float
    percent: float
    weeks: float
    studies: int
    source: str


@dataclass(frozen=True, slots=True)
class PrePostCorrelation:
    """r between before and after, and where it is from.

    Attributes
    ----------
    value : float
    source : str
    basis : str
        ``pooled``, ``question`` or ``default``.
    studies : int
        Pooled studies it is the middle of; 0 for the other two.
    """

    value: float
    source: str
    basis: str
    studies: int = 0


def usual_gain(evidence: Evidence) -> UsualGain | None:
    """Read the comparator arms of the pooled effects; None with fewer than three studies."""
    rows = []
    used = evidence.weighing.effects[evidence.weighing.effects["used"]]
    for row in used.itertuples():
        study = evidence.studies[row.study]
        found = find_result(
            study, outcome=row.outcome, arm=row.comparator, week=Decimal(str(row.week))
        )
        if found is None:
            continue
        said = summarise(study, found)
        if said.pre is None or said.pre.sd is None or said.change is None:
            continue
        turn = -1.0 if row.better == "lower" else 1.0
        gain = turn * said.change.mean.value
        before = said.pre.mean.value
        if before <= 0 or said.pre.sd.value <= 0:
            continue
        rows.append((row.study, gain / said.pre.sd.value, 100 * gain / before, row.week))
    frame = pd.DataFrame(rows, columns=["study", "in_sd", "percent", "weeks"])
    studies = frame.groupby("study").mean()
    if len(studies) < FEWEST_STUDIES:
        return None
    middle = studies.median()
    return UsualGain(
        float(middle["in_sd"]),
        float(middle["percent"]),
        float(middle["weeks"]),
        len(studies),
        f"the middle of the comparator groups of {len(studies)} pooled studies",
    )


def pre_post_correlation(evidence: Evidence) -> PrePostCorrelation:
    """r of the pooled studies where printed or derived, else the question's, else a default."""
    used = evidence.weighing.effects[evidence.weighing.effects["used"]]
    known = used[
        used["r_from"].isin(["reported", "derived"])
        & used["design"].isin(R_IS_PRE_POST)
        & used["contrast"].isin(["change", "adjusted"])
    ]
    per_study = known.groupby("study")["r_used"].mean()
    if len(per_study) >= FEWEST_STUDIES:
        count = len(per_study)
        source = f"the middle of {count} pooled studies"
        return PrePostCorrelation(float(per_study.median()), source, "pooled", count)
    assumed = evidence.question.assume.r_pre_post
    if assumed is not None:
        return PrePostCorrelation(float(assumed), "assumed by the question", "question")
    value = default_correlation(evidence.question.constructs[0]).value
    return PrePostCorrelation(value, "a default for this kind of outcome", "default")
