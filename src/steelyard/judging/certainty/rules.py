"""The rules of certainty, read from the file beside this one or from a library's own."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from steelyard.errors import UsageError
from steelyard.judging.conditions import Rule, read_rules, rules_of

OWN_FILE = "certainty-rules.toml"
WORDS = ("very low", "low", "moderate", "high")


@dataclass(frozen=True, slots=True)
class CertaintyDomain:
    """One reason to be less sure.

    Attributes
    ----------
    name : str
    facts : tuple of str
        Shown beside the step.
    rules : tuple of Rule
        The first that holds gives the step.
    """

    name: str
    facts: tuple[str, ...]
    rules: tuple[Rule, ...]


@dataclass(frozen=True, slots=True)
class CertaintyRules:
    """Where to start, and every domain with its rules.

    Attributes
    ----------
    start : tuple of Rule
        Give the level to start from, 4 or 2.
    domains : tuple of CertaintyDomain
    source : str
        Name of the file.
    """

    start: tuple[Rule, ...]
    domains: tuple[CertaintyDomain, ...]
    source: str

    def domain_names(self) -> tuple[str, ...]:
        return tuple(domain.name for domain in self.domains)


def word_of(level: int) -> str:
    """The word for a level: 4 and above high, 3 moderate, 2 low, 1 and below very low."""
    return WORDS[min(max(level, 1), 4) - 1]


def level_of(word: str) -> int:
    return WORDS.index(word) + 1


def certainty_rules(folder: Path | None = None) -> CertaintyRules:
    """A library's own rules where its folder has them, else those that ship.

    Raises
    ------
    UsageError
        If the file is not such rules; says where.
    """
    own = folder / OWN_FILE if folder else None
    if own is None or not own.exists():
        own = Path(__file__).with_name("rules.toml")
    return _read(own, own.stat().st_mtime_ns)


@lru_cache(maxsize=8)
def _read(path: Path, changed: int) -> CertaintyRules:
    data = read_rules(path)
    start = data.get("start", {})
    missing = {"when", "level", "otherwise", "says", "source"} - start.keys()
    if missing:
        raise UsageError(f"{path.name}, start: expected {', '.join(sorted(missing))}, found none")
    said = {"says": start["says"], "source": start["source"]}
    first = [
        {"when": start["when"], "step": start["level"], **said},
        {"step": start["otherwise"], **said},
    ]
    domains = []
    for at, item in enumerate(data.get("domain", []), 1):
        place = f"{path.name}, domain {item.get('name', at)}"
        rules = rules_of(item.get("rule", []), gives="step", place=place)
        for rule in rules:
            if type(rule.gives) is not int or not -3 <= rule.gives <= 1:
                raise UsageError(f"{place}: expected a step from -3 to 1, found {rule.gives!r}")
            if rule.caps and rule.caps not in WORDS:
                raise UsageError(f"{place}: expected a cap of {', '.join(WORDS)}")
        domains.append(
            CertaintyDomain(str(item.get("name", at)), tuple(item.get("facts", ())), rules)
        )
    if not domains:
        raise UsageError(f"{path.name}: expected at least one domain, found none")
    start_rules = rules_of(first, gives="step", place=f"{path.name}, start")
    return CertaintyRules(start_rules, tuple(domains), path.name)
