"""Several effects from one study: which way they are handled, why, and what other ways say."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
from scipy.special import ndtri, stdtrit

from steelyard.effects.covariance import study_covariance
from steelyard.effects.covariance_many import studies_covariance
from steelyard.errors import DesignError
from steelyard.pooling.counted_once import (
    Parts,
    comparators_as_one,
    effects_counted,
    repeated,
    where_dependent,
)
from steelyard.pooling.covariance_blocks import CovarianceBlocks
from steelyard.pooling.pool import PoolResult, pool
from steelyard.pooling.pool_nested import METHODS as NESTED_METHODS
from steelyard.pooling.pool_nested import NestedPoolResult, pool_nested
from steelyard.pooling.study_layout import studies_in_order, study_layout
from steelyard.pooling.working_variance import evened_note, row_variances
from steelyard.records.question import Question
from steelyard.reporting.default_correlation import BETWEEN_OUTCOMES

FEWEST_STUDIES = 4
FEWEST_WITH_SEVERAL = 2
SIMPLE_CORRECTION = "the simple correction of robust errors (CR1)"


@dataclass(frozen=True, slots=True)
class Handling:
    """How several effects of one study are handled.

    Attributes
    ----------
    name : str
        ``single`` (one effect per study), ``composite``, ``multilevel`` or ``slope``.
    why : str
        The reason, as a sentence.
    """

    name: str
    why: str


@dataclass(frozen=True, slots=True)
class Alternative:
    """What the answer would have been, handled another way.

    Attributes
    ----------
    name : str
    pooled : PoolResult, NestedPoolResult or None
        None where it cannot be had.
    refused : str
        Why not; empty otherwise.
    """

    name: str
    pooled: PoolResult | NestedPoolResult | None
    refused: str = ""


def handling(question: Question, rows: pd.DataFrame) -> Handling:
    """Choose how several effects of one study are handled.

    ``auto`` takes the multilevel model with cluster-robust standard errors once there is
    enough to estimate it from: four studies, two of them with several effects (own rule);
    otherwise one composite per study.

    Parameters
    ----------
    question : Question
    rows : DataFrame
        The effects used.

    Raises
    ------
    DesignError
        If the question asks to treat several effects of one study as independent, or for a
        multilevel model with an estimator it does not have.
    """
    asked, between = question.model.dependence, question.model.between
    if question.dose is not None:
        return Handling("slope", "a dose-response question: each study's arms give one slope")
    sizes = effects_counted(rows)
    several = int((sizes > 1).sum())
    if not several:
        return Handling("single", "each study gives one effect")
    if asked == "none":
        raise DesignError(
            f'question {question.id!r}: dependence = "none" would count several effects of one '
            "study as independent; expected auto, composite or multilevel"
        )
    if asked == "composite":
        return Handling("composite", "the question asks for one composite per study")
    if asked == "multilevel":
        if between not in NESTED_METHODS:
            raise DesignError(
                f"question {question.id!r}: a multilevel model needs between = "
                f'"reml" or "ml", found "{between}"'
            )
        return Handling("multilevel", "the question asks for effects within studies")
    if between not in NESTED_METHODS:
        return Handling("composite", f"the estimator {between} has no multilevel form")
    if len(sizes) < FEWEST_STUDIES or several < FEWEST_WITH_SEVERAL:
        return Handling(
            "composite",
            f"{several} of {len(sizes)} studies gave several effects, too few for a multilevel "
            "model",
        )
    return Handling("multilevel", f"{several} of {len(sizes)} studies gave several effects")


def block(question: Question, part: pd.DataFrame) -> np.ndarray:
    """Sampling covariance of one study's effects: shared arms, outcomes and weeks."""
    return study_covariance(
        part["variance"].to_numpy(float),
        intervention_arm=list(part["intervention"]),
        comparator_arm=list(part["comparator"]),
        n_intervention=_sizes(part["n_intervention"]),
        n_comparator=_sizes(part["n_comparator"]),
        outcome=list(part["outcome"]),
        week=list(part["week"]),
        r_between_outcomes=r_between_outcomes(question),
        comparator_variance=part["comparator_variance"].to_numpy(float),
    )


def row_blocks(
    question: Question, rows: pd.DataFrame, *, variance: np.ndarray | None = None
) -> CovarianceBlocks:
    """As `block`, for the effects of all studies: blocks in the order of `rows`.

    Studies with equally many effects are worked out together. `variance`, shape (k,), takes the
    place of the effects' own.
    """
    arms = pd.factorize(pd.concat([rows["intervention"], rows["comparator"]]))[0]
    columns = {
        "intervention_arm": arms[: len(rows)],
        "comparator_arm": arms[len(rows) :],
        "n_intervention": _sizes(rows["n_intervention"]),
        "n_comparator": _sizes(rows["n_comparator"]),
        "outcome": pd.factorize(rows["outcome"])[0],
        "week": rows["week"].to_numpy(float),
        "comparator_variance": rows["comparator_variance"].to_numpy(float),
    }
    if variance is None:
        variance = rows["variance"].to_numpy(float)
    r = r_between_outcomes(question)
    layout = study_layout(studies_in_order(rows["study"], np.ones(len(rows), dtype=bool)))
    places = tuple(layout.order[stack] for stack in layout.stacks)
    return CovarianceBlocks(
        places,
        tuple(
            studies_covariance(
                variance[part],
                r_between_outcomes=r,
                **{name: values[part] for name, values in columns.items()},
            )
            for part in places
        ),
    )


