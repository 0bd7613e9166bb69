"""An answer through time: what the studies up to each year would have said."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass

import pandas as pd

from steelyard.errors import EmptyQuestionError
from steelyard.judging.answer_review import Answers
from steelyard.judging.certainty.judge import judge_certainty
from steelyard.judging.certainty.rules import CertaintyRules
from steelyard.judging.person import Person
from steelyard.judging.told import standing_told, told_by_question
from steelyard.pooling.weighing import Weighing
from steelyard.records.question import Question
from steelyard.records.recommendation import Override, Recommendation
from steelyard.show import Table

LOOKS = (
    "Looking again after every study raises the chance that some look misleads; "
    "the intervals do not allow for that."
)


@dataclass(frozen=True, slots=True, eq=False)
class History:
    """Cumulative answers to a question; machine scale.

    Attributes
    ----------
    question : str
    steps : DataFrame, a row per year that added a pooled study
        ``year``, ``added`` (study ids joined by ", "), ``k_studies``, ``people``, ``estimate,
        low, high, prediction_low, prediction_high``, ``certainty``, ``verdict``.
    told : DataFrame, a row per recommendation told from this question
        ``recommendation, date, estimate, low, high, certainty, verdict``.
    weighing : Weighing
        As it is now, for units.
    notes : tuple of str
    """

    question: str
    steps: pd.DataFrame
    told: pd.DataFrame
    weighing: Weighing
    notes: tuple[str, ...]

    def table(self) -> Table:
        """A row per year, in display units."""
        weighing = self.weighing
        rows = tuple(
            (
                str(row.year),
                row.added,
                str(row.k_studies),
                f"{weighing.text(row.estimate)}, {weighing.span(row.low, row.high)}",
                row.certainty,
                row.verdict or "–",
            )
            for row in self.steps.itertuples()
        )
        columns = ("year", "added", "studies", "answer", "certainty", "verdict")
        return Table(f"History: {self.question}", columns, rows, self.notes)

    def __str__(self) -> str:
        return str(self.table())

    def _repr_pretty_(self, printer, cycle: bool) -> None:
        printer.text(str(self))

    def _repr_html_(self) -> str:
        return self.table()._repr_html_()


def history(
    question: Question,
    library: Answers,
    *,
    recommendations: Iterable[Recommendation] = (),
    person: Person | None = None,
    overrides: tuple[Override, ...] = (),
    rules: CertaintyRules | None = None,
) -> History:
    """Weigh a question again with the studies up to each year.

    Parameters
    ----------
    question : Question
    library : Answers
    recommendations : iterable of Recommendation
        Those told from this question mark when and with what.
    person : Person, optional
    overrides : tuple of Override
        Counted from the start, whatever their date: the facts they speak of do not change.
    rules : CertaintyRules, optional

    Returns
    -------
    History

    Raises
    ------
    EmptyQuestionError
        If there is no answer even now.

    Notes
    -----
    A study counts by the year its paper appeared and as it is recorded now: a retraction or a
    correction is not undone for the years before it. Studies without a year come last.
    """
    now = library.weigh_question(question)
    pooled = now.studies[now.studies["used"]]
    years = sorted({int(year) for year in pooled["year"].dropna()})
    undated = bool(pooled["year"].isna().any())
    rows = []
    for year in [*years, *([None] if undated else [])]:
        taken = {
            name: study
            for name, study in library.studies.items()
            if year is None or (study.source.issued is not None and study.source.issued <= year)
        }
        try:
            found = library.weigh_question(question, studies=taken)
        except EmptyQuestionError:
            continue
        certainty = judge_certainty(found, taken, person=person, overrides=overrides, rules=rules)
        here = pooled["year"].isna() if year is None else pooled["year"] == year
        rows.append(
            {
                "year": "no year" if year is None else str(year),
                "added": ", ".join(pooled.loc[here, "study"]),
                "k_studies": found.k_studies,
                "people": found.people,
                "estimate": found.estimate,
                "low": found.low,
                "high": found.high,
                "prediction_low": found.prediction_low,
                "prediction_high": found.prediction_high,
                "certainty": certainty.word,
                "verdict": found.verdict.word,
            }
        )
    return History(
        question=question.id,
        steps=pd.DataFrame(rows),
        told=_told(question, recommendations, now.worthwhile),
        weighing=now,
        notes=(LOOKS,),
    )


def _told(
    question: Question, recommendations: Iterable[Recommendation], worthwhile: float | None
) -> pd.DataFrame:
    columns = ("recommendation", "date", "estimate", "low", "high", "certainty", "verdict")
    rows: list[dict[str, str | float | dt.date | None]] = []
    for each in recommendations:
        carried = told_by_question(each).get(question.id)
        if carried is None:
            continue
        told = standing_told(carried, worthwhile=worthwhile)
        values = {name: getattr(told, name) for name in columns[2:]}
        rows.append({"recommendation": each.id, "date": each.reviewed, **values})
    return pd.DataFrame(rows, columns=list(columns))
