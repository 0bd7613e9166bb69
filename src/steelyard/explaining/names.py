"""What the two things compared, and the outcome, are called in a sentence."""

from __future__ import annotations

from dataclasses import dataclass

from steelyard.explaining.client_sizes import ClientSizes
from steelyard.explaining.evidence import Evidence
from steelyard.explaining.wording.catalogue import Catalogue, catalogue
from steelyard.explaining.wording.claim import Claim

NOT_JUDGED = "very low"


@dataclass(frozen=True, slots=True)
class Names:
    """Names in the language of an explanation; `b` is empty for a dose."""

    a: str
    b: str
    outcome: str
    outcome_short: str


def names_of(evidence: Evidence, words: Catalogue) -> Names:
    """Names from the library's labels, in the catalogue's words where it has any."""
    question, labels = evidence.question, evidence.vocabulary
    construct = _joined("construct", question.constructs, labels, words)
    outcome = construct
    if question.sites:
        outcome = _at(construct, question.sites, labels, words)
    if question.dose is not None:
        dose = words.say(f"dose_name.{question.dose}")
        step = words.number(float(question.dose_step or 1), decimals=0)
        return Names(words.say("phrase.more_dose", step=step, dose=dose), "", outcome, construct)
    a = _joined("tag", question.intervention or (), labels, words, link="or")
    b = _joined("tag", question.comparator or (), labels, words, link="or")
    return Names(a, b, outcome, construct)


def claim_of(evidence: Evidence, sizes: ClientSizes, words: Catalogue) -> Claim:
    """The facts the one sentence is made from."""
    names, weighing = names_of(evidence, words), evidence.weighing
    size = sizes.average
    return Claim(
        names.a,
        names.b,
        names.outcome,
        names.outcome_short,
        sizes.kind,
        weighing.verdict.word,
        weighing.verdict.direction_shown,
        NOT_JUDGED if evidence.certainty is None else evidence.certainty.word,
        value=None if size is None else size.value,
        low=None if size is None else size.low,
        high=None if size is None else size.high,
        zone=sizes.zone,
        unit=sizes.unit,
        without=sizes.without,
        dose=evidence.question.dose is not None,
        surrogate=evidence.surrogate,
        by_chance=evidence.randomised_share >= 0.5,
        favours_b=weighing.pooled.estimate < 0,
    )


def _at(construct: str, sites, labels, words: Catalogue) -> str:
    """An outcome with its place, as the language joins them; a renamed place keeps its name."""
    first = sites[0]
    renamed = words.terms.get(first) != catalogue(words.tag).terms.get(first)
    if len(sites) == 1 and not renamed and f"of-{first}" in words.terms:
        return f"{construct} {words.terms[f'of-{first}']}"
    site = _joined("site", sites, labels, words)
    return words.say("phrase.outcome_at", construct=construct, site=site)


def _joined(kind: str, ids, labels, words: Catalogue, *, link: str = "and") -> str:
    named = [words.term(each, labels.label(kind, each)) for each in ids]
    text = named[0] if named else ""
    for other in named[1:]:
        text = words.say(f"phrase.{link}", one=text, other=other)
    return text
