"""Forms that a dose-response curve may take, as columns of numbers."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from steelyard.errors import DesignError

FORMS = ("linear", "log", "spline")
IN_WORDS = {
    "linear": "the same for every further step",
    "log": "less for every further step",
    "spline": "free to bend",
}
# Harrell, F. E. (2015), Regression Modeling Strategies, table 2.3: places of three knots.
KNOT_QUANTILES = (0.10, 0.50, 0.90)


@dataclass(frozen=True, slots=True)
class DoseBasis:
    """A form with what it needs to be computed at any dose.

    Attributes
    ----------
    form : str
        ``linear``: the dose; ``log``: its natural logarithm, of dose + 1 if any dose is 0;
        ``spline``: a restricted cubic spline with three knots, straight beyond the outer two.
    shift : float
        Added to the dose before taking the logarithm.
    knots : tuple of float
        Of the spline; empty otherwise.
    """

    form: str
    shift: float = 0.0
    knots: tuple[float, ...] = ()

    @property
    def width(self) -> int:
        """Coefficients."""
        return 2 if self.form == "spline" else 1

    @property
    def names(self) -> tuple[str, ...]:
        """Of the coefficients."""
        if self.form == "log":
            return ("log dose",) if not self.shift else ("log of dose + 1",)
        return ("dose", "bend")[: self.width]

    def columns(self, dose) -> np.ndarray:
        """Columns at each dose, shape (doses, width)."""
        dose = np.asarray(dose, dtype=float)
        if self.form == "linear":
            return dose[:, None]
        if self.form == "log":
            return np.log(dose + self.shift)[:, None]
        first, middle, last = self.knots

        def cube(knot):
            return np.maximum(dose - knot, 0) ** 3

        bend = (
            cube(first)
            - cube(middle) * (last - first) / (last - middle)
            + cube(last) * (middle - first) / (last - middle)
        )
        return np.column_stack([dose, bend / (last - first) ** 2])


def dose_basis(form: str, doses) -> DoseBasis:
    """The basis of a form for the doses studied.

    Parameters
    ----------
    form : str
        One of `FORMS`.
    doses : array_like of float
        Every arm's dose, ≥ 0.

    Raises
    ------
    DesignError
        For an unknown form, a negative dose, or too few different doses for the form.
    """
    if form not in FORMS:
        raise DesignError(f"form must be one of {', '.join(FORMS)}; it is {form!r}")
    doses = np.asarray(doses, dtype=float)
    if not (np.isfinite(doses) & (doses >= 0)).all():
        raise DesignError(f"every dose must be finite and not below 0; they are {doses.tolist()}")
    different = np.unique(doses)
    needed = 4 if form == "spline" else 2
    if different.size < needed:
        raise DesignError(
            f"a {form} form needs at least {needed} different doses; there are {different.size}"
        )
    if form == "log":
        return DoseBasis(form, shift=1.0 if different[0] == 0 else 0.0)
    if form == "linear":
        return DoseBasis(form)
    knots = tuple(float(knot) for knot in np.quantile(doses, KNOT_QUANTILES))
    if not knots[0] < knots[1] < knots[2]:
        raise DesignError("the doses crowd at too few values for a curve that is free to bend")
    return DoseBasis(form, knots=knots)
