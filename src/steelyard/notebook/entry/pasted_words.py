"""What names stand for in a pasted block: which arm, which time, n."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation

from steelyard.notebook.entry.state import KINDS, ArmForm
from steelyard.records.slugs import slug

KIND_WORDS = {
    **dict.fromkeys(("pre", "before", "baseline", "pretest", "initial", "start"), "pre"),
    **dict.fromkeys(("post", "after", "posttest", "final", "end"), "post"),
    **dict.fromkeys(("change", "changes", "delta", "δ", "∆", "gain", "gains"), "change"),
    # Which of several later times these are, a table alone does not say.
    **dict.fromkeys(("mid", "midpoint", "followup", "retention", "detraining"), "later"),
    **dict.fromkeys(("event", "events", "cases"), "events"),
    "correlation": "correlation",
}
WEEK_WORDS = frozenset({"week", "weeks", "wk", "wks"})
OF_NO_MATTER = frozenset(
    {
        *("test", "testing", "tests", "training", "intervention", "measurement", "assessment"),
        *(
            "time",
            "point",
            "timepoint",
            "and",
            "value",
            "values",
            "score",
            "scores",
            "mean",
            "means",
            "m",
            "sd",
            "se",
            "sem",
        ),
        *("at", "of", "the", "in", "from", "±", "group", "groups", "arm", "arms", "condition"),
    }
)
SIZE_WORDS = frozenset({"n", "people", "participants", "subjects", "size", "sample"})
_CORNER = frozenset(
    {
        *("variable", "variables", "outcome", "outcomes", "measure", "parameter", "name"),
        *("participants", "subjects", "people", "programme", "program"),
    }
)
_OF_MEASURE = frozenset({"mean", "means", "m", "sd", "se", "sem", "±"})
_MEASURES = {
    "mean": r"m|means?|average",
    "median": r"median",
    "sd": r"s\.?d\.?|standard deviation",
    "se": r"s\.?e\.?(?:m\.?)?|standard error(?: of the mean)?",
    "ci90": r"90\s?%\s?c\.?i\.?",
    "ci95": r"95\s?%\s?c\.?i\.?",
    "ci99": r"99\s?%\s?c\.?i\.?",
    "iqr": r"iqr",
    "range": r"range",
}
_MEASURE = re.compile(
    r"[(\[±\s]*(?:"
    + "|".join(f"(?P<{name}>{said})" for name, said in _MEASURES.items())
    + r")[)\]\s]*",
    re.IGNORECASE,
)
_TOKEN = re.compile(r"[^\W\d_]+|[0-9]+(?:[.,][0-9]+)?|[%±∆]")
N_NAMED = re.compile(r"[(\[]?\s?\bn\s?=\s?([0-9]{1,7})\b\s?[)\]]?", re.IGNORECASE)
_BRACKETS = re.compile(r"\s?[(\[][^()\[\]]{0,60}[)\]]")
_GROUP_WORDS = re.compile(r"\b(?:the|group|arm|condition|limb)\b", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Time:
    """When a number was measured, as a table names it.

    Attributes
    ----------
    kind : str
        ``pre``, ``post``, ``change``, ``change_percent``, ``later`` or empty.
    week : Decimal or None
    """

    kind: str
    week: Decimal | None = None


def time_of(text: str, *, alone: bool = True) -> Time | None:
    """The time a heading names; None where it names none, or two.

    Parameters
    ----------
    text : str
    alone : bool
        Whether nothing else may stand beside it.
    """
    found = tokens(text)
    kinds: set[str] = set()
    weeks: set[Decimal] = set()
    percent = "%" in found
    for place, token in enumerate(found):
        beside = {*found[max(0, place - 1) : place], *found[place + 1 : place + 2]}
        if token in KIND_WORDS:
            kinds.add(KIND_WORDS[token])
        elif token[0].isdecimal() and beside & WEEK_WORDS:
            weeks.add(decimal_of(token))
        elif alone and token not in WEEK_WORDS | OF_NO_MATTER | {"%"}:
            return None
    if len(kinds) > 1 or len(weeks) > 1 or not (kinds or weeks):
        return None
    kind, week = "".join(kinds), next(iter(weeks), None)
    if kind == "change" and percent:
        kind = "change_percent"
    if week == 0 and not kind:
        kind = "pre"
    return Time(kind, week)


def is_size(text: str) -> bool:
    """Whether a heading stands for n."""
    found = tokens(_BRACKETS.sub("", text))
    return bool(found) and set(found) <= SIZE_WORDS


def measure_of(text: str) -> str:
    """What a heading says stands below it: ``mean``, ``median``, a style of spread or ``n``.

    Empty where it says none of these, or more.
    """
    found = _MEASURE.fullmatch(text) if text else None
    if found is not None:
        return next(name for name in _MEASURES if found[name])
    return "n" if is_size(text) else ""


def is_corner(text: str) -> bool:
    """Whether a word heads the column of names, and says nothing of the numbers."""
    return set(tokens(text)) <= (OF_NO_MATTER - _OF_MEASURE) | WEEK_WORDS | _CORNER


def column_of(time: Time, columns: Sequence[str]) -> str:
    """The grid's column for a time; empty where none or several could be meant."""
    if time.kind == "pre":
        return "pre" if "pre" in columns and not time.week else ""
    kinds = [time.kind] if time.kind else list(KINDS)[1:]
    for kind in kinds:
        fitting = [
            column
            for column in columns
            if column.partition("@")[0] == kind
            and (time.week is None or decimal_of(column.partition("@")[2]) == time.week)
        ]
        if len(fitting) == 1:
            return fitting[0]
    return ""


def has_week(week: Decimal, columns: Sequence[str]) -> bool:
    """Whether a grid has a column for that week, or none yet for any."""
    weeks = {column.partition("@")[2] for column in columns} - {""}
    return not weeks or week == 0 or any(decimal_of(each) == week for each in weeks)


def same_name(label: str, arm: ArmForm) -> bool:
    """Whether a name is the arm's own."""
    return slug(_bare(label) or label, kind="row") == slug(arm.label, kind="arm")


def same_whole_name(label: str, arm: ArmForm) -> bool:
    """Whether a name is the arm's own, without anything in brackets beside it but n."""
    own = slug(arm.label, kind="arm")
    plain = " ".join(_GROUP_WORDS.sub("", N_NAMED.sub("", label)).split())
    return own in (slug(label, kind="row"), slug(plain, kind="row"))


def named_n(label: str) -> str:
    """n where a name gives it, as ``slow lowering (n = 20)`` does."""
    found = N_NAMED.findall(label)
    return found[0] if len(found) == 1 else ""


def _bare(label: str) -> str:
    """A name without n, what stands in brackets, and words such as group."""
    plain = _GROUP_WORDS.sub("", _BRACKETS.sub("", N_NAMED.sub("", label)))
    return " ".join(plain.split()).strip(" :,;-–")


def tokens(text: str) -> list[str]:
    """Words, numbers and signs of a text, in small letters."""
    joined: list[str] = []
    for token in _TOKEN.findall(text.casefold()[:500]):
        if token == "up" and joined and joined[-1] == "follow":
            joined[-1] = "followup"
        else:
            joined.append(token)
    return joined


def decimal_of(text: str) -> Decimal:
    """A number of weeks; -1 where it is none."""
    try:
        return Decimal(text.replace(",", "."))
    except InvalidOperation:
        return Decimal(-1)
