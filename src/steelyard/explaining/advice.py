"""How strongly something is advised, in words for a client."""

from __future__ import annotations

from steelyard.explaining.evidence import Evidence
from steelyard.explaining.wording.catalogue import Catalogue
from steelyard.explaining.wording.claim import Claim
from steelyard.judging.certainty.rules import level_of
from steelyard.judging.strength import strength_of_advice
from steelyard.records.recommendation import Recommendation


def advice_word(record: Recommendation, answers: tuple[Evidence, ...], words: Catalogue) -> str:
    """By the first question's size, the least sure answer and the cost; empty without these.

    Parameters
    ----------
    record : Recommendation
    answers : tuple of Evidence
        One per question of the record.
    words : Catalogue
    """
    sure = [each.certainty.word for each in answers if each.certainty is not None]
    if answers[0].weighing is None or not sure:
        return ""
    lowest = min(sure, key=level_of)
    found = strength_of_advice(answers[0].weighing, lowest, cost=record.cost_size)
    return words.say(f"advice.{found.word}")


def advice_line(
    record: Recommendation, answers: tuple[Evidence, ...], claim: Claim, words: Catalogue
) -> str:
    """The strength of advice, and of what it is; a statement may advise the other, or neither."""
    word = advice_word(record, answers, words)
    if not word:
        return ""
    key = "advice.line_dose" if claim.dose else "advice.line"
    return words.say(key, a=claim.a, b=claim.b, outcome=claim.outcome, word=word)
