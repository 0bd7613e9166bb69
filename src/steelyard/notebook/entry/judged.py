"""What the rules make of the answers so far, domain by domain, in words."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from html import escape
from typing import Any

from steelyard.errors import SteelyardError
from steelyard.judging.appraisal import Appraised, Judgement, appraise
from steelyard.judging.appraisal.facts import COMPUTED, NOT_ANSWERED
from steelyard.records.reading import validate
from steelyard.records.study import Study


@dataclass(frozen=True, slots=True)
class Judged:
    """A study as far as it is typed, judged on each of its outcomes.

    Attributes
    ----------
    appraised : tuple of Appraised
        One per outcome.
    names : dict
        Names of the outcomes by id.
    """

    appraised: tuple[Appraised, ...]
    names: dict[str, str]

    def in_all(self) -> str:
        """The gravest concern, as one sentence."""
        found = {each.outcome: each.concern for each in self.appraised}
        if len(set(found.values())) == 1:
            return _weighed(next(iter(found.values())), "the gravest of the parts below counts")
        return _listed(
            [(self.names[name], _weighed(concern, "")) for name, concern in found.items()]
        )

    def domain(self, name: str) -> str:
        """The judgement of one domain; outcomes apart where they differ."""
        found: dict[str, Judgement] = {
            each.outcome: judgement
            for each in self.appraised
            if (judgement := each.judgement(name)) is not None
        }
        texts = {outcome: judgement.text() for outcome, judgement in found.items()}
        shown = {outcome: _said(judgement) for outcome, judgement in found.items()}
        if len(set(texts.values())) == 1:
            return next(iter(shown.values()))
        return _listed([(self.names[outcome], html) for outcome, html in shown.items()])

    def computed(self, name: str) -> str:
        """What the rules also look at, worked out from the numbers, as one line."""
        parts = []
        for each in self.appraised:
            judgement = each.judgement(name)
            for fact in judgement.facts if judgement is not None else ():
                if fact.name in COMPUTED:
                    parts.append(f"{fact.asks} {fact.text()}.")
        return escape(" ".join(dict.fromkeys(parts)))

    def from_design(self, fact: str) -> str:
        """What a blank answer is taken to be, from the design; empty where nothing is."""
        for each in self.appraised:
            for judgement in each.judgements:
                for known in judgement.facts:
                    if known.name == fact and known.value != NOT_ANSWERED:
                        return str(known.value)
        return ""


def judge_so_far(values: Mapping[str, Any], study: Study | None) -> Judged | None:
    """Judge what is typed; before arms and outcomes are, what can be said without them.

    Parameters
    ----------
    values : mapping
        A study's plain values, perhaps with much still missing.
    study : Study or None
        The same as far as it can be read.
    """
    study = study or _without_numbers(values)
    if study is None:
        return None
    return Judged(
        tuple(appraise(study, outcome.id) for outcome in study.outcomes),
        {outcome.id: outcome.name for outcome in study.outcomes},
    )


def _without_numbers(values: Mapping[str, Any]) -> Study | None:
    kept = {key: values[key] for key in ("design", "appraisal") if values.get(key)}
    kept["design"] = {"kind": "parallel", **kept.get("design", {})}
    kept |= {
        "schema": 1,
        "id": "being-typed",
        "source": {"title": "being typed"},
        "arm": [{"id": "one"}, {"id": "other"}],
        "outcome": [{"id": "every-outcome", "construct": "not-chosen"}],
        "appraisal_overruling": [
            each for each in values.get("appraisal_overruling", ()) if "outcome" not in each
        ],
    }
    try:
        return validate(kept, Study, file="study")
    except SteelyardError:
        return None


def _said(judgement: Judgement) -> str:
    html = _weighed(judgement.concern, "")
    if judgement.overruled is None:
        return f"{html}: {escape(judgement.because)}"
    who = f"{judgement.overruled.by}, {judgement.overruled.date}"
    rules = f"the rules say {judgement.by_rule}: {judgement.because}"
    said = f", overruled by {who}: {judgement.overruled.reason} ({rules})"
    return html + escape(said)


def _weighed(concern: str, why: str) -> str:
    bar = f'<span class="sy-concern sy-{concern}" aria-hidden="true"></span>'
    after = f": {escape(why)}" if why else ""
    return f"{bar}<b>{concern} concern</b>{after}"


def _listed(parts: list[tuple[str, str]]) -> str:
    return "<br>".join(f"{escape(name)}: {html}" for name, html in parts)
