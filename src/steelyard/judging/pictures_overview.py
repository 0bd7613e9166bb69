"""All recommendations at a glance, as a picture shows them."""

from __future__ import annotations

from collections.abc import Mapping

import pandas as pd

from steelyard.judging.answer_review import (
    ANSWER_SAME,
    EVIDENCE_CHANGED,
    MOVED_RULE,
    AnswerReview,
)
from steelyard.judging.checks import NO_ANSWER
from steelyard.judging.movers import PERHAPS
from steelyard.judging.overview import Reviews
from steelyard.judging.review import Review
from steelyard.pooling.forest_data import TITLE_NOTE_INVENTED
from steelyard.pooling.pictures import CERTAINTY_WORDS, OverviewData
from steelyard.pooling.scale import stated_worthwhile
from steelyard.pooling.verdict import BETTER, EQUIVALENT, NOT_SETTLED, WORSE
from steelyard.records.question import COUNT_METRICS
from steelyard.records.vocabulary import Vocabulary
from steelyard.show import count

COLUMNS = [
    *("recommendation", "statement", "about", "estimate", "low", "high"),
    *("prediction_low", "prediction_high", "certainty", "verdict", "reviewed", "changed"),
]
_IN_BRIEF = {
    BETTER: "better by enough",
    EQUIVALENT: "about the same",
    WORSE: "worse by enough",
    NOT_SETTLED: NOT_SETTLED,
}
_TIMES = {"risk-ratio": " times the risk", "odds-ratio": " times the odds"}
_HELD = {
    BETTER: ("helps by enough to matter", "help by enough to matter"),
    EQUIVALENT: ("comes to the same", "come to the same"),
    WORSE: ("does harm", "do harm"),
    NOT_SETTLED: ("is not settled", "are not settled"),
}


def overview_data(reviews: Reviews, vocabulary: Vocabulary) -> OverviewData:
    """Size in smallest worthwhile effects, certainty, last review and what moved since told.

    Parameters
    ----------
    reviews : Reviews
    vocabulary : Vocabulary
        For the outcomes in words.

    Returns
    -------
    OverviewData
        A row per question behind a recommendation, a recommendation's rows together: the surest
        first, among those equally sure the largest effect first. An answer that is not there,
        or that has no smallest worthwhile effect, cannot be drawn and is named in the notes.
    """
    groups, notes, drawn = [], [], []
    for review in reviews.reviews:
        rows = []
        if review.unreadable:
            notes.append(f"No answer to draw for {review.recommendation}: {review.unreadable}.")
        for answer in review.answers:
            if answer.now is None:
                notes.append(f"No answer to draw for {review.name_of(answer)}: {answer.problem}.")
            elif not answer.weighing.worthwhile:
                notes.append(
                    f"Not drawn: {review.name_of(answer)}, whose question sets no smallest effect "
                    "worth having."
                )
            else:
                rows.append(_row(review, answer, vocabulary))
                drawn.append((review, answer))
        if rows:
            groups.append(rows)
    if any(answer.weighing.invented for _, answer in drawn):
        notes.insert(0, TITLE_NOTE_INVENTED)
    if any(answer.told is not None for _, answer in drawn):
        notes.append(MOVED_RULE)
    levels = sorted({answer.weighing.level for _, answer in drawn})
    if len(levels) > 1:
        notes.append("The intervals are not all of the same level: see each page.")
    groups.sort(
        key=lambda rows: (
            -min(CERTAINTY_WORDS.index(row["certainty"]) for row in rows),
            -rows[0]["estimate"],
        )
    )
    table = pd.DataFrame([row for rows in groups for row in rows], columns=COLUMNS)
    return OverviewData(
        title="What we recommend, and how well it stands",
        subtitle=_sentence(drawn),
        notes=tuple(notes),
        recommendations=table,
        level=levels[0] if levels else 0.95,
    )


def short_statement(statement: str) -> str:
    """What to do, without its grounds: up to the colon or the first full stop, never cut."""
    return statement.split(": ")[0].split(". ")[0].rstrip(".")


def changed_in_words(answer: AnswerReview) -> str:
    """How the answer moved since it was told, and which studies moved it; empty if it did not."""
    if not answer.moved or answer.told is None:
        return ""
    if answer.now is None:
        return NO_ANSWER
    told, now, found = answer.told, answer.now, []
    if "verdict" in answer.differs:
        found.append(f"verdict from '{told.verdict}' to '{now.verdict}'")
    if "certainty" in answer.differs:
        found.append(f"certainty from {told.certainty} to {now.certainty}")
    if not found:
        weighing = answer.weighing
        before, after = weighing.text(told.estimate), weighing.text(now.estimate)
        found.append("its interval a little" if before == after else f"from {before} to {after}")
    moved = [
        f"perhaps by {mover.study}" if mover.what == PERHAPS else f"{mover.study} {mover.what}"
        for mover in answer.movers
    ]
    return "; ".join([", ".join(found), *moved[:2]]) + (" and more" if len(moved) > 2 else "")


def _row(review: Review, answer: AnswerReview, vocabulary: Vocabulary) -> Mapping:
    weighing, now = answer.weighing, answer.now
    numbers = {
        name: getattr(now, name) / weighing.worthwhile
        for name in ("estimate", "low", "high", "prediction_low", "prediction_high")
    }
    return {
        "recommendation": review.recommendation,
        "statement": short_statement(review.statement)
        if answer is review.first
        else f"It also rests on: {weighing.question.asks}",
        "about": _about(answer, vocabulary),
        **numbers,
        "certainty": answer.certainty,
        "verdict": _IN_BRIEF.get(now.verdict, ""),
        "reviewed": "" if review.reviewed is None else f"{review.reviewed:%B %Y}",
        "changed": changed_in_words(answer),
    }


def _about(answer: AnswerReview, vocabulary: Vocabulary) -> str:
    """What is held against what, on which outcome, the size that counts as one; any edits."""
    question, weighing = answer.weighing.question, answer.weighing
    what = " or ".join(vocabulary.label("construct", each) for each in question.constructs)
    if question.sites:
        what += f" ({' or '.join(vocabulary.label('site', each) for each in question.sites)})"
    size = f"{stated_worthwhile(question)}{weighing.scale.unit}{_TIMES.get(question.metric, '')}"
    sides = weighing.intervention
    if question.dose is None:
        sides += f" against {weighing.comparator}"
    else:
        size += f" for every {float(question.dose_step or 1):g} more"
    about = f"{sides}: {what}; 1 is {size}"
    if weighing.scale.turned:
        about += f", and better is {'fewer' if question.metric in COUNT_METRICS else 'less'}"
    quiet = answer.told is not None and not answer.moved and answer.since_told
    if quiet in (EVIDENCE_CHANGED, ANSWER_SAME):
        about += f". {quiet.capitalize()}"
    return about


def _sentence(drawn: list[tuple[Review, AnswerReview]]) -> str:
    if not drawn:
        return "There is no recommendation to draw."
    verdicts = [answer.now.verdict for _, answer in drawn]
    parts = [
        f"{amount} {_HELD[word][amount > 1]}" for word in _HELD if (amount := verdicts.count(word))
    ]
    moved = sum(answer.moved for _, answer in drawn)
    if moved:
        told = f"{moved} {'has' if moved == 1 else 'have'} moved since clients were told"
    else:
        told = "none has moved since clients were told"
    said = count(len({review.recommendation for review, _ in drawn}), "recommendation")
    if any(len(review.answers) > 1 for review, _ in drawn):
        said = f"{count(len(drawn), 'answer')} behind {said}"
    return f"Of {said}, {', '.join(parts)}; {told}."
