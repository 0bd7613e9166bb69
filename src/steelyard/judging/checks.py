"""What a check of a library says beyond faults in its files: empty, read once, and due."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path

from steelyard.effects.table import EffectTable
from steelyard.errors import Finding, RecordError
from steelyard.judging.age import last_read_long_ago
from steelyard.judging.told import told_by_question
from steelyard.records.recommendation import Recommendation
from steelyard.records.study import Study

NO_ANSWER = "there is no answer any more"
EVIDENCE_OTHER = "the evidence is not the same as when it was told"


def empty_question_findings(tables: Mapping[str, EffectTable]) -> Iterator[Finding]:
    """A warning per question that finds no effect, with the reasons."""
    for question_id, table in tables.items():
        if not table.rows.empty:
            continue
        message = "finds no effect: no study has the arms and outcomes it asks for"
        if table.left_out:
            reasons = {out.reason for out in table.left_out}
            message = f"finds no effect: {'; '.join(sorted(reasons))}"
        yield Finding(f"questions/{question_id}.toml", "", "warning", "empty-question", message)


def read_once_findings(studies: Mapping[str, Study], *, folder: Path) -> Iterator[Finding]:
    """What only one person has read; a second reading with faults is told and stops no other."""
    # Only a check needs it, and with it come the readers of tables and references.
    from steelyard.records.read_once import single_read

    for name, study in studies.items():
        try:
            yield from single_read({name: study}, folder=folder)
        except RecordError as error:
            yield from error.findings


def review_findings(
    recommendations: Mapping[str, Recommendation],
    *,
    fingerprints: Mapping[str, str],
    today: dt.date,
) -> Iterator[Finding]:
    """What the dates and the told numbers of recommendations call for.

    Parameters
    ----------
    recommendations : mapping of str to Recommendation
    fingerprints : mapping of str to str
        Evidence fingerprint of every question, as it is now.
    today : date

    Yields
    ------
    Finding
        A warning for a review or an overruling dated in the future; a note where a
        recommendation is due for reading again.
    """
    for each in recommendations.values():
        file = f"recommendations/{each.id}.toml"
        ahead = [("reviewed", each.reviewed)]
        ahead += [(f"override[{at}].date", by.date) for at, by in enumerate(each.overrides, 1)]
        for place, date in ahead:
            if date is not None and date > today:
                message = f"expected a date up to today, {today}, found {date}"
                yield Finding(file, place, "warning", "date-in-the-future", message)
        for reason in due_reasons(each, fingerprints, today=today):
            yield Finding(
                file, "reviewed", "note", "due-for-reading", f"due for reading again: {reason}"
            )


def due_reasons(
    recommendation: Recommendation, fingerprints: Mapping[str, str], *, today: dt.date
) -> Iterator[str]:
    """Why a recommendation should be read again; none if it need not.

    Parameters
    ----------
    recommendation : Recommendation
    fingerprints : mapping of str to str
        Of the evidence behind each question as it is now; those without an answer are not in it.
    today : date
    """
    reviewed, told = recommendation.reviewed, told_by_question(recommendation)
    if reviewed is None or not told:
        yield "nobody has reviewed it yet" if reviewed is None else "its review told no numbers"
    elif reviewed > today:
        yield f"its review is dated {reviewed}, in the future"
    elif long_ago := last_read_long_ago(reviewed, today):
        yield long_ago
    for question in recommendation.questions:
        if told and question not in told and question in fingerprints:
            yield f"its review told no numbers of {question}"
        if question in told and question not in fingerprints:
            yield of_question(recommendation.questions, question) + NO_ANSWER
        elif question in told and told[question].fingerprint != fingerprints[question]:
            yield evidence_other(recommendation.questions, question)


def evidence_other(questions: Sequence[str], question: str) -> str:
    """That the evidence is another; names the question where there are several."""
    return of_question(questions, question) + EVIDENCE_OTHER


def of_question(questions: Sequence[str], question: str) -> str:
    """The question and a colon where there are several to choose from; nothing else."""
    return f"{question}: " if len(questions) > 1 else ""
