"""From a weighing to its certainty, by the rules and with what a person overruled."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping
from functools import cache
from typing import Any

from steelyard.judging.appraisal.weights import concern_weights
from steelyard.judging.certainty.facts import certainty_facts
from steelyard.judging.certainty.result import Certainty, Step, Tipping
from steelyard.judging.certainty.rules import (
    CertaintyDomain,
    CertaintyRules,
    certainty_rules,
    level_of,
    word_of,
)
from steelyard.judging.certainty.tipping import tipping_points
from steelyard.judging.certainty.wording import label_of, texts_of
from steelyard.judging.conditions import first_that_holds
from steelyard.judging.directness import directness
from steelyard.judging.person import Person
from steelyard.pooling.weighing import Weighing
from steelyard.records.recommendation import Override
from steelyard.records.study import Study


def judge_certainty(
    weighing: Weighing,
    studies: Mapping[str, Study],
    *,
    person: Person | None = None,
    sites: tuple[str, ...] = (),
    overrides: Iterable[Override] = (),
    rules: CertaintyRules | None = None,
    today: dt.date | None = None,
) -> Certainty:
    """How sure a weighed answer is.

    Parameters
    ----------
    weighing : Weighing
    studies : mapping of str to Study
        Holds every pooled study.
    person : Person, optional
        The one the question describes, if none is given.
    sites : tuple of str
        Parts of the body a recommendation speaks of.
    overrides : iterable of Override
        The latest per domain replaces the rule's step; those for other questions are passed
        over, and those that cannot count are named in the notes.
    rules : CertaintyRules, optional
        Those that ship if none are given.
    today : date, optional
        Overrulings dated later do not count.

    Returns
    -------
    Certainty
    """
    rules = rules or certainty_rules()
    concerns = concern_weights(weighing, studies)
    near = directness(weighing, studies, person=person, sites=sites)
    facts = certainty_facts(weighing, studies, concerns=concerns, directness=near)
    counted, notes = _sort_overrides(overrides, weighing, rules, today or dt.date.today())
    texts = texts_of(facts, weighing)
    steps = tuple(_step(domain, facts, texts, counted.get(domain.name)) for domain in rules.domains)
    start = first_that_holds(rules.start, facts)

    def level(values: Mapping[str, Any]) -> int:
        return _level(rules, values, counted)

    @cache
    def tipping_of() -> tuple[Tipping, ...]:
        return tipping_points(
            weighing, facts, rules=rules, word=lambda values: word_of(level(values))
        )

    found = level(facts)
    uncapped = start.gives + sum(step.step for step in steps)
    return Certainty(
        question=weighing.question.id,
        word=word_of(found),
        word_by_rules=word_of(_level(rules, facts, {})),
        level=found,
        start=start.gives,
        start_sentence=start.says.format_map(texts),
        start_source=start.source,
        steps=steps,
        capped_by=tuple(
            step.domain for step in steps if step.caps and level_of(step.caps) < uncapped
        ),
        tipping_of=tipping_of,
        directness=near,
        concerns=concerns,
        notes=tuple(notes),
        rules=rules.source,
        fingerprint=weighing.fingerprint,
    )


def _level(rules: CertaintyRules, facts: Mapping[str, Any], counted: dict[str, Override]) -> int:
    level = first_that_holds(rules.start, facts).gives
    caps = []
    for domain in rules.domains:
        rule = first_that_holds(domain.rules, facts)
        level += counted[domain.name].step if domain.name in counted else rule.gives
        if rule.caps:
            caps.append(level_of(rule.caps))
    return min([level, *caps])


def _step(domain: CertaintyDomain, facts, texts, override: Override | None) -> Step:
    rule = first_that_holds(domain.rules, facts)
    return Step(
        domain=domain.name,
        step=rule.gives if override is None else override.step,
        by_rule=rule.gives,
        facts=tuple((label_of(name), texts.get(name, "not known")) for name in domain.facts),
        rule=rule.in_words(label_of),
        sentence=rule.says.format_map(texts),
        source=rule.source,
        caps=rule.caps,
        override=override,
    )


def _sort_overrides(
    overrides: Iterable[Override], weighing: Weighing, rules: CertaintyRules, today: dt.date
) -> tuple[dict[str, Override], list[str]]:
    counted: dict[str, Override] = {}
    notes = []
    for override in sorted(overrides, key=lambda each: each.date):
        if override.question not in (None, weighing.question.id):
            continue
        problem = _problem(override, rules, today)
        if problem:
            notes.append(
                f"the overruling of {override.domain} by {override.by} does not count: {problem}"
            )
        else:
            counted[override.domain] = override
    return counted, notes


def _problem(override: Override, rules: CertaintyRules, today: dt.date) -> str:
    if override.domain not in rules.domain_names():
        return f"expected one of {', '.join(rules.domain_names())}"
    if not -3 <= override.step <= 1:
        return f"expected a step from −3 to +1, found {override.step}"
    if override.date > today:
        return f"its date, {override.date}, is in the future (today is {today})"
    return ""
