"""How many people one fair answer takes."""

from __future__ import annotations

import math
from dataclasses import dataclass

from scipy.special import ndtri

from steelyard.errors import DesignError
from steelyard.pooling.checking import choice, level_between_zero_and_one
from steelyard.pooling.checking_settings import above_zero, finite, strictly_between
from steelyard.show import Shown

CONTRASTS = ("post", "change", "adjusted")


@dataclass(frozen=True, slots=True)
class InformationSize(Shown):
    """People needed in each of two arms.

    Attributes
    ----------
    per_arm : int
        Rounded up.
    exact : float
        Before rounding.
    worthwhile, r_pre_post, power, level : float
    contrast : str
    """

    per_arm: int
    exact: float
    worthwhile: float
    r_pre_post: float
    power: float
    level: float
    contrast: str

    def _title(self) -> str:
        return "People one fair answer takes"

    def _rows(self) -> list[tuple[str, str]]:
        return [
            ("each arm", f"{self.per_arm:,}"),
            (
                "to tell",
                f"a difference of {self.worthwhile:g} SD from none, "
                f"{100 * self.power:g} times in 100",
            ),
            ("comparing", f"{self.contrast}; pre-post correlation {self.r_pre_post:g}"),
        ]


def information_size(
    worthwhile, *, r_pre_post, contrast: str = "change", power: float = 0.8, level: float = 0.95
) -> InformationSize:
    """Optimal information size: people per arm that one trial of two arms would need.

    Parameters
    ----------
    worthwhile : float
        Smallest worthwhile effect, above 0, in SDs between people.
    r_pre_post : float
        Correlation of pre with post, between -1 and 1.
    contrast : str
        ``post`` values, ``change`` from pre to post, or post ``adjusted`` for pre.
    power : float
        Chance that the interval leaves out zero if the difference is `worthwhile`.
    level : float
        Of the interval.

    Returns
    -------
    InformationSize

    Raises
    ------
    DesignError
        For a number outside its range.

    Notes
    -----
    A person's variance, in units of the variance between people, is 1 (post), ``2 (1 - r)``
    (change) or ``1 - r**2`` (adjusted). The difference of two arms of n has ``2/n`` times that,
    and must be told at ``(z((1 + level)/2) + z(power))**2 = d**2/variance``, so
    ``n = 2 (z + z)**2 (person's variance)/d**2``: for change, 80 % power and 95 %,
    ``31.4 (1 - r)/d**2``. With a normal approximation; a t test of few people needs two or
    three more per arm.
    """
    worthwhile = above_zero(worthwhile, name="worthwhile")
    r = finite(r_pre_post, name="r_pre_post")
    if not -1 < r < 1:
        raise DesignError(f"r_pre_post must lie between -1 and 1; it is {r_pre_post!r}")
    choice(contrast, name="contrast", among=CONTRASTS)
    power = strictly_between(power, name="power", low=0, high=1)
    level = level_between_zero_and_one(level)
    one_person = {"post": 1.0, "change": 2 * (1 - r), "adjusted": 1 - r**2}[contrast]
    reach = max(float(ndtri((1 + level) / 2) + ndtri(power)), 0.0)
    exact = 2 * reach**2 * one_person / worthwhile**2
    return InformationSize(math.ceil(exact), exact, worthwhile, r, power, level, contrast)
