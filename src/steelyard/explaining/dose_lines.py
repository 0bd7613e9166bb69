"""What to do, with its dose, line by line."""

from __future__ import annotations

from steelyard.explaining.explanation import Line
from steelyard.explaining.ledger import Ledger
from steelyard.records.recommendation import Recommendation

IN_WORDS = ("order", "range_of_motion", "notes")


def dose_lines(record: Recommendation, *, ledger: Ledger) -> list[Line]:
    """The statement and every part of the dose that is given."""
    lines = [Line(record.statement, own_words=True)]
    numbers = []
    for name in type(record.dose).model_fields:
        value = getattr(record.dose, name)
        if value is None:
            continue
        if name in IN_WORDS:
            text = ledger.words.say(f"dose.{name}", n=value)
            lines.append(Line(text[:1].upper() + text[1:], own_words=True))
            continue
        place = f"recommendations/{record.id}.toml dose.{name}"
        ends = [ledger.given(f"dose.{name}", end, rests_on=place) for end in value]
        n = ends[0]
        if ends[0] != ends[1]:
            n = ledger.words.say("phrase.number_span", low=ends[0], high=ends[1])
        numbers.append(ledger.words.say(f"dose.{name}", n=n))
    lines[1:1] = [Line(text[:1].upper() + text[1:] + ".") for text in numbers]
    return lines
