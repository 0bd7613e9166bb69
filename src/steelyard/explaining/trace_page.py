"""The trace on a page: every number a row to link to, every cell of a study an address."""

from __future__ import annotations

import re
from html import escape

from steelyard.explaining.ledger import ToldNumber
from steelyard.explaining.trace import EffectTrace, Trace
from steelyard.explaining.wording.catalogue import Catalogue

_NUMBER = re.compile(r"\d+(?:[.,]\d+)*")
# How far behind a number its unit may stand: behind the other end of an interval.
UNIT_WITHIN = 24


def linked(text: str, told: tuple[ToldNumber, ...], *, trace: Trace, words: Catalogue) -> str:
    """A line as HTML; every number in it leads to its own row of the trace.

    Parameters
    ----------
    text : str
    told : tuple of ToldNumber
        The numbers that this part of the page says.
    trace : Trace
    words : Catalogue

    Notes
    -----
    Two numbers may be written alike, 12 weeks and 12 N: the unit that follows first tells them
    apart, then the order. The denominator 100 is nobody's finding and has no row.
    """
    at_row = {number: at for at, number in enumerate(trace.numbers, 1)}
    weeks = words.say("phrase.weeks_one", weeks="").strip()
    parts, at, used = [], 0, set()
    for found in _NUMBER.finditer(text):
        alike = [each for each in told if each.text.lstrip("−") == found.group()]
        parts.append(escape(text[at : found.start()]))
        at = found.end()
        if not alike:
            parts.append(found.group())
            continue
        after = text[at : at + UNIT_WITHIN]
        best = min(alike, key=lambda each: (_unit_at(each, after, weeks), each in used))
        used.add(best)
        parts.append(f'<a class="number" href="#number-{at_row[best]}">{found.group()}</a>')
    return "".join([*parts, escape(text[at:])])


def trace_html(trace: Trace) -> str:
    """Three tables: numbers, what turned them into a unit, effects with their cells."""
    numbers = "".join(
        f'<tr id="number-{at}"><td>{escape(each.name)}</td>'
        f"<td>{escape(f'{each.text} {each.unit}'.strip())}</td><td>{each.value:.6g}</td>"
        f"<td>{_rests(trace, each)}</td></tr>"
        for at, each in enumerate(trace.numbers, 1)
    )
    turned = "".join(
        f'<tr id="turned-{at}"><td>{escape(place)}</td><td>{escape(value)}</td>'
        f"<td>{escape(source)}</td></tr>"
        for at, (place, value, source) in enumerate(trace.turned_by, 1)
    )
    effects = "".join(_effect(at, one) for at, one in enumerate(trace.effects, 1))
    titles = trace.tables()
    bodies = (numbers, turned, effects)
    return "".join(
        f"<table><caption>{escape(table.title)}</caption><thead><tr>"
        + "".join(f'<th scope="col">{escape(name)}</th>' for name in table.columns)
        + f"</tr></thead><tbody>{body}</tbody></table>"
        for table, body in zip(titles, bodies, strict=True)
        if body
    )


def _unit_at(told: ToldNumber, after: str, weeks: str) -> int:
    """How far behind a number its unit stands; far where it does not."""
    unit = weeks if told.name.startswith("weeks") else told.unit
    place = after.find(unit) if unit else -1
    return place if place >= 0 else UNIT_WITHIN


def _rests(trace: Trace, told: ToldNumber) -> str:
    rows = trace.rows_of(told)
    if rows:
        links = " ".join(
            f'<a href="#effect-{row}">{escape(trace.effects[row - 1].label)}</a>' for row in rows
        )
        return f"{escape(trace.rests(told))}: {links}"
    for at, (place, _, _) in enumerate(trace.turned_by, 1):
        if place == told.rests_on:
            return f'<a href="#turned-{at}">{escape(place)}</a>'
    return escape(told.rests_on)


def _effect(at: int, one: EffectTrace) -> str:
    cells = "".join(
        f'<div id="cell-{at}-{number}">{escape(cell.path)} = {escape(cell.printed)}</div>'
        for number, cell in enumerate(one.cells, 1)
    )
    where = dict.fromkeys(cell.where for cell in one.cells if cell.where)
    return (
        f'<tr id="effect-{at}"><td>{at}. {escape(one.label)}<br>studies/{escape(one.study)}.toml'
        f"</td><td>{escape(one.outcome)}: {escape(one.effect)}<br>weight {one.weight:.1f} %<br>"
        f"{escape(one.route)}</td><td>{cells}</td>"
        f"<td>{'<br>'.join(map(escape, where))}</td></tr>"
    )
