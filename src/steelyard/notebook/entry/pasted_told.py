"""What one heading or row's name tells, understood to its last word or not at all."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

from steelyard.notebook.entry.cell import STYLES
from steelyard.notebook.entry.pasted_words import (
    KIND_WORDS,
    N_NAMED,
    OF_NO_MATTER,
    SIZE_WORDS,
    WEEK_WORDS,
    Time,
    column_of,
    decimal_of,
    has_week,
    named_n,
    same_whole_name,
    tokens,
)
from steelyard.notebook.entry.state import KINDS, ArmForm, OutcomeForm
from steelyard.records.printed import brief

_LONGEST = 300
_MEASURES = {
    "sd": r"standard deviations?|s\.?d\.?s?",
    "se": r"standard errors?(?: of the means?)?|s\.?e\.?(?:m\.?)?",
    "ci90": r"90\s?%?\s?(?:c\.?i\.?|confidence intervals?)",
    "ci95": r"95\s?%?\s?(?:c\.?i\.?|confidence intervals?)",
    "ci99": r"99\s?%?\s?(?:c\.?i\.?|confidence intervals?)",
    "iqr": r"iqr|interquartile range",
    "range": r"range",
    "median": r"medians?",
    "mean": r"means?|average|m",
}
_MEASURE = re.compile(
    r"(?<![^\W_])(?:"
    + "|".join(f"(?P<{name}>{said})" for name, said in _MEASURES.items())
    + r")(?![^\W_])"
)
_PEOPLE_WITH = re.compile(r"\bpeople with it\b")
_TRAINING = frozenset(
    {
        *("s", "sec", "secs", "second", "seconds", "min", "minutes", "reps", "rep", "sets", "set"),
        *("kg", "rm", "x", "per", "session", "sessions", "rest", "rests", "load", "tempo"),
        *("lowering", "lifting", "%"),
    }
)
_SHORTEST_PART = 3


class NotUnderstood(ValueError):
    """A heading or name with a word that stands for nothing in the grid; says which, and why."""


@dataclass(frozen=True, slots=True)
class Told:
    """What a heading or name tells of the numbers below or behind it.

    Attributes
    ----------
    arm, column : str
        An arm's key and a column of the grid; empty where it tells none.
    centre, spread : str
        ``mean`` or ``median``; a key of `STYLES`; empty where it tells none.
    n : bool
        Whether the numbers are n.
    named : str
        n where the name of an arm gives it, as ``slow lowering (n = 20)`` does.
    """

    arm: str = ""
    column: str = ""
    centre: str = ""
    spread: str = ""
    n: bool = False
    named: str = ""

    @property
    def empty(self) -> bool:
        """Whether it tells nothing of the numbers."""
        return self == Told()

    def facets(self) -> set[str]:
        """Which of arm, time and measure it tells."""
        told = {"arm": self.arm, "time": self.column, "measure": self.centre or self.spread}
        return {name for name, value in told.items() if value or (name == "measure" and self.n)}

    def and_(self, other: Told) -> Told | None:
        """Both together; None where both tell the same thing."""
        if self.facets() & other.facets():
            return None
        return Told(
            self.arm or other.arm,
            self.column or other.column,
            self.centre or other.centre,
            self.spread or other.spread,
            self.n or other.n,
            self.named or other.named,
        )


def told(
    text: str, outcome: OutcomeForm, arms: Sequence[ArmForm], *, arm_first: bool = False
) -> Told:
    """Understand a heading or a row's name.

    Parameters
    ----------
    text : str
    outcome : OutcomeForm
        Its own name and unit may stand in a heading, and its columns are the times there are.
    arms : sequence of ArmForm
    arm_first : bool
        Whether an arm's name goes before words for times, as it does in names of rows.

    Raises
    ------
    NotUnderstood
        If some word of it is none of these.
    """
    if not text.strip():
        return Told()
    if len(text) > _LONGEST:
        raise NotUnderstood("it is too long for a heading")
    own = [arm for arm in arms if arm.label.strip()]
    for arm in own:
        if same_whole_name(text, arm):
            return Told(arm=arm.key, named=named_n(text))
    plain = " ".join(N_NAMED.sub(" ", text).casefold().split())
    ways = [_by_words, _by_name] if not arm_first else [_by_name, _by_words]
    why = NotUnderstood("it names nothing here")
    for way in (*ways, _by_part):
        try:
            found = way(plain, outcome, own)
        except NotUnderstood as error:
            why = error
            continue
        if found is not None:
            return replace(found, named=named_n(text)) if found.arm else found
    raise why


def _by_words(plain: str, outcome: OutcomeForm, arms: Sequence[ArmForm]) -> Told | None:
    return _words(plain, outcome)


def _by_name(plain: str, outcome: OutcomeForm, arms: Sequence[ArmForm]) -> Told | None:
    """An arm's whole name among other words; the longest, where names hold each other."""
    found = []
    for arm in arms:
        words = tokens(arm.label)
        pattern = r"[^\w%±∆]*".join(map(re.escape, words))
        match = re.search(rf"(?<![^\W_]){pattern}(?![^\W_])", plain) if words else None
        if match:
            found.append((match.end() - match.start(), match, arm))
    if not found:
        return None
    _, match, arm = max(found, key=lambda each: each[0])
    rest = f"{plain[: match.start()]} {plain[match.end() :]}"
    return _with_rest(arm, rest, outcome)


