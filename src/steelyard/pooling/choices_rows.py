"""What a way to weigh makes of each study: one number, or its effects with their covariance."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from steelyard.effects.covariance import study_covariance
from steelyard.pooling.composite import composite
from steelyard.pooling.counted_once import (
    Parts,
    contrast_codes,
    first_of,
    nearly_dependent,
    number_codes,
    parts_by_people,
)
from steelyard.pooling.dose_slope import dose_slope
from steelyard.pooling.working_variance import LEANS_ON_THE_EFFECT, working_variances


@dataclass(frozen=True, slots=True)
class StudyNumbers:
    """Effects and variances, one per study, in a fixed order; NaN for a study left out."""

    effects: np.ndarray
    variances: np.ndarray


@dataclass(frozen=True, slots=True, eq=False)
class StudyEffects:
    """The effects of one study, shape (m,), and their covariance, shape (m, m)."""

    effects: np.ndarray
    covariance: np.ndarray

    @property
    def content(self) -> bytes:
        """The same for the same numbers."""
        return self.effects.tobytes() + self.covariance.tobytes()


class Reducer:
    """Reduces one effect table study by study, remembering each study's answer.

    Parameters
    ----------
    rows : DataFrame
        An effect table.
    studies : list of str
        Order of the places in what is returned.
    step : float or None
        Doses a slope is per; None where the question is not one of dose.
    correlations : dict
        Correlations already worked out, shared between tables of one question.
    """

    def __init__(
        self, rows: pd.DataFrame, studies: list[str], *, step: float | None, correlations: dict
    ) -> None:
        self.studies, self.correlations = studies, correlations
        self.effect = rows["effect"].to_numpy(float)
        self.variance = rows["variance"].to_numpy(float)
        self.part = rows["comparator_variance"].to_numpy(float)
        self.evened = bool(rows["metric"].isin(LEANS_ON_THE_EFFECT).all())
        self.gap = np.full(len(rows), np.nan)
        if step is not None:
            gaps = rows["dose_intervention"] - rows["dose_comparator"]
            self.gap = gaps.to_numpy(float) / step
        self.cells = {name: rows[name].to_numpy() for name in _CORRELATING}
        self.contrast = rows["contrast"].to_numpy()
        self.numbers_alike, self.contrasts_alike = number_codes(rows), contrast_codes(rows)
        self.people = rows["n_comparator"].to_numpy(float)
        owner = rows["study"].to_numpy()
        self.places = {study: np.flatnonzero(owner == study) for study in dict.fromkeys(owner)}
        self.found: dict[tuple, tuple[float, float]] = {}
        self.nested: dict[tuple, StudyEffects] = {}

    def numbers(self, kept: np.ndarray, *, r_between_outcomes: float, how: str) -> StudyNumbers:
        """One number per study from the rows kept.

        Parameters
        ----------
        kept : ndarray of bool
            One per row of the table.
        r_between_outcomes : float
        how : str
            ``composite`` (the mean), ``one`` (the most precise) or ``slope``.
        """
        effects = np.full(len(self.studies), np.nan)
        variances = np.full(len(self.studies), np.nan)
        for place, study in enumerate(self.studies):
            rows = self._once(kept, study)
            if not rows.size:
                continue
            if rows.size == 1 and how != "slope":
                effects[place] = self.effect[rows[0]]
                variances[place] = self.variance[rows[0]]
                continue
            key = (study, rows.tobytes(), r_between_outcomes, how)
            if key not in self.found:
                self.found[key] = self._reduce(rows, study, r_between_outcomes, how)
            effects[place], variances[place] = self.found[key]
        return StudyNumbers(effects, variances)

    def effects(
        self, kept: np.ndarray, *, r_between_outcomes: float
    ) -> tuple[StudyEffects | None, ...]:
        """Each study's effects from the rows kept, as a model of effects within studies takes them.

        None for a study left out.
        """
        found = []
        for study in self.studies:
            rows = self._once(kept, study)
            if not rows.size:
                found.append(None)
                continue
            key = (study, rows.tobytes(), r_between_outcomes)
            if key not in self.nested:
                self.nested[key] = self._study_effects(rows, study, r_between_outcomes)
            found.append(self.nested[key])
        return tuple(found)

    def studies_left(self, kept: np.ndarray) -> int:
        """How many studies have a row kept."""
        return sum(bool(kept[rows].any()) for rows in self.places.values())

    def _once(self, kept: np.ndarray, study: str) -> np.ndarray:
        """Places of a study's rows kept, less those that give an earlier one's numbers."""
        rows = self.places.get(study)
        if rows is None:
            return np.empty(0, dtype=int)
        rows = rows[kept[rows]]
        return rows[first_of(self.numbers_alike[rows])] if rows.size > 1 else rows

    def _parts(self, rows: np.ndarray) -> Parts:
        return parts_by_people(self.contrasts_alike[rows], self.people[rows])

    def _reduce(self, rows: np.ndarray, study: str, r: float, how: str) -> tuple[float, float]:
        parts = self._parts(rows)
        y, matrix = parts.effects(self.effect[rows]), parts.matrix()
        covariance = matrix @ self._covariance(rows, study, r, self.variance[rows]) @ matrix.T
        if how == "one":
            variance = np.diag(covariance)
            best = int(variance.argmin())
            return float(y[best]), float(variance[best])
        if how == "slope":
            gaps = parts.effects(self.gap[rows])
            found = dose_slope(y, covariance=covariance, dose_difference=gaps)
            return found.slope, found.variance
        found = composite(y, covariance=covariance)
        return found.effect, found.variance

    def _study_effects(self, rows: np.ndarray, study: str, r: float) -> StudyEffects:
        if rows.size == 1:
            return StudyEffects(self.effect[rows], self.variance[rows][:, None])
        parts = self._parts(rows)
        matrix = parts.matrix()
        covariance = self._covariance(rows, study, r, self._weighting(rows))
        covariance = matrix @ covariance @ matrix.T
        y = parts.effects(self.effect[rows])
        if nearly_dependent(covariance[None])[0]:
            return StudyEffects(np.array([y.mean()]), np.array([[covariance.sum() / y.size**2]]))
        return StudyEffects(y, covariance)

    def _weighting(self, rows: np.ndarray) -> np.ndarray:
        """Variances that weight one study's effects in the model of effects within studies."""
        own = self.variance[rows]
        if not self.evened:
            return own
        return working_variances(
            own,
            study=[""] * rows.size,
            contrast=list(self.contrast[rows]),
            n_intervention=self.cells["n_intervention"][rows],
            n_comparator=self.cells["n_comparator"][rows],
        )

    def _covariance(
        self, rows: np.ndarray, study: str, r: float, variance: np.ndarray
    ) -> np.ndarray:
        """Sampling covariance of one study's effects: shared arms, outcomes and weeks."""
        cells = {name: list(values[rows]) for name, values in self.cells.items()}
        sizes = {
            name: [1.0 if size != size else float(size) for size in cells[name]]
            for name in ("n_intervention", "n_comparator")
        }
        cells |= sizes
        share = np.clip(self.part[rows] / variance, 0.0, 1.0)
        key = (study, r, share.tobytes(), *(tuple(values) for values in cells.values()))
        if key not in self.correlations:
            self.correlations[key] = study_covariance(
                np.ones(rows.size),
                intervention_arm=cells["intervention"],
                comparator_arm=cells["comparator"],
                n_intervention=np.array(sizes["n_intervention"]),
                n_comparator=np.array(sizes["n_comparator"]),
                outcome=cells["outcome"],
                week=cells["week"],
                r_between_outcomes=r,
                comparator_variance=share,
            )
        error = np.sqrt(variance)
        return self.correlations[key] * np.outer(error, error)


_CORRELATING = ("intervention", "comparator", "n_intervention", "n_comparator", "outcome", "week")
