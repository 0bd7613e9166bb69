"""At which value of a fact would the certainty, or one of its steps, change?"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import cache
from typing import Any

import numpy as np

from steelyard.judging.certainty.facts import OF_WORTHWHILE, SHARES, facts_of_worthwhile
from steelyard.judging.certainty.result import Tipping, step_text
from steelyard.judging.certainty.rules import CertaintyDomain, CertaintyRules
from steelyard.judging.certainty.wording import (
    is_ratio_below_one,
    label_of,
    share_text,
    worthwhile_text,
)
from steelyard.judging.conditions import first_that_holds, unknown
from steelyard.pooling.weighing import Weighing

WORTHWHILE = "worthwhile"
REACH = 20.0
GRID = 241
BEYOND = 1e-9
# Facts a person or a further study can move by themselves; the others follow from these.
MOVABLE = tuple(sorted(SHARES - {"overlap", "match_worst", "surrogate", "weight_not_appraised"}))


def tipping_points(
    weighing: Weighing,
    facts: Mapping[str, Any],
    *,
    rules: CertaintyRules,
    word: Callable[[Mapping[str, Any]], str],
) -> tuple[Tipping, ...]:
    """Every nearest change, one fact at a time, the others held.

    Parameters
    ----------
    weighing : Weighing
    facts : mapping
        As from `certainty_facts`.
    rules : CertaintyRules
    word : callable
        From facts to the word of certainty, with overrulings as they stand.

    Returns
    -------
    tuple of Tipping
        First the smallest worthwhile effects at which the word changes, then per domain.

    Notes
    -----
    The word and each step are step functions of the smallest worthwhile effect, the weighing
    being held; the nearest change either way is bracketed on a geometric grid from a twentieth
    to twenty times its value and bisected. Shares are held against the bounds in the rules.
    """
    found: list[Tipping] = []
    now = weighing.worthwhile

    # The grid is the same for the word and for every domain.
    @cache
    def at(value: float) -> dict[str, Any]:
        return {**facts, **facts_of_worthwhile(weighing, value, facts)}

    if now is not None:
        for change in _changes(lambda value: word(at(value)), now):
            found.append(_of_worthwhile(weighing, None, now, change, word(at(change[1])), None))
    for domain in rules.domains:

        def step(values: Mapping[str, Any], domain: CertaintyDomain = domain) -> int:
            return first_that_holds(domain.rules, values).gives

        if now is not None and _hangs_on_worthwhile(domain):
            for change in _changes(lambda value, step=step: step(at(value)), now):
                beyond = at(change[1])
                found.append(
                    _of_worthwhile(weighing, domain, now, change, word(beyond), step(beyond))
                )
        found += _of_shares(domain, facts, step, word)
        found += _of_people(domain, facts, step, word)
    return tuple(found)


def _hangs_on_worthwhile(domain: CertaintyDomain) -> bool:
    return any(
        condition.fact in OF_WORTHWHILE or condition.times in OF_WORTHWHILE
        for rule in domain.rules
        for condition in rule.when
    )


def _changes(value_at: Callable[[float], Any], now: float) -> list[tuple[float, float]]:
    """(bound, a value just beyond it) for the nearest change below and above `now`."""
    here, found = value_at(now), []
    for end in (now / REACH, now * REACH):
        inside = now
        for point in np.geomspace(now, end, GRID)[1:]:
            if value_at(point) != here:
                outside = float(point)
                for _ in range(60):
                    middle = (inside + outside) / 2
                    if value_at(middle) == here:
                        inside = middle
                    else:
                        outside = middle
                found.append((outside, outside))
                break
            inside = float(point)
    return found


def _of_worthwhile(weighing, domain, now, change, word, step) -> Tipping:
    at = change[0]
    # A ratio below 1 falls as the effect it stands for grows.
    larger = (at > now) != is_ratio_below_one(weighing.question)
    side = "or more" if larger else "or less"
    size = worthwhile_text(weighing, at)
    what = word if step is None else f"{domain.name}: {step_text(step)}, and so {word},"
    return Tipping(
        domain="" if domain is None else domain.name,
        quantity=label_of(WORTHWHILE),
        now=now,
        at=at,
        step=step,
        word=word,
        sentence=f"{what} if the smallest worthwhile effect were {size} {side} "
        f"(now {worthwhile_text(weighing, now)})",
    )


def _of_shares(domain: CertaintyDomain, facts, step, word) -> list[Tipping]:
    bounds = {
        (condition.fact, float(condition.value))
        for rule in domain.rules
        for condition in rule.when
        if condition.fact in MOVABLE and not condition.times and condition.test != "known"
    }
    found = {}
    for name, bound in sorted(bounds):
        value = facts.get(name)
        if unknown(value):
            continue
        towards = -BEYOND if value >= bound else BEYOND
        moved = {**facts, name: bound + towards}
        if name == "weight_high":
            moved["weight_some_or_high"] = max(facts["weight_some_or_high"], moved[name])
        if not 0 <= bound + towards <= 1 or step(moved) == step(facts):
            continue
        side = "below" if towards < 0 else "at least"
        if towards > 0 and bound == 0:
            side = "above"
        tip = Tipping(
            domain=domain.name,
            quantity=label_of(name),
            now=float(value),
            at=bound,
            step=step(moved),
            word=word(moved),
            sentence=f"{domain.name}: {step_text(step(moved))}, and so {word(moved)}, if the "
            f"{label_of(name)} were {side} {share_text(bound)} (now {share_text(value)})",
        )
        nearer = found.get((name, towards))
        if nearer is None or abs(bound - value) < abs(nearer.at - value):
            found[name, towards] = tip
    return list(found.values())


def _of_people(domain: CertaintyDomain, facts, step, word) -> list[Tipping]:
    ratio = facts.get("information_ratio")
    if unknown(ratio) or ratio >= 1:
        return []
    moved = {**facts, "information_ratio": 1.0}
    if step(moved) == step(facts):
        return []
    now, needed = facts["people_per_arm"], facts["people_needed_per_arm"]
    return [
        Tipping(
            domain=domain.name,
            quantity=label_of("people_per_arm"),
            now=now,
            at=needed,
            step=step(moved),
            word=word(moved),
            sentence=f"{domain.name}: {step_text(step(moved))}, and so {word(moved)}, with "
            f"{np.ceil(needed - now):,.0f} more people an arm, the interval being held",
        )
    ]
