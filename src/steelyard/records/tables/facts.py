"""What several rows say of one thing (a study, an outcome, an arm) must agree."""

from __future__ import annotations

import functools
import re
from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from steelyard.records.printed import brief
from steelyard.records.slugs import slug
from steelyard.records.tables.columns import plain_name
from steelyard.records.tables.rows import ProblemList, TableRow

_YES_NO = {
    **dict.fromkeys(("yes", "y", "true", "1"), True),
    **dict.fromkeys(("no", "n", "false", "0"), False),
}
_CHOICES = {
    "design": ("parallel", "crossover", "within-person", "single-group", "cluster"),
    "training_status": ("untrained", "recreational", "trained", "highly-trained", "mixed"),
    "better": ("higher", "lower"),
    "metric": (
        *("raw", "standardised", "percent", "risk-ratio", "odds-ratio", "risk-difference"),
        "variability-ratio",
    ),
}
_METRIC_SPELLINGS = {"standardized": "standardised"}
_DOI_PREFIX = re.compile(r"^(?:https?://(?:dx\.)?doi\.org/|doi:\s*)", re.IGNORECASE)


class NotUnderstood(ValueError):
    """A cell of words that is not one of those expected; the message says which are."""


def agreed(
    rows: Sequence[TableRow], columns: Sequence[str], problems: ProblemList
) -> dict[str, Any]:
    """The value of each column over rows that speak of one thing; blank agrees with all.

    Where rows differ, the first one stands and the later ones are listed.
    """
    values: dict[str, Any] = {}
    said_in: dict[str, int] = {}
    for row in rows:
        for column in columns:
            value = read_fact(row, column, problems)
            if value is None:
                continue
            if column not in values:
                values[column], said_in[column] = value, row.number
            elif not _same(value, values[column]):
                message = (
                    f"expected {brief(_words(values[column]))} as in row {said_in[column]}, "
                    f"found {brief(_words(value))}"
                )
                problems.add(row.number, column, "disagrees", message)
    return values


def read_fact(row: TableRow, column: str, problems: ProblemList) -> Any:
    """One cell of words as what it means, or None where it is blank or not understood."""
    if column in row.numbers:
        return row.numbers[column]
    text = row.texts.get(column)
    if text is None:
        return None
    try:
        return _meaning(column, text)
    except NotUnderstood as error:
        problems.add(row.number, column, "not-understood", f"{error}, found {brief(text)}")
        return None


@functools.lru_cache(maxsize=20_000)
def _meaning(column: str, text: str) -> Any:
    if column in ("randomised", "invented"):
        return _yes_no(text)
    if column in _CHOICES:
        return _choice(text, _CHOICES[column])
    if column == "authors":
        return people(text)
    if column == "doi":
        return _DOI_PREFIX.sub("", text)
    if column in ("tags", "intervention_tags", "comparator_tags"):
        return tuple(dict.fromkeys(slug(tag, kind="tag") for tag in tag_words(text)))
    if column in ("construct", "site"):
        return slug(text, kind=column)
    return text


def tag_words(text: str) -> list[str]:
    """The words of a tags cell, parted by semicolons or commas."""
    return [word for part in re.split(r"[;,]", text) if (word := part.strip())]


def people(text: str) -> tuple[dict[str, str], ...]:
    """Authors, parted by semicolons or "and", each ``Family, Given`` or as it stands."""
    authors = []
    for part in re.split(r";|\s+and\s+|\s+&\s+", text):
        name = part.strip()
        if not name:
            continue
        family, comma, given = (piece.strip() for piece in name.partition(","))
        if "," in given or (comma and not family):
            raise NotUnderstood('expected authors such as "Oxmere, A.; Fell, B."')
        if given:
            authors.append({"family": family, "given": given})
        else:
            authors.append({"literal" if " " in family else "family": family})
    return tuple(authors)


def _yes_no(text: str) -> bool:
    answer = _YES_NO.get(text.casefold())
    if answer is None:
        raise NotUnderstood("expected yes or no")
    return answer


def _choice(text: str, choices: Sequence[str]) -> str:
    plain = plain_name(text)
    plain = _METRIC_SPELLINGS.get(plain, plain)
    for choice in choices:
        if plain == plain_name(choice):
            return choice
    raise NotUnderstood(f"expected one of {', '.join(choices)}")


def _same(one: Any, other: Any) -> bool:
    if isinstance(one, str) and isinstance(other, str):
        return one.casefold() == other.casefold()
    if isinstance(one, tuple) and all(isinstance(part, str) for part in one):
        return set(one) == set(other)
    return one == other


def _words(value: Any) -> Any:
    if isinstance(value, tuple):
        return "; ".join(p if isinstance(p, str) else ", ".join(p.values()) for p in value)
    return value if isinstance(value, bool | Decimal) else str(value)
