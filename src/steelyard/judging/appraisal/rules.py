"""The rules of appraisal, read from the file beside this one."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from pathlib import Path

from steelyard.errors import UsageError
from steelyard.judging.conditions import Rule, read_rules, rules_of

CONCERNS = ("low", "some", "high")


@dataclass(frozen=True, slots=True)
class Domain:
    """One way in which a study can go wrong, and how it is judged.

    Attributes
    ----------
    name : str
    facts : tuple of str
        What is looked at.
    designs : tuple of str
        Designs it is asked of; empty for all.
    rules : tuple of Rule
        The first that holds gives the concern.
    """

    name: str
    facts: tuple[str, ...]
    designs: tuple[str, ...]
    rules: tuple[Rule, ...]


@dataclass(frozen=True, slots=True)
class AppraisalRules:
    """All domains, and the constructs that training one limb moves in the other."""

    domains: tuple[Domain, ...]
    crosses: frozenset[str]

    def domain_names(self) -> tuple[str, ...]:
        return tuple(domain.name for domain in self.domains)


@cache
def appraisal_rules(path: Path | None = None) -> AppraisalRules:
    """Rules from a file; those that ship if none is named.

    Raises
    ------
    UsageError
        If the file is not such rules; says where.
    """
    path = path or Path(__file__).with_name("rules.toml")
    data = read_rules(path)
    domains = []
    for at, item in enumerate(data.get("domain", []), 1):
        place = f"{path.name}, domain {item.get('name', at)}"
        rules = rules_of(item.get("rule", []), gives="concern", place=place)
        for rule in rules:
            if rule.gives not in CONCERNS:
                raise UsageError(f"{place}: expected low, some or high, found {rule.gives!r}")
        domains.append(
            Domain(
                str(item.get("name", at)),
                tuple(item.get("facts", ())),
                tuple(item.get("designs", ())),
                rules,
            )
        )
    return AppraisalRules(tuple(domains), frozenset(data.get("crosses_to_the_other_limb", ())))