def _by_part(plain: str, outcome: OutcomeForm, arms: Sequence[ArmForm]) -> Told | None:
    """The start of one arm's name, such as ``usual`` for ``usual lifting``."""
    words = tokens(plain)
    while words and words[0] in OF_NO_MATTER:
        words.pop(0)
    if not words or words[0] in KIND_WORDS or len(words[0]) < _SHORTEST_PART:
        return None
    depths = {arm.key: _depth(words, tokens(arm.label)) for arm in arms}
    deepest = max(depths.values(), default=0)
    fitting = [arm for arm in arms if depths[arm.key] == deepest]
    if not deepest or len(fitting) > 1:
        return None
    return _with_rest(fitting[0], " ".join(words[deepest:]), outcome)


def _depth(words: Sequence[str], name: Sequence[str]) -> int:
    """How many words a name starts with; the last may be cut short."""
    depth = 0
    for word, own in zip(words, name, strict=False):
        if word != own:
            return depth + (len(word) >= _SHORTEST_PART and own.startswith(word))
        depth += 1
    return depth


def _with_rest(arm: ArmForm, rest: str, outcome: OutcomeForm) -> Told:
    """An arm with what else stands in its name: a time, a measure, or how the arm trains."""
    try:
        return replace(_words(rest, outcome), arm=arm.key)
    except NotUnderstood:
        initials = "".join(word[0] for word in tokens(arm.label))
        extra = _TRAINING | OF_NO_MATTER | {initials, f"{initials}g"}
        if all(word in extra or word[0].isdecimal() for word in tokens(rest)):
            return Told(arm=arm.key)
        raise


def _words(plain: str, outcome: OutcomeForm) -> Told:
    """Words for time, measure and n, beside the outcome's own name."""
    rest = _without_own_name(plain, outcome)
    measures: list[str] = []

    def take(match: re.Match[str]) -> str:
        measures.append(next(name for name in _MEASURES if match[name]))
        return " "

    rest = _MEASURE.sub(take, rest)
    with_it = bool(_PEOPLE_WITH.search(rest))
    time, sizes = _time(tokens(_PEOPLE_WITH.sub(" events ", rest)), outcome)
    centre, spread = _centre_and_spread(measures)
    column = _column(time, outcome) if time is not None else ""
    n = bool(sizes) and not with_it
    if n and (centre or spread):
        raise NotUnderstood(f"it says both n and {measures[0]}")
    return Told(column=column, centre=centre, spread=spread, n=n)


def _without_own_name(plain: str, outcome: OutcomeForm) -> str:
    for name in (outcome.label, outcome.measure):
        words = tokens(name)
        if words:
            pattern = r"[^\w%±∆]*".join(map(re.escape, words))
            plain = re.sub(rf"(?<![^\W_]){pattern}(?![^\W_])", " ", plain)
    unit = re.escape(outcome.unit.strip().casefold())
    if unit and unit != "%":
        plain = re.sub(rf"[(\[,/]\s?{unit}\s?(?=[)\],;]|$)", " ", plain)
    return plain


def _time(words: Sequence[str], outcome: OutcomeForm) -> tuple[Time | None, list[str]]:
    """The time that words name, and those for n; refuses all others."""
    kinds: dict[str, str] = {}
    weeks = set()
    sizes: list[str] = []
    own = set(tokens(outcome.label))
    for place, word in enumerate(words):
        beside = {*words[max(0, place - 1) : place], *words[place + 1 : place + 2]}
        if word in KIND_WORDS:
            kinds[KIND_WORDS[word]] = word
        elif word[0].isdecimal() and beside & WEEK_WORDS:
            weeks.add(decimal_of(word))
        elif word in SIZE_WORDS:
            sizes.append(word)
        elif word == "%" or (word in WEEK_WORDS and any(each[0].isdecimal() for each in beside)):
            continue
        elif word not in OF_NO_MATTER and word not in own:
            raise NotUnderstood(f"{brief(word)} stands for nothing here")
    if len(kinds) > 1 or len(weeks) > 1:
        raise NotUnderstood("it names two times")
    kind, week = "".join(kinds), next(iter(weeks), None)
    if "%" in words:
        if kind == "change":
            kind = "change_percent"
        elif kind != "events" and outcome.unit.strip() != "%":
            raise NotUnderstood("'%' stands for nothing here")
    if week == 0 and not kind:
        kind = "pre"
    return (Time(kind, week) if kind or week is not None else None), sizes


def _column(time: Time, outcome: OutcomeForm) -> str:
    columns = outcome.columns()
    column = column_of(time, columns)
    if column:
        return column
    if time.week is not None and not has_week(time.week, columns):
        raise NotUnderstood(f"the table has a week {time.week}, the grid has not")
    if not any(each.partition("@")[0] == time.kind for each in columns):
        kind = KINDS.get(time.kind, "a time between or later")
        raise NotUnderstood(f"the grid has no column {brief(kind)}")
    raise NotUnderstood("it could be several columns of the grid, or none: name the week")


def _centre_and_spread(measures: Sequence[str]) -> tuple[str, str]:
    spreads = [each for each in measures if each in STYLES]
    centres = [each for each in measures if each not in STYLES]
    if len(set(spreads)) > 1 or len(set(centres)) > 1:
        raise NotUnderstood(f"it names {' and '.join(measures)}")
    if spreads and centres and measures[0] in STYLES:
        raise NotUnderstood(f"it puts the {STYLES[spreads[0]]} before the {centres[0]}")
    return (centres[0] if centres else ""), (spreads[0] if spreads else "")
