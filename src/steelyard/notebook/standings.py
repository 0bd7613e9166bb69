"""Told against now, for every recommendation: what moved, what is due, what to mind."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable

from steelyard.explaining.page_caution import INVENTED_DATA
from steelyard.judging.answer_review import MOVED_RULE, NOTHING_CHANGED, AnswerReview, as_recorded
from steelyard.judging.overview import Reviews
from steelyard.judging.pictures_overview import changed_in_words, overview_data
from steelyard.judging.review import Review
from steelyard.library import Library
from steelyard.notebook.drawn import Drawn
from steelyard.notebook.stack import Sentence
from steelyard.show import Table, count

UNBROKEN = "\u00a0"
STANDING = ("recommendation", "told", "now", "what moved")
DUE = ("recommendation", "why")
MIND = ("recommendation", "mind")
NOTHING = "There is no recommendation in the library yet: `steelyard new recommendation` makes one."


def at_a_glance(library: Library) -> Drawn:
    """The picture of all recommendations."""
    data = overview_data(library.review(), library.vocabulary)
    if not len(data.recommendations):
        return Drawn(None, "overview_plot", " ".join((data.subtitle, *data.notes)))
    return Drawn(data, "overview_plot")


def told_and_now(library: Library) -> Table | Sentence:
    """What clients were told, what holds now, which study moved it.

    A row per recommendation, or per question it rests on where there are several.
    """
    reviews = library.review()
    if not reviews.reviews:
        return Sentence(NOTHING)
    moved = sum(review.moved for review in reviews.reviews)
    title = (
        f"{count(len(reviews.reviews), 'recommendation')}: "
        f"{moved or 'nothing'} moved since clients were told"
    )
    rows = tuple(row for review in reviews.reviews for row in _standings(review))
    return Table(title, STANDING, rows, (MOVED_RULE, *_invented(reviews)))


def _standings(review: Review) -> list[tuple[str, ...]]:
    if review.unreadable:
        return [(review.recommendation, "–", review.unreadable, "")]
    when = "" if review.reviewed is None else unbroken_date(review.reviewed)
    return [
        (
            review.name_of(answer),
            _standing(answer, answer.told, when),
            answer.problem or _standing(answer, answer.now, ""),
            _moved(answer),
        )
        for answer in review.answers
    ]


def unbroken_date(day: dt.date) -> str:
    """A day as a narrow screen keeps it on one line."""
    return f"{day.day} {day:%B %Y}".replace(" ", UNBROKEN)


def to_read_again(library: Library) -> Table | Sentence:
    """Which recommendations are due for reading again today, and why."""
    reviews = library.review()
    rows = _rows((review.recommendation, review.due_in_words) for review in reviews.reviews)
    if not rows:
        return Sentence(f"Nothing is due for reading again on {reviews.today}.")
    title = f"Due on {reviews.today}: {count(len(rows), 'recommendation')}"
    return Table(title, DUE, rows, _invented(reviews))


def to_mind(library: Library) -> Table | Sentence:
    """What weakens each answer: retracted, corrected, unread and heavy studies."""
    reviews = library.review()
    rows = _rows((review.recommendation, review.warnings) for review in reviews.reviews)
    if not rows:
        return Sentence("No recommendation has a warning.")
    return Table("What to mind", MIND, rows, _invented(reviews))


def _rows(pairs: Iterable[tuple[str, tuple[str, ...]]]) -> tuple[tuple[str, str], ...]:
    return tuple((name, "\n".join(sentences)) for name, sentences in pairs if sentences)


def _invented(reviews: Reviews) -> tuple[str, ...]:
    known = [answer.weighing for review in reviews.reviews for answer in review.answers]
    return (INVENTED_DATA,) if any(each and each.invented for each in known) else ()


def _standing(answer: AnswerReview, standing, when: str) -> str:
    if standing is None:
        return "never told" if when == "" else f"no numbers\n{when}"
    weighing = answer.weighing
    if weighing is None:
        numbers = as_recorded(standing)
    else:
        span = weighing.span(standing.low, standing.high)
        numbers = f"{weighing.text(standing.estimate)}\n{span}"
    words = [standing.verdict, standing.certainty and f"{standing.certainty} certainty", when]
    return "\n".join([numbers.replace(" ", UNBROKEN), *filter(None, words)])


def _moved(answer: AnswerReview) -> str:
    if answer.told is None:
        return "nothing was told yet"
    if not answer.moved:
        return "nothing" if answer.since_told == NOTHING_CHANGED else answer.since_told
    said = changed_in_words(answer)
    return f"OVERTURNED\n{said}" if answer.overturned else said
