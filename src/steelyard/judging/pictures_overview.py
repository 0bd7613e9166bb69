"""All recommendations at a glance, as a picture shows them."""

from __future__ import annotations

from collections.abc import Mapping

import pandas as pd

from steelyard.judging.movers import PROBABLY
from steelyard.judging.overview import Reviews
from steelyard.judging.review import ANSWER_SAME, RECORDS_EDITED, Review
from steelyard.pooling.forest_data import TITLE_NOTE_INVENTED
from steelyard.pooling.pictures import CERTAINTY_WORDS, OverviewData
from steelyard.pooling.scale import stated_worthwhile
from steelyard.pooling.verdict import BETTER, EQUIVALENT, NOT_SETTLED, WORSE
from steelyard.records.vocabulary import Vocabulary
from steelyard.show import count

COLUMNS = [
    *("recommendation", "statement", "about", "estimate", "low", "high"),
    *("prediction_low", "prediction_high", "certainty", "reviewed", "changed"),
]
LONGEST = 90
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
        The surest first, among those equally sure the largest effect first. A recommendation
        without an answer, or without a smallest worthwhile effect, cannot be drawn and is named
        in the notes.
    """
    rows, notes, drawn = [], [], []
    for review in reviews.reviews:
        if review.now is None:
            notes.append(f"No answer to draw for {review.recommendation}: {review.problem}.")
        elif not review.weighing.worthwhile:
            notes.append(
                f"Not drawn: {review.recommendation}, whose question sets no smallest effect "
                "worth having."
            )
        else:
            rows.append(_row(review, vocabulary))
            drawn.append(review)
    if any(review.weighing.invented for review in drawn):
        notes.insert(0, TITLE_NOTE_INVENTED)
    levels = sorted({review.weighing.level for review in drawn})
    if len(levels) > 1:
        notes.append("The intervals are not all of the same level: see each page.")
    rows.sort(key=lambda row: (-CERTAINTY_WORDS.index(row["certainty"]), -row["estimate"]))
    table = pd.DataFrame(rows, columns=COLUMNS)
    return OverviewData(
        title="What we recommend, and how well it stands",
        subtitle=_sentence(drawn),
        notes=tuple(notes),
        recommendations=table,
        level=levels[0] if levels else 0.95,
    )


def short_statement(statement: str) -> str:
    """What to do, without its grounds: up to the colon or the first full stop, or shortened."""
    said = statement.split(": ")[0].split(". ")[0].rstrip(".")
    if len(said) <= LONGEST:
        return said
    return said[:LONGEST].rsplit(" ", 1)[0].rstrip(",;") + " …"


def changed_in_words(review: Review) -> str:
    """How the answer moved since it was told, and which studies moved it; empty if it did not."""
    if not review.moved or review.told is None:
        return ""
    if review.now is None:
        return "there is no answer any more"
    told, now, found = review.told, review.now, []
    if "verdict" in review.differs:
        found.append(f"verdict from '{told.verdict}' to '{now.verdict}'")
    if "certainty" in review.differs:
        found.append(f"certainty from {told.certainty} to {now.certainty}")
    if not found:
        weighing = review.weighing
        before, after = weighing.text(told.estimate), weighing.text(now.estimate)
        found.append("its interval a little" if before == after else f"from {before} to {after}")
    moved = [
        f"probably by {mover.study}" if mover.what == PROBABLY else f"{mover.study} {mover.what}"
        for mover in review.movers
    ]
    return "; ".join([", ".join(found), *moved[:2]]) + (" and more" if len(moved) > 2 else "")


def _row(review: Review, vocabulary: Vocabulary) -> Mapping:
    weighing, now = review.weighing, review.now
    numbers = {
        name: getattr(now, name) / weighing.worthwhile
        for name in ("estimate", "low", "high", "prediction_low", "prediction_high")
    }
    return {
        "recommendation": review.recommendation,
        "statement": short_statement(review.statement),
        "about": _about(review, vocabulary),
        **numbers,
        "certainty": review.certainty,
        "reviewed": "" if review.reviewed is None else f"{review.reviewed:%B %Y}",
        "changed": changed_in_words(review),
    }


def _about(review: Review, vocabulary: Vocabulary) -> str:
    """What is held against what, on which outcome, the size that counts as one; any edits."""
    question, weighing = review.weighing.question, review.weighing
    what = " or ".join(vocabulary.label("construct", each) for each in question.constructs)
    if question.sites:
        what += f" ({' or '.join(vocabulary.label('site', each) for each in question.sites)})"
    size = f"{stated_worthwhile(question)}{weighing.scale.unit}"
    sides = weighing.intervention
    if question.dose is None:
        sides += f" against {weighing.comparator}"
    else:
        size += f" for every {float(question.dose_step or 1):g} more"
    about = f"{sides}: {what}; 1 is {size}"
    quiet = review.told is not None and not review.moved and review.since_told
    if quiet in (RECORDS_EDITED, ANSWER_SAME):
        about += f". {quiet.capitalize()}"
    return about


def _sentence(reviews: list[Review]) -> str:
    if not reviews:
        return "There is no recommendation to draw."
    verdicts = [review.now.verdict for review in reviews]
    parts = [
        f"{amount} {_HELD[word][amount > 1]}" for word in _HELD if (amount := verdicts.count(word))
    ]
    moved = sum(review.moved for review in reviews)
    if moved:
        told = f"{moved} {'has' if moved == 1 else 'have'} moved since clients were told"
    else:
        told = "none has moved since clients were told"
    return f"Of {count(len(reviews), 'recommendation')}, {', '.join(parts)}; {told}."
