"""Weigh a question: one row per study, then the pool, then what it settles."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import replace

import numpy as np
import pandas as pd

from steelyard.effects import formed as words
from steelyard.effects.from_arms import PAIRED_DESIGNS
from steelyard.effects.selection import LeftOut
from steelyard.effects.table import EffectTable
from steelyard.errors import DesignError, EmptyQuestionError
from steelyard.pooling.composite import composite
from steelyard.pooling.counted_once import comparators_as_one, repeated, told_once
from steelyard.pooling.dependence import (
    Alternative,
    Handling,
    alternatives,
    block,
    handling,
    pool_composites,
    pool_rows,
    r_between_outcomes,
    t_quantile,
)
from steelyard.pooling.dose_slope import dose_slope
from steelyard.pooling.held_out import held_out, not_pooled
from steelyard.pooling.leaning import AT_POOLED_EFFECT, at_pooled_effect, lean_note
from steelyard.pooling.pool import PoolResult
from steelyard.pooling.pool_nested import NestedPoolResult
from steelyard.pooling.scale import scale_of, worthwhile_on_machine_scale
from steelyard.pooling.verdict import verdict
from steelyard.pooling.weighing import Weighing
from steelyard.pooling.working_variance import LEANS_ON_THE_EFFECT
from steelyard.records.question import Question
from steelyard.show import count

NESTED_LEVELS = (50, 80, 95)


def weigh(
    question: Question,
    table: EffectTable,
    *,
    suspects: Mapping[tuple[str, str], str] | None = None,
    intervention: str = "the intervention",
    comparator: str = "the comparator",
    invented: bool = False,
    fingerprint: str = "",
    design_notes: Mapping[str, tuple[str, ...]] | None = None,
) -> Weighing:
    """Pool the effects under a question.

    Parameters
    ----------
    question : Question
    table : EffectTable
    suspects : mapping of (study, outcome) to str, optional
        Results whose numbers do not hang together, with the reason.
    intervention, comparator : str
        Names of the two things compared.
    invented : bool
        Whether any study is invented.
    fingerprint : str
        Ties the weighing to the records behind it.
    design_notes : mapping of study to tuple of str, optional
        What each study's design does to its effects.

    Returns
    -------
    Weighing

    Raises
    ------
    EmptyQuestionError
        If nothing can be pooled; says why.
    DesignError
        If the question asks to treat several effects of one study as independent.
    """
    if table.rows.empty:
        raise EmptyQuestionError(why_empty(question, list(table.left_out)))
    rows = with_suspects(table.rows, suspects or {})
    held = held_out(question, rows)
    rows["used"] = ~held.out
    left_out = [*table.left_out, *not_pooled(rows, held, suspects or {})]
    if not rows["used"].any():
        raise EmptyQuestionError(why_empty(question, left_out))
    refuse_mixed_units(question, rows[rows["used"]])
    chosen = handling(question, rows[rows["used"]])
    studies = one_row_per_study(question, rows)
    used = studies[studies["used"]]
    pooled, decisive, ninety = (
        pool_as_handled(question, chosen, rows[rows["used"]], used, level=level)
        for level in (None, 0.95, 0.90)
    )
    studies["weight"] = 0.0
    studies.loc[studies["used"], "weight"] = study_weights(pooled, rows[rows["used"]], used)
    others = alternatives(question, chosen, rows[rows["used"]], used, pooled=pooled)
    upright = _at_pooled_effect(question, chosen, rows[rows["used"]], pooled)
    if upright is not None:
        others = (*others, Alternative(AT_POOLED_EFFECT, upright))
        pooled = replace(pooled, notes=(*pooled.notes, *lean_note(pooled, upright)))
    worthwhile = worthwhile_on_machine_scale(question)
    return Weighing(
        question=question,
        effects=rows.reset_index(drop=True),
        studies=studies,
        pooled=pooled,
        verdict=verdict(
            low=decisive.low,
            high=decisive.high,
            low_90=ninety.low,
            high_90=ninety.high,
            worthwhile=worthwhile,
            intervention=intervention,
            comparator=comparator,
            metric=question.metric,
        ),
        decisive=decisive,
        ninety=ninety,
        worthwhile=worthwhile,
        dependence=chosen.name,
        why_dependence=chosen.why,
        alternatives=others,
        assumptions=assumptions_used(question, rows[rows["used"]], chosen.name),
        left_out=tuple(left_out),
        without_suspects=_other_way(question, rows, held.anyhow),
        scale=scale_of(
            question,
            units=set(rows["unit"]),
            better=set(rows["better"]),
            size=float(np.median(np.abs(used["effect"]))) or abs(pooled.high - pooled.low),
        ),
        intervention=intervention,
        comparator=comparator,
        invented=invented,
        fingerprint=fingerprint,
        design_notes=_by_note(used, design_notes or {}),
        on_assumed_r=table.on_assumed_r,
    )


def _by_note(used: pd.DataFrame, notes: Mapping[str, tuple[str, ...]]) -> tuple[str, ...]:
    """Each note once, with the pooled studies it is true of."""
    found: dict[str, list[str]] = {}
    for study in used["study"]:
        for note in notes.get(study, ()):
            found.setdefault(note, []).append(study)
    return tuple(f"{', '.join(studies)}: {note}" for note, studies in found.items())


def pool_as_handled(
    question: Question,
    chosen: Handling,
    rows: pd.DataFrame,
    studies: pd.DataFrame,
    *,
    level: float | None = None,
) -> PoolResult | NestedPoolResult:
    """Pool in the chosen way: effects within studies, or one composite per study."""
    if chosen.name == "multilevel":
        return pool_rows(question, rows, level=level)
    return pool_composites(question, studies, level=level)


def _at_pooled_effect(
    question: Question, chosen: Handling, rows: pd.DataFrame, pooled: PoolResult | NestedPoolResult
) -> PoolResult | NestedPoolResult | None:
    """The pool with variances at the pooled effect; None where the effect does not enter them."""
    if question.metric not in LEANS_ON_THE_EFFECT or rows["study"].nunique() < 2:
        return None

    def again(changed: pd.DataFrame) -> PoolResult | NestedPoolResult:
        within = chosen.name == "multilevel"
        studies = changed if within else one_row_per_study(question, changed)
        return pool_as_handled(question, chosen, changed, studies)

    per = 1.0
    if question.dose is not None:
        gaps = (rows["dose_intervention"] - rows["dose_comparator"]).to_numpy(float)
        per = gaps / float(question.dose_step or 1)
    return at_pooled_effect(rows, again, start=pooled.estimate, per=per)


def study_weights(pooled, rows: pd.DataFrame, studies: pd.DataFrame) -> np.ndarray:
    """Share of the weight of each study, in the order of `studies`; adds up to 1."""
    if not isinstance(pooled, NestedPoolResult):
        return pooled.weights
    shares = pd.Series(pooled.weights).groupby(rows["study"].to_numpy()).sum()
    return shares[studies["study"]].to_numpy()


def with_suspects(rows: pd.DataFrame, suspects: Mapping[tuple[str, str], str]) -> pd.DataFrame:
    """Effect rows with the flag of a suspect result where there is one; a copy."""
    rows = rows.copy()
    keys = list(zip(rows["study"], rows["outcome"], strict=True))
    rows["flags"] = [
        "; ".join(filter(None, (flags, words.SUSPECT))) if key in suspects else flags
        for key, flags in zip(keys, rows["flags"], strict=True)
    ]
    return rows


def why_empty(question: Question, left_out: list[LeftOut]) -> str:
    """The message for a question that nothing answers."""
    if not left_out:
        return f"question {question.id!r}: no study has arms and outcomes that it asks for"
    reasons = "; ".join(f"{out.study}: {out.reason}" for out in left_out[:10])
    more = f"; and {len(left_out) - 10} more" if len(left_out) > 10 else ""
    return f"question {question.id!r}: nothing can be pooled ({reasons}{more})"


def refuse_mixed_units(question: Question, rows: pd.DataFrame) -> None:
    """Raise DesignError where raw effects in several units would be pooled as one."""
    units = sorted(set(rows["unit"]))
    if question.metric == "raw" and len(units) > 1:
        named = ", ".join(unit or "none given" for unit in units)
        raise DesignError(
            f"question {question.id!r}: metric raw needs one unit, found {named}; "
            "expected the metric standardised or percent, or a narrower question"
        )


def one_row_per_study(question: Question, rows: pd.DataFrame) -> pd.DataFrame:
    """A row per study, its effects joined to one, with intervals at `NESTED_LEVELS`."""
    used = rows["used"].to_numpy(bool)
    again = np.zeros(len(rows), dtype=bool)
    for side in (used, ~used):
        again[side] = repeated(rows[side])
    rows = rows.assign(again=again)
    studies = pd.DataFrame(
        [
            _study_row(question, study, bool(used), part)
            for (study, used), part in rows.groupby(["study", "used"], sort=False)
        ]
    )
    root = np.sqrt(studies["variance"].to_numpy(float))
    for level in NESTED_LEVELS:
        reach = t_quantile(studies["df"], 0.5 + level / 200) * root
        studies[f"low_{level}"] = studies["effect"] - reach
        studies[f"high_{level}"] = studies["effect"] + reach
    return studies


def _study_row(question: Question, study: str, used: bool, part: pd.DataFrame) -> dict:
    once = part[~part["again"]]
    if len(once) == 1 and question.dose is None:
        effect, variance = (float(once[name].iloc[0]) for name in ("effect", "variance"))
    else:
        effect, variance = _joined(question, once)
    sizes = _people(part)
    flags = Counter(flag for text in part["flags"] for flag in text.split("; ") if flag)
    return {
        "study": study,
        "label": part["label"].iloc[0],
        "year": part["year"].iloc[0],
        "effect": effect,
        "variance": variance,
        "df": part["df"].min(),
        **sizes,
        "n_effects": len(part),
        "flags": "; ".join(flags),
        "used": used,
    }


def _joined(question: Question, once: pd.DataFrame) -> tuple[float, float]:
    """One effect from several of a study, and its variance."""
    parts = comparators_as_one(once)
    matrix = parts.matrix()
    covariance = matrix @ block(question, once) @ matrix.T
    effects = parts.effects(once["effect"].to_numpy(float))
    if question.dose is None:
        found = composite(effects, covariance=covariance)
        return found.effect, found.variance
    step = float(question.dose_step or 1)
    gaps = (once["dose_intervention"] - once["dose_comparator"]).to_numpy(float) / step
    found = dose_slope(effects, covariance=covariance, dose_difference=parts.effects(gaps))
    return found.slope, found.variance


def _people(part: pd.DataFrame) -> dict:
    """People per side and in all: each arm once, at its largest; paired designs count once."""
    one = _each_once(part["intervention"], part["n_intervention"])
    other = _each_once(part["comparator"], part["n_comparator"])
    same_people = part["design"].iloc[0] in PAIRED_DESIGNS
    total = np.nanmax([one, other, 0]) if same_people else np.nansum([one, other])
    return {"n_intervention": one, "n_comparator": other, "people": float(total)}


def _each_once(arms: pd.Series, sizes: pd.Series) -> float:
    """Sum over arms of the largest known size; NaN where none is known."""
    largest: dict[str, float] = {}
    for arm, size in zip(arms, sizes, strict=True):
        if size == size:
            largest[arm] = max(largest.get(arm, 0.0), float(size))
    return sum(largest.values()) if largest else float("nan")


def assumptions_used(question: Question, rows: pd.DataFrame, dependence: str) -> tuple[str, ...]:
    """What the pool assumes, each with the number of effects that rest on it."""
    uses = Counter(text for cell in rows["assumed"] for text in cell.split("; ") if text)
    found = [f"{text}: {count(times, 'effect')}" for text, times in uses.items()]
    found += told_once(rows)
    outcomes = rows.groupby("study")["outcome"].nunique().max() > 1
    weeks = rows.groupby("study")["week"].nunique().max() > 1
    constructs = sorted(rows["construct"].unique())
    if len(constructs) > 1:
        found.append(f"several kinds of outcome pooled as one: {', '.join(constructs)}")
    if dependence != "single" and (outcomes or weeks):
        source = "default" if question.assume.r_between_outcomes is None else "the question"
        between = f"correlation {r_between_outcomes(question):.2f} between outcomes or weeks"
        found.append(f"{between} of one study assumed by {source}")
    return tuple(found)


def _other_way(question, rows, anyhow) -> PoolResult | NestedPoolResult | None:
    suspect = rows["flags"].str.contains(words.SUSPECT, regex=False).to_numpy(bool) & ~anyhow
    if not suspect.any():
        return None
    turned = rows.copy()
    turned["used"] = ~anyhow & (True if question.model.suspect == "hold-out" else ~suspect)
    turned = turned[turned["used"]]
    if turned.empty:
        return None
    studies = one_row_per_study(question, turned)
    return pool_as_handled(question, handling(question, turned), turned, studies)
