"""How well a study was made, by outcome: facts, a concern by rule, a person's overruling."""

from steelyard.judging.appraisal.appraise import Appraised, Judgement, appraise
from steelyard.judging.appraisal.rules import CONCERNS, AppraisalRules, appraisal_rules
from steelyard.judging.appraisal.weights import ConcernWeights, concern_weights

__all__ = [
    "CONCERNS",
    "AppraisalRules",
    "Appraised",
    "ConcernWeights",
    "Judgement",
    "appraisal_rules",
    "appraise",
    "concern_weights",
]
