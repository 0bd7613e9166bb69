"""The smallest worthwhile effect carried from a question's metric into another."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from steelyard.pooling.scale import worthwhile_on_machine_scale
from steelyard.records.question import COUNT_METRICS, Question

CONTINUOUS = ("standardised", "raw", "percent")
# A risk difference is no other way to tell a ratio: where events are few, studies without any
# weigh most in it and pull it to zero.
RATIOS = ("risk-ratio", "odds-ratio")


def kin_metrics(question: Question) -> tuple[str, ...]:
    """Metrics in which the same results could be told, the question's own first."""
    if question.metric in CONTINUOUS:
        family = CONTINUOUS
    elif question.metric in COUNT_METRICS:
        family = RATIOS
    else:
        family = (question.metric,)
    return (question.metric, *(each for each in family if each != question.metric))


def worthwhile_for_study(
    asked: Question | None, questions: Iterable[Question], *, metric: str
) -> float | None:
    """What would be worth having in one study's comparison, on the machine scale.

    That of the question asked of it, carried into `metric`; else the smallest that any question
    in this metric sets. A question of dose sets it per step of dose, which fits no comparison.
    """
    if asked is not None and asked.dose is None and metric in kin_metrics(asked):
        found = worthwhile_in(asked, metric)
        if found is not None:
            return found
    known = [
        worthwhile_on_machine_scale(question)
        for question in questions
        if question.metric == metric and question.dose is None
    ]
    return min((value for value in known if value is not None), default=None)


def worthwhile_in(question: Question, metric: str) -> float | None:
    """The worthwhile effect on the machine scale of another metric.

    Standardised, raw and percent are tied by the question's reference SD and baseline, risk
    ratio, odds ratio and risk difference by its baseline risk.

    Parameters
    ----------
    question : Question
    metric : str
        One of `kin_metrics`.

    Returns
    -------
    float or None
        None where the question sets none, or does not say what ties the two metrics.
    """
    own = worthwhile_on_machine_scale(question)
    if own is None or metric == question.metric:
        return own
    if metric in CONTINUOUS:
        return _continuous(question, own, metric)
    return _counts(question, own, metric)


def _continuous(question: Question, own: float, metric: str) -> float | None:
    sd, baseline = (
        None if value is None else float(value)
        for value in (question.client.reference_sd, question.client.baseline)
    )
    needs = {question.metric, metric}
    if (sd is None and "standardised" in needs) or (baseline is None and "percent" in needs):
        return None
    in_units = {
        "standardised": lambda: own * sd,
        "percent": lambda: baseline * np.expm1(own),
        "raw": lambda: own,
    }[question.metric]()
    return float(
        {
            "standardised": lambda: in_units / sd,
            "percent": lambda: np.log1p(in_units / baseline),
            "raw": lambda: in_units,
        }[metric]()
    )


def _counts(question: Question, own: float, metric: str) -> float | None:
    if question.client.baseline is None or not 0 < question.client.baseline < 1:
        return None
    usual = float(question.client.baseline)
    # Towards fewer events, as a worthwhile effect on counted harm is told.
    other = {
        "risk-ratio": lambda: usual * np.exp(-own),
        "odds-ratio": lambda: _risk(usual / (1 - usual) * np.exp(-own)),
        "risk-difference": lambda: usual - own,
    }[question.metric]()
    if not 0 < other < 1:
        return None
    return float(
        {
            "risk-ratio": lambda: np.log(usual / other),
            "odds-ratio": lambda: np.log(usual / (1 - usual)) - np.log(other / (1 - other)),
            "risk-difference": lambda: usual - other,
        }[metric]()
    )


def _risk(odds: float) -> float:
    return odds / (1 + odds)
