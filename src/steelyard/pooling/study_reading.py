"""One study read fairly: everything it measured, and what that can and cannot show."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from steelyard.effects import formed as words
from steelyard.effects.arm_changes import arm_changes
from steelyard.effects.every_effect import (
    COUNTS,
    NotFormed,
    asked_of,
    every_effect,
    questions_of,
)
from steelyard.effects.group_changes import group_changes, has_no_comparison
from steelyard.effects.individual_response import IndividualResponse
from steelyard.effects.response_spread import response_spreads
from steelyard.effects.whole_study import reading_question
from steelyard.errors import DesignError
from steelyard.pooling.composite import composite
from steelyard.pooling.dependence import block, r_between_outcomes, t_quantile
from steelyard.pooling.detectable import detectable_difference
from steelyard.pooling.detectable_counts import detectable_in_counts
from steelyard.pooling.gain_words import GainWord, gain_words
from steelyard.pooling.scale_group import ScaleGroup, scale_groups
from steelyard.pooling.weigh import with_suspects
from steelyard.records.question import Question
from steelyard.records.study import Study
from steelyard.records.vocabulary import Vocabulary
from steelyard.show import Shown

if TYPE_CHECKING:
    from steelyard.pooling.reading_words import Findings

SHOWN = "a meaningful difference shown"
NONE_SHOWN = "no meaningful difference shown"
NOT_SETTLED = "not settled"
POWER = 0.8


@dataclass(frozen=True, slots=True, eq=False)
class StudyReading(Shown):
    """One study, read whole.

    Attributes
    ----------
    study : Study
    effects : DataFrame
        A row per outcome, comparison and week: the columns of `EveryEffect`, with ``low, high``
        (95 %), ``low_90, high_90``, ``scale`` (its place in `groups`), ``worthwhile`` (NaN where
        none is set), ``detectable`` (smallest true difference the study would have told from
        none 8 times in 10; of counts infinite where not even a risk of 0 would be told, NaN where
        the record does not hold the people), ``leaves_out_zero``, ``verdict`` (one of three, or
        empty where no worthwhile effect is known), ``surrogate``, ``last`` (whether at the last
        week of its outcome and comparison) and ``counted`` (last, and no surrogate: what the
        sentences count); machine scale. Empty for a study without a comparison.
    groups : tuple of ScaleGroup
        The scales of `effects`, or of `own_changes` where there is no comparison.
    composites : DataFrame
        A row per comparison, construct and scale over its outcomes at their last week:
        ``comparison, construct, effect, variance, low, high, outcomes, scale, verdict``;
        surrogates apart, effects of unknown scale left out.
    correlation : ndarray, shape (k, k)
        Between the sampling errors of the effects, as assumed.
    r_between_outcomes : float
    changes : DataFrame
        What each arm gained by itself (`effects.arm_changes`); no effect of training.
    own_changes : DataFrame
        What each group of a study without a comparison gained, as `effects.group_changes` has
        it, with ``low, high``; empty for any other study.
    gain_words : tuple of GainWord
        Words for what arms gained in strength by themselves, where there is a table for them.
    responses : dict
        SD of individual responses by (outcome, comparison, week).
    suspects : dict of str to str
        Outcomes whose numbers do not hang together, with the reason.
    held_out_of : tuple of str
        Questions whose pools leave such numbers out.
    vocabulary : Vocabulary
    not_formed : tuple of NotFormed
        Every outcome and week of the record that is not shown, with the reason.
    """

    study: Study
    effects: pd.DataFrame
    groups: tuple[ScaleGroup, ...]
    composites: pd.DataFrame
    correlation: np.ndarray
    r_between_outcomes: float
    changes: pd.DataFrame
    own_changes: pd.DataFrame
    gain_words: tuple[GainWord, ...]
    responses: dict[tuple[str, str, float], IndividualResponse]
    suspects: dict[str, str]
    held_out_of: tuple[str, ...]
    vocabulary: Vocabulary
    not_formed: tuple[NotFormed, ...]

    @property
    def left_out(self) -> tuple[str, ...]:
        """What is not shown and why, a sentence each."""
        return tuple(each.sentence for each in self.not_formed)

    @property
    def findings(self) -> tuple[str, ...]:
        """What the study does and does not show, as sentences."""
        return self.findings_in_parts.all

    @property
    def findings_in_parts(self) -> Findings:
        """The same, with what is said outcome by outcome apart."""
        from steelyard.pooling.reading_words import findings

        return findings(self)

    def as_json(self) -> dict:
        """``study, effects, composite, detectable, verdicts, findings``, and more."""
        from steelyard.pooling.reading_rows import reading_json

        return reading_json(self)

    def _title(self) -> str:
        return f"Reading of {self.study.label}: {self.study.source.title}"

    def _rows(self) -> list[tuple[str, str]]:
        from steelyard.pooling.reading_rows import reading_rows

        return reading_rows(self)


def read_study(
    study: Study,
    *,
    questions: Iterable[Question] = (),
    vocabulary: Vocabulary | None = None,
    suspects: Mapping[str, str] | None = None,
    held_out_of: Iterable[str] = (),
) -> StudyReading:
    """Read one study whole: every outcome at every week, each on a scale it can be told on.

    Parameters
    ----------
    study : Study
    questions : iterable of Question
        In order of preference: they say which arms are compared, what is assumed where the
        paper is silent, and what would be worth having.
    vocabulary : Vocabulary, optional
    suspects : mapping of outcome to str, optional
        Outcomes whose numbers do not hang together, with the reason; an empty outcome stands for
        all. Their effects carry the flag, and what their groups gained gets no word.
    held_out_of : iterable of str
        Questions whose pools leave these outcomes out.

    Returns
    -------
    StudyReading
        Without effects where none can be formed; `StudyReading.not_formed` then says why.
    """
    questions, vocabulary = list(questions), vocabulary or Vocabulary()
    suspects = dict(suspects or {})
    ids = [outcome.id for outcome in study.outcomes]
    named = {each: suspects.get(each) or suspects.get("") for each in ids}
    named = {outcome: why for outcome, why in named.items() if why}
    flagged = {(study.id, outcome): why for outcome, why in named.items()}
    asking = questions_of(study, questions)
    known = {"questions": questions, "vocabulary": vocabulary}
    alone = has_no_comparison(study)
    own = group_changes(study, **known)
    # Groups without a comparison are told by their changes; nothing is missing from the effects.
    every = every_effect(study, **known)
    rows = with_suspects(every.rows, flagged).astype({"flags": object})
    changed = with_suspects(own.rows, flagged) if alone else own.rows.iloc[:0]
    groups = scale_groups(rows, study, asking=asking, questions=questions)
    reading = reading_question(study, metric="standardised", asked=next(iter(asking), None))
    covariance = block(reading, rows) if len(rows) else np.zeros((0, 0))
    root = np.sqrt(np.diag(covariance))
    changes = _changes(rows, study, asking)
    rows = _judged(_with_scales(rows, groups))
    # In SDs that the paper does not name, an effect can be held against nothing.
    unscaled = rows["flags"].str.contains(words.SCALE_OPEN, regex=False)
    rows.loc[unscaled & (rows["verdict"] != ""), "verdict"] = NOT_SETTLED
    rows["detectable"] = _detectable(rows)
    return StudyReading(
        study=study,
        effects=rows,
        groups=scale_groups(changed, study, sizes="change") if alone else groups,
        composites=_composites(rows[rows["last"] & ~unscaled], covariance),
        correlation=covariance / np.outer(root, root),
        r_between_outcomes=r_between_outcomes(reading),
        changes=changes,
        own_changes=_own_intervals(changed),
        gain_words=gain_words(changed if alone else changes, study, suspects=suspects),
        responses=response_spreads(study, rows),
        suspects=named,
        held_out_of=tuple(held_out_of),
        vocabulary=vocabulary,
        not_formed=own.not_formed if alone else every.not_formed,
    )


def _with_scales(rows: pd.DataFrame, groups: tuple[ScaleGroup, ...]) -> pd.DataFrame:
    scale, worthwhile = np.zeros(len(rows), dtype=int), np.full(len(rows), np.nan)
    for place, group in enumerate(groups):
        scale[list(group.places)] = place
        if group.worthwhile is not None:
            worthwhile[list(group.places)] = group.worthwhile
    surrogate = rows["flags"].str.contains(words.SURROGATE, regex=False).astype(bool)
    last = rows["week"] == rows.groupby(["outcome", "comparison"])["week"].transform("max")
    return rows.assign(
        scale=scale,
        worthwhile=worthwhile,
        surrogate=surrogate,
        last=last,
        counted=last & ~surrogate,
    )


def _judged(rows: pd.DataFrame) -> pd.DataFrame:
    """Intervals, and the verdict of each against the worthwhile zone; never a matter of p."""
    effect, error = rows["effect"].to_numpy(float), np.sqrt(rows["variance"].to_numpy(float))
    worthwhile = rows["worthwhile"].to_numpy(float)
    ends = {}
    for names, level in ((("low", "high"), 0.95), (("low_90", "high_90"), 0.90)):
        reach = t_quantile(rows["df"], (1 + level) / 2) * error
        ends |= {names[0]: effect - reach, names[1]: effect + reach}
    beyond = (ends["low"] >= worthwhile) | (ends["high"] <= -worthwhile)
    inside = (ends["low_90"] > -worthwhile) & (ends["high_90"] < worthwhile)
    verdict = np.select(
        [np.isnan(worthwhile), beyond, inside], ["", SHOWN, NONE_SHOWN], NOT_SETTLED
    )
    clear = (ends["low"] > 0) | (ends["high"] < 0)
    return rows.assign(**ends, leaves_out_zero=clear, verdict=verdict)


def _detectable(rows: pd.DataFrame) -> np.ndarray:
    """From t of each effect; of counts, from the people and the risk in the comparator."""
    # As in the interval: normal where the degrees of freedom are unknown.
    free = rows["df"].astype(float).fillna(np.inf)
    found = detectable_difference(rows["variance"], power=POWER, df=free)
    for place, row in enumerate(rows.itertuples()):
        if row.metric in COUNTS:
            found[place] = detectable_in_counts(row)
    return found


def _composites(rows: pd.DataFrame, covariance: np.ndarray) -> pd.DataFrame:
    made = []
    keys = ["comparison", "construct", "surrogate", "scale"]
    for (comparison, construct, surrogate, scale), part in rows.groupby(keys, sort=False):
        places = part.index.to_numpy()
        found = composite(
            part["effect"].to_numpy(float), covariance=covariance[np.ix_(places, places)]
        )
        made.append(
            {
                "comparison": comparison,
                "construct": construct,
                "effect": found.effect,
                "variance": found.variance,
                "df": part["df"].min(),
                "outcomes": found.m,
                "surrogate": surrogate,
                "scale": scale,
                "metric": part["metric"].iloc[0],
                "worthwhile": part["worthwhile"].iloc[0],
            }
        )
    return _judged(pd.DataFrame(made)) if made else pd.DataFrame()


def _changes(rows: pd.DataFrame, study: Study, asking: list[Question]) -> pd.DataFrame:
    """What the arms gained, each in the metric of the effect that stands between them."""
    found = []
    for (outcome, metric), part in rows.groupby(["outcome", "metric"], sort=False):
        asked = asked_of(study.outcome(outcome), asking)
        question = reading_question(study, metric=metric, asked=asked)
        try:
            found.append(arm_changes(part, [study], question, by_comparison=True))
        except DesignError:
            continue
    return pd.concat(found, ignore_index=True) if found else pd.DataFrame()


def _own_intervals(rows: pd.DataFrame) -> pd.DataFrame:
    reach = t_quantile(rows["df"], 0.975) * np.sqrt(rows["variance"].to_numpy(float))
    change = rows["change"].to_numpy(float)
    return rows.assign(low=change - reach, high=change + reach)
