"""For whom and when: whether the effect goes with what studies differ in."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from steelyard.errors import DesignError
from steelyard.pooling.leaning import AT_FITTED_EFFECTS, WHY_FITTED
from steelyard.pooling.moderator_fits import ModeratorFits, fit_moderators, fitted_rows
from steelyard.pooling.moderator_resampling import (
    PermutationTest,
    ShareInterval,
    permutation_test,
    share_interval,
)
from steelyard.pooling.moderator_values import Moderator, moderator_of, one_more
from steelyard.pooling.regress import RegressResult
from steelyard.pooling.share_of_variance import share_by_distributions
from steelyard.pooling.weighing import Weighing, plain
from steelyard.records.study import Study
from steelyard.show import Shown, count, number, p_text
from steelyard.show import interval as shown_interval

# Own rule, from the simulations told in `share_interval`; for studies resampled.
FEW = 10
# Own rule, from those told in `permutation_test`: p below 0.05 in 7 sets of 100 and more.
TIED = 5


@dataclass(frozen=True, slots=True, eq=False)
class Moderated(Shown):
    """Whether the effect of a question differs with moderators.

    Attributes
    ----------
    weighing : Weighing
    moderators : tuple of Moderator
    fits : ModeratorFits
    permuted : dict of str to PermutationTest
        Per moderator, the others held where they are.
    share : ShareInterval
        For the share of between-study variance taken up, beside ``fit.r2``.
    notes : tuple of str
    """

    weighing: Weighing
    moderators: tuple[Moderator, ...]
    fits: ModeratorFits
    permuted: dict[str, PermutationTest]
    share: ShareInterval
    notes: tuple[str, ...]

    @property
    def fit(self) -> RegressResult:
        """With the effects' own variances, on which the answer rests; machine scale."""
        return self.fits.fit

    @property
    def subgroups(self) -> pd.DataFrame:
        """As in `ModeratorFits`."""
        return self.fits.subgroups

    @property
    def contrasts(self) -> pd.DataFrame:
        """As in `ModeratorFits`."""
        return self.fits.contrasts

    @property
    def sentence(self) -> str:
        """For each moderator, how the effect goes with it and whether that could be chance."""
        return " ".join(self._told(each) for each in self.moderators)

    def _told(self, moderator: Moderator) -> str:
        places = self.fits.columns[moderator.name]
        test = self.permuted[moderator.name]
        chance = (
            f"dealt out at random the studies would show as much {_in_100(test.p)}"
            f"{'' if test.p < 0.05 else ', so this may well be chance'}"
        )
        fit, weighing = self.fit, self.weighing
        factor = "a factor of " if weighing.scale.kind == "log" else ""
        if moderator.numeric:
            at = places[0]
            slope, span = fit.coefficients[at], (fit.low[at], fit.high[at])
            return (
                f"For each further {one_more(moderator.name)}, the effect changes by {factor}"
                f"{weighing.text(slope)} ({weighing.span(*span)}); {chance}."
                f"{self._otherwise(at)}"
            )
        groups = len(places) + 1
        if groups == 2:
            at = places[0]
            group = fit.names[at].partition(": ")[2]
            return (
                f"With {moderator.words} {group}, the effect differs from the rest by {factor}"
                f"{weighing.text(fit.coefficients[at])} "
                f"({weighing.span(fit.low[at], fit.high[at])}); {chance}.{self._otherwise(at)}"
            )
        what = f"the {groups} groups of {moderator.words}"
        return f"Whether the effect differs between {what}: {chance}."

    def _otherwise(self, at: int) -> str:
        if not self.fits.moved(at):
            return ""
        other, show = self.fits.upright, self.weighing
        span = show.span(other.low[at], other.high[at])
        return f" With {AT_FITTED_EFFECTS} it is {show.text(other.coefficients[at])} ({span})."

    def _title(self) -> str:
        names = ", ".join(each.words for each in self.moderators)
        return f"For whom and when: {self.weighing.question.id} by {names}"

    def _rows(self) -> list[tuple[str, str]]:
        show = self.weighing
        rows = [("in short", self.sentence)]
        for row in self.subgroups.itertuples():
            rows.append(
                (
                    f"group {row.group}",
                    f"{show.text(row.estimate)} ({show.span(row.low, row.high)}); "
                    f"{count(row.effects, 'effect')} in {count(row.studies, 'study', 'studies')}"
                    f"{self._beside(row)}",
                )
            )
        for row in self.contrasts.itertuples():
            rows.append(
                (
                    f"{row.group} less {row.against}",
                    f"{show.text(row.difference)} ({show.span(row.low, row.high)}), "
                    f"{p_text(row.p)}{self._beside(row)}",
                )
            )
        for each in self.moderators:
            test = self.permuted[each.name]
            orders = f"{test.orders:,} random" if not test.exact else f"all {test.orders:,}"
            rows.append(
                (
                    f"{each.words}, permuted",
                    f"{p_text(test.p)} over {orders} orders",
                )
            )
        rows += [("variance explained", self._share()), ("method", self._method())]
        notes = [*self.notes, *self.fit.notes, *self.fits.notes]
        if any(AT_FITTED_EFFECTS in text for _, text in rows):
            notes.append(WHY_FITTED)
        return rows + [("note", note) for note in notes]

    def _beside(self, row) -> str:
        if not row.matters:
            return ""
        span = self.weighing.span(row.otherwise_low, row.otherwise_high)
        return f"; with {AT_FITTED_EFFECTS} {self.weighing.text(row.otherwise)} ({span})"

    def as_json(self) -> dict:
        """The machine's view: ratios on the log scale, positive favours the intervention."""
        fit, other = self.fit, self.fits.upright
        return {
            "question": self.weighing.question.id,
            "moderators": [each.name for each in self.moderators],
            "sentence": self.sentence,
            "k_studies": fit.studies,
            "k_effects": fit.k,
            "level": fit.level,
            "coefficients": _coefficients(fit),
            "at_fitted_effects": None if other is None else _coefficients(other),
            "tau2": plain(fit.tau2),
            "variance_explained": {
                "share": plain(fit.r2),
                "low": plain(self.share.low),
                "high": plain(self.share.high),
            },
            "permuted": {name: test.p for name, test in self.permuted.items()},
            "subgroups": _records(self.subgroups),
            "contrasts": _records(self.contrasts),
            "notes": [*self.notes, *fit.notes, *self.fits.notes],
        }

    def _share(self) -> str:
        if self.fit.r2 != self.fit.r2:
            return "there is no variance between studies to explain"
        text = f"{number(100 * self.fit.r2, decimals=0)} % of the variance between studies"
        if self.share.low != self.share.low:
            return f"{text}; too few resamples bear an interval"
        ends = shown_interval(100 * self.share.low, 100 * self.share.high, decimals=0, sign=False)
        if not self.share.draws:
            nothing = ", so these studies cannot tell" if ends == "0 to 100" else ""
            return f"{text} ({100 * self.fit.level:g} % interval {ends} %{nothing})"
        rough = f"; rough with fewer than {FEW} studies" if self.fit.studies < FEW else ""
        return f"{text} ({ends} %, studies resampled {self.share.used:,} times{rough})"

    def _method(self) -> str:
        fit = self.fit
        return (
            f"regression of {count(fit.k, 'effect')} in {count(fit.studies, 'study', 'studies')}, "
            f"{fit.between.upper()}, {fit.interval} intervals"
        )


