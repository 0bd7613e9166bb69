"""Every recommendation of a library, told against now."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass

from steelyard.errors import Finding
from steelyard.judging.review import Answers, Earlier, Review, review_recommendation
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
        """A row per recommendation."""
        moved = sum(review.moved for review in self.reviews)
        due = sum(bool(review.due) for review in self.reviews)
        title = (
            f"{count(len(self.reviews), 'recommendation')} on {self.today}: "
            f"{moved} moved since told, {due} to be read again"
        )
        return Table(title, COLUMNS, tuple(map(_row, self.reviews)))

    def __str__(self) -> str:
        return "\n\n".join([self.table().title, *map(str, self.reviews)])

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
        From a fingerprint, and the day it was told on, to the studies as they were, or None.

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
        question="",
        certainty=None,
        told=None,
        now=None,
        reviewed=None,
        differs=(),
        movers=(),
        due=("its record has faults",),
        warnings=(problem,),
        one_more=None,
        advice=None,
        problem=problem,
        weighing=None,
    )


def _row(review: Review) -> tuple[str, ...]:
    if review.told is None:
        changed = "never told"
    elif review.overturned:
        changed = "overturned"
    elif review.moved:
        changed = "yes"
    else:
        changed = review.since_told if review.differs else "no"
    return (
        review.recommendation,
        review.standing_text(review.told),
        review.problem or review.standing_text(review.now),
        review.certainty or "–",
        changed,
        ", ".join(mover.study for mover in review.movers),
        "; ".join(review.due_in_words),
    )
