"""The table that travels: a row per effect, positive favouring the intervention."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from steelyard.effects import formed as words
from steelyard.effects.beyond_means import correlation_in_arm
from steelyard.effects.formed import Formed, told_route
from steelyard.effects.from_arms import from_arms
from steelyard.effects.from_comparison import from_comparison
from steelyard.effects.groups import Estimate
from steelyard.effects.selection import LeftOut, Pairing, dose_of, select
from steelyard.errors import DesignError
from steelyard.records.question import SPREAD_METRICS, Question
from steelyard.records.study import Study
from steelyard.records.vocabulary import Vocabulary
from steelyard.reporting.default_correlation import CLUSTER_ICC
from steelyard.reporting.number import weakest_tier
from steelyard.reporting.summary import find_result

COLUMNS = (
    *("study", "comparison", "outcome", "construct", "site", "week", "metric", "contrast"),
    *("effect", "variance", "n_intervention", "n_comparator", "shares", "r_used", "r_from"),
    *("route", "flags"),
)
EXTRA_COLUMNS = (
    *("label", "year", "design", "unit", "better", "intervention", "comparator"),
    *("dose_intervention", "dose_comparator", "assumed", "where", "tier", "df"),
    *("comparator_variance", "per_squared_effect"),
)


@dataclass(frozen=True, slots=True, eq=False)
class EffectTable:
    """All effects under a question, and what was left out, with the reason.

    Attributes
    ----------
    rows : DataFrame
        `COLUMNS`, then `EXTRA_COLUMNS`; a row per effect. ``effect`` is positive where the
        intervention did better; ratios on the log scale; ``flags`` joined by ``"; "``;
        ``tier`` that of the weakest number behind the effect; ``comparator_variance`` the
        part of ``variance`` that comes from the comparator arm, NaN where it is not known;
        ``per_squared_effect`` what of it goes with the effect squared, as in `Estimate`.
    left_out : tuple of LeftOut
        Studies, or single comparisons, that touch the question but gave no effect.
    on_assumed_r : tuple of Pairing
        Those whose effect rests on an assumed correlation, to be formed again with another.
    """

    rows: pd.DataFrame
    left_out: tuple[LeftOut, ...]
    on_assumed_r: tuple[Pairing, ...] = ()


def build_table(
    question: Question,
    studies: Iterable[Study],
    vocabulary: Vocabulary | None = None,
    *,
    assumed_r: str = "usual",
) -> EffectTable:
    """Form every effect that answers a question.

    Parameters
    ----------
    question : Question
    studies : iterable of Study
    vocabulary : Vocabulary, optional
        Tells which constructs are surrogates.
    assumed_r : {"usual", "low", "high"}
        Which pre-post r to assume where a paper is silent, by construct and arm.

    Returns
    -------
    EffectTable
        Its rows may be empty; `left_out` then says why.
    """
    chosen: list[Pairing | LeftOut] = []
    for study in studies:
        if question.metric == "correlation":
            chosen += _correlating(question, study)
        else:
            chosen += select(question, study)
    if assumed_r != "usual":
        chosen = [at_end(item, assumed_r) if isinstance(item, Pairing) else item for item in chosen]
    return table_of(chosen, question, vocabulary)


def at_end(pairing: Pairing, assumed_r: str) -> Pairing:
    """The pairing with another end of what may be assumed for its pre-post r."""
    return replace(pairing, assumed_r=assumed_r)


def table_of(
    chosen: Iterable[Pairing | LeftOut], question: Question, vocabulary: Vocabulary | None = None
) -> EffectTable:
    """Form the effects of given pairings under a question's metric, contrast and assumptions."""
    surrogates = _surrogates(vocabulary)
    rows: list[dict] = []
    left_out: list[LeftOut] = []
    on_assumed_r: list[Pairing] = []
    for item in chosen:
        if isinstance(item, LeftOut):
            left_out.append(item)
            continue
        try:
            formed = _form(item, question)
        except DesignError as refused:
            arms = f"{item.intervention.name} against {item.comparator.name}"
            what = f"{item.outcome.name}, {arms}"
            left_out.append(LeftOut(item.study.id, f"{what}: {refused}"))
            continue
        rows.append(_row(item, question, formed, surrogates))
        if words.ASSUMED_R in formed.flags:
            on_assumed_r.append(item)
    _mark_shared(rows)
    frame = pd.DataFrame(rows, columns=[*COLUMNS, *EXTRA_COLUMNS])
    return EffectTable(frame, tuple(dict.fromkeys(left_out)), tuple(on_assumed_r))


