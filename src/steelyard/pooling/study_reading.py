"""One study read fairly: everything it measured, and what that can and cannot show."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd

from steelyard.effects import formed as words
from steelyard.effects.arm_changes import arm_changes
from steelyard.effects.individual_response import IndividualResponse
from steelyard.effects.response_spread import response_spreads
from steelyard.effects.table import EffectTable
from steelyard.errors import DesignError, EmptyQuestionError
from steelyard.pooling.composite import composite
from steelyard.pooling.dependence import block, r_between_outcomes, t_quantile
from steelyard.pooling.detectable import detectable_difference
from steelyard.pooling.gain_words import GainWord, gain_words
from steelyard.pooling.scale import Scale, scale_of
from steelyard.pooling.weigh import with_suspects
from steelyard.records.question import Question
from steelyard.records.study import Study
from steelyard.records.vocabulary import Vocabulary
from steelyard.show import Shown

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
    metric : str
    effects : DataFrame
        A row per effect: that of the effect table, with ``low, high`` (95 %), ``low_90,
        high_90``, ``detectable`` (smallest true difference the study would have told from zero
        8 times in 10), ``leaves_out_zero`` and ``verdict`` (one of three, or empty where no
        worthwhile effect is known), ``surrogate``; machine scale.
    composites : DataFrame
        A row per comparison and construct over its outcomes: ``comparison, construct, effect,
        variance, low, high, outcomes, verdict``; surrogates apart, effects of unknown scale
        left out.
    correlation : ndarray, shape (k, k)
        Between the sampling errors of the effects, as assumed.
    r_between_outcomes : float
    changes : DataFrame
        What each arm gained by itself (`effects.arm_changes`); no effect of training.
    gain_words : tuple of GainWord
        Words for what arms gained in strength by themselves, where there is a table for them.
    responses : dict
        SD of individual responses by (outcome, comparison, week).
    suspects : dict of str to str
        Outcomes whose numbers do not hang together, with the reason.
    held_out_of : tuple of str
        Questions whose pools leave such numbers out.
    worthwhile : float or None
    scale : Scale
    vocabulary : Vocabulary
    left_out : tuple of str
    """

    study: Study
    metric: str
    effects: pd.DataFrame
    composites: pd.DataFrame
    correlation: np.ndarray
    r_between_outcomes: float
    changes: pd.DataFrame
    gain_words: tuple[GainWord, ...]
    responses: dict[tuple[str, str, float], IndividualResponse]
    suspects: dict[str, str]
    held_out_of: tuple[str, ...]
    worthwhile: float | None
    scale: Scale
    vocabulary: Vocabulary
    left_out: tuple[str, ...]

    @property
    def findings(self) -> tuple[str, ...]:
        """What the study does and does not show, as sentences."""
        from steelyard.pooling.reading_words import findings

        return findings(self)

    def as_json(self) -> dict:
        """``study, effects, composite, detectable, verdicts, findings``."""
        from steelyard.pooling.reading_words import reading_json

        return reading_json(self)

    def _title(self) -> str:
        return f"Reading of {self.study.label}: {self.study.source.title}"

    def _rows(self) -> list[tuple[str, str]]:
        from steelyard.pooling.reading_words import reading_rows

        return reading_rows(self)