def moderate(
    weighing: Weighing,
    studies: Mapping[str, Study],
    names: Sequence[str],
    *,
    draws: int = 2000,
    seed: int = 1,
) -> Moderated:
    """Regress a question's effects on any mix of study-, arm- and effect-level moderators.

    Parameters
    ----------
    weighing : Weighing
    studies : mapping of str to Study
    names : sequence of str
        As in `moderator_values.moderator_of`; at least one.
    draws, seed : int
        Of the permutations.

    Returns
    -------
    Moderated

    Raises
    ------
    DesignError
        For an unknown, constant or collinear moderator, one that no paper reports, or fewer
        than four studies per coefficient; says which.
    """
    if isinstance(names, str):
        names = (names,)
    if not names or len(set(names)) != len(names):
        raise DesignError(f"moderators must be named once each, one at least; got {list(names)}")
    rows = fitted_rows(weighing)
    found = [moderator_of(name, rows, studies) for name in names]
    missing = np.any([each.missing for each in found], axis=0)
    notes = _missing_notes(rows, found, missing)
    rows = rows[~missing]
    kept = tuple(Moderator(m.name, m.words, m.values[~missing], m.level) for m in found)
    fits = fit_moderators(weighing, rows, kept)
    notes += _tied_notes(rows, kept, fits.fit.tau2)
    design = fits.design
    spread = design.std(axis=0)
    design = (design - np.append(0, design.mean(axis=0)[1:])) / np.where(spread > 0, spread, 1)
    y, v = rows["effect"].to_numpy(float), rows["variance"].to_numpy(float)
    study = rows["study"].to_numpy()
    return Moderated(
        weighing=weighing,
        moderators=kept,
        fits=fits,
        permuted={
            name: permutation_test(
                y, v, design, tested=list(places), study=study, draws=draws, seed=seed
            )
            for name, places in fits.columns.items()
        },
        share=_share_of(weighing, rows, kept, design, fits.fit.r2, seed=seed),
        notes=tuple(notes),
    )


