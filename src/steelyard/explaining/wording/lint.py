"""What a text for clients must not hold: certain words, long sentences, a high reading grade."""

from __future__ import annotations

import re
from dataclasses import dataclass

from steelyard.explaining.wording.catalogue import Catalogue
from steelyard.explaining.wording.reading_grade import reading_grade

HIGHEST_GRADE = 8.0
LONGEST_SENTENCE = 20


@dataclass(frozen=True, slots=True)
class Slip:
    """One thing to change in a text.

    Attributes
    ----------
    rule : str
        ``word``, ``long sentence`` or ``grade``.
    found : str
    message : str
    """

    rule: str
    found: str
    message: str


def words_to_avoid(text: str, catalogue: Catalogue) -> tuple[Slip, ...]:
    """Every word in a text that client text keeps away from."""
    slips = []
    for pattern in catalogue.avoid:
        for found in re.finditer(pattern, text, re.IGNORECASE):
            slips.append(Slip("word", found.group(), f"say {found.group()!r} in plain words"))
    return tuple(slips)


def lint(text: str, catalogue: Catalogue) -> tuple[Slip, ...]:
    """Words to avoid, sentences of more than 20 words, and (English) a grade above 8."""
    slips = list(words_to_avoid(text, catalogue))
    measured = reading_grade(text)
    if measured.longest > LONGEST_SENTENCE:
        message = f"{measured.longest} words in a sentence; {LONGEST_SENTENCE} at most"
        slips.append(Slip("long sentence", measured.longest_sentence, message))
    if catalogue.tag == "en" and measured.grade > HIGHEST_GRADE:
        message = f"reading grade {measured.grade:.1f}; {HIGHEST_GRADE:g} at most"
        slips.append(Slip("grade", "", message))
    return tuple(slips)
