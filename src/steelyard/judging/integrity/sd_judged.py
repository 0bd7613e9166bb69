"""What speaks for a printed SD being a standard error, and how much it takes to say so."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from math import sqrt

from steelyard.judging.integrity import thresholds as limits
from steelyard.judging.integrity.peers import Typical
from steelyard.judging.integrity.rounded import HAIR, told

NARROW, LARGE, APART = "narrow", "large", "apart"


@dataclass(frozen=True, slots=True)
class SdJudged:
    """What speaks for a printed SD being a standard error.

    Attributes
    ----------
    signs : mapping of str to str
        From ``narrow`` (a coefficient of variation that groups of people do not have),
        ``large`` (a change or a difference above 3 SDs) and ``apart`` (far below like outcomes)
        to words with their numbers.
    as_sd : float
        SD·√n, what the SD would be.
    plausible : bool
        Whether SD·√n is of a size that such an SD has.
    small : bool
        Whether SD over mean lies below what makes a large change telling.
    limited : bool
        Whether a limit of SD over mean is known for it.
    others_fit : bool
        Whether the SDs printed beside it could be standard errors too.
    """

    signs: Mapping[str, str]
    as_sd: float
    plausible: bool
    small: bool = False
    limited: bool = False
    others_fit: bool = True

    @property
    def accused(self) -> bool:
        """Whether the signs suffice to ask for the standard error.

        A large change alone does not, as some 5 in 100 sound arms show one: it takes an SD
        that is small for its mean, or far from like outcomes, beside it.
        """
        if not self.plausible or not self.signs:
            return False
        if {NARROW, LARGE} <= set(self.signs):
            return True
        if not self.others_fit:
            return False
        if not self.limited or NARROW in self.signs or len(self.signs) > 1:
            return True
        return LARGE in self.signs and self.small

    @property
    def strong(self) -> bool:
        """Accused by two signs, or by a large change where no limit of SD over mean is known."""
        return self.accused and (len(self.signs) > 1 or (LARGE in self.signs and not self.limited))


def judge_sd(
    sd: float,
    *,
    n: int,
    mean: float | None = None,
    start: float | None = None,
    gain: float | None = None,
    gap: float | None = None,
    gap_sd: float | None = None,
    construct: str = "",
    typical: Typical | None = None,
    others_fit: bool = True,
) -> SdJudged:
    """Weigh whether a printed SD is a standard error.

    Signs: a coefficient of variation that groups of people do not have; a change, or a
    difference between arms, above 3 SDs [1]_; an SD (and, where it exists, a coefficient of
    variation) far below those of like outcomes. No sign counts unless SD·√n is itself
    plausible: a small SD that √n does not mend has another cause. SDs are held against the mean
    before training, as the limits are, since training raises means more than SDs.

    Parameters
    ----------
    sd : float
        As printed, > 0; raw units.
    n : int
        People, ≥ 2.
    mean, start : float, optional
        Mean at the same time, and before training; raw units.
    gain, gap : float, optional
        Mean change of the arm; difference from another arm; raw units.
    gap_sd : float, optional
        SD pooled over both arms of the difference; `sd` without it.
    construct : str
        Id from the vocabulary; limits are known for strength and muscle size.
    typical : Typical, optional
        Medians of like outcomes.
    others_fit : bool
        Whether the SDs printed beside it could be standard errors too.

    References
    ----------
    .. [1] Kadlec, D., Sainani, K. L., & Nimphius, S. (2023). Sports Medicine 53, 313-325.
    """
    known = limits.SPREAD_LIMITS.get(construct)
    from_start = start is not None and start > 0
    base = start if from_start else mean
    variation = sd / base if base is not None and base > 0 else None
    as_sd = sd * sqrt(n)
    signs = {}
    if known and variation is not None and variation < known.implausible:
        of = "the mean before training" if from_start else "the mean"
        signs[NARROW] = f"it is {told(100 * variation)} % of {of}"
    for name, size, over in (
        ("mean change", gain, sd),
        ("difference from the other arm", gap, gap_sd or sd),
    ):
        if size is not None and abs(size) / over > limits.STANDARDISED_LIMIT * (1 + HAIR):
            such = "such SDs" if over == sd else "pooled SDs"
            signs[LARGE] = f"the {name} of {told(size)} is {told(abs(size) / over)} {such}"
            break
    if typical is not None and typical.far_above(sd, variation):
        signs[APART] = f"like outcomes have a median SD of {told(typical.sd)}"
    if variation is not None:
        lowest = known.implausible if known else 0.0
        widest = known.widest if known else limits.OTHER_WIDEST
        plausible = lowest <= variation * sqrt(n) <= widest
    else:
        plausible = typical is not None and typical.near(as_sd)
    limited = known is not None and variation is not None
    small = limited and variation < known.narrow
    return SdJudged(signs, as_sd, plausible, small, limited, others_fit)


def taken_together(verdicts: Sequence[SdJudged], sds: Sequence[float]) -> SdJudged:
    """One verdict on SDs printed by the same hand, before and after training.

    A sign counts where every SD shows it. SDs further apart than sound ones are were hardly
    printed as the same measure; the one with most against it then speaks for itself.

    Parameters
    ----------
    verdicts : sequence of SdJudged
        At least one.
    sds : sequence of float
        The SDs they are about, in the same order.

    Returns
    -------
    SdJudged
        With the words and `as_sd` of the first of them, or of the one that speaks alone.
    """
    low, high = limits.SD_RATIO
    if not low <= sds[-1] / sds[0] <= high:
        return max(verdicts, key=lambda held: (held.accused, len(held.signs)))
    first = verdicts[0]
    shared = {
        kind: words
        for kind, words in first.signs.items()
        if all(kind in held.signs for held in verdicts)
    }
    return replace(
        first,
        signs=shared,
        plausible=all(held.plausible for held in verdicts),
        small=all(held.small for held in verdicts),
    )
