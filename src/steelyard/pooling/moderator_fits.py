"""The regressions behind a question's moderators, as told and with variances at fitted effects."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from steelyard.errors import DesignError
from steelyard.pooling.leaning import UNSETTLED, Settled, at_expected_effects, matters
from steelyard.pooling.moderator_values import Moderator
from steelyard.pooling.regress import RegressResult, regress
from steelyard.pooling.weigh import one_row_per_study
from steelyard.pooling.weighing import Weighing
from steelyard.pooling.working_variance import LEANS_ON_THE_EFFECT


@dataclass(frozen=True, slots=True, eq=False)
class ModeratorFits:
    """What the effects say of their moderators.

    Attributes
    ----------
    fit : RegressResult
        Machine scale; words as columns of 0 and 1 against the most common one.
    upright : RegressResult or None
        The same with variances worked out at the fitted effects; None where effects do not enter
        their variances, or where the fit does not stay.
    columns : dict of str to tuple of int
        Places in `fit` of each moderator's coefficients.
    design : ndarray, shape (k, p)
        The regression's columns, the intercept first.
    subgroups : DataFrame
        With one moderator in words, a row per word: ``group, estimate, low, high, effects,
        studies``, and ``otherwise, otherwise_low, otherwise_high`` from `upright` (NaN without),
        ``matters`` where that is worth telling; else empty.
    contrasts : DataFrame
        Then also a row per pair: ``group, against, difference, low, high, p``, and the same.
    notes : tuple of str
    """

    fit: RegressResult
    upright: RegressResult | None
    columns: dict[str, tuple[int, ...]]
    design: np.ndarray
    subgroups: pd.DataFrame
    contrasts: pd.DataFrame
    notes: tuple[str, ...]

    def moved(self, at: int) -> bool:
        """Whether coefficient `at` is worth telling with variances at the fitted effects."""
        return self.upright is not None and _moved(self.fit, self.upright, at)


def fitted_rows(weighing: Weighing, *, by_study: bool = False) -> pd.DataFrame:
    """The effects used; of a dose question, or where asked, one row per study.

    That is its slope, or its composite.
    """
    rows = weighing.effects[weighing.effects["used"]]
    if weighing.question.dose is None and not by_study:
        return rows
    return _with_slopes(rows.drop_duplicates("study"), weighing.studies)


def fit_moderators(
    weighing: Weighing, rows: pd.DataFrame, moderators: Sequence[Moderator]
) -> ModeratorFits:
    """Regress effects on moderators, and again with variances at the fitted effects.

    Parameters
    ----------
    weighing : Weighing
    rows : DataFrame
        Of `fitted_rows`, those that have all moderators.
    moderators : sequence of Moderator
        With a value for each row.

    Returns
    -------
    ModeratorFits

    Raises
    ------
    DesignError
        As in `regress`.
    """
    table, columns = _columns(moderators)
    fit = _fitted(weighing, rows, table)
    settled = _settled(weighing, rows, table, fit)
    notes = ()
    if settled is not None and not settled.stays:
        settled, notes = None, (UNSETTLED,)
    subgroups, contrasts = pd.DataFrame(), pd.DataFrame()
    if len(moderators) == 1 and not moderators[0].numeric:
        again = None if settled is None else _with_variances(weighing, rows, settled.rows)
        subgroups, contrasts = _subgroups(weighing, rows, again, moderators[0])
    return ModeratorFits(
        fit=fit,
        upright=None if settled is None else settled.fit,
        columns=columns,
        design=np.column_stack([np.ones(len(rows)), table.to_numpy(float)]),
        subgroups=subgroups,
        contrasts=contrasts,
        notes=notes,
    )


def _with_slopes(rows: pd.DataFrame, studies: pd.DataFrame) -> pd.DataFrame:
    slopes = studies[studies["used"]].set_index("study").loc[rows["study"]]
    return rows.assign(effect=slopes["effect"].to_numpy(), variance=slopes["variance"].to_numpy())


def _with_variances(weighing: Weighing, rows: pd.DataFrame, effects: pd.DataFrame):
    """What is regressed, from the effects under it with other variances."""
    if weighing.question.dose is None:
        return effects
    return _with_slopes(rows, one_row_per_study(weighing.question, effects))


def _settled(weighing: Weighing, rows, table, fit: RegressResult) -> Settled | None:
    question = weighing.question
    if question.metric not in LEANS_ON_THE_EFFECT:
        return None
    effects, place, per = rows, np.arange(len(rows)), 1.0
    if question.dose is not None:
        used = weighing.effects[weighing.effects["used"]]
        effects = used[used["study"].isin(rows["study"])]
        place = pd.Index(rows["study"]).get_indexer(effects["study"])
        per = (effects["dose_intervention"] - effects["dose_comparator"]).to_numpy(float)
        per = per / float(question.dose_step or 1)
    x = table.to_numpy(float)

    def expected(found: RegressResult) -> np.ndarray:
        return per * (found.coefficients[0] + x @ found.coefficients[1:])[place]

    return at_expected_effects(
        effects,
        lambda changed: _fitted(weighing, _with_variances(weighing, rows, changed), table),
        expected_of=expected,
        start=expected(fit),
    )


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


def _fitted(weighing: Weighing, rows, table) -> RegressResult:
    model = weighing.question.model
    return regress(
        rows["effect"].to_numpy(float),
        rows["variance"].to_numpy(float),
        table,
        between=model.between,
        interval=model.interval,
        study=list(rows["study"]) if rows["study"].duplicated().any() else None,
        level=weighing.level,
    )


def _moved(fit: RegressResult, other: RegressResult, at: int) -> bool:
    return matters(
        fit.coefficients[at],
        other.coefficients[at],
        standard_error=fit.interval_standard_errors[at],
    )


def _subgroups(weighing, rows, again, moderator: Moderator):
    words = moderator.values.map(str)
    groups, pairs = [], []
    order = [word for word, _ in Counter(words).most_common()]
    for place, word in enumerate(order):
        table, _ = _columns((moderator,), reference=word)
        fit = _fitted(weighing, rows, table)
        other = None if again is None else _fitted(weighing, again, table)
        inside = rows[words == word]
        groups.append(
            {
                "group": word,
                "estimate": fit.coefficients[0],
                "low": fit.low[0],
                "high": fit.high[0],
                "effects": len(inside),
                "studies": inside["study"].nunique(),
                **_beside(fit, other, 0),
            }
        )
        for at, name in enumerate(fit.names[1:], start=1):
            against = name.partition(": ")[2]
            if order.index(against) > place:
                pairs.append(
                    {
                        "group": against,
                        "against": word,
                        "difference": fit.coefficients[at],
                        "low": fit.low[at],
                        "high": fit.high[at],
                        "p": fit.p[at],
                        **_beside(fit, other, at),
                    }
                )
    return pd.DataFrame(groups), pd.DataFrame(pairs)


def _beside(fit: RegressResult, other: RegressResult | None, at: int) -> dict:
    return {
        "otherwise": np.nan if other is None else other.coefficients[at],
        "otherwise_low": np.nan if other is None else other.low[at],
        "otherwise_high": np.nan if other is None else other.high[at],
        "matters": other is not None and _moved(fit, other, at),
    }
