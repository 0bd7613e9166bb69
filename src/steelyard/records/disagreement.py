"""Where two people read a paper differently, cell by cell."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from steelyard.records.difference import same
from steelyard.records.model import Record
from steelyard.records.second_reading import SecondReading, Settled
from steelyard.records.spread import INTERVAL_KEYS, ReportedEffect
from steelyard.records.study import Comparison, Result, Study
from steelyard.records.writing import set_values, toml_value

RESULT_VALUES = ("pre", "post", "change", "change_percent", "events", "correlation")
EFFECT_VALUES = (
    *("difference", "standardised", "log_ratio_of_means", "log_risk_ratio", "log_odds_ratio"),
    *("risk_difference", "log_sd_ratio"),
)
COMPARISON_VALUES = (*EFFECT_VALUES, "t", "f", "p")
"""What an entry must have one of to say anything."""

# What both must read alike; where it stands and who checked it is no number.
_READ_ALIKE = {
    Result: ("n", *RESULT_VALUES, "r"),
    Comparison: (
        *("n_intervention", "n_comparator", *COMPARISON_VALUES),
        *("of", "adjusted", "clusters_allowed_for"),
    ),
}
# Which arm's people a size is about, by its place in a key.
_PEOPLE_OF = {"n": 1, "n_intervention": 1, "n_comparator": 2}

Key = tuple[str, str, str, Decimal]
"""Outcome, arm, the arm it is held against (empty for a result), week."""


@dataclass(frozen=True, slots=True)
class Disagreement:
    """One cell that two people read differently.

    Attributes
    ----------
    outcome, arm : str
        Ids.
    week : Decimal
    cell : str
        For example ``pre.sd`` or, of a comparison, ``difference.ci95``.
    first, second : str
        What each wrote, as a record writes it; empty where nothing.
    against : str
        Id of the second arm of a comparison; empty for a result.
    """

    outcome: str
    arm: str
    week: Decimal
    cell: str
    first: str
    second: str
    against: str = ""

    @property
    def key(self) -> Key:
        return self.outcome, self.arm, self.against, self.week

    @property
    def place(self) -> str:
        arms = f"{self.arm} against {self.against}" if self.against else self.arm
        return f"{self.outcome}, {arms}, week {self.week}, {self.cell}"


@dataclass(frozen=True, slots=True)
class ReadTwice:
    """One result or comparison as the first and the second reader have it; None where not."""

    key: Key
    first: Result | Comparison | None
    second: Result | Comparison | None


def key_of(part: Result | Comparison) -> Key:
    """What a result or comparison is about."""
    if isinstance(part, Result):
        return part.outcome, part.arm, "", part.week
    return part.outcome, part.intervention, part.comparator, part.week


def disagreements(study: Study, reading: SecondReading) -> tuple[Disagreement, ...]:
    """Every cell the two read differently and that nobody has settled yet."""
    if reading.read is None:
        return ()
    done = {(s.key, s.cell, s.first, s.second) for s in reading.settled}
    settled_cells = {(s.key, s.cell): s for s in reading.settled}
    return tuple(
        cell
        for cell in _cells_apart(study, reading)
        if (cell.key, cell.cell, cell.first, cell.second) not in done
        and not _kept_second(cell, settled_cells)
    )


def side_by_side(study: Study, reading: SecondReading) -> Iterator[ReadTwice]:
    """Every result either has, and every comparison the second reader was shown or found.

    A comparison that the two name the other way round is turned to the study's way.
    """
    one, other = ({key_of(r): r for r in results} for results in (study.results, reading.results))
    for key in [*one, *(key for key in other if key not in one)]:
        yield ReadTwice(key, one.get(key), other.get(key))
    first = {_either_way(each): each for each in study.comparisons}
    second = {_either_way(each): each for each in reading.comparisons}
    shown = [name for name in first if name in second]
    for name in [*shown, *(name for name in second if name not in first)]:
        mine, theirs = first.get(name), second[name]
        if mine is not None and mine.intervention != theirs.intervention:
            theirs = turned(theirs)
        yield ReadTwice(key_of(theirs), mine, theirs)


def cells_of(part: Result | Comparison | None) -> dict[str, Any]:
    """What both must read alike of a result or comparison, by cell; a plain no says nothing."""
    cells: dict[str, Any] = {}
    for name, value in set_values(part) if part is not None else ():
        if name not in _READ_ALIKE[type(part)] or value is False:
            continue
        if isinstance(value, Record):
            cells |= {f"{name}.{inner}": number for inner, number in set_values(value)}
        else:
            cells[name] = value
    return cells


def turned(comparison: Comparison) -> Comparison:
    """The same comparison with its arms the other way round: every effect and t change sign."""
    changed: dict[str, Any] = {
        "intervention": comparison.comparator,
        "comparator": comparison.intervention,
        "n_intervention": comparison.n_comparator,
        "n_comparator": comparison.n_intervention,
    }
    if comparison.t is not None:
        changed["t"] = _minus(comparison.t)
    for name in EFFECT_VALUES:
        effect = getattr(comparison, name)
        if effect is not None:
            changed[name] = _turned_effect(effect)
    return comparison.model_copy(update=changed)


def _turned_effect(effect: ReportedEffect) -> ReportedEffect:
    ends = {key: getattr(effect, key) for key in INTERVAL_KEYS if getattr(effect, key) is not None}
    turned_ends = {key: (_minus(high), _minus(low)) for key, (low, high) in ends.items()}
    return effect.model_copy(update={"value": _minus(effect.value), **turned_ends})


def _minus(number: Decimal) -> Decimal:
    # Exact, unlike the operator, which rounds to the context; a zero stays without a sign.
    return number.copy_negate() if number else number


def _either_way(part: Comparison) -> tuple:
    return part.outcome, frozenset((part.intervention, part.comparator)), part.week


def _cells_apart(study: Study, reading: SecondReading) -> Iterator[Disagreement]:
    sizes = {arm.id: arm.n for arm in study.arms}
    for pair in side_by_side(study, reading):
        outcome, arm, against, week = pair.key
        first, second = cells_of(pair.first), cells_of(pair.second)
        for cell in [*first, *(cell for cell in second if cell not in first)]:
            values = first.get(cell), second.get(cell)
            if cell in _PEOPLE_OF and set(values) <= {None, sizes.get(pair.key[_PEOPLE_OF[cell]])}:
                # A size that is the arm's own says no more than none does.
                continue
            if not same(*map(_comparable, values)):
                texts = ("" if value is None else toml_value(value) for value in values)
                yield Disagreement(outcome, arm, week, cell, *texts, against)


def _comparable(value: Any) -> Any:
    """Parts of a group by their numbers alone: neither their names nor their order count."""
    if isinstance(value, tuple) and value and isinstance(value[0], Record):
        return sorted(f"{part.n} {part.mean} {part.sd}" for part in value)
    return value


def _kept_second(cell: Disagreement, settled: Mapping[tuple, Settled]) -> bool:
    """Whether the study now says what the second reader wrote, in other figures."""
    entry = settled.get((cell.key, cell.cell))
    return entry is not None and entry.keep == "second" and cell.first == entry.second
