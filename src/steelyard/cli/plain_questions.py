"""The questions that make a recommendation, asked one by one in a terminal."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from decimal import Decimal, InvalidOperation
from typing import Any

import click

from steelyard.judging.dose import usual_dose
from steelyard.library import Library
from steelyard.records.slugs import slug

NEW = "a new question"
_METRICS = (
    ("standardised", "in standard deviations between people (fits any mix of measures)"),
    ("raw", "in the unit measured (all studies must have used the same)"),
    ("percent", "in percent"),
    ("risk-ratio", "as a ratio of risks (of injuries, for instance)"),
)
_TEXTS = (
    ("for_whom", "For whom is it?"),
    ("not_for_whom", "For whom is it not?"),
    ("cost", "What does it cost them, in time or soreness?"),
    ("risk", "What is the risk?"),
    ("alternatives", "What could they do instead?"),
    ("would_change", "What would change your mind?"),
)
_SPANS = (
    ("sessions_per_week", "Sessions a week"),
    ("sets_per_week", "Sets a week"),
    ("sets", "Sets of each exercise"),
    ("exercises", "Exercises a session"),
    ("reps", "Repetitions"),
    ("load_percent_1rm", "Load, in % of the one-repetition maximum"),
    ("rest_s", "Rest between sets, in seconds"),
    ("lowering_s", "Seconds on the way down"),
)
_COSTS = ("small", "medium", "large")


def ask(library: Library) -> dict[str, Any]:
    """Ask for everything a recommendation and its question need.

    Returns
    -------
    dict
        As `make_recommendation` takes it.
    """
    click.echo("Plain questions; Enter leaves out what is in brackets [not said].\n")
    answers: dict[str, Any] = {"schema": 1}
    if library.studies and all(study.invented for study in library.studies.values()):
        answers["invented"] = True
        click.echo("All studies of this library are invented, and so this will say it is.\n")
    answers["statement"] = _needed("What do you recommend, in one sentence?")
    answers["id"] = _free_id(
        "A short name for it", answers["statement"], library.recommendations, "recommendation"
    )
    known = list(library.questions)
    chosen = _some_of(
        "On which question does it rest? (the one that matters most first, if several)",
        [*((each, library.questions[each].asks) for each in known), (NEW, "")],
    )
    if NEW in chosen:
        answers["question"] = _new_question(library, invented="invented" in answers)
        chosen[chosen.index(NEW)] = answers["question"]["id"]
    answers["questions"] = chosen
    sites = [(word.id, word.label) for word in library.vocabulary.sites]
    text = "Of which part of the body does it speak? (marks what is carried over from others)"
    if sites and (where := _some_of(text, sites, needed=False)):
        answers["sites"] = where
    for key, text in _TEXTS:
        if said := _optional(text):
            answers[key] = said
        if key == "cost":
            size = _optional(f"How large a cost is that ({', '.join(_COSTS)})?", _cost)
            answers |= {"cost_size": size} if size else {}
    if _optional("Is it work on its own for one small muscle group (yes, no)?", _yes):
        answers["small_muscle_isolation"] = True
        click.echo(f"  usual there: {_usual()}")
    click.echo("\nThe dose: a number, or a span such as 6-8.")
    dose = {key: span for key, text in _SPANS if (span := _optional(text, _span)) is not None}
    for key, text in (("order", "When in the session"), ("range_of_motion", "Range of motion")):
        if said := _optional(text):
            dose[key] = said
    if dose:
        answers["dose"] = dose
    click.confirm("\nWrite it?", default=True, abort=True)
    return answers


def _new_question(library: Library, *, invented: bool) -> dict[str, Any]:
    vocabulary = library.vocabulary
    tags = [(word.id, word.label) for word in vocabulary.tags]
    question: dict[str, Any] = {"schema": 1} | ({"invented": True} if invented else {})
    question["asks"] = _needed("\nWhat is asked, in one sentence?")
    question["id"] = _free_id(
        "A short name for the question", question["asks"], library.questions, "question"
    )
    if whom := _optional("About whom?"):
        question["whom"] = whom
    question["intervention"] = _some_of("What is tried? (arms that have any of these)", tags)
    question["comparator"] = _some_of("Against what?", tags)
    question["constructs"] = _some_of(
        "What is measured?", [(word.id, word.label) for word in vocabulary.constructs]
    )
    sites = [(word.id, word.label) for word in vocabulary.sites]
    if sites and (where := _some_of("Where on the body?", sites, needed=False)):
        question["sites"] = where
    question["metric"] = _one_of("How shall the effect be told?", list(_METRICS))
    worthwhile = _optional(
        "The smallest effect worth having, in that unit (for a ratio such as 0.8 or 1.25)", _number
    )
    if worthwhile is not None:
        question["smallest_worthwhile"] = worthwhile
        question["smallest_worthwhile_source"] = _needed("Why that much?")
    return question


def _needed(text: str) -> str:
    while True:
        said = click.prompt(text, prompt_suffix="\n> ").strip()
        if said:
            return said


def _optional(text: str, read: Callable[[str], Any] = str) -> Any:
    """An answer, or None where it is left out; asked again until it is understood."""
    while True:
        said = click.prompt(f"{text} [not said]", default="", show_default=False).strip()
        if not said:
            return None
        try:
            return read(said)
        except ValueError as problem:
            click.echo(f"  {problem}")


def _free_id(text: str, sentence: str, taken: Iterable[str], kind: str) -> str:
    suggested = "-".join(slug(sentence, kind=kind).split("-")[:5])
    while True:
        said = click.prompt(text, default=suggested).strip()
        name = slug(said, kind=kind)
        if name != said:
            click.echo(f"  expected lower-case letters, digits and hyphens, as in {name}")
        elif name in taken:
            click.echo(f"  {name} is taken: choose another")
        else:
            return name


def _list(options: list[tuple[str, str]]) -> None:
    for number, (word, label) in enumerate(options, 1):
        more = "" if not label or label == word.replace("-", " ") else f": {label}"
        click.echo(f"  {number} {word}{more}")


def _one_of(text: str, options: list[tuple[str, str]]) -> str:
    click.echo(f"\n{text}")
    _list(options)
    while True:
        try:
            return _found(click.prompt("number or name"), options)
        except ValueError as problem:
            click.echo(f"  {problem}")


def _some_of(text: str, options: list[tuple[str, str]], *, needed: bool = True) -> list[str]:
    click.echo(f"\n{text}")
    _list(options)
    while True:
        # Without a vocabulary there is nothing to choose from, and any word goes.
        asked = "numbers or names, with commas" + ("" if needed else " [not said]")
        said = click.prompt(asked, default=None if needed else "", show_default=False)
        parts = [part.strip() for part in said.split(",") if part.strip()]
        if not parts and not needed:
            return []
        try:
            if parts:
                return list(dict.fromkeys(_found(part, options) for part in parts))
        except ValueError as problem:
            click.echo(f"  {problem}")


def _found(said: str, options: list[tuple[str, str]]) -> str:
    said = said.strip()
    if not options:
        return said
    if said.isascii() and said.isdigit() and 1 <= int(said) <= len(options):
        return options[int(said) - 1][0]
    for word, label in options:
        if said.casefold() in (word.casefold(), label.casefold()):
            return word
    raise ValueError(f"expected one of 1 to {len(options)}, or its name; found {said!r}")


def _cost(said: str) -> str:
    if said.casefold() not in _COSTS:
        raise ValueError(f"expected {', '.join(_COSTS)}; found {said!r}")
    return said.casefold()


def _yes(said: str) -> bool:
    if said.casefold() not in ("yes", "y", "no", "n"):
        raise ValueError(f"expected yes or no; found {said!r}")
    return said.casefold() in ("yes", "y")


def _usual() -> str:
    """What is usual for a small muscle group, in one line."""
    usual = usual_dose()
    parts = [f"{usual[key]} {text.lower()}" for key, text in _SPANS if key in usual]
    return f"{', '.join(parts)} ({usual['source']})"


def _number(said: str) -> Decimal:
    try:
        number = Decimal(said.replace(",", "."))
    except InvalidOperation:
        raise ValueError(f"expected a number, found {said!r}") from None
    if not number.is_finite() or number <= 0:
        raise ValueError(f"expected a number above 0, found {said!r}")
    return number


def _span(said: str) -> list[Decimal]:
    ends = said.replace(" to ", "-").replace("–", "-").split("-")
    if len(ends) > 2:
        raise ValueError(f"expected a number or a span such as 6-8, found {said!r}")
    low, high = _number(ends[0]), _number(ends[-1])
    if low > high:
        raise ValueError(f"expected the lower end first, found {said!r}")
    return [low, high]
