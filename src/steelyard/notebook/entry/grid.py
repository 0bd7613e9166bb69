"""From the grids of the form to results of a record, keeping what nobody touched."""

from __future__ import annotations

import copy
from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

from steelyard.notebook.entry.cell import read_cell
from steelyard.notebook.entry.counts import read_count
from steelyard.notebook.entry.fields import FieldReader
from steelyard.notebook.entry.parts import GROUPED, read_parts, read_places, same_parts
from steelyard.notebook.entry.parts_form import PartsForm
from steelyard.notebook.entry.state import DETAILS, KINDS, MOST_WEEKS, FormState, OutcomeForm
from steelyard.records.cells import CellError, is_blank
from steelyard.records.printed import brief


@dataclass(slots=True)
class Results:
    """The results of a form.

    Attributes
    ----------
    values : list of dict
        As a record keeps them.
    where : dict
        Fields of the form by place in the record.
    """

    values: list[dict[str, Any]] = field(default_factory=list)
    where: dict[str, str] = field(default_factory=dict)


def read_results(
    state: FormState,
    opened: FormState,
    base: Mapping[str, Any],
    *,
    arms: Mapping[str, str],
    outcomes: Mapping[str, str],
    read: FieldReader,
) -> Results:
    """Read every grid.

    Parameters
    ----------
    state, opened : FormState
        As typed, and as it was when an existing study was opened.
    base : mapping
        The values of that study; empty for a new one.
    arms, outcomes : mapping
        Ids by the form's keys; others are passed over.
    read : FieldReader
    """
    results = Results()
    old = {_key(each): each for each in base.get("result", ())}
    before = {outcome.id: outcome for outcome in opened.outcomes}
    arm_keys_before = {arm.id: arm.key for arm in opened.arms}
    for outcome in state.outcomes:
        if outcome.key not in outcomes:
            continue
        was = before.get(outcome.id)
        read_places(read, outcome)
        for week_text, week in _weeks(outcome, read):
            for arm_key, arm_id in arms.items():
                found = old.get((outcomes[outcome.key], arm_id, week))
                entry = _Entry(outcome, arm_key, week_text, read)
                entry.before = was if found is not None else None
                entry.arm_before = arm_keys_before.get(arm_id, "")
                values = entry.values(found)
                if values is None:
                    continue
                head = {"outcome": outcomes[outcome.key], "arm": arm_id, "week": week}
                if found is not None:
                    head["week"] = found["week"]
                results.values.append(head | values)
                place = f"result[{len(results.values)}]"
                results.where |= {
                    f"{place}{end}": place_of for end, place_of in entry.where.items()
                }
    shown = {(outcomes[key], arm_id) for key in outcomes for arm_id in arms.values()}
    order = {key: place for place, key in enumerate(old)}
    if order:
        _in_old_order(results, order)
    return results if shown else Results()


def _in_old_order(results: Results, order: Mapping[tuple, int]) -> None:
    """Results that were there keep their places; new ones come last."""
    ranked = sorted(
        range(len(results.values)),
        key=lambda n: order.get(_key(results.values[n]), len(order) + n),
    )
    places = {f"result[{old + 1}]": f"result[{new + 1}]" for new, old in enumerate(ranked)}
    results.values = [results.values[n] for n in ranked]
    results.where = {
        places[path.partition(".")[0]] + "".join(path.partition(".")[1:]): field_name
        for path, field_name in results.where.items()
    }


def _weeks(outcome: OutcomeForm, read: FieldReader) -> list[tuple[str, Decimal]]:
    """Each week as typed and as a number."""
    name = f"outcome.{outcome.key}.weeks"
    found: list[tuple[str, Decimal]] = []
    for text in outcome.week_texts():
        problems = len(read.problems)
        week = read.number(name, text)
        if week is None:
            if len(read.problems) == problems:
                read.tell(name, f"expected a week such as 12, found {brief(text)}")
            continue
        if not 0 <= week <= 2000:
            read.tell(name, f"expected a week between 0 and 2000, found {brief(text)}")
            continue
        if any(week == other for _, other in found):
            continue
        found.append((text, week))
    if len(outcome.week_texts()) == MOST_WEEKS:
        read.tell(name, f"At most {MOST_WEEKS} weeks are taken.", "hint")
    if not outcome.weeks.strip() and any(not is_blank(text) for _, text in outcome.numbers()):
        read.tell(name, "Say after how many weeks the numbers were measured.", "needed")
        # So that the numbers can be looked at while the week is still missing.
        found.append(("", Decimal(0)))
    return found


