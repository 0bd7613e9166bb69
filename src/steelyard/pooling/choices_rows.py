"""One number per study from its effects, in each of the ways to handle several."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from steelyard.effects.covariance import study_covariance
from steelyard.pooling.composite import composite
from steelyard.pooling.dose_slope import dose_slope
from steelyard.pooling.nested_variance import Blocks, nested_variances
from steelyard.pooling.working_variance import LEANS_ON_THE_EFFECT, working_variances


@dataclass(frozen=True, slots=True)
class StudyNumbers:
    """Effects and variances, one per study, in a fixed order; NaN for a study left out."""

    effects: np.ndarray
    variances: np.ndarray


class Reducer:
    """Reduces one effect table to one number per study, remembering each study's answer.

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
        owner = rows["study"].to_numpy()
        self.places = {study: np.flatnonzero(owner == study) for study in dict.fromkeys(owner)}
        self.found: dict[tuple, tuple[float, float]] = {}
        self.within: dict[float, float] = {}

    def numbers(self, kept: np.ndarray, *, r_between_outcomes: float, how: str) -> StudyNumbers:
        """One number per study from the rows kept.

        Parameters
        ----------
        kept : ndarray of bool
            One per row of the table.
        r_between_outcomes : float
        how : str
            ``composite`` (the mean), ``multilevel`` (weighted as a model of effects within
            studies does, with the variance within studies of the whole table), ``one`` (the
            most precise) or ``slope``.
        """
        effects = np.full(len(self.studies), np.nan)
        variances = np.full(len(self.studies), np.nan)
        for place, study in enumerate(self.studies):
            rows = self.places.get(study)
            if rows is None:
                continue
            rows = rows[kept[rows]]
            if not rows.size:
                continue
            if rows.size == 1 and how != "slope":
                more = self.within[r_between_outcomes] if how == "multilevel" else 0.0
                effects[place] = self.effect[rows[0]]
                variances[place] = self.variance[rows[0]] + more
                continue
            key = (study, rows.tobytes(), r_between_outcomes, how)
            if key not in self.found:
                self.found[key] = self._reduce(rows, study, r_between_outcomes, how)
            effects[place], variances[place] = self.found[key]
        return StudyNumbers(effects, variances)

    def _reduce(self, rows: np.ndarray, study: str, r: float, how: str) -> tuple[float, float]:
        y = self.effect[rows]
        if how == "one":
            best = rows[int(self.variance[rows].argmin())]
            return float(self.effect[best]), float(self.variance[best])
        variance = self._weighting(rows) if how == "multilevel" else self.variance[rows]
        covariance = self._covariance(rows, study, r, variance)
        if how == "slope":
            found = dose_slope(y, covariance=covariance, dose_difference=self.gap[rows])
            return found.slope, found.variance
        if how == "multilevel":
            working = covariance + self.within[r] * np.eye(len(y))
            ones = np.linalg.solve(working, np.ones(len(y)))
            return float(ones @ y / ones.sum()), float(1 / ones.sum())
        found = composite(y, covariance=covariance)
        return found.effect, found.variance

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

    def estimate_within(self, kept: np.ndarray, *, r_between_outcomes: float) -> bool:
        """Estimate the variance within studies from the rows kept; False if it cannot be."""
        parts = {study: rows[kept[rows]] for study, rows in self.places.items()}
        parts = {study: rows for study, rows in parts.items() if rows.size}
        start = np.cumsum([0, *(rows.size for rows in parts.values())])
        y, ones, v = np.empty(start[-1]), np.ones(start[-1]), np.empty(start[-1])
        for begin, end, (study, rows) in zip(start[:-1], start[1:], parts.items(), strict=True):
            piece = slice(begin, end)
            y[piece], v[piece] = self.effect[rows], self.variance[rows]
            if rows.size == 1:
                continue
            weighting = self._weighting(rows)
            covariance = self._covariance(rows, study, r_between_outcomes, weighting)
            v[piece], vectors = np.linalg.eigh(covariance)
            if v[begin] < SINGULAR * v[end - 1]:
                return False
            y[piece], ones[piece] = vectors.T @ y[piece], vectors.sum(axis=0)
        found = nested_variances(Blocks(y[None], ones[None], v[None], start[:-1]), restricted=True)
        self.within[r_between_outcomes] = float(found.within[0])
        return True


# As in `pool_nested`: below this the effects of a study repeat each other exactly.
SINGULAR = 1e-10
_CORRELATING = ("intervention", "comparator", "n_intervention", "n_comparator", "outcome", "week")
