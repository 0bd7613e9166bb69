"""From the machine's scale of a metric to the one a person reads, and its words."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from steelyard.records.question import RATIO_METRICS, SPREAD_METRICS, Question


@dataclass(frozen=True, slots=True)
class Scale:
    """How one metric is shown.

    Attributes
    ----------
    metric : str
    unit : str
        After a number: ``" SD"``, ``" %"``, ``" mm"``, empty for ratios.
    turned : bool
        Whether the sign is turned back because lower is better in the outcome's unit.
    no_effect : float
        Display value of no effect: 0, or 1 for ratios.
    kind : str
        ``linear`` or ``log``.
    sign : bool
        Whether numbers are written with + or −.
    decimals : int
    """

    metric: str
    unit: str
    turned: bool
    no_effect: float
    kind: str
    sign: bool
    decimals: int

    def shown(self, values):
        """Machine values to display values; intervals must be ordered again if `turned`."""
        values = np.asarray(values, dtype=float)
        if self.turned:
            values = -values
        if self.metric == "percent":
            return 100 * np.expm1(values)
        if self.metric in _LOG:
            return np.exp(values)
        if self.metric == "risk-difference":
            return 100 * values
        if self.metric == "correlation":
            return np.tanh(values)
        return values


_LOG = RATIO_METRICS - {"percent"}


def scale_of(question: Question, *, units: set[str], better: set[str], size: float) -> Scale:
    """The display scale of a question.

    Parameters
    ----------
    question : Question
    units : set of str
        Units of the outcomes pooled; shown only when there is one.
    better : set of str
        Directions of the outcomes pooled; the sign is turned back when all say ``lower``.
    size : float
        Typical size of a raw effect, which sets its decimals.
    """
    metric = question.metric
    unit = {"standardised": " SD", "percent": " %", "risk-difference": " points per 100"}.get(
        metric, ""
    )
    if metric == "raw":
        unit = f" {next(iter(units))}" if len(units) == 1 else ""
    decimals = 2
    if metric in ("percent", "risk-difference"):
        decimals = 1
    elif metric == "raw" and size > 0:
        decimals = int(np.clip(1 - np.floor(np.log10(size)), 0, 4))
    turned = better == {"lower"} and metric not in {"standardised", *SPREAD_METRICS}
    return Scale(
        metric=metric,
        unit=unit,
        turned=turned and metric != "correlation",
        no_effect=1.0 if metric in _LOG else 0.0,
        kind="log" if metric in _LOG else "linear",
        sign=metric not in _LOG,
        decimals=decimals,
    )


def stated_worthwhile(question: Question) -> str:
    """The smallest worthwhile effect as it is shown: risk differences per 100 people."""
    value = float(question.smallest_worthwhile)
    return f"{100 * value if question.metric == 'risk-difference' else value:g}"


def worthwhile_on_machine_scale(question: Question) -> float | None:
    """The smallest worthwhile effect on the scale of the effect table.

    A question states it as people say it: percent for ``percent`` (3 is 3 %), a ratio for
    ratio metrics (1.25 and 0.8 mean the same), a correlation for ``correlation``, a proportion
    for ``risk-difference`` (0.05 is 5 in 100), and the metric's own unit otherwise.
    """
    if question.smallest_worthwhile is None:
        return None
    value = float(question.smallest_worthwhile)
    if question.metric == "percent":
        return float(np.log1p(value / 100))
    if question.metric in _LOG:
        return float(abs(np.log(value)))
    if question.metric == "correlation":
        return float(np.arctanh(min(value, 0.999)))
    return value
