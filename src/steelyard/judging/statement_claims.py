"""What a recommendation's statement claims, held against the answer and how sure it is."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from steelyard.errors import DesignError, EmptyQuestionError, Finding, RecordError, UsageError
from steelyard.judging.answer_review import Answers
from steelyard.judging.certainty.rules import level_of
from steelyard.judging.conditions import read_rules
from steelyard.judging.told import Standing, standing_now
from steelyard.pooling.verdict import BETTER, EQUIVALENT, NOT_SETTLED, WORSE
from steelyard.records.recommendation import Recommendation

KINDS = {
    "better": ("that one is better or worse", (BETTER, WORSE)),
    "same": ("that both come to the same", (EQUIVALENT,)),
    "open": ("that it is not settled", (NOT_SETTLED,)),
}


@dataclass(frozen=True, slots=True)
class StatementClaim:
    """One thing a statement says of what is known.

    Attributes
    ----------
    kind : str
        ``better`` (or worse), ``same`` or ``open``.
    words : str
        The words that say so.
    takes : str
        The least certainty that carries them: ``high`` unhedged, ``moderate`` for "probably",
        ``low`` for "may"; ``very low`` for what is said to be open.
    """

    kind: str
    words: str
    takes: str

    def holds(self, standing: Standing) -> bool:
        """Whether an answer carries it; which of two is better is not read from the words."""
        if standing.verdict not in KINDS[self.kind][1]:
            return False
        return standing.certainty is not None and level_of(standing.certainty) >= level_of(
            self.takes
        )


def claims_of(statement: str, *, language: str) -> tuple[StatementClaim, ...]:
    """Claims in a statement, told by its wording; none where it only says what to do.

    What is asked ("whether it makes …") and what is denied ("do not promise that …") claims
    nothing.

    Parameters
    ----------
    statement : str
    language : str
        ``en`` or ``de``; of another, nothing is told.

    Returns
    -------
    tuple of StatementClaim
    """
    patterns = _patterns().get(language)
    if patterns is None:
        return ()
    found = []
    for sentence in re.split(r"[.:;!?](?:\s+|$)", statement):
        if _any(patterns["denies"], sentence):
            continue
        for kind in KINDS:
            found += [
                StatementClaim(kind, match.group(), _takes(patterns, kind, sentence, match))
                for match in (pattern.search(sentence) for pattern in patterns[kind])
                if match and (kind == "open" or not _asked(patterns, sentence, match))
            ]
    return tuple(found)


def statement_findings(
    recommendations: Mapping[str, Recommendation], library: Answers
) -> Iterator[Finding]:
    """A warning per claim that no answer under the recommendation carries.

    The statement is the heading of what a client reads. It stands there without its certainty,
    and is the same for people for whom the evidence is less sure.

    Parameters
    ----------
    recommendations : mapping of str to Recommendation
    library : Answers
        Asked for answers only where something is claimed.

    Yields
    ------
    Finding
    """
    for record in recommendations.values():
        claims = [("statement", claim) for claim in _in_any_language(record.statement)]
        for tag, words in record.translations.items():
            place = f"translations.{tag}.statement"
            claims += [(place, claim) for claim in claims_of(words.statement or "", language=tag)]
        if not claims:
            continue
        answers = tuple(_standings(record, library))
        now = "; ".join(f"{each.verdict}, {each.certainty} certainty" for each in answers)
        for place, claim in claims:
            if any(claim.holds(each) for each in answers):
                continue
            message = (
                f"claims {KINDS[claim.kind][0]} ({claim.words!r}), and the answer "
                f"({now or 'none'}) does not carry that: say what to do, and leave to the text "
                "below it what is known"
            )
            file = f"recommendations/{record.id}.toml"
            yield Finding(file, place, "warning", "statement-claims-more", message)


def _standings(record: Recommendation, library: Answers) -> Iterator[Standing]:
    for question in record.questions:
        if question not in library.questions:
            continue
        try:
            weighing = library.weigh(question)
            certainty = library.certainty(question, recommendation=record)
        except (UsageError, EmptyQuestionError, DesignError, RecordError):
            # That there is no answer is told of the question itself.
            continue
        yield standing_now(weighing, certainty.word)


def _in_any_language(statement: str) -> list[StatementClaim]:
    """A record does not say its language, and the words of one are not those of the other."""
    return [claim for tag in _patterns() for claim in claims_of(statement, language=tag)]


def _takes(patterns, kind: str, sentence: str, match: re.Match[str]) -> str:
    if kind == "open":
        return "very low"
    start = sentence.rfind(",", 0, match.start()) + 1
    end = sentence.find(",", match.end())
    part = sentence[start : end if end >= 0 else None]
    return next((word for word in ("low", "moderate") if _any(patterns[word], part)), "high")


def _asked(patterns, sentence: str, match: re.Match[str]) -> bool:
    before = sentence[sentence.rfind(",", 0, match.start()) + 1 : match.start()]
    return _any(patterns["asks"], before)


def _any(patterns: list[re.Pattern[str]], text: str) -> bool:
    return any(pattern.search(text) for pattern in patterns)


@cache
def _patterns() -> dict[str, dict[str, list[re.Pattern[str]]]]:
    rules = read_rules(Path(__file__).with_name("statement_claims.toml"))
    return {
        tag: {
            name: [re.compile(each, re.IGNORECASE) for each in patterns]
            for name, patterns in kinds.items()
        }
        for tag, kinds in rules.items()
    }