def effect_row(pairing: Pairing, question: Question, vocabulary: Vocabulary | None = None) -> dict:
    """One row of the table, without its ``shares``: that of the best-founded effect.

    Raises
    ------
    DesignError
        If none can be formed under the question's metric and contrast; says what is missing.
    """
    return _row(pairing, question, _form(pairing, question), _surrogates(vocabulary))


def printed_row(pairing: Pairing, question: Question, vocabulary: Vocabulary | None = None) -> dict:
    """The same of the paper's own comparison, whatever its arms tell.

    Raises
    ------
    DesignError
        If there is none, or it does not lead to the question's metric.
    """
    return _row(pairing, question, from_comparison(pairing, question), _surrogates(vocabulary))


def _surrogates(vocabulary: Vocabulary | None) -> set[str]:
    return {c.id for c in vocabulary.constructs if c.surrogate} if vocabulary else set()


def _correlating(question: Question, study: Study) -> list[Pairing]:
    wanted = set(question.intervention or ())
    arms = {arm.id: arm for arm in study.arms if not wanted or wanted & set(arm.tags)}
    outcomes = {o.id: o for o in study.outcomes if o.construct_id in question.constructs}
    return [
        Pairing(study, outcomes[r.outcome], arms[r.arm], arms[r.arm], r.week)
        for r in study.results
        if r.correlation is not None and r.arm in arms and r.outcome in outcomes
    ]


def _form(pairing: Pairing, question: Question) -> Formed:
    """The best-founded effect: known r, then the paper's own test, then assumed r, then the rest.

    The rest is a p printed only as a bound, and an effect in SDs that the paper does not name.
    """
    if question.metric == "correlation":
        return correlation_in_arm(pairing)
    arms = _attempt(from_arms, pairing, question)
    known = isinstance(arms, Formed) and arms.r_from != "assumed"
    settled = known and words.BOUNDED_P not in arms.flags
    if settled and words.POST_ONLY not in arms.flags:
        return arms
    printed = _attempt(from_comparison, pairing, question)
    weak = isinstance(printed, Formed) and _WEAK & set(printed.flags)
    order = [printed, arms]
    if weak or question.contrast in ("post", "change"):
        order = [arms, printed]
    for candidate in order:
        if isinstance(candidate, Formed):
            return candidate
    reasons = [str(refused) for refused in (arms, printed)]
    if "no comparison" in reasons[1]:
        raise DesignError(reasons[0])
    raise DesignError("; ".join(reasons))


_WEAK = {words.BOUNDED_P, words.SCALE_OPEN}


def _attempt(route, pairing: Pairing, question: Question) -> Formed | DesignError:
    try:
        return route(pairing, question)
    except DesignError as refused:
        return refused