def read_study(
    study: Study,
    table: EffectTable,
    *,
    metric: str = "standardised",
    worthwhile: float | None = None,
    question: Question | None = None,
    vocabulary: Vocabulary | None = None,
    suspects: Mapping[str, str] | None = None,
    held_out_of: Iterable[str] = (),
) -> StudyReading:
    """Read one study whole.

    Parameters
    ----------
    study : Study
    table : EffectTable
        Every effect it holds, in one metric.
    metric : str
    worthwhile : float, optional
        Smallest worthwhile effect on the machine scale, above 0.
    question : Question, optional
        Whose assumptions hold where the paper is silent.
    vocabulary : Vocabulary, optional
    suspects : mapping of outcome to str, optional
        Outcomes whose numbers do not hang together, with the reason; an empty outcome stands for
        all. Their effects carry the flag, and what their groups gained gets no word.
    held_out_of : iterable of str
        Questions whose pools leave these outcomes out.

    Returns
    -------
    StudyReading

    Raises
    ------
    EmptyQuestionError
        If no effect can be formed from what the paper prints; says why.
    """
    if table.rows.empty:
        reasons = "; ".join(dict.fromkeys(out.reason for out in table.left_out))
        why = reasons or "it has no two arms with results to compare"
        raise EmptyQuestionError(f"study {study.id!r}: no effect can be formed ({why})")
    suspects = dict(suspects or {})
    named = {(study.id, each): suspects.get(each) or suspects.get("") for each in _ids(study)}
    named = {key: why for key, why in named.items() if why}
    rows = with_suspects(table.rows.reset_index(drop=True), named)
    reading = Question(
        id="reading",
        asks=study.source.title,
        intervention=("any",),
        comparator=("other",),
        constructs=tuple(dict.fromkeys(rows["construct"])),
        metric=metric,
        **({} if question is None else {"assume": question.assume}),
    )
    covariance = block(reading, rows)
    root = np.sqrt(np.diag(covariance))
    changes = _changes(rows, study, reading)
    rows["surrogate"] = rows["flags"].str.contains(words.SURROGATE, regex=False)
    rows = _judged(rows, worthwhile)
    # In SDs that the paper does not name, an effect can be held against nothing.
    unscaled = rows["flags"].str.contains(words.SCALE_OPEN, regex=False)
    rows.loc[unscaled & (rows["verdict"] != ""), "verdict"] = NOT_SETTLED
    # As in the interval: normal where the degrees of freedom are unknown.
    free = rows["df"].astype(float).fillna(np.inf)
    rows["detectable"] = detectable_difference(rows["variance"], power=POWER, df=free)
    return StudyReading(
        study=study,
        metric=metric,
        effects=rows,
        composites=_composites(rows[~unscaled], covariance, worthwhile),
        correlation=covariance / np.outer(root, root),
        r_between_outcomes=r_between_outcomes(reading),
        changes=changes,
        gain_words=gain_words(changes, study, suspects=suspects),
        responses=response_spreads(study, rows),
        suspects={outcome: why for (_, outcome), why in named.items()},
        held_out_of=tuple(held_out_of),
        worthwhile=worthwhile,
        scale=scale_of(
            reading,
            units=set(rows["unit"]),
            better=set(rows["better"]),
            size=float(np.median(np.abs(rows["effect"]))),
        ),
        vocabulary=vocabulary or Vocabulary(),
        left_out=tuple(dict.fromkeys(out.reason for out in table.left_out)),
    )


def _ids(study: Study) -> list[str]:
    return [outcome.id for outcome in study.outcomes]


def _judged(rows: pd.DataFrame, worthwhile: float | None) -> pd.DataFrame:
    """Intervals, and the verdict of each against the worthwhile zone; never a matter of p."""
    effect, error = rows["effect"].to_numpy(float), np.sqrt(rows["variance"].to_numpy(float))
    for names, level in ((("low", "high"), 0.95), (("low_90", "high_90"), 0.90)):
        reach = t_quantile(rows["df"], (1 + level) / 2) * error
        rows[names[0]], rows[names[1]] = effect - reach, effect + reach
    rows["leaves_out_zero"] = (rows["low"] > 0) | (rows["high"] < 0)
    if worthwhile is None:
        return rows.assign(verdict="")
    beyond = (rows["low"] >= worthwhile) | (rows["high"] <= -worthwhile)
    inside = (rows["low_90"] > -worthwhile) & (rows["high_90"] < worthwhile)
    return rows.assign(verdict=np.select([beyond, inside], [SHOWN, NONE_SHOWN], NOT_SETTLED))


def _composites(rows, covariance, worthwhile) -> pd.DataFrame:
    made = []
    for (comparison, construct, surrogate), part in rows.groupby(
        ["comparison", "construct", "surrogate"], sort=False
    ):
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
            }
        )
    return _judged(pd.DataFrame(made), worthwhile) if made else pd.DataFrame()


def _changes(rows, study, reading) -> pd.DataFrame:
    try:
        return arm_changes(rows, [study], reading, by_comparison=True)
    except DesignError:
        return pd.DataFrame()
