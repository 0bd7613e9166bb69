"""One cell printed for parts of the group, such as men and women: typed, read and combined."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from pydantic import ValidationError

from steelyard.errors import DesignError
from steelyard.notebook.entry.cell import STYLES, read_spread, style_of, write_spread
from steelyard.notebook.entry.fields import FieldReader
from steelyard.notebook.entry.parts_form import PART, PART_STYLES, PartsForm
from steelyard.notebook.entry.said import texts
from steelyard.notebook.entry.state import OutcomeForm
from steelyard.records.cells import CellError, DecimalMarks
from steelyard.records.study import Subgroup
from steelyard.reporting import Combined
from steelyard.reporting.number import printed
from steelyard.reporting.summary import combine_subgroups

GROUPED = ("pre", "post", "change")
"""Kinds of numbers that a record may hold in parts."""

_NEEDED = {
    "n": "Type how many people this part has.",
    "mean": "Type this part’s mean.",
    "sd": "Type this part’s {spread}.",
}
_ONE_ONLY = "Type a second part, or type the numbers of all in the grid."


@dataclass(slots=True)
class Parts:
    """The parts of one cell.

    Attributes
    ----------
    groups : list of dict
        As a record keeps them; empty where nothing is typed, or not all of it can be used.
    where : dict
        Fields of the form by place below the spread, such as ``.groups[1].sd``.
    """

    groups: list[dict[str, Any]] = field(default_factory=list)
    where: dict[str, str] = field(default_factory=dict)


def fill_in(parts: PartsForm, spread: Mapping[str, Any]) -> None:
    """Put a record's groups into the boxes of a cell, as a person would type them."""
    groups = spread.get("groups", ())
    parts.style = next(filter(None, map(style_of, groups)), parts.style)
    parts.rows = [
        {**texts(group, ("label", "n", "mean")), "sd": write_spread(group, parts.style)}
        for group in groups
    ]


def read_places(read: FieldReader, outcome: OutcomeForm) -> None:
    """Take note of parts that belong to no cell, or to one that has parts already."""
    seen: set[str] = set()
    for each in outcome.parts:
        if not each.typed():
            continue
        name = f"part.{outcome.key}.{each.key}.place"
        if not each.place:
            read.tell(name, "Choose which numbers are printed in parts.", "needed")
        elif each.place in seen:
            read.tell(name, "Parts of these numbers are typed above already: choose others.")
        seen.add(each.place)


def same_parts(one: PartsForm | None, other: PartsForm | None) -> bool:
    """Whether two say the same; blank rows do not count, nor a style nothing is typed in."""
    rows = [[said for _, said in each.typed()] if each else [] for each in (one, other)]
    return rows[0] == rows[1] and (not rows[0] or one.style == other.style)


def read_parts(read: FieldReader, name: str, form: PartsForm) -> Parts:
    """Read the parts of one cell.

    Parameters
    ----------
    read : FieldReader
        Takes note of what is wrong or still missing.
    name : str
        What the names of the fields start with.
    form : PartsForm
    """
    found, whole = Parts(), True
    rows = form.typed()
    for number, row in rows:
        before = len(read.problems)
        group = {
            "label": read.words(f"{name}.{number}.label", row.get("label", "")),
            "n": read.whole(f"{name}.{number}.n", row.get("n", "")),
            "mean": read.number(f"{name}.{number}.mean", row.get("mean", "")),
        }
        spread = _spread(read, f"{name}.{number}.sd", row.get("sd", ""), form.style)
        told = {problem.field for problem in read.problems[before:]}
        typed = {**group, "sd": spread or None}
        for key, message in _NEEDED.items():
            if typed[key] is None and f"{name}.{number}.{key}" not in told:
                message = message.format(spread=STYLES[form.style])
                read.tell(f"{name}.{number}.{key}", message, "needed")
        whole = whole and all(typed[key] is not None for key in _NEEDED)
        values = {**group, **spread}
        found.groups.append({key: value for key, value in values.items() if value is not None})
        place = f".groups[{len(found.groups)}]"
        found.where |= {f"{place}.{key}": f"{name}.{number}.{key}" for key in PART}
        found.where |= {f"{place}.{key}": f"{name}.{number}.sd" for key in PART_STYLES}
        found.where[place] = f"{name}.{number}.sd"
    if len(found.groups) == 1:
        free = 2 if 1 in dict(rows) else 1
        read.tell(f"{name}.{free}.n", _ONE_ONLY, "needed")
    if not whole or len(found.groups) == 1:
        found.groups = []
    return found


def _spread(read: FieldReader, name: str, text: str, style: str) -> dict[str, Any]:
    """One measure of spread, of the cell's style or the one named in the box; empty for none."""
    try:
        found = read_spread(text, style, marks=read.marks) or {}
        if not set(found) <= set(PART_STYLES) or len(found) > 1:
            styles = ", ".join(STYLES[each] for each in PART_STYLES)
            raise CellError(f"expected one of {styles}, found {text.strip()!r}")
        return found
    except CellError as error:
        read.tell(name, str(error))
        return {}


def together(form: PartsForm | None, *, marks: DecimalMarks) -> Combined | None:
    """The parts as one group; None where they do not make one yet."""
    groups = read_parts(FieldReader(marks), "", form).groups if form is not None else []
    try:
        return combine_subgroups([Subgroup(**group) for group in groups])
    except (DesignError, ValidationError):
        return None


def steps_to_sds(combined: Combined) -> str:
    """How the SDs of the parts were reached where the paper prints something else."""
    return "; ".join(step for step in combined.sd.chain if not step.startswith("combined "))


def in_short(combined: Combined) -> str:
    """``54.95 (SD 12.61)``."""
    return f"{printed(combined.mean.value)} (SD {printed(combined.sd.value)})"


def combined_words(combined: Combined) -> str:
    """``48 people, mean 54.95, SD 12.61``."""
    numbers = (combined.n, combined.mean, combined.sd)
    n, mean, sd = (printed(number.value) for number in numbers)
    return f"{n} people, mean {mean}, SD {sd}"
