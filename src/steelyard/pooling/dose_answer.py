"""How much of it: the dose-response of a question, within studies and between them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import pandas as pd

from steelyard.effects.arm_changes import arm_changes
from steelyard.errors import DesignError
from steelyard.pooling.counted_once import repeated
from steelyard.pooling.dependence import row_blocks
from steelyard.pooling.dose_forms import FORMS, IN_WORDS
from steelyard.pooling.dose_response import DoseResponse, dose_response
from steelyard.pooling.regress import regress
from steelyard.pooling.weighing import Weighing
from steelyard.records.study import Study
from steelyard.show import Shown, number

# Burnham, K. P., & Anderson, D. R. (2002), Model Selection and Multimodel Inference, section
# 2.6: forms within two AIC units of each other are not told apart.
TOLD_APART = 2.0


@dataclass(frozen=True, slots=True)
class BetweenStudies:
    """What studies with a larger average dose gained more: no comparison that anyone drew lots for.

    Attributes
    ----------
    slope, low, high : float
        Per step of dose, machine scale.
    studies : int
    """

    slope: float
    low: float
    high: float
    studies: int


@dataclass(frozen=True, slots=True, eq=False)
class DoseAnswer(Shown):
    """The dose-response of a question.

    Attributes
    ----------
    weighing : Weighing
    fits : dict of str to DoseResponse
        The forms that the studies can bear.
    refused : dict of str to str
        The others, with the reason.
    form : str
        The form the answer rests on: ``linear``, set before looking, as the weighing pools
        slopes.
    between_studies : BetweenStudies or None
    why_not_between : str
        Why there is none; empty where there is.
    """

    weighing: Weighing
    fits: dict[str, DoseResponse]
    refused: dict[str, str]
    form: str
    between_studies: BetweenStudies | None
    why_not_between: str

    @property
    def fit(self) -> DoseResponse:
        """The form the answer rests on."""
        return self.fits[self.form]

    @property
    def what(self) -> str:
        """The dose in words."""
        return self.weighing.question.dose.replace("_per_week", "").replace("_", " ")

    @property
    def step(self) -> float:
        """The step of dose that slopes are per."""
        return float(self.weighing.question.dose_step or 1)

    @property
    def sentence(self) -> str:
        """The slope, over which doses, and whether the form is settled."""
        fit, weighing = self.fit, self.weighing
        per = fit.curve([fit.lowest + min(self.step, fit.highest - fit.lowest)])
        step = min(self.step, fit.highest - fit.lowest)
        percent = f"{100 * fit.level:g} %"
        text = (
            f"Every {step:g} further {self.what}{self._weekly} go with "
            f"{weighing.text(per.estimate[0])} ({percent} interval "
            f"{weighing.span(per.low[0], per.high[0])}), between {fit.lowest:g} and "
            f"{fit.highest:g}; beyond that nothing was studied. "
        )
        return text + self.form_sentence

    @property
    def form_sentence(self) -> str:
        """Whether a curve of another form fits better."""
        others = [name for name in self.fits if name != self.form]
        if not others:
            return "Whether the curve levels off cannot be told from these studies."
        best = min(others, key=lambda name: self.fits[name].aic)
        gain = self.fit.aic - self.fits[best].aic
        told = {"log": "levels off", "spline": "is free to bend"}[best]
        if gain > TOLD_APART:
            return f"A curve that {told} fits the studies better than a straight line."
        if gain < -TOLD_APART:
            return f"A straight line fits the studies better than a curve that {told}."
        return f"A curve that {told} fits these studies as well as a straight line."

    @property
    def between_sentence(self) -> str:
        """Whether studies with larger doses gained more."""
        if self.between_studies is None:
            return f"Nothing is said of differences between studies: {self.why_not_between}."
        found, weighing = self.between_studies, self.weighing
        return (
            f"Held against one another, studies with {self.step:g} more {self.what}{self._weekly} "
            f"on average gained {weighing.text(found.slope)} "
            f"({weighing.span(found.low, found.high)}) more; but their people, tests and weeks "
            "differ as well, so this is no evidence for the dose."
        )

    @property
    def _weekly(self) -> str:
        return " a week" if self.weighing.question.dose.endswith("_per_week") else ""

    def _title(self) -> str:
        return f"How much of it: {self.weighing.question.id}"

    def _rows(self) -> list[tuple[str, str]]:
        rows = [("in short", self.sentence)]
        for name, fit in self.fits.items():
            ends = fit.curve([fit.highest])
            span = self.weighing.span(ends.low[0], ends.high[0])
            rows.append(
                (
                    f"{name} curve",
                    f"{IN_WORDS[name]}: {fit.highest:g} against {fit.lowest:g} "
                    f"{self.weighing.text(ends.estimate[0])} ({span}); "
                    f"AIC {number(fit.aic, decimals=1)}",
                )
            )
        rows += [(f"{name} curve", f"not fitted: {why}") for name, why in self.refused.items()]
        rows.append(("between studies", self.between_sentence))
        rows.append(("method", self.fit.method))
        return rows + [("note", note) for note in self.fit.notes]


def dose_answer(weighing: Weighing, studies: Iterable[Study]) -> DoseAnswer:
    """Fit every form of curve that a dose question's studies can bear.

    Parameters
    ----------
    weighing : Weighing
        Of a question with a dose.
    studies : iterable of Study

    Returns
    -------
    DoseAnswer

    Raises
    ------
    DesignError
        If the question asks no dose, or the studies cannot bear even a straight line.
    """
    question = weighing.question
    if question.dose is None:
        raise DesignError(f"question {question.id!r} names no dose: expected dose = …")
    rows = weighing.effects[weighing.effects["used"]]
    rows = rows[~repeated(rows)]
    parts = [part for _, part in rows.groupby("study", sort=False)]
    rows = pd.concat(parts, ignore_index=True)
    covariance = row_blocks(question, rows)
    fits, refused = {}, {}
    for form in FORMS:
        try:
            fits[form] = dose_response(
                rows["effect"],
                covariance,
                dose=rows["dose_intervention"],
                reference_dose=rows["dose_comparator"],
                study=list(rows["study"]),
                form=form,
                between=question.model.between if question.model.between in _METHODS else "reml",
                level=weighing.level,
            )
        except DesignError as fault:
            refused[form] = str(fault)
    if "linear" not in fits:
        raise DesignError(refused["linear"])
    found, why = _between(weighing, rows, studies)
    return DoseAnswer(weighing, fits, refused, "linear", found, why)


_METHODS = ("reml", "ml", "common")


def _between(weighing: Weighing, rows: pd.DataFrame, studies: Iterable[Study]):
    question = weighing.question
    try:
        changes = arm_changes(rows, studies, question)
        if changes.empty:
            return None, "no paper gives what its arms gained by themselves"
        means = pd.DataFrame(
            [_study_mean(part) for _, part in changes.groupby("study", sort=False)],
            columns=["change", "variance", "dose"],
        )
        step = float(question.dose_step or 1)
        fit = regress(
            means["change"], means["variance"], means[["dose"]] / step, level=weighing.level
        )
    except DesignError as fault:
        return None, str(fault)
    return BetweenStudies(
        float(fit.coefficients[1]), float(fit.low[1]), float(fit.high[1]), fit.studies
    ), ""


def _study_mean(part: pd.DataFrame) -> tuple[float, float, float]:
    weight = 1 / part["variance"].to_numpy(float)
    share = weight / weight.sum()
    return (
        float(share @ part["change"].to_numpy(float)),
        float(1 / weight.sum()),
        float(share @ part["dose"].to_numpy(float)),
    )