def _share_of(
    weighing: Weighing, rows, moderators, design, share: float, *, seed: int
) -> ShareInterval:
    """Interval for the share taken up, by the best way that the effects allow.

    Moderators that are one for all effects of a study can only tell studies apart, so that one
    effect per study, its composite, says what they take up; the estimate, from all effects, is
    held in. Where a moderator differs inside studies, studies are resampled.
    """
    level, first = weighing.level, ~rows["study"].duplicated().to_numpy()
    if not first.all() and any(each.level == "effect" for each in moderators):
        y, v = (rows[name].to_numpy(float) for name in ("effect", "variance"))
        return share_interval(y, v, design, study=rows["study"].to_numpy(), level=level, seed=seed)
    one = fitted_rows(weighing, by_study=True).set_index("study").loc[rows["study"][first]]
    y, v = (one[name].to_numpy(float) for name in ("effect", "variance"))
    found = share_by_distributions(y, v, design[first], level=level)
    return replace(found, low=min(found.low, share), high=max(found.high, share))


def _missing_notes(rows, found: Iterable[Moderator], missing) -> list[str]:
    notes = []
    for each in found:
        if each.missing.all():
            raise DesignError(f"no paper under this question reports {each.words}")
        if each.missing.any():
            silent = ", ".join(dict.fromkeys(rows.loc[each.missing, "study"]))
            notes.append(f"{each.words} is not reported by, and leaves out: {silent}")
    if missing.all():
        raise DesignError("no effect has all of the moderators")
    return notes


def _tied_notes(rows, moderators: Iterable[Moderator], tau2: float) -> list[str]:
    """Which groups differ so much in precision that dealing them out is no fair comparison."""
    notes, spread = [], rows["variance"] + tau2
    for each in moderators:
        if each.numeric:
            continue
        groups = spread.groupby(each.values.map(str).to_numpy())
        typical = groups.median()[groups.size() > 1]
        times = typical.max() / typical.min() if len(typical) > 1 else 1.0
        if times >= TIED:
            notes.append(
                f"groups of {each.words} differ {number(times, decimals=0)} times in variance: p "
                "permuted may be too small, seen in simulation 7 to 13 times in 100 below 0.05"
            )
    return notes


def _coefficients(fit: RegressResult) -> list[dict]:
    columns = (fit.names, fit.coefficients, fit.interval_standard_errors, fit.low, fit.high, fit.p)
    names = ("name", "estimate", "standard_error", "low", "high", "p")
    return [
        {name: plain(value) for name, value in zip(names, row, strict=True)}
        for row in zip(*columns, strict=True)
    ]


def _records(rows: pd.DataFrame) -> list[dict]:
    return [
        {str(key): plain(value) for key, value in row.items()} for row in rows.to_dict("records")
    ]


def _in_100(p: float) -> str:
    times = 100 * p
    return "less than once in 100 times" if times < 1 else f"{times:.0f} times in 100"
