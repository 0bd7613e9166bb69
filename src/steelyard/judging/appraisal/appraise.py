"""One study judged on one outcome, domain by domain."""

from __future__ import annotations

from dataclasses import dataclass

from steelyard.errors import UsageError
from steelyard.judging.appraisal.facts import Fact, study_facts
from steelyard.judging.appraisal.rules import CONCERNS, AppraisalRules, Domain, appraisal_rules
from steelyard.judging.conditions import first_that_holds
from steelyard.records.appraisal import Overruling
from steelyard.records.study import Study
from steelyard.show import Shown


@dataclass(frozen=True, slots=True)
class Judgement:
    """The concern in one domain.

    Attributes
    ----------
    domain : str
    concern : str
        ``low``, ``some`` or ``high``; after overruling.
    by_rule : str
        What the rules alone give.
    because : str
        One sentence.
    source : str
        Of the rule.
    facts : tuple of Fact
    overruled : Overruling or None
    """

    domain: str
    concern: str
    by_rule: str
    because: str
    source: str
    facts: tuple[Fact, ...]
    overruled: Overruling | None

    def text(self) -> str:
        """The concern with its reason, and both words where a person overruled the rules."""
        if self.overruled is None:
            return f"{self.concern} concern: {self.because}"
        who = f"{self.overruled.by}, {self.overruled.date}"
        return (
            f"{self.concern} concern by {who}: {self.overruled.reason} "
            f"(the rules say {self.by_rule}: {self.because})"
        )


@dataclass(frozen=True, slots=True)
class Appraised(Shown):
    """A study on one outcome, judged.

    Attributes
    ----------
    study, label, outcome : str
    judgements : tuple of Judgement
    concern : str
        The gravest of all domains: a chain holds no more than its weakest link (own rule).
    answered : bool
        Whether anybody has answered the questions of appraisal for this study.
    scores : tuple of (str, str)
        Sums of published scales as the paper prints them; shown, never used.
    """

    study: str
    label: str
    outcome: str
    judgements: tuple[Judgement, ...]
    concern: str
    answered: bool
    scores: tuple[tuple[str, str], ...]

    def judgement(self, domain: str) -> Judgement | None:
        return next((each for each in self.judgements if each.domain == domain), None)

    def _title(self) -> str:
        return f"Appraisal: {self.label}, {self.outcome}"

    def _rows(self) -> list[tuple[str, str]]:
        rows = [("in all", f"{self.concern} concern")]
        rows += [(each.domain, each.text()) for each in self.judgements]
        rows += [(name, f"{score}, as printed; not used") for name, score in self.scores]
        if not self.answered:
            rows.append(("note", "the questions of appraisal are not answered for this study yet"))
        return rows


def appraise(study: Study, outcome_id: str, *, rules: AppraisalRules | None = None) -> Appraised:
    """Judge one study on one outcome.

    Parameters
    ----------
    study : Study
    outcome_id : str
    rules : AppraisalRules, optional
        Those that ship if none are given.

    Returns
    -------
    Appraised

    Raises
    ------
    UsageError
        If the study has no such outcome.
    """
    rules = rules or appraisal_rules()
    if outcome_id not in {outcome.id for outcome in study.outcomes}:
        raise UsageError(f"study {study.id!r} has no outcome {outcome_id!r}")
    facts = study_facts(study, outcome_id, crosses=rules.crosses)
    judgements = tuple(
        _judge(domain, facts, study, outcome_id)
        for domain in rules.domains
        if not domain.designs or study.design.kind in domain.designs
    )
    return Appraised(
        study=study.id,
        label=study.label,
        outcome=outcome_id,
        judgements=judgements,
        concern=gravest(judgement.concern for judgement in judgements),
        answered=study.appraisal is not None,
        scores=tuple((name, str(score)) for name, score in study.design.scores.items()),
    )


def gravest(concerns) -> str:
    """The gravest of several concerns; ``low`` of none."""
    return max(concerns, key=CONCERNS.index, default="low")


def _judge(domain: Domain, facts: dict[str, Fact], study: Study, outcome_id: str) -> Judgement:
    rule = first_that_holds(domain.rules, {name: fact.value for name, fact in facts.items()})
    overruled = _overruling(study, domain.name, outcome_id)
    return Judgement(
        domain=domain.name,
        concern=overruled.concern if overruled else rule.gives,
        by_rule=rule.gives,
        because=rule.says.format_map({name: fact.text() for name, fact in facts.items()}),
        source=rule.source,
        facts=tuple(facts[name] for name in domain.facts if name in facts),
        overruled=overruled,
    )


def _overruling(study: Study, domain: str, outcome_id: str) -> Overruling | None:
    """The latest overruling of a domain; one for this very outcome before one for all."""
    fitting = [
        each
        for each in study.overrulings
        if each.domain == domain and each.outcome in (None, outcome_id)
    ]
    return max(fitting, key=lambda each: (each.outcome is not None, each.date), default=None)