def r_between_outcomes(question: Question) -> float:
    """The correlation assumed between outcomes or weeks of one study."""
    assumed = question.assume.r_between_outcomes
    return BETWEEN_OUTCOMES if assumed is None else float(assumed)


def pool_composites(
    question: Question, studies: pd.DataFrame, *, level: float | None = None
) -> PoolResult:
    """Pool one effect per study; a single study keeps the t interval its own n gives."""
    pooled = pool(
        studies["effect"].to_numpy(float),
        studies["variance"].to_numpy(float),
        between=question.model.between,
        interval=question.model.interval,
        level=level or level_of(question),
    )
    df = studies["df"].to_numpy(float)
    if pooled.k > 1 or question.model.interval == "normal" or np.isnan(df[0]):
        return pooled
    reach = float(t_quantile(df, (1 + pooled.level) / 2)[0]) * pooled.standard_error
    low, high = pooled.estimate - reach, pooled.estimate + reach
    notes = (
        "one study: no between-study variance can be estimated; the interval is the study's own, "
        f"from t on {df[0]:.3g} degrees of freedom",
    )
    return replace(pooled, low=low, high=high, df=float(df[0]), notes=notes)


def t_quantile(df, probability: float) -> np.ndarray:
    """Quantiles of t, or of the normal distribution where the degrees of freedom are unknown."""
    df = np.asarray(df, dtype=float)
    return np.where(
        np.isnan(df), ndtri(probability), stdtrit(np.where(np.isnan(df), 1.0, df), probability)
    )


def pool_rows(
    question: Question,
    rows: pd.DataFrame,
    *,
    level: float | None = None,
    correction: str = "CR2",
) -> NestedPoolResult:
    """Pool effects within studies, with the covariance of each study's effects.

    Standardised effects of a study are weighted by variances that their own errors do not enter
    (`working_variance`); the cluster-robust interval allows for what that leaves out.
    """
    metric = question.metric
    kept = ~repeated(rows)
    once = rows[kept]
    parts = comparators_as_one(once)
    blocks = parts.covariance(
        row_blocks(question, once, variance=row_variances(once, metric=metric))
    )
    dependent = where_dependent(blocks)
    notes = _dependent_note(once["study"].to_numpy()[parts.first()], dependent)
    parts = parts.then(dependent)
    pooled = pool_nested(
        parts.effects(once["effect"].to_numpy(float)),
        dependent.covariance(blocks),
        study=once["study"].iloc[parts.first()],
        method=question.model.between,
        robust=question.model.interval != "normal",
        correction=correction,
        level=level or level_of(question),
    )
    weights = np.zeros(len(rows))
    weights[kept] = parts.weights(pooled.weights)
    notes = (*pooled.notes, *notes, *evened_note(once, metric=metric))
    return replace(pooled, weights=weights, notes=notes)


def _dependent_note(study: np.ndarray, dependent: Parts) -> tuple[str, ...]:
    joined = dependent.joined
    if not joined.any():
        return ()
    return (
        "effects that nearly follow from each other, by what is known of their people and "
        f"outcomes, count as their mean: {', '.join(dict.fromkeys(study[joined]))}",
    )


def alternatives(
    question: Question,
    chosen: Handling,
    rows: pd.DataFrame,
    studies: pd.DataFrame,
    *,
    pooled: PoolResult | NestedPoolResult,
) -> tuple[Alternative, ...]:
    """What the answer would have been under the other ways of handling several effects.

    `pooled` is the answer as handled. Where its errors are cluster-robust, they are told with
    the simple correction too.
    """
    if chosen.name == "multilevel":
        composites = Alternative("one composite per study", pool_composites(question, studies))
        if pooled.interval != "cluster-robust":
            return (composites,)
        simple = pool_rows(question, rows, correction="CR1")
        return (composites, Alternative(SIMPLE_CORRECTION, simple))
    if chosen.name == "composite" and question.model.between in NESTED_METHODS:
        try:
            return (Alternative("a multilevel model", pool_rows(question, rows)),)
        except DesignError as refused:
            return (Alternative("a multilevel model", None, str(refused)),)
    return ()


def level_of(question: Question) -> float:
    """The question's level for intervals."""
    return float(question.model.level or 0.95)


def _sizes(column: pd.Series) -> np.ndarray:
    sizes = column.to_numpy(float)
    return np.where(np.isnan(sizes), 1.0, sizes)
