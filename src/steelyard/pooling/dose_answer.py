"""How much of it: the dose-response of a question, within studies and between them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import pandas as pd

from steelyard.errors import DesignError
from steelyard.pooling.counted_once import repeated
from steelyard.pooling.dependence import row_blocks
from steelyard.pooling.dose_between import BetweenStudies, between_studies
from steelyard.pooling.dose_forms import FORMS, IN_WORDS
from steelyard.pooling.dose_response import DoseCurve, DoseResponse, dose_response
from steelyard.pooling.leaning import (
    AT_FITTED_EFFECTS,
    UNSETTLED,
    WHY_FITTED,
    at_expected_effects,
    matters,
)
from steelyard.pooling.weighing import Weighing, plain
from steelyard.pooling.working_variance import LEANS_ON_THE_EFFECT
from steelyard.records.study import Study
from steelyard.show import Shown, number

# Burnham, K. P., & Anderson, D. R. (2002), Model Selection and Multimodel Inference, section
# 2.6: forms within two AIC units of each other are not told apart.
TOLD_APART = 2.0


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
    upright : dict of str to DoseResponse
        The forms again, with variances worked out at the fitted effects; empty where effects do
        not enter their variances, and without a form that does not stay.
    notes : tuple of str
    """

    weighing: Weighing
    fits: dict[str, DoseResponse]
    refused: dict[str, str]
    form: str
    between_studies: BetweenStudies | None
    why_not_between: str
    upright: dict[str, DoseResponse]
    notes: tuple[str, ...] = ()

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
        step = min(self.step, fit.highest - fit.lowest)
        per = fit.curve([fit.lowest + step])
        percent = f"{100 * fit.level:g} %"
        text = (
            f"Every {step:g} further {self.what}{self._weekly} go with "
            f"{weighing.text(per.estimate[0])} ({percent} interval "
            f"{weighing.span(per.low[0], per.high[0])}), between {fit.lowest:g} and "
            f"{fit.highest:g}; beyond that nothing was studied. "
        )
        other = self._otherwise(self.form, fit.lowest + step)
        text += f"With {AT_FITTED_EFFECTS} it is {other}. " if other else ""
        return text + self.form_sentence

    def _otherwise(self, form: str, dose: float) -> str:
        """The effect of a dose with variances at the fitted effects, where that is worth it."""
        if form not in self.upright:
            return ""
        own, other = (fits[form].curve([dose]) for fits in (self.fits, self.upright))
        error = self.fits[form].error_of(own)[0]
        if not matters(own.estimate[0], other.estimate[0], standard_error=error):
            return ""
        show = self.weighing
        return f"{show.text(other.estimate[0])} ({show.span(other.low[0], other.high[0])})"

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
            f"({weighing.span(found.low, found.high)}) more{self._between_otherwise()}; but their "
            "people, tests and weeks differ as well, so this is no evidence for the dose."
        )

    def _between_otherwise(self) -> str:
        found, show = self.between_studies, self.weighing
        other = found.otherwise
        if other is None or not matters(
            found.slope, other.slope, standard_error=found.standard_error
        ):
            return ""
        span = show.span(other.low, other.high)
        return f", with {AT_FITTED_EFFECTS} {show.text(other.slope)} ({span})"

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
            other = self._otherwise(name, fit.highest)
            rows.append(
                (
                    f"{name} curve",
                    f"{IN_WORDS[name]}: {fit.highest:g} against {fit.lowest:g} "
                    f"{self.weighing.text(ends.estimate[0])} ({span}); "
                    f"AIC {number(fit.aic, decimals=1)}"
                    + (f"; with {AT_FITTED_EFFECTS} {other}" if other else ""),
                )
            )
        rows += [(f"{name} curve", f"not fitted: {why}") for name, why in self.refused.items()]
        rows.append(("between studies", self.between_sentence))
        rows.append(("method", self.fit.method))
        notes = [*self.fit.notes, *self.notes]
        if any(AT_FITTED_EFFECTS in text for _, text in rows):
            notes.append(WHY_FITTED)
        return rows + [("note", note) for note in notes]

    def as_json(self) -> dict:
        """The machine's view: each form, at its highest dose and one step, against the lowest."""
        between = self.between_studies
        return {
            "question": self.weighing.question.id,
            "sentence": self.sentence,
            "form": self.form,
            "step": self.step,
            "level": self.fit.level,
            "forms": {name: self._form_json(name) for name in self.fits},
            "refused": dict(self.refused),
            "between_studies": None if between is None else _slope(between),
            "notes": [*self.fit.notes, *self.notes],
        }

    def _form_json(self, name: str) -> dict:
        fit, other = self.fits[name], self.upright.get(name)
        doses = [fit.lowest + min(self.step, fit.highest - fit.lowest), fit.highest]
        return {
            "coefficients": dict(zip(fit.basis.names, map(plain, fit.coefficients), strict=True)),
            "tau2": plain(fit.tau2),
            "aic": plain(fit.aic),
            "lowest": plain(fit.lowest),
            "against_lowest": _points(fit.curve(doses)),
            "at_fitted_effects": None if other is None else _points(other.curve(doses)),
        }


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
    fits, refused, upright, notes = {}, {}, {}, []
    for form in FORMS:
        try:
            fits[form] = _fitted(weighing, rows, form)
        except DesignError as fault:
            refused[form] = str(fault)
            continue
        if question.metric in LEANS_ON_THE_EFFECT:
            settled = at_expected_effects(
                rows,
                lambda changed, form=form: _fitted(weighing, changed, form),
                expected_of=lambda fit: _expected(fit, rows),
                start=_expected(fits[form], rows),
            )
            if settled is not None and settled.stays:
                upright[form] = settled.fit
            elif settled is not None:
                notes.append(f"{form} curve: {UNSETTLED}")
    if "linear" not in fits:
        raise DesignError(refused["linear"])
    found, why = _between(weighing, rows, studies)
    return DoseAnswer(weighing, fits, refused, "linear", found, why, upright, tuple(notes))


_METHODS = ("reml", "ml", "common")


def _fitted(weighing: Weighing, rows: pd.DataFrame, form: str) -> DoseResponse:
    between = weighing.question.model.between
    return dose_response(
        rows["effect"],
        row_blocks(weighing.question, rows),
        dose=rows["dose_intervention"],
        reference_dose=rows["dose_comparator"],
        study=list(rows["study"]),
        form=form,
        between=between if between in _METHODS else "reml",
        level=weighing.level,
    )


def _expected(fit: DoseResponse, rows: pd.DataFrame) -> np.ndarray:
    one, other = (fit.basis.columns(rows[f"dose_{arm}"]) for arm in ("intervention", "comparator"))
    return (one - other) @ fit.coefficients


def _slope(found: BetweenStudies) -> dict:
    names = ("slope", "standard_error", "low", "high", "studies")
    values = {name: plain(getattr(found, name)) for name in names}
    other = found.otherwise
    return {**values, "at_fitted_effects": None if other is None else _slope(other)}


def _points(curve: DoseCurve) -> list[dict]:
    columns = (curve.dose, curve.estimate, curve.low, curve.high)
    names = ("dose", "estimate", "low", "high")
    return [
        {name: plain(value) for name, value in zip(names, row, strict=True)}
        for row in zip(*columns, strict=True)
    ]


def _between(weighing: Weighing, rows: pd.DataFrame, studies: Iterable[Study]):
    try:
        found = between_studies(weighing, rows, studies)
    except DesignError as fault:
        return None, str(fault)
    return found, "" if found else "no paper gives what its arms gained by themselves"
