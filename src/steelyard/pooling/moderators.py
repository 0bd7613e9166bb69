"""For whom and when: whether the effect goes with what studies differ in."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from steelyard.errors import DesignError
from steelyard.pooling.moderator_resampling import (
    PermutationTest,
    ShareInterval,
    permutation_test,
    share_interval,
)
from steelyard.pooling.moderator_values import Moderator, moderator_of, one_more
from steelyard.pooling.regress import RegressResult, regress
from steelyard.pooling.weighing import Weighing
from steelyard.records.study import Study
from steelyard.show import Shown, count, number, p_text
from steelyard.show import interval as shown_interval

# Own rule, from the simulations told in `share_interval`.
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
    fit : RegressResult
        Machine scale; words as columns of 0 and 1 against the most common one.
    columns : dict of str to tuple of int
        Places in `fit` of each moderator's coefficients.
    permuted : dict of str to PermutationTest
        Per moderator, the others held where they are.
    share : ShareInterval
        For the share of between-study variance taken up, beside ``fit.r2``.
    subgroups : DataFrame
        With one moderator in words, a row per word: ``group, estimate, low, high, effects,
        studies``; else empty.
    contrasts : DataFrame
        Then also a row per pair: ``group, against, difference, low, high, p``.
    notes : tuple of str
    """

    weighing: Weighing
    moderators: tuple[Moderator, ...]
    fit: RegressResult
    columns: dict[str, tuple[int, ...]]
    permuted: dict[str, PermutationTest]
    share: ShareInterval
    subgroups: pd.DataFrame
    contrasts: pd.DataFrame
    notes: tuple[str, ...]

    @property
    def sentence(self) -> str:
        """For each moderator, how the effect goes with it and whether that could be chance."""
        return " ".join(self._told(each) for each in self.moderators)

    def _told(self, moderator: Moderator) -> str:
        places = self.columns[moderator.name]
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
            )
        groups = len(places) + 1
        if groups == 2:
            at = places[0]
            group = fit.names[at].partition(": ")[2]
            return (
                f"With {moderator.words} {group}, the effect differs from the rest by {factor}"
                f"{weighing.text(fit.coefficients[at])} "
                f"({weighing.span(fit.low[at], fit.high[at])}); {chance}."
            )
        what = f"the {groups} groups of {moderator.words}"
        return f"Whether the effect differs between {what}: {chance}."

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
                    f"{count(row.effects, 'effect')} in {count(row.studies, 'study', 'studies')}",
                )
            )
        for row in self.contrasts.itertuples():
            rows.append(
                (
                    f"{row.group} less {row.against}",
                    f"{show.text(row.difference)} ({show.span(row.low, row.high)}), "
                    f"{p_text(row.p)}",
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
        return rows + [("note", note) for note in (*self.notes, *self.fit.notes)]

    def _share(self) -> str:
        if self.fit.r2 != self.fit.r2:
            return "there is no variance between studies to explain"
        text = f"{number(100 * self.fit.r2, decimals=0)} % of the variance between studies"
        if self.share.low != self.share.low:
            return f"{text}; too few resamples bear an interval"
        ends = shown_interval(100 * self.share.low, 100 * self.share.high, decimals=0, sign=False)
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
    rows = _rows_of(weighing)
    found = [moderator_of(name, rows, studies) for name in names]
    missing = np.any([each.missing for each in found], axis=0)
    notes = _missing_notes(rows, found, missing)
    rows = rows[~missing]
    kept = tuple(Moderator(m.name, m.words, m.values[~missing], m.level) for m in found)
    table, columns = _columns(kept)
    repeated = rows["study"].duplicated().any()
    fit = _fitted(weighing, rows, table, repeated)
    notes += _tied_notes(rows, kept, fit.tau2)
    design = np.column_stack([np.ones(len(rows)), table.to_numpy(float)])
    spread = design.std(axis=0)
    design = (design - np.append(0, design.mean(axis=0)[1:])) / np.where(spread > 0, spread, 1)
    y, v = rows["effect"].to_numpy(float), rows["variance"].to_numpy(float)
    study = rows["study"].to_numpy()
    subgroups, contrasts = pd.DataFrame(), pd.DataFrame()
    if len(kept) == 1 and not kept[0].numeric:
        subgroups, contrasts = _subgroups(weighing, rows, kept[0], repeated)
    return Moderated(
        weighing=weighing,
        moderators=kept,
        fit=fit,
        columns=columns,
        permuted={
            name: permutation_test(
                y, v, design, tested=list(places), study=study, draws=draws, seed=seed
            )
            for name, places in columns.items()
        },
        share=share_interval(y, v, design, study=study, level=weighing.level, seed=seed),
        subgroups=subgroups,
        contrasts=contrasts,
        notes=tuple(notes),
    )


def _rows_of(weighing: Weighing) -> pd.DataFrame:
    """The effects used; of a dose question one row per study, with its slope."""
    rows = weighing.effects[weighing.effects["used"]]
    if weighing.question.dose is None:
        return rows
    slopes = weighing.studies.set_index("study")
    rows = rows.drop_duplicates("study")
    return rows.assign(
        effect=slopes.loc[rows["study"], "effect"].to_numpy(),
        variance=slopes.loc[rows["study"], "variance"].to_numpy(),
    )


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


def _columns(moderators: Sequence[Moderator], *, reference: str | None = None):
    """Columns of numbers; words as 0 and 1 against the most common one."""
    columns, places, at = {}, {}, 1
    for each in moderators:
        if each.numeric:
            columns[each.words] = each.values.astype(float)
            places[each.name] = (at,)
            at += 1
            continue
        values = each.values.map(str)
        order = [word for word, _ in Counter(values).most_common()]
        if len(order) < 2:
            raise DesignError(
                f"a moderator must differ between effects; {each.words} is {order[0]} in all"
            )
        if reference is not None:
            order = [reference, *(word for word in order if word != reference)]
        for word in order[1:]:
            columns[f"{each.words}: {word}"] = (values == word).astype(float)
        places[each.name] = tuple(range(at, at + len(order) - 1))
        at += len(order) - 1
    return pd.DataFrame(columns), places


def _fitted(weighing: Weighing, rows, table, repeated) -> RegressResult:
    model = weighing.question.model
    return regress(
        rows["effect"].to_numpy(float),
        rows["variance"].to_numpy(float),
        table,
        between=model.between,
        interval=model.interval,
        study=list(rows["study"]) if repeated else None,
        level=weighing.level,
    )


def _subgroups(weighing, rows, moderator: Moderator, repeated):
    words = moderator.values.map(str)
    groups, pairs = [], []
    order = [word for word, _ in Counter(words).most_common()]
    for place, word in enumerate(order):
        table, _ = _columns((moderator,), reference=word)
        fit = _fitted(weighing, rows, table, repeated)
        inside = rows[words == word]
        groups.append(
            {
                "group": word,
                "estimate": fit.coefficients[0],
                "low": fit.low[0],
                "high": fit.high[0],
                "effects": len(inside),
                "studies": inside["study"].nunique(),
            }
        )
        for at, name in enumerate(fit.names[1:], start=1):
            other = name.partition(": ")[2]
            if order.index(other) > place:
                pairs.append(
                    {
                        "group": other,
                        "against": word,
                        "difference": fit.coefficients[at],
                        "low": fit.low[at],
                        "high": fit.high[at],
                        "p": fit.p[at],
                    }
                )
    return pd.DataFrame(groups), pd.DataFrame(pairs)


def _in_100(p: float) -> str:
    times = 100 * p
    return "less than once in 100 times" if times < 1 else f"{times:.0f} times in 100"
