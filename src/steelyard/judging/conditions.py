"""Rules kept as data: a rule holds when all of its conditions hold on computed facts."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from steelyard.errors import UsageError
from steelyard.records.reading import LARGEST_RECORD_BYTES
from steelyard.records.regular_file import FileRefused, read_regular

COMPARISONS = {
    "at_least": lambda found, bound: found >= bound,
    "above": lambda found, bound: found > bound,
    "at_most": lambda found, bound: found <= bound,
    "below": lambda found, bound: found < bound,
}


@dataclass(frozen=True, slots=True)
class Condition:
    """One test of one fact.

    Attributes
    ----------
    fact : str
    test : str
        ``is`` (one of several words), ``at_least``, ``above``, ``at_most``, ``below``, or
        ``known`` (true or false).
    value : tuple of str, float or bool
    times : str
        Another fact that `value` is multiplied by; empty for none.
    """

    fact: str
    test: str
    value: Any
    times: str = ""

    def bound(self, facts: Mapping[str, Any]) -> float | None:
        """The number the fact is held against; None if it is not a number, or not known."""
        if self.test not in COMPARISONS:
            return None
        factor = facts.get(self.times) if self.times else 1.0
        return None if unknown(factor) else float(self.value) * float(factor)

    def holds(self, facts: Mapping[str, Any]) -> bool:
        """Whether the condition holds; a fact that is not known fails every test but `known`."""
        found = facts.get(self.fact)
        if self.test == "known":
            return unknown(found) is not self.value
        if unknown(found):
            return False
        if self.test == "is":
            return found in self.value
        bound = self.bound(facts)
        return bound is not None and COMPARISONS[self.test](float(found), bound)


def _plain_name(fact: str) -> str:
    return fact.replace("_", " ")


@dataclass(frozen=True, slots=True)
class Rule:
    """What follows when all conditions hold.

    Attributes
    ----------
    when : tuple of Condition
        All must hold; none at all always holds.
    gives : str or int
        A concern, or a step.
    says : str
        A sentence; facts in braces.
    source : str
    caps : str
        The highest word that is left where the rule holds; empty for none.
    """

    when: tuple[Condition, ...]
    gives: str | int
    says: str
    source: str
    caps: str = ""

    def holds(self, facts: Mapping[str, Any]) -> bool:
        return all(condition.holds(facts) for condition in self.when)

    def in_words(self, name: Callable[[str], str] = _plain_name) -> str:
        """The conditions as one line, for people who check the rule; `name` names a fact."""
        if not self.when:
            return "otherwise"
        return " and ".join(_condition_in_words(condition, name) for condition in self.when)


def first_that_holds(rules: tuple[Rule, ...], facts: Mapping[str, Any]) -> Rule:
    """The first rule that holds; the last of every list has no condition."""
    return next(rule for rule in rules if rule.holds(facts))


def unknown(value: Any) -> bool:
    return value is None or (isinstance(value, float) and math.isnan(value))


def read_rules(path: Path) -> dict[str, Any]:
    """A file of rules as plain values.

    Raises
    ------
    UsageError
        If it cannot be read or is not TOML.
    """
    try:
        return tomllib.loads(read_regular(path, most=LARGEST_RECORD_BYTES).decode("utf-8"))
    except (FileRefused, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise UsageError(f"rules {path.name!r} cannot be read: {error}") from error


def rules_of(items: list[dict[str, Any]], *, gives: str, place: str) -> tuple[Rule, ...]:
    """Rules of one domain from plain values, the last one without a condition.

    Raises
    ------
    UsageError
        If a rule lacks a part or a condition is not understood; says where.
    """
    rules = tuple(_rule(item, gives, f"{place}, rule {at}") for at, item in enumerate(items, 1))
    if not rules or rules[-1].when:
        raise UsageError(f"{place}: expected a last rule without a condition, for all other cases")
    return rules


def _rule(item: dict[str, Any], gives: str, place: str) -> Rule:
    for key in (gives, "says", "source"):
        if key not in item:
            raise UsageError(f"{place}: expected {key}, found none")
    unknown_keys = item.keys() - {gives, "says", "source", "when", "caps"}
    if unknown_keys:
        raise UsageError(f"{place}: unknown key {', '.join(sorted(unknown_keys))}")
    when = tuple(_condition(each, place) for each in item.get("when", []))
    return Rule(when, item[gives], item["says"], item["source"], item.get("caps", ""))


def _condition(item: dict[str, Any], place: str) -> Condition:
    tests = item.keys() - {"fact", "times"}
    if "fact" not in item or len(tests) != 1:
        raise UsageError(f"{place}: expected a fact and one test in a condition, found {item}")
    test = tests.pop()
    value = item[test]
    if test == "is" and isinstance(value, list):
        value = tuple(value)
    elif test == "known" and isinstance(value, bool):
        pass
    elif test in COMPARISONS and isinstance(value, int | float) and not isinstance(value, bool):
        value = float(value)
    else:
        raise UsageError(f"{place}: the test {test} = {value!r} is not understood")
    return Condition(item["fact"], test, value, item.get("times", ""))


def _condition_in_words(condition: Condition, name: Callable[[str], str]) -> str:
    fact = name(condition.fact)
    if condition.test == "known":
        return f"{fact} {'known' if condition.value else 'not known'}"
    if condition.test == "is":
        return f"{fact}: {' or '.join(map(str, condition.value))}"
    bound = f"{condition.value:g}"
    if condition.times:
        bound += f" × {name(condition.times)}"
    return f"{fact} {condition.test.replace('_', ' ')} {bound}"
