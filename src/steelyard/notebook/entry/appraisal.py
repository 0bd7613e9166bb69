"""Answers about how a study was run, and overrulings: between record and form."""

from __future__ import annotations

import copy
import datetime as dt
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from steelyard.notebook.entry.entries import Entries
from steelyard.notebook.entry.fields import FieldReader
from steelyard.notebook.entry.overruling_form import OverrulingForm
from steelyard.notebook.entry.said import known_as, said
from steelyard.records.appraisal import FACTS, NOT_REPORTED

if TYPE_CHECKING:
    from steelyard.notebook.entry.state import FormState

KNOWN_BY = ("domain", "outcome", "date")
_TYPED = ("domain", "outcome", "concern", "reason", "by")


def load_appraisal(state: FormState, values: Mapping[str, Any]) -> None:
    """Put a record's answers, overrulings and scores into a form that has its outcomes."""
    keys = {outcome.id: outcome.key for outcome in state.outcomes}
    for fact in FACTS:
        given = values.get("appraisal", {}).get(fact)
        if given is None:
            continue
        given = {"answer": given} if isinstance(given, str) else given
        state.answers[fact] = {name: said(given.get(name)) for name in ("answer", "where")}
        for outcome, answer in given.get("by_outcome", {}).items():
            state.exceptions.append(
                {"fact": fact, "outcome": keys.get(outcome, ""), "answer": said(answer)}
            )
    entries = values.get("appraisal_overruling", ())
    for number, (entry, name) in enumerate(
        zip(entries, known_as(entries, KNOWN_BY), strict=True), 1
    ):
        form = OverrulingForm(f"v{number}", id=name)
        for key in ("domain", "concern", "reason", "by", "date"):
            setattr(form, key, said(entry.get(key)))
        form.outcome = keys.get(said(entry.get("outcome")), "")
        state.overrulings.append(form)
    scores = values.get("design", {}).get("scores", {})
    state.scores = {str(name): said(score) for name, score in scores.items()}


def read_answers(
    state: FormState,
    opened: FormState,
    base: Mapping[str, Any],
    *,
    outcomes: Mapping[str, str],
    read: FieldReader,
) -> dict[str, Any] | None:
    """The record's table of answers; None where no question is answered.

    Parameters
    ----------
    state, opened : FormState
        As typed, and as it was when an existing study was opened.
    base : mapping
        The values of that study.
    outcomes : mapping
        Ids by the form's keys.
    read : FieldReader
    """
    made = copy.deepcopy(dict(base.get("appraisal", {})))
    ids_before = {outcome.key: outcome.id for outcome in opened.outcomes}
    for fact in FACTS:
        now, was = _plain(state, fact, outcomes), _plain(opened, fact, ids_before)
        _tell(state, fact, now, read)
        if now == was:
            continue
        if not now["answer"]:
            made.pop(fact, None)
            continue
        where = read.words(f"answer.{fact}.where", now["where"])
        parts = {"answer": now["answer"], "where": where, "by_outcome": now["by_outcome"] or None}
        parts = {name: value for name, value in parts.items() if value is not None}
        made[fact] = parts["answer"] if len(parts) == 1 else parts
    return made or None


def read_overrulings(
    state: FormState,
    opened: FormState,
    base: Mapping[str, Any],
    *,
    outcomes: Mapping[str, str],
    read: FieldReader,
    today: dt.date,
) -> Entries:
    """Every overruling that is complete; what one lacks is told. A changed one is dated anew."""
    entries = base.get("appraisal_overruling", ())
    old = dict(zip(known_as(entries, KNOWN_BY), entries, strict=True))
    before = {each.id: each for each in opened.overrulings}
    ids_before = {outcome.key: outcome.id for outcome in opened.outcomes}
    found = Entries()
    for form in state.overrulings:
        entry = copy.deepcopy(dict(old.get(form.id, {})))
        if form.id not in before or _told(form, outcomes) != _told(before[form.id], ids_before):
            entry = _overruling(form, outcomes, read, today)
        if entry is None:
            continue
        found.values.append(entry)
        place, name = f"appraisal_overruling[{len(found.values)}]", f"overruling.{form.key}"
        found.where |= {place: f"{name}.reason"}
        found.where |= {f"{place}.{key}": f"{name}.{key}" for key in _TYPED}
        found.ids[form.key] = ""
    for key, record_name in zip(found.ids, known_as(found.values, KNOWN_BY), strict=True):
        found.ids[key] = record_name
    return found


def read_scores(
    state: FormState, opened: FormState, base: Mapping[str, Any], *, read: FieldReader
) -> dict[str, Any] | None:
    """Printed scores by name: a number where it is one, else the paper's words."""
    made = dict(base.get("design", {}).get("scores", {}))
    for name in {**opened.scores, **state.scores}:
        text = state.scores.get(name, "")
        if text == opened.scores.get(name, ""):
            continue
        before = len(read.problems)
        value = read.number(f"scores.{name}", text)
        if len(read.problems) > before:
            # Words such as "7 of 10" are kept as the paper prints them.
            del read.problems[before:]
            value = read.words(f"scores.{name}", text)
        if value is None:
            made.pop(name, None)
        else:
            made[name] = value
    return made or None


def _plain(state: FormState, fact: str, ids: Mapping[str, str]) -> dict[str, Any]:
    """What is answered to one question, outcomes by their ids."""
    given = state.answers.get(fact, {})
    by_outcome = {
        ids[each["outcome"]]: each["answer"]
        for each in state.exceptions
        if each.get("fact") == fact and each.get("answer") and each.get("outcome") in ids
    }
    return {
        "answer": given.get("answer", ""),
        "where": given.get("where", ""),
        "by_outcome": by_outcome,
    }


def _tell(state: FormState, fact: str, now: dict[str, Any], read: FieldReader) -> None:
    if not now["answer"] and (now["where"].strip() or now["by_outcome"]):
        read.tell(f"answer.{fact}.answer", "Choose an answer as well.", "needed")
    if now["answer"] not in ("", NOT_REPORTED) and not now["where"].strip():
        read.tell(f"answer.{fact}.where", "Say where in the paper it stands.", "hint")
    for number, each in enumerate(state.exceptions, 1):
        started = each.get("fact") == fact
        if started and not (each.get("outcome") and each.get("answer")):
            message = "Choose the outcome and the answer that differs."
            read.tell(f"exception.{number}.answer", message, "needed")


def _told(form: OverrulingForm, ids: Mapping[str, str]) -> tuple[str, ...]:
    return (form.domain, ids.get(form.outcome, ""), form.concern, form.reason, form.by)


def _overruling(
    form: OverrulingForm, outcomes: Mapping[str, str], read: FieldReader, today: dt.date
) -> dict[str, Any] | None:
    name = f"overruling.{form.key}"
    blank = not any(text.strip() for text in (form.concern, form.reason, form.by))
    if blank and not form.id:
        return None
    reason = read.words(f"{name}.reason", form.reason)
    by = read.words(f"{name}.by", form.by)
    if not form.concern:
        read.tell(f"{name}.concern", "Choose low, some or high.")
    if not form.reason.strip():
        read.tell(f"{name}.reason", "Say why: an overruling without a reason does not count.")
    if not form.by.strip():
        read.tell(f"{name}.by", "Give your name.")
    if not form.concern or not reason or not by:
        return None
    entry = {"domain": form.domain, "concern": form.concern, "reason": reason, "by": by}
    entry["date"] = today
    if form.outcome in outcomes:
        entry["outcome"] = outcomes[form.outcome]
    return entry
