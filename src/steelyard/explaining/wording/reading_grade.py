"""How hard a text is to read: Flesch–Kincaid grade for English, and words per sentence."""

from __future__ import annotations

import re
from dataclasses import dataclass

_SENTENCE = re.compile(r"[.!?]+(?=\s|$)")
_WORD = re.compile(r"[A-Za-zÀ-ÿ]+(?:['’-][A-Za-zÀ-ÿ]+)*|\d+(?:[.,]\d+)*")
_VOWELS = re.compile(r"[aeiouyà-öø-ÿ]+")
_SILENT_END = re.compile(r"(?:[^laeiouy]e|[aeiouy]les?|[^laeiouyszcgxh]es|[^aeiouytd]ed)$")
_SPLIT_VOWELS = re.compile(r"i(?:a|o(?!us)|um)|ua|ying")
_ONE_AFTER_ALL = re.compile(r"[tsc]ion|[tc]ia[ln]|qu")


@dataclass(frozen=True, slots=True)
class ReadingGrade:
    """Measures of one text.

    Attributes
    ----------
    grade : float
        Flesch–Kincaid; school years in the United States. NaN for a text without words.
    words, sentences : int
    longest : int
        Words in the longest sentence.
    longest_sentence : str
    """

    grade: float
    words: int
    sentences: int
    longest: int
    longest_sentence: str


def reading_grade(text: str) -> ReadingGrade:
    """Measure a text: 0.39 × words/sentences + 11.8 × syllables/words − 15.59 [1]_.

    A sentence ends at a stop, question or exclamation mark before white space; a line is a
    sentence of its own. A word is a run of letters, with hyphens and apostrophes inside, or a
    number. Signs (±, %, −) are no words.

    References
    ----------
    .. [1] Kincaid, J. P. et al. (1975). Derivation of new readability formulas for Navy
           enlisted personnel. Research Branch Report 8-75. Formula from memory.
    """
    found = [part for part in sentences(text) if _WORD.search(part)]
    counts = [len(_WORD.findall(part)) for part in found]
    words = sum(counts)
    if not words:
        return ReadingGrade(float("nan"), 0, 0, 0, "")
    heard = sum(syllables(word) for part in found for word in _WORD.findall(part))
    longest = max(range(len(found)), key=counts.__getitem__)
    grade = 0.39 * words / len(found) + 11.8 * heard / words - 15.59
    return ReadingGrade(grade, words, len(found), counts[longest], found[longest].strip())


def sentences(text: str) -> list[str]:
    """Sentences of a text, without their stops; a number's point is no stop."""
    return [part for line in text.splitlines() for part in _SENTENCE.split(line) if part.strip()]


def syllables(word: str) -> int:
    """Syllables of an English word, by rule; at least one.

    Runs of vowels (y counts) are counted. Silent endings take one away: a final e (not after l
    or a vowel), es (nor after s, z, c, g, x, h), le after a vowel, and ed (not after t or d).
    Vowels that part (ia, io, ium, ua, ying; not ious) add one, save in -tion, -sion, -cial and
    after q. The parts of a hyphenated word are counted apart. A number counts as one: it is
    read as one sign.
    """
    if word[:1].isdigit():
        return 1
    return sum(_simple(part) for part in re.split(r"[-'’]", word.lower()) if part) or 1


def _simple(word: str) -> int:
    count = len(_VOWELS.findall(word)) - bool(_SILENT_END.search(word))
    return max(1, count + len(_SPLIT_VOWELS.findall(_ONE_AFTER_ALL.sub("", word))))
