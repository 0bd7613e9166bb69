"""A or B for me: difference, certainty, cost and preference side by side."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from steelyard.errors import UsageError
from steelyard.explaining.advice import advice_line
from steelyard.explaining.client_sizes import client_sizes
from steelyard.explaining.dose_lines import gives_dose
from steelyard.explaining.evidence import Evidence, evidence_of
from steelyard.explaining.names import claim_of
from steelyard.explaining.profile import ClientProfile, check_words
from steelyard.explaining.record_words import in_language
from steelyard.explaining.told_sizes import pooled_size
from steelyard.explaining.wording.catalogue import Catalogue, catalogue
from steelyard.explaining.wording.claim import (
    VERY_LOW,
    Claim,
    capital,
    people_span,
    size_words,
    span_of,
    whole,
    zone_words,
)
from steelyard.pooling.verdict import BETTER, EQUIVALENT, WORSE
from steelyard.records.settings import Settings
from steelyard.show import Shown


@dataclass(frozen=True, slots=True)
class TwoOptions(Shown):
    """One comparison laid out for a choice.

    Attributes
    ----------
    title, choice : str
        The question, and what to choose as far as the evidence goes.
    rows : tuple of (str, str)
        Difference, what is worth having, certainty, cost, preference.
    kind : str
        ``a``, ``b``, ``same``, ``leans``, ``open``, ``unknown`` or ``no_zone``.
    """

    title: str
    choice: str
    rows: tuple[tuple[str, str], ...]
    kind: str

    def as_json(self) -> dict[str, object]:
        """What is shown, with the kind of choice."""
        rows = [{"name": name, "text": text} for name, text in self.rows]
        return {"title": self.title, "kind": self.kind, "choice": self.choice, "rows": rows}

    def _title(self) -> str:
        return self.title

    def _rows(self) -> list[tuple[str, str]]:
        return [*self.rows]


def two_options(
    library: Any,
    recommendation_id: str,
    *,
    prefers: str | None = None,
    profile: ClientProfile | None = None,
    settings: Settings | None = None,
    language: str | None = None,
) -> TwoOptions:
    """Lay out the two options that a recommendation's first question compares.

    Parameters
    ----------
    library : Library
    recommendation_id : str
    prefers : str, optional
        ``a`` or ``b``: which of the two the client would rather do.
    profile : ClientProfile, optional
    settings, language
        As in `explain`.

    Raises
    ------
    UsageError
        For a question of dose, which has no two options; for a recommendation that only
        cautions; and for another preference.
    """
    settings = settings or Settings()
    tag = language or settings.language
    words = catalogue(tag, terms=settings.terms.get(tag))
    if prefers not in (None, "a", "b"):
        raise UsageError(f"prefers must be a or b; it is {prefers!r}")
    check_words(profile, library.vocabulary)
    person = None if profile is None else profile.person()
    record, answers = evidence_of(library, recommendation_id, person=person)
    own = in_language(record, words, written_in=settings.records_language)
    first = answers[0]
    if first.question.dose is not None or first.question.metric == "correlation":
        raise UsageError(words.say("options.none", recommendation=recommendation_id))
    if not gives_dose(record):
        raise UsageError(words.say("options.only_cautions", recommendation=recommendation_id))
    if first.weighing is None:
        why = {"recommendation": recommendation_id, "why": first.why_not}
        raise UsageError(words.say("options.nothing", **why))
    claim = claim_of(first, client_sizes(first), words)
    kind = option_kind(claim)
    choice = option_sentence(claim, kind, words, prefers=prefers)
    rows = [
        (words.say("options.choice"), choice),
        *_harm(claim, words),
        *_difference(first, claim, words),
        (words.say("options.sure"), words.say(f"certainty.{claim.certainty}")),
        (words.say("options.advice"), advice_line(record, answers, claim, words)),
    ]
    if not claim.by_chance:
        rows.append((words.say("options.harm"), words.say("paragraph.not_by_chance")))
    for key in ("cost", "risk"):
        rows += [(words.say(f"options.{key}"), line.text) for line in own.lines(key)]
    # Where the studies do not choose, the choice itself ends with what is preferred.
    if prefers is not None and kind in ("a", "b"):
        said = words.say(f"options.prefers_{prefers}", a=claim.a, b=claim.b)
        if kind != prefers:
            said += f" {words.say('options.prefers_against')}"
        rows.append((words.say("options.prefers"), said))
    cautions = [*(line.text for line in own.lines("cautions")), words.say("cautions.advice")]
    rows.append((words.say("heading.cautions"), " ".join(cautions)))
    if first.weighing.invented:
        rows.append(("", words.say("page.invented")))
    title = words.say("options.title", A=capital(claim.a), b=claim.b)
    return TwoOptions(title, choice, tuple(rows), kind)


def option_kind(claim: Claim) -> str:
    """What the evidence says of the choice; the two kinds of "either" are kept apart."""
    if claim.surrogate or claim.certainty == VERY_LOW:
        return "unknown" if claim.direction_shown or claim.verdict == EQUIVALENT else "open"
    if claim.verdict == BETTER:
        return "a"
    if claim.verdict == WORSE:
        return "b"
    if claim.verdict == EQUIVALENT:
        return "same"
    if claim.verdict == "" and claim.direction_shown:
        return "no_zone"
    return "leans" if claim.direction_shown else "open"


def option_sentence(
    claim: Claim, kind: str, words: Catalogue, *, prefers: str | None = None
) -> str:
    """What to choose, in words; what is preferred decides where the studies do not."""
    key = kind
    if kind == "leans" and claim.leans_to_b:
        key = "leans_b"
    # Ruled out is a word of the highest certainty alone.
    if kind == "same" and claim.certainty != "high":
        key = "same_unsure"
    return words.say(
        f"options.{key}",
        A=capital(claim.a),
        B=capital(claim.b),
        a=claim.a,
        b=claim.b,
        outcome=claim.outcome,
        is_it="" if claim.certainty == VERY_LOW else words.say(f"is.{claim.certainty}"),
        size=_size(claim, words),
        zone=zone_words(claim, words, upwards=True),
        pick=_pick(claim, kind, words, prefers=prefers),
    )


def _pick(claim: Claim, kind: str, words: Catalogue, *, prefers: str | None) -> str:
    """How a choice that the studies leave open ends."""
    if prefers is not None:
        preferred = claim.a if prefers == "a" else claim.b
        return words.say("options.pick_preferred", preferred=preferred)
    if kind == "no_zone":
        return ""
    return words.say("options.pick_leans" if kind == "leans" else "options.pick")


def _size(claim: Claim, words: Catalogue) -> str:
    if not claim.sized:
        return "–"
    if claim.counts:
        low, high = people_span(claim, words)
        without = whole(claim.without, words)
        return words.say("sentence.event.span", low=low, high=high, without=without)
    return size_words(claim, words) if claim.direction_shown else span_of(claim, words)


def _difference(evidence: Evidence, claim: Claim, words: Catalogue) -> list[tuple[str, str]]:
    said = span_of(claim, words) if claim.sized and not claim.counts else _size(claim, words)
    if not claim.sized:
        said = pooled_size(evidence, claim, words)
    elif evidence.question.metric == "percent":
        pooled = pooled_size(evidence, claim, words)
        said = words.say("options.in_percent", said=said, pooled=pooled)
    rows = [(words.say("options.difference"), f"{claim.a}: {said}")]
    if claim.zone is not None:
        rows.append((words.say("options.worth"), zone_words(claim, words)))
    return rows


def _harm(claim: Claim, words: Catalogue) -> list[tuple[str, str]]:
    if not claim.leans_to_b:
        return []
    said = words.say("paragraph.harm", a=claim.a, b=claim.b)
    return [(words.say("options.harm"), said)]
