"""Every recommendation of a library, told against now."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass

from steelyard.errors import Finding
from steelyard.judging.answer_review import AnswerReview, Answers, Earlier
from steelyard.judging.review import Review, review_recommendation
from steelyard.records.recommendation import Recommendation
from steelyard.show import Table, count

COLUMNS = ("recommendation", "told", "now", "certainty", "changed", "moved by", "read again")
FOLDER = "recommendations/"


@dataclass(frozen=True, slots=True, eq=False)
class Reviews:
    """All reviews on one day.

    Attributes
    ----------
    reviews : tuple of Review
    today : date
    """

    reviews: tuple[Review, ...]
    today: dt.date

    def review(self, recommendation: str) -> Review:
        return next(one for one in self.reviews if one.recommendation == recommendation)

    def as_json(self) -> list[dict]:
        return [review.as_json() for review in self.reviews]

    def table(self) -> Table:
        """A row per recommendation, or per question it rests on where there are several."""
        moved = sum(review.moved for review in self.reviews)
        due = sum(bool(review.due) for review in self.reviews)
        title = (
            f"{count(len(self.reviews), 'recommendation')} on {self.today}: "
            f"{moved} moved since told, {due} to be read again"
        )
        return Table(title, COLUMNS, tuple(row for one in self.reviews for row in _rows(one)))

    def __str__(self) -> str:
        return "\n\n".join(
            ["\n".join([self.table().title, *self.to_scan()]), *map(str, self.reviews)]
        )

    def to_scan(self) -> list[str]:
        """A line per answer: how it stands against what was told, and what it says now."""
        rows = [row for review in self.reviews for row in _in_a_line(review)]
        widths = [max((len(row[at]) for row in rows), default=0) for at in (0, 1)]
        return [
            f"  {name:<{widths[0]}}  {stands:<{widths[1]}}  {now}" for name, stands, now in rows
        ]

    def _repr_pretty_(self, printer, cycle: bool) -> None:
        printer.text(str(self))

    def _repr_html_(self) -> str:
        return self.table()._repr_html_()


def review_all(
    library: Answers,
    recommendations: Mapping[str, Recommendation],
    *,
    faults: tuple[Finding, ...] = (),
    today: dt.date | None = None,
    earlier: Earlier | None = None,
) -> Reviews:
    """Review every recommendation; one that cannot be read has its line too.

    Parameters
    ----------
    library : Answers
    recommendations : mapping of str to Recommendation
        Those that could be read.
    faults : tuple of Finding
        Of the library; those of recommendation files that could not be read are told here.
    today : date, optional
    earlier : callable, optional
        From a fingerprint, and the day it was told on, to the studies as they were.

    Returns
    -------
    Reviews
    """
    today = today or dt.date.today()
    reviews = [
        review_recommendation(each, library, today=today, earlier=earlier)
        for each in recommendations.values()
    ]
    broken: dict[str, list[str]] = {}
    for fault in faults:
        name = fault.file.removeprefix(FOLDER).removesuffix(".toml")
        if fault.file.startswith(FOLDER) and name not in recommendations:
            place = f"{fault.path}: " if fault.path else ""
            broken.setdefault(name, []).append(f"{place}{fault.message}")
    reviews += [_unreadable(name, problems) for name, problems in broken.items()]
    return Reviews(tuple(sorted(reviews, key=lambda one: one.recommendation)), today)


def _unreadable(name: str, problems: list[str]) -> Review:
    problem = f"the record cannot be read: {'; '.join(problems)}"
    return Review(
        recommendation=name,
        statement="",
        answers=(),
        certainty=None,
        reviewed=None,
        due=("its record has faults",),
        warnings=(problem,),
        advice=None,
        unreadable=problem,
    )


def _in_a_line(review: Review) -> list[tuple[str, str, str]]:
    if not review.answers:
        return [(review.recommendation, "faults", "its record cannot be read")]
    again = ["read again"] if review.due else []
    rows = []
    for answer in review.answers:
        now = answer.now
        words = [now.verdict, f"{now.certainty} certainty"] if now else ["no answer"]
        said = "; ".join([", ".join(filter(None, words)), *again])
        rows.append((review.name_of(answer), answer.in_a_word, said))
        again = []
    return rows


def _rows(review: Review) -> list[tuple[str, ...]]:
    again = "; ".join(review.due_in_words)
    if not review.answers:
        return [(review.recommendation, "–", review.problem, "–", "never told", "", again)]
    rows = [_row(review, answer) for answer in review.answers]
    return [(*rows[0], again), *((*row, "") for row in rows[1:])]


def _row(review: Review, answer: AnswerReview) -> tuple[str, ...]:
    if answer.told is None:
        changed = "never told"
    elif answer.overturned:
        changed = "overturned"
    elif answer.moved:
        changed = "yes"
    else:
        changed = answer.since_told if answer.differs else "no"
    return (
        review.name_of(answer),
        answer.standing_text(answer.told),
        answer.problem or answer.standing_text(answer.now),
        answer.certainty or "–",
        changed,
        ", ".join(mover.study for mover in answer.movers),
    )