def _row(pairing: Pairing, question: Question, formed: Formed, surrogates: set[str]) -> dict:
    study, outcome = pairing.study, pairing.outcome
    clusters = _for_clusters(pairing, question, formed)
    estimate, assumed = clusters.estimate, clusters.assumed
    turn = -1.0 if outcome.better == "lower" and question.metric not in _UNTURNED else 1.0
    flags = [*formed.flags, *clusters.flags]
    if study.retracted:
        flags.insert(0, words.RETRACTED)
    if study.design.randomised is False:
        flags.append(words.UNRANDOMISED)
    if outcome.construct_id in surrogates:
        flags.append(words.SURROGATE)
    doses = [np.nan, np.nan]
    if question.dose is not None:
        doses = [float(dose_of(question, a)) for a in (pairing.intervention, pairing.comparator)]
    same = pairing.intervention.id == pairing.comparator.id
    return {
        "study": study.id,
        "comparison": pairing.intervention.id
        if same
        else f"{pairing.intervention.id} vs {pairing.comparator.id}",
        "outcome": outcome.id,
        "construct": outcome.construct_id,
        "site": outcome.site or "",
        "week": float(pairing.week),
        "metric": question.metric,
        "contrast": formed.contrast,
        "effect": turn * float(estimate.effect),
        "variance": float(estimate.variance),
        "n_intervention": np.nan if formed.n_intervention is None else formed.n_intervention,
        "n_comparator": np.nan if formed.n_comparator is None else formed.n_comparator,
        "shares": "",
        "r_used": formed.r_used,
        "r_from": formed.r_from,
        "route": told_route(formed.steps, estimate.method),
        "flags": "; ".join(dict.fromkeys(flags)),
        "label": study.label,
        "year": study.source.issued if study.source.issued is not None else np.nan,
        "design": study.design.kind,
        "unit": outcome.unit,
        "better": outcome.better,
        "intervention": pairing.intervention.id,
        "comparator": pairing.comparator.id,
        "dose_intervention": doses[0],
        "dose_comparator": doses[1],
        "assumed": "; ".join(dict.fromkeys((*formed.assumptions, *assumed))),
        "where": _where(pairing),
        "df": np.nan if estimate.df is None else float(estimate.df),
        "tier": weakest_tier(formed.tier, *(["imputed"] if assumed and not clusters.flags else [])),
        "comparator_variance": formed.comparator_variance * clusters.factor,
        "per_squared_effect": float(estimate.per_squared_effect),
    }


_UNTURNED = SPREAD_METRICS | {"correlation"}


@dataclass(frozen=True, slots=True)
class _Clusters:
    estimate: Estimate
    factor: float = 1.0
    assumed: tuple[str, ...] = ()
    flags: tuple[str, ...] = ()


def _for_clusters(pairing: Pairing, question: Question, formed: Formed) -> _Clusters:
    """Widen the variance of a cluster-allocated study by its design effect.

    1 + (m − 1)·ICC, m the mean cluster size; applied to a paper's own test too, unless the
    record says that it allowed for clusters. Cochrane Handbook for Systematic Reviews of
    Interventions, 23.1.4.
    """
    design, estimate = pairing.study.design, formed.estimate
    if design.kind != "cluster":
        return _Clusters(estimate)
    if formed.clusters_allowed_for:
        method = f"{estimate.method}; clusters allowed for by the paper"
        return _Clusters(replace(estimate, method=method))
    if design.cluster_size is None:
        said = (
            "cluster size not printed: people taken as independent, so the interval is too narrow"
        )
        return _Clusters(estimate, assumed=(said,), flags=(words.CLUSTERS_IGNORED,))
    assumed: tuple[str, ...] = ()
    icc = design.cluster_icc
    if icc is None:
        icc = question.assume.cluster_icc
        source = "the question" if icc is not None else "default"
        icc = CLUSTER_ICC if icc is None else icc
        assumed = (f"correlation inside clusters {float(icc):g} assumed by {source}",)
    factor = 1 + (float(design.cluster_size) - 1) * float(icc)
    method = f"{estimate.method}; variance × {factor:.3g} for clusters"
    widened = replace(
        estimate,
        variance=estimate.variance * factor,
        method=method,
        per_squared_effect=estimate.per_squared_effect * factor,
    )
    return _Clusters(widened, factor, assumed)


def _where(pairing: Pairing) -> str:
    study = pairing.study
    places = [
        result.where
        for arm in (pairing.intervention, pairing.comparator)
        if (result := find_result(study, outcome=pairing.outcome.id, arm=arm.id, week=pairing.week))
        and result.where
    ]
    places += [
        comparison.where
        for comparison in study.comparisons
        if comparison.outcome == pairing.outcome.id and comparison.where
    ]
    return "; ".join(dict.fromkeys(places))


def _mark_shared(rows: list[dict]) -> None:
    """Give rows that lean on one comparator arm the same key."""
    pairs = {(row["study"], row["intervention"], row["comparator"]) for row in rows}
    uses = Counter((study, comparator) for study, _, comparator in pairs)
    for row in rows:
        if uses[row["study"], row["comparator"]] > 1:
            row["shares"] = f"{row['study']}: {row['comparator']}"
