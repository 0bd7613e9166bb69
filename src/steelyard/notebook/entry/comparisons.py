"""A paper's own comparisons: from a record to the form, and back with what nobody touched."""

from __future__ import annotations

import copy
import re
from collections.abc import Mapping
from dataclasses import asdict
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from steelyard.notebook.entry.comparison_form import ComparisonForm
from steelyard.notebook.entry.entries import Entries
from steelyard.notebook.entry.fields import FieldReader
from steelyard.notebook.entry.printed_effect import EFFECTS, effect_text, read_effect, style_in
from steelyard.notebook.entry.said import known_as, said
from steelyard.records.cells import CellError, is_blank
from steelyard.records.printed import brief

if TYPE_CHECKING:
    from steelyard.notebook.entry.state import FormState

KNOWN_BY = ("outcome", "intervention", "comparator", "week")
MOST_EFFECTS = 2
_TEXTS = (
    *("week", "n_intervention", "n_comparator", "t", "f", "p", "of", "adjusted"),
    *("clusters_allowed_for", "where", "read_off", "checked_by"),
)
_WHOLE = ("n_intervention", "n_comparator")
_YES_NO = ("adjusted", "clusters_allowed_for")
_P = re.compile(
    r"(?:p\s*)?(?:=\s*)?(?P<bound><=|>=|[<>≤≥]?)\s*(?P<value>.*)", re.IGNORECASE | re.DOTALL
)


def load_comparisons(state: FormState, values: Mapping[str, Any]) -> None:
    """Put a record's comparisons into a form that has its arms and outcomes."""
    entries = values.get("comparison", ())
    outcomes = {outcome.id: outcome.key for outcome in state.outcomes}
    arms = {arm.id: arm.key for arm in state.arms}
    for number, (entry, name) in enumerate(
        zip(entries, known_as(entries, KNOWN_BY), strict=True), 1
    ):
        form = ComparisonForm(f"c{number}", id=name)
        form.outcome = outcomes.get(entry["outcome"], "")
        form.intervention = arms.get(entry["intervention"], "")
        form.comparator = arms.get(entry["comparator"], "")
        for key in _TEXTS:
            setattr(form, key, said(entry.get(key)))
        for kind in [kind for kind in EFFECTS if entry.get(kind) is not None][:MOST_EFFECTS]:
            style = style_in(entry[kind])
            text = effect_text(entry[kind], style)
            form.effects.append({"kind": kind, "style": style, "text": text})
        form.over = said((entry.get("standardised") or {}).get("over"))
        state.comparisons.append(form)


def read_comparisons(
    state: FormState,
    opened: FormState,
    base: Mapping[str, Any],
    *,
    arms: Mapping[str, str],
    outcomes: Mapping[str, str],
    read: FieldReader,
) -> Entries:
    """Read every comparison; parameters as for the grids."""
    old_entries = base.get("comparison", ())
    old = dict(zip(known_as(old_entries, KNOWN_BY), old_entries, strict=True))
    before = {each.id: each for each in opened.comparisons}
    found = Entries()
    for form in state.comparisons:
        if not form.id and untouched(form):
            continue
        name = f"comparison.{form.key}"
        entry = copy.deepcopy(old.get(form.id, {}))
        was = before.get(form.id, ComparisonForm(""))
        place = f"comparison[{len(found.values) + 1}]"
        where = {place: f"{name}.effect.1", f"{place}.standardised": f"{name}.effect.1"}
        _set_sides(entry, form, arms=arms, outcomes=outcomes, read=read)
        _set_week(entry, form, was, state=state, read=read)
        for key in (*_TEXTS[1:], "outcome", "intervention", "comparator", "week"):
            where[f"{place}.{key}"] = f"{name}.{key}"
        for key in _TEXTS[1:]:
            if getattr(form, key) != getattr(was, key):
                _put(entry, key, _value(read, f"{name}.{key}", key, getattr(form, key)))
        _set_effects(entry, form, was, read=read, where=where, place=place)
        if not any(entry.get(key) is not None for key in (*EFFECTS, "t", "f", "p")):
            read.tell(f"{name}.effect.1", "Type the effect, or t, F or p.", "needed")
            continue
        if any(key not in entry for key in KNOWN_BY):
            continue
        found.values.append(entry)
        found.where |= where
        found.ids[form.key] = ""
    for key, record_name in zip(found.ids, known_as(found.values, KNOWN_BY), strict=True):
        found.ids[key] = record_name
    return found


def untouched(form: ComparisonForm) -> bool:
    """Whether nothing but choices made beforehand stands in it."""
    typed = asdict(form)
    for name in ("key", "outcome", "intervention", "comparator", "effects"):
        del typed[name]
    effects = [effect.get("text", "") for effect in form.effects]
    return not any(text.strip() for text in (*typed.values(), *effects))