class _Entry:
    """One arm's result at one week."""

    def __init__(self, outcome: OutcomeForm, arm: str, week: str, read: FieldReader) -> None:
        self.outcome, self.arm, self.week, self.read = outcome, arm, week, read
        self.before: OutcomeForm | None = None
        self.arm_before = ""
        self.where: dict[str, str] = {"": f"cell.{outcome.key}.{arm}.{self._main_column()}"}

    def values(self, found: Mapping[str, Any] | None) -> dict[str, Any] | None:
        """Its numbers; None where there are none."""
        values = copy.deepcopy(dict(found)) if found is not None else {}
        first = self.week == (self.outcome.week_texts() or [""])[0]
        for kind in KINDS:
            if kind == "pre" and not (first if found is None else (first or "pre" in found)):
                continue
            self._cell(values, kind)
        if not any(kind in values for kind in KINDS):
            return None
        self._details(values)
        return {
            key: value for key, value in values.items() if key not in ("outcome", "arm", "week")
        }

    def _main_column(self) -> str:
        prints = [kind for kind in KINDS if kind in self.outcome.prints] or ["post"]
        kind = next((kind for kind in prints if kind != "pre"), "pre")
        return kind if kind == "pre" else f"{kind}@{self.week}"

    def _cell(self, values: dict[str, Any], kind: str) -> None:
        column = kind if kind == "pre" else f"{kind}@{self.week}"
        name = f"cell.{self.outcome.key}.{self.arm}.{column}"
        self.where[f".{kind}"] = name
        text = self.outcome.cells.get(f"{self.arm}|{column}", "")
        parts = self.outcome.parts_of(f"{self.arm}|{column}") if kind in GROUPED else None
        if kind not in self.outcome.prints:
            text, parts = "", None
        if self.before is not None:
            place = f"{self.arm_before}|{column}"
            same_text = text == self.before.cells.get(place, "")
            unchanged = same_text and same_parts(parts, self.before.parts_of(place))
            if unchanged and self.outcome.style(column) == self.before.style(column):
                return
        if parts is not None:
            value = self._parts(name, kind, text, parts)
        else:
            value = self._read(name, kind, text, self.outcome.style(column), values)
        if value is None:
            values.pop(kind, None)
        else:
            old = values.get(kind)
            if isinstance(old, Mapping) and "reading_error" in old and isinstance(value, dict):
                value["reading_error"] = old["reading_error"]
            values[kind] = value

    def _parts(self, name: str, kind: str, text: str, parts: PartsForm) -> Any:
        """The cell as parts of the group."""
        found = read_parts(self.read, f"part.{self.outcome.key}.{parts.key}", parts)
        self.where |= {f".{kind}{end}": field_name for end, field_name in found.where.items()}
        if not is_blank(text):
            self.read.tell(name, "Its parts are typed below: blank this box, or take them away.")
            return None
        return {"groups": found.groups} if found.groups else None

    def _read(self, name: str, kind: str, text: str, style: str, values: dict[str, Any]) -> Any:
        try:
            if kind == "events":
                return read_count(text, marks=self.read.marks)
            if kind == "correlation":
                return self.read.number(name, text)
            value = read_cell(text, style, marks=self.read.marks)
            if kind == "change_percent" and value is not None:
                wrong = set(value) - {"mean", "sd", "se", "ci90", "ci95", "ci99"}
                if wrong:
                    raise CellError("expected a mean change in %, with an SD, SE or CI if printed")
        except CellError as error:
            message = str(error)
            found = "" if "found" in message else f", found {brief(text.strip())}"
            self.read.tell(name, f"{message}{found}")
            return None
        return value

    def _details(self, values: dict[str, Any]) -> None:
        typed = self.outcome.details.get(f"{self.arm}|{self.week}", {})
        was = {}
        if self.before is not None:
            was = self.before.details.get(f"{self.arm_before}|{self.week}", {})
        for name in DETAILS:
            place = f"detail.{self.outcome.key}.{self.arm}.{self.week}.{name}"
            self.where[f".{name}"] = place
            text, old_text = typed.get(name, ""), was.get(name, "")
            if name in ("where", "read_off"):
                text = text or getattr(self.outcome, name)
                old_text = old_text or (getattr(self.before, name) if self.before else "")
            if text == old_text:
                continue
            reader = {
                "n": self.read.whole,
                "r": self.read.number,
                "reading_error": self.read.number,
            }.get(name, self.read.words)
            self._set(values, name, reader(place, text))

    @staticmethod
    def _set(values: dict[str, Any], name: str, value: Any) -> None:
        if name == "reading_error":
            for kind in ("pre", "post", "change"):
                if isinstance(values.get(kind), dict):
                    _put(values[kind], name, value)
            return
        _put(values, name, value)


def _put(target: dict[str, Any], key: str, value: Any) -> None:
    if value is None:
        target.pop(key, None)
    else:
        target[key] = value


def _key(result: Mapping[str, Any]) -> tuple[str, str, Decimal]:
    return result["outcome"], result["arm"], Decimal(str(result["week"]))
