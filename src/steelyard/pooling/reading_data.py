"""One study's own effects in display units, for its reading chart."""

from __future__ import annotations

import numpy as np

from steelyard.effects.formed import SURROGATE
from steelyard.effects.table import EffectTable
from steelyard.pooling.dependence import t_quantile
from steelyard.pooling.display import ReadingData
from steelyard.records.study import Study
from steelyard.records.vocabulary import Vocabulary
from steelyard.show import count, number

LEVELS = (50, 80, 95)


def reading_data(
    study: Study,
    table: EffectTable,
    *,
    raw: EffectTable,
    worthwhile: float | None,
    vocabulary: Vocabulary,
) -> ReadingData:
    """Everything a study's reading chart shows.

    Parameters
    ----------
    study : Study
    table : EffectTable
        Of the whole study, standardised.
    raw : EffectTable
        The same in the paper's own units, as far as it can be formed.
    worthwhile : float or None
        Smallest worthwhile effect, in standard deviations.
    vocabulary : Vocabulary
        Names the constructs.

    Returns
    -------
    ReadingData
        In the paper's order of outcomes.
    """
    rows = table.rows[["outcome", "construct", "week", "flags"]].copy()
    names = {outcome.id: outcome for outcome in study.outcomes}
    arms = {arm.id: arm.name for arm in study.arms}
    several = table.rows["comparison"].nunique() > 1
    rows["outcome"] = [
        _label(names[row.outcome], row, arms if several else None)
        for row in table.rows.itertuples()
    ]
    rows["construct"] = [vocabulary.label("construct", each) for each in rows["construct"]]
    effect = table.rows["effect"].to_numpy(float)
    root = np.sqrt(table.rows["variance"].to_numpy(float))
    rows["estimate"] = effect
    for level in LEVELS:
        reach = t_quantile(table.rows["df"], 0.5 + level / 200) * root
        rows[f"low_{level}"], rows[f"high_{level}"] = effect - reach, effect + reach
    own_unit = {_key(row): _in_own_unit(row) for row in raw.rows.itertuples()}
    rows["printed"] = [own_unit.get(_key(row), "") for row in table.rows.itertuples()]
    return ReadingData(
        rows=rows.reset_index(drop=True),
        zone=None if worthwhile is None else (-worthwhile, worthwhile),
        no_effect=0.0,
        scale="linear",
        axis_title="difference, in standard deviations between people",
        left_words=f"favours {_names(table, arms, 'comparator')}",
        right_words=f"favours {_names(table, arms, 'intervention')}",
        title=f"{study.label}: every outcome it measured",
        subtitle=_in_short(table, worthwhile),
        notes=_notes(study, table),
        decimals=2,
    )


def _key(row) -> tuple:
    return row.outcome, row.comparison, row.week


def _in_own_unit(row) -> str:
    effect = -row.effect if row.better == "lower" else row.effect
    size = abs(effect) or row.variance**0.5
    decimals = int(np.clip(1 - np.floor(np.log10(size)), 0, 4))
    return f"{number(effect, decimals=decimals, sign=True)} {row.unit}".rstrip()


def _label(outcome, row, arms) -> str:
    unit = f" ({outcome.unit})" if outcome.unit else ""
    text = f"{outcome.name}{unit}, week {row.week:g}"
    return f"{text}: {arms[row.intervention]} v {arms[row.comparator]}" if arms else text


def _names(table: EffectTable, arms: dict[str, str], side: str) -> str:
    ids = list(dict.fromkeys(table.rows[side]))
    return " or ".join(arms[each] for each in ids) or f"the {side}"


def _in_short(table: EffectTable, worthwhile: float | None) -> str:
    """How many outcomes point which way, and how many settle anything; never a count of p.

    Surrogates, which no sentence about the study counts, are drawn but not counted here either.
    """
    if table.rows.empty:
        return "No effect can be formed from what the paper prints."
    surrogate = table.rows["flags"].str.contains(SURROGATE, regex=False)
    rows = table.rows[~surrogate]
    if rows.empty:
        return "Only stand-ins for the outcome were measured; none is counted."
    better = int((rows["effect"] > 0).sum())
    text = f"{better} of {count(len(rows), 'effect')} lean towards the intervention"
    if worthwhile is not None:
        reach = t_quantile(rows["df"], 0.975) * np.sqrt(rows["variance"])
        settled = int((rows["effect"] - reach > worthwhile).sum())
        text += f"; {settled} of them show one large enough to matter on its own"
    if surrogate.any():
        text += f" ({count(int(surrogate.sum()), 'stand-in')} drawn, not counted)"
    return text + ". One study is one witness: its outcomes come from the same people."


def _notes(study: Study, table: EffectTable) -> tuple[str, ...]:
    found = ["Invented data, for demonstration."] if study.invented else []
    if study.retracted:
        found.append("This study has been retracted.")
    found += [f"Assumed: {text}." for text in dict.fromkeys(table.rows["assumed"]) if text]
    found += [f"Left out: {out.reason}." for out in table.left_out]
    return tuple(found)
