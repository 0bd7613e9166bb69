"""What to do, with its dose in one line."""

from __future__ import annotations

from steelyard.explaining.explanation import Line
from steelyard.explaining.ledger import Ledger
from steelyard.explaining.record_words import IN_THE_DOSE, RecordWords
from steelyard.explaining.wording.claim import capital
from steelyard.records.recommendation import Recommendation

SESSIONS = {1: "sessions_once", 2: "sessions_twice"}


def dose_lines(own: RecordWords, *, added: bool, ledger: Ledger) -> list[Line]:
    """The statement, the numbers of the dose in one line, and what it says in words.

    Parameters
    ----------
    own : RecordWords
    added : bool
        Whether its weekly sets come on top of a usual programme.
    ledger : Ledger
    """
    record = own.record
    lines = [own.line("statement", record.statement)]
    numbers = _numbers(record, added=added, ledger=ledger)
    if numbers:
        lines.append(Line(f"{capital(numbers)}."))
    for name in IN_THE_DOSE:
        value = getattr(record.dose, name)
        if value is not None:
            lines.append(own.line(name, ledger.words.say(f"dose.{name}", n=value)))
    return [*lines, *own.note("statement", *IN_THE_DOSE)]


def gives_dose(record: Recommendation) -> bool:
    """Whether it says what to do; one that only cautions names no part of a dose."""
    dose = record.dose
    return any(getattr(dose, name) is not None for name in type(dose).model_fields)


def _numbers(record: Recommendation, *, added: bool, ledger: Ledger) -> str:
    """How often: what a session holds; how much a week. What is not given is left out."""
    dose = record.dose

    def part(name: str, key: str) -> str:
        return _part(record, name, key, ledger=ledger)

    work = [part("sets", "sets")]
    work.append(part("reps", "reps_alone" if dose.sets is None else "reps"))
    if dose.exercises is not None and tuple(dose.exercises) != (1, 1):
        alone = dose.sets is None and dose.reps is None
        work.append(part("exercises", "exercises_alone" if alone else "exercises"))
    session = [_joined(" ", work), part("load_percent_1rm", "load")]
    session += [part("lowering_s", "lowering"), part("rest_s", "rest")]
    week = part("sets_per_week", "added" if added else "sets_per_week")
    what = _joined("; ", [_joined(", ", session), week])
    return _joined(": ", [part("sessions_per_week", "sessions"), what])


def _part(record: Recommendation, name: str, key: str, *, ledger: Ledger) -> str:
    value = getattr(record.dose, name)
    if value is None:
        return ""
    words, place = ledger.words, f"recommendations/{record.id}.toml dose.{name}"
    low, high = (ledger.given(f"dose.{name}", end, rests_on=place) for end in value)
    n = low if low == high else words.say("phrase.number_span", low=low, high=high)
    only = value[0] if low == high else None
    if key == "sessions":
        key = SESSIONS.get(only, key)
    elif only == 1 and f"dose_line.{key}_one" in words.messages:
        key = f"{key}_one"
    return words.say(f"dose_line.{key}", n=n)


def _joined(between: str, parts: list[str]) -> str:
    return between.join(part for part in parts if part)
