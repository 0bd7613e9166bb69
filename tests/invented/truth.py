"""What is true in the invented world, as data."""

from __future__ import annotations

from dataclasses import dataclass

# Chosen among 160 so that the shipped library shows one answer of each kind (a settled
# benefit, an equivalence, two open questions). That the estimators are unbiased is tested over
# many other seeds, so nothing rests on this choice.
SEED = 93


@dataclass(frozen=True, slots=True)
class Truth:
    """One question's true effect.

    Attributes
    ----------
    question : str
        Id of the question.
    effect : float
        True mean effect over studies, on `scale`.
    between_sd : float
        SD of the studies' own true effects, on `scale`.
    scale : str
        ``sd`` (pre-training SDs), ``log-mean`` (log ratio of means), ``raw`` (the outcome's
        unit), ``log-risk`` (log risk ratio) or ``log-sets`` (growth in percent is this number
        times the natural logarithm of one plus weekly sets).
    """

    question: str
    effect: float
    between_sd: float
    scale: str


TRUTHS = {
    truth.question: truth
    for truth in (
        Truth("slow-lowering-strength", 0.35, 0.12, "sd"),
        Truth("slow-lowering-strains", -0.5108, 0.0, "log-risk"),  # a risk ratio of 0.6
        Truth("short-rest-size", 0.0, 0.004, "log-mean"),
        Truth("weekly-sets-size", 2.4, 0.3, "log-sets"),
        Truth("one-leg-or-two-strength", 1.0, 0.8, "raw"),  # kg
    )
}

R_BETWEEN_OUTCOMES = 0.6  # of two outcomes in one person, before training and in change
R_LIMBS_BEFORE = 0.92  # one person's two limbs, or two periods, before training
R_LIMBS_CHANGE = 0.6  # their changes
R_BETWEEN_TIMES = 0.8  # what training did to a person by one week and by a later one
