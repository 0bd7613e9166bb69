"""A question weighed in every defensible way at once."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from itertools import product

import numpy as np
import pandas as pd

from steelyard.errors import DesignError
from steelyard.pooling.choices_grid import (
    INTERVALS_IN_WORDS,
    Dial,
    barred,
    correlation_dials,
    dependence_dial,
    inclusion_dial,
    model_dials,
)
from steelyard.pooling.choices_rows import Reducer
from steelyard.pooling.choices_tables import form_tables
from steelyard.pooling.choices_turning import Turning, turning
from steelyard.pooling.nested_fit import ends_of
from steelyard.pooling.nested_ways import fit_ways
from steelyard.pooling.pool_many import pool_many
from steelyard.pooling.pool_nested_many import METHODS as NESTED_METHODS
from steelyard.pooling.verdict import BETTER, EQUIVALENT, NOT_SETTLED, WORSE
from steelyard.pooling.weighing import Weighing
from steelyard.records.study import Study
from steelyard.records.vocabulary import Vocabulary
from steelyard.show import Shown

FEWEST_STUDIES = 2
# Levels of the intervals that decide a verdict: on a difference, and on sameness.
DECISIVE = (0.95, 0.90)
NO_NESTED_FORM = (
    "effects within studies are weighed by REML or maximum likelihood alone: the other estimators "
    "of the variance between studies have no such form"
)
_MULTIPLES = {"estimate": "multiple", "low": "multiple_low", "high": "multiple_high"}


@dataclass(frozen=True, slots=True, eq=False)
class EveryChoice(Shown):
    """What every defensible way to weigh a question says.

    Attributes
    ----------
    ways : DataFrame, a row per way, sorted by size
        A column per choice with the option taken, in words; ``estimate, low, high`` (machine
        scale of the way's own metric); ``multiple, multiple_low, multiple_high`` (in smallest
        worthwhile effects; NaN where none is set); ``verdict``; ``studies``; ``shipped``.
    dials : tuple of Dial
        The choices that have more than one option.
    turning : tuple of Turning
        What the verdict turns on, most first.
    one_metric : bool
        Whether all ways are in the question's own metric.
    weighing : Weighing
        The way that is used.
    notes : tuple of str
        Ways that could not be tried, and why.
    """

    ways: pd.DataFrame
    dials: tuple[Dial, ...]
    turning: tuple[Turning, ...]
    one_metric: bool
    weighing: Weighing
    notes: tuple[str, ...]

    @property
    def shipped(self) -> int:
        """Position in `ways` of the way that is used."""
        return int(np.flatnonzero(self.ways["shipped"])[0])

    @property
    def answers(self) -> int:
        """How many different answers the ways give: estimate and interval, to ten decimals."""
        numbers = self.ways[["estimate", "low", "high"]].round(10)
        return len(numbers.assign(metric=self.ways["metric"]).drop_duplicates())

    @property
    def sentence(self) -> str:
        """How many ways say what, and what the answer turns on."""
        from steelyard.pooling.choices_words import choices_sentence

        return choices_sentence(self)

    def _title(self) -> str:
        return f"Every way to weigh: {self.weighing.question.id}"

    def _rows(self) -> list[tuple[str, str]]:
        from steelyard.pooling.choices_words import choices_rows

        return choices_rows(self)


def every_choice(
    weighing: Weighing,
    studies: Iterable[Study],
    *,
    vocabulary: Vocabulary | None = None,
    suspects: Mapping[tuple[str, str], str] | None = None,
) -> EveryChoice:
    """Weigh a question in every defensible way, all in one sweep.

    Correlations over their ranges, metric, contrast, estimator of the variance between studies,
    interval, handling of several effects of one study, and which results count, each combined
    with each. Options that change no number are no ways and are left out.

    Parameters
    ----------
    weighing : Weighing
        The question as it is weighed.
    studies : iterable of Study
        The library's.
    vocabulary : Vocabulary, optional
    suspects : mapping of (study, outcome) to str, optional
        Results whose numbers do not hang together.

    Returns
    -------
    EveryChoice

    Raises
    ------
    DesignError
        If the question has fewer than two studies to weigh.
    """
    question = weighing.question
    if weighing.k_studies < FEWEST_STUDIES:
        raise DesignError("one study can be weighed in one way only; there is nothing to try")
    tables = form_tables(question, studies, vocabulary=vocabulary, suspects=suspects or {})
    notes = [INTERVALS_IN_WORDS, *tables.notes]
    effects = weighing.effects
    dependence = dependence_dial(effects[effects["used"]], shipped=weighing.dependence)
    outcomes = correlation_dials(question)[2]
    if len(dependence.options) == 1 and dependence.values[0] != "slope":
        outcomes = outcomes.only_shipped()
    inclusion = inclusion_dial(question, effects)
    order = list(dict.fromkeys(row for each in tables.variants for row in each.rows["study"]))
    step = float(question.dose_step or 1) if question.dose is not None else None

    taken, stacked, correlations = [], [], {}
    nested_taken, nested_stacked = [], []
    for variant in tables.variants:
        reducer = Reducer(variant.rows, order, step=step, correlations=correlations)
        masks = [~barred(variant.rows, flags) for flags in inclusion.values]
        for (rho_text, rho), (how_text, how) in product(_pairs(outcomes), _pairs(dependence)):
            for rule, mask in zip(inclusion.options, masks, strict=True):
                if reducer.studies_left(mask) < FEWEST_STUDIES:
                    notes.append(f"{rule}: fewer than two studies are left, not tried")
                    continue
                options = {
                    **variant.options,
                    "r_between_outcomes": rho_text,
                    "dependence": how_text,
                    "inclusion": rule,
                }
                if how == "multilevel":
                    nested_taken.append((options, variant.worthwhile))
                    nested_stacked.append(reducer.effects(mask, r_between_outcomes=rho))
                    continue
                found = reducer.numbers(mask, r_between_outcomes=rho, how=how)
                taken.append((options, variant.worthwhile))
                stacked.append((found.effects, found.variances))
    between, interval = model_dials(question, nested=bool(nested_taken))
    grid = _pooled(taken, stacked, between, interval, level=weighing.level)
    if nested_taken:
        nested = _pooled_within(
            nested_taken, nested_stacked, between, interval, level=weighing.level
        )
        nested["numbers"] += grid["numbers"].max() + 1
        grid = pd.concat([grid, nested], ignore_index=True)
        notes.append(NO_NESTED_FORM)
    dials = tuple(
        dial
        for dial in (*tables.dials, outcomes, dependence, inclusion, between, interval)
        if grid[dial.column].nunique() > 1
    )
    grid["shipped"] = _shipped(grid, dials)
    grid = _as_used(grid, weighing)
    turns = turning(grid, dials)
    ways = _distinct(grid, dials)
    dials = tuple(dial for dial in dials if ways[dial.column].nunique() > 1)
    turns = tuple(each for each in turns if each.column in {dial.column for dial in dials})
    by = "estimate" if ways["multiple"].isna().any() else "multiple"
    ways = ways.sort_values(by, kind="stable", ignore_index=True)
    return EveryChoice(
        ways=ways,
        dials=dials,
        turning=turns,
        one_metric=ways["metric"].nunique() == 1,
        weighing=weighing,
        notes=tuple(dict.fromkeys(notes)),
    )


def _pairs(dial: Dial):
    return list(zip(dial.options, dial.values, strict=True))


def _pooled(taken, stacked, between: Dial, interval: Dial, *, level: float) -> pd.DataFrame:
    """One batch per estimator and interval over every distinct set of study numbers."""
    numbers = np.array(stacked)
    flat = np.nan_to_num(numbers.reshape(len(numbers), -1), nan=np.inf)
    _, first, which = np.unique(flat, axis=0, return_index=True, return_inverse=True)
    which = which.ravel()
    effects, variances = numbers[first, 0], numbers[first, 1]
    parts = []
    for (b_text, b), (i_text, i) in product(_pairs(between), _pairs(interval)):
        found = {
            at: pool_many(effects, variances, level=at, between=b, interval=i)
            for at in {level, *DECISIVE}
        }
        ends = {at: (each.low, each.high) for at, each in found.items()}
        told = {"between": b_text, "interval": i_text, "studies": found[level].k[which]}
        parts.append(_told(taken, which, found[level].estimate, ends, level).assign(**told))
    return pd.concat(parts, ignore_index=True)


def _pooled_within(taken, stacked, between: Dial, interval: Dial, *, level: float) -> pd.DataFrame:
    """Every way that models effects within studies, by the estimators that have such a form."""
    distinct: dict[tuple, int] = {}
    which = np.array(
        [
            distinct.setdefault(tuple(one and one.content for one in way), len(distinct))
            for way in stacked
        ]
    )
    first = np.unique(which, return_index=True)[1]
    parts = []
    for b_text, b in _pairs(between):
        if b not in NESTED_METHODS:
            continue
        fit = fit_ways([stacked[place] for place in first], method=b)
        for i_text, i in _pairs(interval):
            found = {at: ends_of(fit, robust=i != "normal", level=at) for at in {level, *DECISIVE}}
            ends = {at: (each["low"], each["high"]) for at, each in found.items()}
            told = {"between": b_text, "interval": i_text, "studies": fit.studies[which]}
            parts.append(_told(taken, which, fit.estimate, ends, level).assign(**told))
    return pd.concat(parts, ignore_index=True)


def _told(taken, which, estimate, ends, level: float) -> pd.DataFrame:
    """A row per way: its options, its numbers and what they say; `ends` (low, high) by level."""
    worthwhile = np.array([np.nan if value is None else value for _, value in taken])
    columns = {"estimate": estimate, "low": ends[level][0], "high": ends[level][1]}
    columns = {name: values[which] for name, values in columns.items()}
    in_zones = {_MULTIPLES[name]: values / worthwhile for name, values in columns.items()}
    wide, inner = DECISIVE
    decisive = (each[which] for each in (*ends[wide], *ends[inner]))
    return pd.DataFrame([options for options, _ in taken]).assign(
        numbers=which, **columns, **in_zones, verdict=_verdicts(*decisive, worthwhile)
    )


def _verdicts(low, high, low_90, high_90, worthwhile) -> np.ndarray:
    """The rules of `verdict`, over arrays; where nothing is worthwhile, only the direction."""
    zone = np.where(np.isnan(worthwhile), 0.0, worthwhile)
    inside = (low_90 > -zone) & (high_90 < zone) & (zone > 0)
    better = np.where(zone > 0, low >= zone, low > 0)
    worse = np.where(zone > 0, high <= -zone, high < 0)
    return np.select([better, worse, inside], [BETTER, WORSE, EQUIVALENT], NOT_SETTLED)


def _distinct(grid: pd.DataFrame, dials: tuple[Dial, ...]) -> pd.DataFrame:
    """One row where several sets of options hold the very same numbers: the one nearest shipped.

    Estimators and intervals are told apart even where they agree.
    """
    near = sum((grid[dial.column] == dial.options[dial.shipped]).astype(int) for dial in dials)
    ordered = grid.assign(near=near).sort_values("near", ascending=False, kind="stable")
    kept = ordered.drop_duplicates(["numbers", "between", "interval", "metric"])
    return kept.drop(columns=["near", "numbers"]).sort_index().reset_index(drop=True)


def _shipped(ways: pd.DataFrame, dials: tuple[Dial, ...]) -> np.ndarray:
    found = np.ones(len(ways), dtype=bool)
    for dial in dials:
        found &= (ways[dial.column] == dial.options[dial.shipped]).to_numpy()
    return found


def _as_used(grid: pd.DataFrame, weighing: Weighing) -> pd.DataFrame:
    """The way that is used carries the weighing's own numbers."""
    at = int(np.flatnonzero(grid["shipped"])[0])
    for name in ("estimate", "low", "high"):
        grid.loc[at, name] = getattr(weighing, name)
        if weighing.worthwhile is not None:
            grid.loc[at, _MULTIPLES[name]] = getattr(weighing, name) / weighing.worthwhile
    grid.loc[at, "verdict"] = weighing.verdict.word or grid.loc[at, "verdict"]
    return grid