def _set_sides(
    entry: dict[str, Any],
    form: ComparisonForm,
    *,
    arms: Mapping[str, str],
    outcomes: Mapping[str, str],
    read: FieldReader,
) -> None:
    name = f"comparison.{form.key}"
    for key, known in (("outcome", outcomes), ("intervention", arms), ("comparator", arms)):
        chosen = known.get(getattr(form, key))
        if chosen is None:
            entry.pop(key, None)
            what = "the outcome" if key == "outcome" else "the arm"
            read.tell(f"{name}.{key}", f"Choose {what}.", "needed")
        else:
            entry[key] = chosen


def _set_week(
    entry: dict[str, Any],
    form: ComparisonForm,
    was: ComparisonForm,
    *,
    state: FormState,
    read: FieldReader,
) -> None:
    """The week typed; left blank, the outcome's, where it has one only."""
    name = f"comparison.{form.key}.week"
    text = form.week
    if is_blank(text):
        outcome = next((each for each in state.outcomes if each.key == form.outcome), None)
        weeks = outcome.week_texts() if outcome is not None else []
        if len(weeks) != 1:
            entry.pop("week", None)
            read.tell(name, "Say after how many weeks it was measured.", "needed")
            return
        text = weeks[0]
    elif text == was.week and "week" in entry:
        return
    week = read.number(name, text)
    if week is None or not 0 <= week <= 2000:
        entry.pop("week", None)
        if week is not None:
            read.tell(name, f"expected a week between 0 and 2000, found {brief(text)}")
        return
    if "week" not in entry or Decimal(str(entry["week"])) != week:
        entry["week"] = week


def _value(read: FieldReader, name: str, key: str, text: str) -> Any:
    if key in _WHOLE:
        return read.whole(name, text)
    if key in _YES_NO:
        return read.yes_no(name, text)
    if key in ("t", "f"):
        return read.number(name, text)
    return read_p(read, name, text) if key == "p" else read.words(name, text)


def read_p(read: FieldReader, name: str, text: str) -> Decimal | str | None:
    """``0.03``, ``p = 0.03``, or a bound such as ``<0.05``; None where blank or told."""
    if is_blank(text):
        return None
    if len(text) > 60:
        read.tell(name, f"expected a p-value, found {len(text):,} characters")
        return None
    parts = _P.fullmatch(text.strip())
    before = len(read.problems)
    value = read.number(name, parts["value"]) if parts else None
    told = len(read.problems) > before
    del read.problems[before:]
    if value is None or told or not 0 <= value <= 1:
        read.tell(
            name,
            "expected p such as 0.03, or a bound such as <0.05; words hold no number, "
            f"found {brief(text.strip())}",
        )
        return None
    if value == 0:
        read.tell(name, "expected a p above 0: no p is exactly 0; write the bound, such as <0.001")
        return None
    sign = parts["bound"].replace("≤", "<").replace("≥", ">")[:1]
    return f"{sign}{value:f}" if sign else value


def _set_effects(
    entry: dict[str, Any],
    form: ComparisonForm,
    was: ComparisonForm,
    *,
    read: FieldReader,
    where: dict[str, str],
    place: str,
) -> None:
    kept: set[str] = set()
    for at, effect in enumerate(form.effects, 1):
        name = f"comparison.{form.key}.effect.{at}"
        if effect in was.effects and effect.get("kind") in entry:
            kept.add(effect["kind"])
            where[f"{place}.{effect['kind']}"] = name
            continue
        try:
            found = read_effect(effect, marks=read.marks)
        except CellError as error:
            message = str(error)
            shown = "" if "found" in message else f", found {brief(effect['text'].strip())}"
            read.tell(name, f"{message}{shown}")
            continue
        if found is None:
            continue
        if found.kind in kept:
            read.tell(name, "This kind of effect stands here already: choose another.")
            continue
        kept.add(found.kind)
        where[f"{place}.{found.kind}"] = name
        entry[found.kind] = found.values
    for effect in was.effects:
        if effect["kind"] not in kept:
            entry.pop(effect["kind"], None)
    _set_over(entry, form, was, read=read)


def _set_over(
    entry: dict[str, Any], form: ComparisonForm, was: ComparisonForm, *, read: FieldReader
) -> None:
    standardised = entry.get("standardised")
    if standardised is None:
        if form.over:
            message = "This counts for a standardised difference only."
            read.tell(f"comparison.{form.key}.over", message, "hint")
        return
    if form.over != was.over or "over" not in standardised:
        entry["standardised"] = dict(standardised)
        _put(entry["standardised"], "over", form.over or None)


def _put(target: dict[str, Any], key: str, value: Any) -> None:
    if value is None:
        target.pop(key, None)
    else:
        target[key] = value
