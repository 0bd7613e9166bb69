"""Pool counts over studies without leaning on any study's own ratio: right when events are few."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import ndtri

from steelyard.errors import DesignError
from steelyard.pooling.checking import choice, level_between_zero_and_one, numbers
from steelyard.show import Shown, count, number
from steelyard.show import interval as shown_interval

MEASURES = ("odds-ratio", "risk-ratio", "risk-difference")
CONTINUITY = ("none", "half")
_TITLES = {
    "odds-ratio": "odds ratio",
    "risk-ratio": "risk ratio",
    "risk-difference": "risk difference",
}


@dataclass(frozen=True, slots=True)
class MantelHaenszel(Shown):
    """A pooled ratio or difference of counted people.

    Attributes
    ----------
    measure : str
        ``odds-ratio``, ``risk-ratio`` or ``risk-difference``.
    estimate, standard_error, low, high : float
        Ratios on the log scale.
    level : float
    k : int
        Studies that say something.
    without_events : int
        Studies without any event (for an odds ratio, also those with an event in everyone),
        which say nothing about a ratio.
    one_sided : int
        Studies with an event in only one of the groups.
    continuity : str
        What was added to empty cells, in words.
    """

    measure: str
    estimate: float
    standard_error: float
    low: float
    high: float
    level: float
    k: int
    without_events: int
    one_sided: int
    continuity: str

    @property
    def ratio(self) -> float:
        """The estimate as a ratio; the difference itself for a risk difference."""
        return self._shown(self.estimate)

    def _shown(self, value: float) -> float:
        return value if self.measure == "risk-difference" else float(np.exp(value))

    def _title(self) -> str:
        return f"Mantel–Haenszel {_TITLES[self.measure]} over {count(self.k, 'study', 'studies')}"

    def _rows(self) -> list[tuple[str, str]]:
        signed = self.measure == "risk-difference"
        ends = [self._shown(end) for end in (self.low, self.high)]
        rows = [
            (
                "estimate",
                f"{number(self.ratio, decimals=3, sign=signed)}, {100 * self.level:g} % interval "
                f"{shown_interval(*ends, decimals=3, sign=signed)}",
            ),
            ("empty cells", self.continuity),
        ]
        if self.without_events and not signed:
            text = f"{count(self.without_events, 'study', 'studies')} without contrast left out"
            rows.append(("says nothing", text))
        return rows


def mantel_haenszel(
    events,
    n,
    events_comparator,
    n_comparator,
    *,
    measure: str = "odds-ratio",
    continuity: str = "none",
    level: float = 0.95,
) -> MantelHaenszel:
    """Mantel–Haenszel pool of studies that count people.

    Parameters
    ----------
    events, n : array_like of float, shape (k,)
        People with an event and people observed with the intervention; 0 ≤ events ≤ n.
    events_comparator, n_comparator : array_like of float, shape (k,)
        The same with the comparator.
    measure : str
        ``odds-ratio``, ``risk-ratio`` or ``risk-difference``.
    continuity : str
        ``none`` adds nothing: the sums need no help as long as one study has an event on each
        side. ``half`` adds one half to all four cells of each study with an empty cell.
    level : float
        Between 0 and 1.

    Returns
    -------
    MantelHaenszel

    Raises
    ------
    DesignError
        For counts that cannot be, or where the sums hold no ratio; says which.

    Notes
    -----
    With a, b events and non-events of the intervention, c, d of the comparator and N people,
    the odds ratio is ``sum(ad/N) / sum(bc/N)`` [1]_; its log has the variance of Robins,
    Breslow and Greenland [2]_. The risk ratio is ``sum(a n2/N) / sum(c n1/N)`` and the risk
    difference ``sum((a n2 - c n1)/N) / sum(n1 n2/N)``, both with the variances of Greenland
    and Robins [3]_. One common effect is assumed.

    References
    ----------
    .. [1] Mantel, N., & Haenszel, W. (1959). Statistical aspects of the analysis of data from
           retrospective studies of disease. J Natl Cancer Inst 22, 719-748.
    .. [2] Robins, J., Breslow, N., & Greenland, S. (1986). Estimators of the Mantel-Haenszel
           variance consistent in both sparse data and large-strata limiting models. Biometrics
           42, 311-323.
    .. [3] Greenland, S., & Robins, J. M. (1985). Estimation of a common effect parameter from
           sparse follow-up data. Biometrics 41, 55-68.
    """
    choice(measure, name="measure", among=MEASURES)
    choice(continuity, name="continuity", among=CONTINUITY)
    level = level_between_zero_and_one(level)
    a, n1, c, n2 = _counts(events, n, events_comparator, n_comparator)
    b, d = n1 - a, n2 - c
    silent = (a + c == 0) if measure != "odds-ratio" else (a + c == 0) | (b + d == 0)
    if measure == "risk-difference":
        silent = np.zeros(a.size, dtype=bool)
    kept = ~silent
    if not kept.any():
        raise DesignError("no study has both people with and people without an event")
    one_sided = int((((a == 0) ^ (c == 0)) & kept).sum())
    a, b, c, d = (cells[kept].astype(float) for cells in (a, b, c, d))
    words = "nothing added"
    if continuity == "half":
        empty = 0.5 * ((a == 0) | (b == 0) | (c == 0) | (d == 0))
        a, b, c, d = a + empty, b + empty, c + empty, d + empty
        words = (
            f"one half added to every cell of {count(int((empty > 0).sum()), 'study', 'studies')}"
        )
    estimate, variance = _POOLS[measure](a, b, c, d)
    error = float(np.sqrt(variance))
    half = float(ndtri((1 + level) / 2)) * error
    return MantelHaenszel(
        measure=measure,
        estimate=estimate,
        standard_error=error,
        low=estimate - half,
        high=estimate + half,
        level=level,
        k=int(kept.sum()),
        without_events=int(silent.sum()),
        one_sided=one_sided,
        continuity=words,
    )


def _counts(events, n, events_comparator, n_comparator):
    named = {
        "events": events,
        "n": n,
        "events_comparator": events_comparator,
        "n_comparator": n_comparator,
    }
    arrays = [numbers(values, name=name, ndim=1) for name, values in named.items()]
    if len({array.size for array in arrays}) != 1 or not arrays[0].size:
        sizes = ", ".join(str(array.size) for array in arrays)
        raise DesignError(f"all four columns must be equally long, with a study; they have {sizes}")
    for name, people_name in (("events", "n"), ("events_comparator", "n_comparator")):
        events_there, people = (arrays[list(named).index(each)] for each in (name, people_name))
        wrong = ~((events_there >= 0) & (events_there <= people) & (people >= 1))
        wrong |= ~np.isfinite(people)
        if wrong.any():
            place = int(np.flatnonzero(wrong)[0])
            raise DesignError(
                f"{name} must lie from 0 to n, with n at least 1; {name}[{place}] = "
                f"{events_there[place]:g} of {people[place]:g}"
            )
    return arrays


def _refuse_one_way(top: float, bottom: float, measure: str) -> None:
    if top <= 0 or bottom <= 0:
        raise DesignError(
            f"the {_TITLES[measure]} needs an event on each side in some study: over all studies "
            "one side has none; a risk difference can still be given"
        )


def _odds(a, b, c, d):
    people = a + b + c + d
    r, s = a * d / people, b * c / people
    _refuse_one_way(r.sum(), s.sum(), "odds-ratio")
    p, q = (a + d) / people, (b + c) / people
    variance = (
        (p * r).sum() / (2 * r.sum() ** 2)
        + (p * s + q * r).sum() / (2 * r.sum() * s.sum())
        + (q * s).sum() / (2 * s.sum() ** 2)
    )
    return float(np.log(r.sum() / s.sum())), float(variance)


def _risks(a, b, c, d):
    n1, n2 = a + b, c + d
    people = n1 + n2
    top, bottom = (a * n2 / people).sum(), (c * n1 / people).sum()
    _refuse_one_way(top, bottom, "risk-ratio")
    spread = ((n1 * n2 * (a + c) - a * c * people) / people**2).sum()
    return float(np.log(top / bottom)), float(spread / (top * bottom))


def _differences(a, b, c, d):
    n1, n2 = a + b, c + d
    people = n1 + n2
    weight = (n1 * n2 / people).sum()
    estimate = ((a * n2 - c * n1) / people).sum() / weight
    spread = ((a * b * n2**3 + c * d * n1**3) / (n1 * n2 * people**2)).sum()
    if spread <= 0:
        raise DesignError("no study has both people with and people without an event")
    return float(estimate), float(spread / weight**2)


_POOLS = {"odds-ratio": _odds, "risk-ratio": _risks, "risk-difference": _differences}
