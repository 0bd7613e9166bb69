"""What to believe after the evidence: chances for the average, and for the next group."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from steelyard.pooling.effect_axis import effect_axis, ends_shown
from steelyard.pooling.pictures import BeliefData, Chances
from steelyard.pooling.posterior import Marginal, Posterior, posterior, unforeseen
from steelyard.pooling.side_words import favourable, sides_of
from steelyard.pooling.weighing import Weighing
from steelyard.show import Shown

# Swinton, P. A., & Murphy, A. (2022), 417 studies in strength and conditioning: half of
# standardised differences between two programmes are below 0.29; a normal with SD 0.29/0.6745.
BETWEEN_PROGRAMMES_SD = 0.43
# Own rules, in smallest worthwhile effects: a prior that hardly says anything, one that expects
# no more than a few of them, and the usual, the narrow and the wide spread between studies.
WEAK, MODEST, SPREAD, NARROW_SPREAD, WIDE_SPREAD = 10.0, 2.0, 2.0, 1.0, 4.0
# The weighing gives a range for the next study too, its prediction interval.
NEXT_STUDY = "next study's average, under the belief (Bayesian) reading"


@dataclass(frozen=True, slots=True)
class Prior:
    """What was believed before, in words and numbers on the machine scale."""

    words: str
    prior_sd: float
    tau_scale: float


@dataclass(frozen=True, slots=True, eq=False)
class Belief(Shown):
    """Posteriors of one weighing under several priors.

    Attributes
    ----------
    weighing : Weighing
    priors : tuple of Prior
        The first is the one used, unless the studies scatter more than it foresees; then the
        last is, the widest.
    posteriors : tuple of Posterior
    """

    weighing: Weighing
    priors: tuple[Prior, ...]
    posteriors: tuple[Posterior, ...]

    @property
    def used(self) -> Posterior:
        """Under the first prior, or the widest where the first has no room for the scatter."""
        return self.posteriors[-1 if self.scattered else 0]

    @property
    def scattered(self) -> bool:
        """Whether the studies scatter more than the first prior foresees."""
        return unforeseen(self.posteriors[0].tau, scale=self.priors[0].tau_scale)

    @property
    def sentence(self) -> str:
        """Chances for the average and the next group, and whether the prior matters."""
        if not self.scattered:
            return self._chances()
        return (
            "The studies differ more than was expected beforehand, so what is said here expects "
            f"more. {self._chances()}"
        )

    def _chances(self) -> str:
        show, now = self.weighing, self.used
        if show.worthwhile is None:
            return (
                f"If the studies are sound, the chance that {favourable(show)} on average is "
                f"{in_100(now.effect.positive)}; in a next group like these, "
                f"{in_100(now.next_study.positive)}."
            )
        above = [each.effect.above for each in self.posteriors]
        spread = (
            f"whichever prior is taken, {in_100(min(above))} to {in_100(max(above))}"
            if max(above) - min(above) > 0.05
            else "the prior hardly matters"
        )
        less = sides_of(show).less
        other_way = "worse" if less == "worse" else "the other way"
        wrong = in_100(now.effect.below), in_100(now.next_study.below)
        both = f"{wrong[0]} in both" if wrong[0] == wrong[1] else " and ".join(wrong)
        return (
            f"If the studies are sound, the chance that {favourable(show)} by enough to matter is "
            f"{in_100(now.effect.above)} on average ({spread}), and "
            f"{in_100(now.next_study.above)} in a next group like these; {other_way} by as much, "
            f"{both}."
        )

    def _title(self) -> str:
        return f"What to believe: {self.weighing.question.id}"

    def _rows(self) -> list[tuple[str, str]]:
        show, rows = self.weighing, [("in short", self.sentence)]
        both = sides_of(show)
        for prior, found in zip(self.priors, self.posteriors, strict=True):
            mean = found.effect
            told = f"{show.text(mean.median)} ({show.span(mean.low, mean.high)})"
            chances = ""
            if show.worthwhile is not None:
                chances = (
                    f"; {both.more} by enough {in_100(found.effect.above)}, about the same "
                    f"{in_100(found.effect.within)}, {both.less} {in_100(found.effect.below)}"
                )
            rows.append((prior.words, f"{told}{chances}"))
        ahead = self.used.next_study
        rows.append((NEXT_STUDY, show.span(ahead.low, ahead.high)))
        rows += [("prior", text) for text in self.used.priors]
        return rows + [("note", note) for note in self.used.notes]


def belief(weighing: Weighing) -> Belief:
    """Posteriors under a weak prior and others, one row per study.

    Parameters
    ----------
    weighing : Weighing

    Returns
    -------
    Belief
        Priors are centred on no effect and told in smallest worthwhile effects, or in twice the
        standard error where none is set. Where the studies scatter more than the first has room
        for, the widest is as wide as the scatter the weighing found.
    """
    studies = weighing.studies[weighing.studies["used"]]
    unit = weighing.worthwhile or 2 * weighing.standard_error
    priors = [
        Prior("little was known", WEAK * unit, SPREAD * unit),
        Prior("a modest effect was expected", MODEST * unit, SPREAD * unit),
        Prior("little was known, studies alike", WEAK * unit, NARROW_SPREAD * unit),
    ]
    if weighing.question.metric == "standardised" and weighing.question.dose is None:
        priors[1] = Prior("as two programmes usually differ", BETWEEN_PROGRAMMES_SD, SPREAD * unit)
    found = [_posterior(weighing, studies, prior) for prior in priors]
    wide = WIDE_SPREAD * unit
    if unforeseen(found[0].tau, scale=priors[0].tau_scale):
        wide = max(wide, float(np.sqrt(weighing.pooled.tau2)))
    priors.append(Prior("little was known, studies far apart", WEAK * unit, wide))
    found.append(_posterior(weighing, studies, priors[-1]))
    return Belief(weighing, tuple(priors), tuple(found))


def _posterior(weighing: Weighing, studies: pd.DataFrame, prior: Prior) -> Posterior:
    return posterior(
        studies["effect"].to_numpy(float),
        studies["variance"].to_numpy(float),
        tau_scale=prior.tau_scale,
        prior_sd=prior.prior_sd,
        worthwhile=weighing.worthwhile,
        level=weighing.level,
    )


def in_100(chance: float) -> str:
    """A chance in words; never certain."""
    times = 100 * chance
    if times < 1:
        return "under 1 in 100"
    if times > 99:
        return "over 99 in 100"
    return f"{times:.0f} in 100"


def belief_data(found: Belief) -> BeliefData:
    """What the picture of belief shows; densities per machine unit."""
    weighing, now = found.weighing, found.used
    low = min(now.effect.points[0], now.next_study.points[0])
    high = max(now.effect.points[-1], now.next_study.points[-1])
    values = np.linspace(low, high, 241)
    curves = pd.DataFrame(
        {
            "value": weighing.scale.shown(values),
            "average": _density(now.effect, values),
            "following": _density(now.next_study, values),
        }
    ).sort_values("value", ignore_index=True)
    rows = []
    for prior, each in zip(found.priors, found.posteriors, strict=True):
        ends = ends_shown(weighing, each.effect.low, each.effect.high)
        rows.append(
            {
                "words": prior.words,
                "estimate": float(weighing.scale.shown(each.effect.median)),
                "low": ends[0],
                "high": ends[1],
                "above": _worth_having(weighing, each.effect),
                "used": each is now,
            }
        )
    return BeliefData(
        title="What to believe after these studies",
        subtitle=found.sentence,
        notes=_notes(found),
        axis=effect_axis(weighing),
        curves=curves,
        average=_side(weighing, now.effect),
        following=_side(weighing, now.next_study),
        average_interval=ends_shown(weighing, now.effect.low, now.effect.high),
        following_interval=ends_shown(weighing, now.next_study.low, now.next_study.high),
        priors=pd.DataFrame(rows),
        level=now.level,
    )


def _density(marginal: Marginal, values: np.ndarray) -> np.ndarray:
    return np.interp(values, marginal.points, marginal.density, left=0.0, right=0.0)


def _side(weighing: Weighing, marginal: Marginal) -> Chances:
    """Chances below, within and above the zone as it is shown on the axis."""
    if weighing.worthwhile is None:
        below, within, above = 1 - marginal.positive, 0.0, marginal.positive
    else:
        below, within, above = marginal.below, marginal.within, marginal.above
    if weighing.scale.turned:
        below, above = above, below
    return Chances(below=in_100(below), within=in_100(within), above=in_100(above))


def _worth_having(weighing: Weighing, marginal: Marginal) -> str:
    """The chance that the intervention does better by enough, whichever side that is."""
    return in_100(marginal.positive if weighing.worthwhile is None else marginal.above)


def _notes(found: Belief) -> tuple[str, ...]:
    notes = ["Invented data, for demonstration."] if found.weighing.invented else []
    notes.append("Each study enters with one effect; priors are centred on no effect.")
    notes.append(
        "The range for the next group is that of the belief (Bayesian) reading; the "
        "prediction interval of the weighing is reckoned another way and may differ from it."
    )
    return tuple(notes)
