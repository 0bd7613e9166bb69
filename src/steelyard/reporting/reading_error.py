"""How far off a number may be that was read off a figure, and what that does to an SD."""

from __future__ import annotations

from dataclasses import dataclass

from steelyard.errors import DesignError

# Common practice, no source: who measures bars on a figure repeats within about a hundredth of
# the height of mean plus SD. Used only where the record states no reading error.
FIGURE_READING_SHARE = 0.01
"""Assumed reading error, as a share of the height of mean plus SD."""


@dataclass(frozen=True, slots=True)
class ReadingError:
    """Standard errors of reading one mean and its SD off a figure, in the outcome's unit.

    Attributes
    ----------
    mean, sd : float
        0 where nothing was read off a figure.
    assumed : bool
        Whether the record states none, so that `FIGURE_READING_SHARE` stands in.
    """

    mean: float = 0.0
    sd: float = 0.0
    assumed: bool = False

    @property
    def words(self) -> str:
        """What was assumed; empty where nothing was."""
        if not self.assumed:
            return ""
        share = f"{100 * FIGURE_READING_SHARE:g} %"
        return (
            f"reading error not stated: {self.mean:.3g} assumed, {share} of mean + SD "
            "(common practice)"
        )


NOT_READ = ReadingError()
"""Of numbers that stand in print."""


def default_reading_error(mean: float, sd: float | None) -> float:
    """`FIGURE_READING_SHARE` × (|mean| + SD), for a figure reading that states no error.

    Common practice, no source. The height of a mean with its bar is what is measured.
    """
    return FIGURE_READING_SHARE * (abs(mean) + (sd or 0.0))


def error_of_sd(printed, error: float, *, to_sd) -> float:
    """Standard error of an SD that comes from lengths read with an error of their own.

    √Σ(SD(x + e·1_i) − SD(x))², one term for each number read: the propagation of independent
    errors, each slope taken as the difference that the error makes [1]_. Exact where the SD is
    linear in the numbers, as it is in an SD, an SE, the limits of an interval, quartiles and
    extremes.

    Parameters
    ----------
    printed : sequence of float
        The numbers that the SD is computed from.
    error : float
        Standard error of reading each, ≥ 0, same unit.
    to_sd : callable
        From as many numbers to the SD.

    Returns
    -------
    float
        Same unit.

    Raises
    ------
    DesignError
        If the error is negative, or `to_sd` refuses the numbers as printed.

    References
    ----------
    .. [1] JCGM 100:2008, Evaluation of measurement data: Guide to the expression of uncertainty
           in measurement, 5.1.2 and note 2 of 5.1.3; from memory.
    """
    if not error >= 0:
        raise DesignError(f"a reading error must be 0 or more; got {error}")
    middle = to_sd(printed)
    total = 0.0
    for place, value in enumerate(printed):
        moved = [*printed[:place], value + error, *printed[place + 1 :]]
        try:
            total += (to_sd(moved) - middle) ** 2
        except DesignError:
            # A low limit moved past its high one: the other way is as far.
            moved[place] = value - error
            total += (to_sd(moved) - middle) ** 2
    return total**0.5
