"""The columns of the two layouts, and which of them a file has."""

from __future__ import annotations

import difflib
import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

STUDY_TEXT = ("title", "authors", "year", "doi", "design", "randomised", "training_status")
STUDY_COLUMNS = (*STUDY_TEXT, "equated", "duration_weeks", "invented")
OUTCOME_COLUMNS = ("construct", "site", "unit", "better")
STAGES = ("pre", "post", "change")
SPREAD_PARTS = ("mean", "sd", "se", "ci_low", "ci_high")
SPREAD_COLUMNS = tuple(f"{stage}_{part}" for stage in STAGES for part in SPREAD_PARTS)
EFFECT_COLUMNS = ("effect", "effect_se", "effect_ci_low", "effect_ci_high")
SHARED_COLUMNS = ("study", *STUDY_COLUMNS, "outcome", *OUTCOME_COLUMNS, "week", "where")
ARM_COLUMNS = (*SHARED_COLUMNS, "arm", "tags", "n", *SPREAD_COLUMNS, "r", "events")
COMPARISON_COLUMNS = (
    *SHARED_COLUMNS,
    *("intervention", "comparator", "intervention_tags", "comparator_tags", "metric"),
    *EFFECT_COLUMNS,
    *("n_intervention", "n_comparator"),
)
NUMBER_COLUMNS = frozenset(
    {
        *SPREAD_COLUMNS,
        *EFFECT_COLUMNS,
        *("year", "duration_weeks", "week", "n", "r", "events", "n_intervention", "n_comparator"),
    }
)
NEEDED = {
    "arms": ("study", "arm", "outcome", "construct", "week"),
    "comparisons": (
        *("study", "outcome", "construct", "intervention", "comparator", "metric", "effect"),
    ),
}
KNOWN = {"arms": ARM_COLUMNS, "comparisons": COMPARISON_COLUMNS}
# The column by which a table of whole records is known.
KIND_COLUMN = "row_holds"
# A column this like a known one is taken for a slip of the pen, not for a note.
SLIP = 0.85
_SPELLINGS = {"randomized": "randomised", "author": "authors"}
# A bare stage holds its mean, unless the file has a column for that mean too.
_BARE_STAGES = {stage: f"{stage}_mean" for stage in STAGES}

Layout = Literal["arms", "comparisons"]


@dataclass(frozen=True, slots=True)
class Columns:
    """Which column of a file holds what.

    Attributes
    ----------
    layout : str or None
        ``arms`` (a row per study, outcome, arm and week), ``comparisons`` (a row per
        comparison), or None where the header fits neither.
    known : dict of str to int
        Position of each known column.
    kept : dict of str to int
        Position of each column kept as notes, by its header.
    headers : dict of str to str
        Header as written, of each known column.
    problems : tuple of (str, str)
        Header and what is wrong with it.
    """

    layout: Layout | None
    known: dict[str, int]
    kept: dict[str, int]
    headers: dict[str, str]
    problems: tuple[tuple[str, str], ...]


def plain_name(header: str) -> str:
    """A header without what people vary: case, spaces, underscores, hyphens, full stops."""
    return re.sub(r"[\W_]+", "", header).casefold()


_BY_PLAIN_NAME = {plain_name(name): name for names in KNOWN.values() for name in names} | _SPELLINGS


def recognised(headers: Sequence[str]) -> int:
    """How many headers are known columns of either layout."""
    return len({_BY_PLAIN_NAME.get(plain_name(header)) for header in headers} - {None})


def find_columns(headers: Sequence[str]) -> Columns:
    """Say which layout a header row is and where each column stands."""
    names = _names(headers)
    layout, problems = _layout(set(names))
    allowed = KNOWN[layout] if layout else ()
    known: dict[str, int] = {}
    kept: dict[str, int] = {}
    written: dict[str, str] = {}
    for position, (header, name) in enumerate(zip(headers, names, strict=True)):
        if name in known:
            problems.append((header, f"expected each column once, found {name} twice"))
        elif name in allowed:
            known[name], written[name] = position, header.strip()
        else:
            kept[_free_name(header.strip() or f"column {position + 1}", kept)] = position
    if layout:
        missing = [name for name in NEEDED[layout] if name not in known]
        problems += [
            (name, f"expected a column {name!r}{_nearest(name, kept)}, found none")
            for name in missing
        ]
        if missing:
            name, message = problems[-1]
            problems[-1] = (name, f"{message}; {_needed(layout)}")
        for header in kept:
            slip = _slip(header, [name for name in allowed if name not in known])
            if slip and slip not in missing:
                problems.append(
                    (header, f"did you mean {slip!r}? If not, give the column a name less like it")
                )
    return Columns(layout, known, kept, written, tuple(problems))


def _names(headers: Sequence[str]) -> list[str | None]:
    """The known column that each header means, None where it means none."""
    names = [_BY_PLAIN_NAME.get(plain_name(header)) for header in headers]
    for position, header in enumerate(headers):
        mean = _BARE_STAGES.get(plain_name(header))
        if names[position] is None and mean is not None and mean not in names:
            names[position] = mean
    return names


def _layout(names: set[str | None]) -> tuple[Layout | None, list[tuple[str, str]]]:
    arms, comparisons = "arm" in names, bool(names & {"intervention", "comparator"})
    if arms and comparisons:
        message = (
            "expected either a row per arm (arm, pre_mean …) or a row per comparison "
            "(intervention, comparator, effect …), found both: put them in two files"
        )
        return None, [("arm", message)]
    if arms or comparisons:
        return ("arms" if arms else "comparisons"), []
    message = (
        "expected a header row with study, outcome, construct and either arm, or intervention "
        f"and comparator; found neither: {_needed('arms')}; {_needed('comparisons')}"
    )
    return None, [("", message)]


def _needed(layout: Layout) -> str:
    of = {"arms": "an arm", "comparisons": "a comparison"}[layout]
    return f"a table with a row for {of} needs the columns {', '.join(NEEDED[layout])}"


def _free_name(name: str, taken: dict[str, int]) -> str:
    free, count = name, 1
    while free in taken:
        count += 1
        free = f"{name} ({count})"
    return free


def _nearest(name: str, kept: dict[str, int]) -> str:
    near = difflib.get_close_matches(name, [header.casefold() for header in kept], n=1)
    return f" (is {near[0]!r} meant for it?)" if near else ""


def _slip(header: str, absent: list[str]) -> str | None:
    by_plain_name = {plain_name(name): name for name in absent}
    near = difflib.get_close_matches(plain_name(header), by_plain_name, n=1, cutoff=SLIP)
    return by_plain_name[near[0]] if near else None
