"""What speaks for a printed SD being a standard error, and how much it takes to say so."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from math import sqrt

from steelyard.judging.integrity import thresholds as limits
from steelyard.judging.integrity.beside import (
    Beside,
    StartsApart,
    chance_of_ratio,
    fitting,
    nearer_as_printed,
)
from steelyard.judging.integrity.peers import Typical
from steelyard.judging.integrity.rounded import HAIR, told

NARROW, LARGE, APART = "narrow", "large", "apart"
BESIDE, WITHIN, START = "beside", "within", "start"


@dataclass(frozen=True, slots=True)
class SdJudged:
    """What speaks for a printed SD being a standard error.

    Attributes
    ----------
    signs : mapping of str to str
        From ``narrow`` (a coefficient of variation that groups of people do not have),
        ``large`` (a change or a difference above 3 SDs), ``apart`` (far below like outcomes),
        ``beside`` (the other arm's SD fits SD·√n), ``within`` (so does that of the same people
        before or after) and ``start`` (starts too far apart) to words with their numbers.
    as_sd : float
        SD·√n, what the SD would be.
    plausible : bool
        Whether SD·√n is of a size that such an SD has.
    telling : bool
        Whether SD over mean is so low that it says enough alone.
    small, near : bool
        Whether it is so low that a large change, or an SD beside it, says the rest.
    limited : bool
        Whether a limit of SD over mean is known for it.
    others_fit : bool
        Whether no SD printed beside it speaks for an SD.
    lone : bool
        Whether it speaks for itself, as the SDs before and after are too far apart.
    sums : mapping of str to str
        Sums behind the signs that need one.
    """

    signs: Mapping[str, str]
    as_sd: float
    plausible: bool
    telling: bool = False
    small: bool = False
    near: bool = False
    limited: bool = False
    others_fit: bool = True
    lone: bool = False
    sums: Mapping[str, str] = field(default_factory=dict)

    @property
    def accused(self) -> bool:
        """Whether the signs suffice to ask for the standard error.

        A large change alone does not, as some 5 in 100 sound arms show one: it takes an SD
        that is small for its mean, or far from like outcomes, beside it. Nor does the other arm's
        SD alone, as arms of sound studies may differ so. Where no limit of SD over mean is known
        and the SDs before and after differ much, like outcomes must speak too: people near the end
        of a scale spread less and less.
        """
        signs = set(self.signs)
        if not self.plausible or not signs:
            return False
        if {NARROW, LARGE} <= signs or (self.limited and WITHIN in signs):
            return True
        if not self.others_fit:
            return False
        if not self.limited:
            return {APART} < signs if self.lone else signs != {BESIDE}
        if self.telling or START in signs or {APART, LARGE} <= signs:
            return True
        return (self.small and LARGE in signs) or (self.near and BESIDE in signs)

    @property
    def strong(self) -> bool:
        """Accused by two signs, or by a large change where no limit of SD over mean is known.

        A small SD before training beside a large one after makes the change large by itself: that
        is one sign.
        """
        signs = set(self.signs)
        if not self.limited:
            return self.accused and (len(signs) > 1 or LARGE in signs)
        return self.accused and len(signs) > 1 and signs != {LARGE, WITHIN}


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
    beside: Sequence[Beside] = (),
    starts: StartsApart | None = None,
) -> SdJudged:
    """Weigh whether a printed SD is a standard error.

    Signs: a coefficient of variation that groups of people do not have; a change, or a
    difference between arms, above 3 SDs [1]_; an SD (and, where it exists, a coefficient of
    variation) far below those of like outcomes; SDs beside it that are larger by about √n, of
    another arm, or of the same people where no other arm's SD is like it; arms that start further
    apart than their SDs allow, where the SD is small besides. No sign counts unless SD·√n is itself
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
        Whether no SD printed beside it speaks for an SD.
    beside : sequence of Beside
        SDs of other arms at the same time, and of the same people before or after.
    starts : StartsApart, optional
        Arms too far apart before training.

    References
    ----------
    .. [1] Kadlec, D., Sainani, K. L., & Nimphius, S. (2023). Sports Medicine 53, 313-325.
    """
    known = limits.SPREAD_LIMITS.get(construct)
    from_start = start is not None and start > 0
    base = start if from_start else mean
    variation = sd / base if base is not None and base > 0 else None
    as_sd = sd * sqrt(n)
    limited = known is not None and variation is not None
    factor = typical.factor(construct) if typical is not None else 1.0
    telling = limited and variation < known.telling * factor
    small = limited and variation < known.narrow * factor
    signs, sums = {}, {}
    if limited and variation < known.implausible * factor:
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
    same_people = [other for other in beside if other.same_people]
    same_time = [other for other in beside if not other.same_people]
    if any(nearer_as_printed(sd, n, other.sd) for other in same_time):
        same_people = []
    for kind, others in ((WITHIN, same_people), (BESIDE, same_time)):
        other = fitting(sd, n, others)
        if other is not None and (kind == WITHIN or small or not limited):
            mended = f"{told(sd)} × √{n} = {told(as_sd)}"
            signs[kind] = f"{other.name} is {other.text}; {mended}"
            chance = chance_of_ratio(sd, n, other)
            ratio = told((other.sd / sd) ** 2)
            sums[kind] = f"({other.text} / {told(sd)})² = {ratio}, p {told(chance)}"
    if starts is not None and limited and variation < known.wide * factor:
        signs[START], sums[START] = starts.words, starts.sums
    if variation is not None:
        lowest = known.implausible if known else 0.0
        widest = known.widest if known else limits.OTHER_WIDEST
        plausible = lowest <= variation * sqrt(n) <= widest
    else:
        near = typical is not None and typical.near(as_sd)
        plausible = near or bool({WITHIN, BESIDE} & set(signs))
    near = limited and variation < known.beside * factor
    return SdJudged(signs, as_sd, plausible, telling, small, near, limited, others_fit, sums=sums)


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
        alone = [replace(held, lone=True) for held in verdicts]
        return max(alone, key=lambda held: (held.accused, len(held.signs)))
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
        telling=all(held.telling for held in verdicts),
        small=all(held.small for held in verdicts),
        near=all(held.near for held in verdicts),
    )
