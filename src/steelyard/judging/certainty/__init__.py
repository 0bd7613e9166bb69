"""How sure an answer is: high, moderate, low or very low, by rules anybody can read."""

from steelyard.judging.certainty.judge import judge_certainty
from steelyard.judging.certainty.result import Certainty, Step, Tipping
from steelyard.judging.certainty.rules import CertaintyRules, certainty_rules, word_of

__all__ = [
    "Certainty",
    "CertaintyRules",
    "Step",
    "Tipping",
    "certainty_rules",
    "judge_certainty",
    "word_of",
]
