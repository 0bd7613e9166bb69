"""A weighing: all effects under a question, pooled, with everything that qualifies the answer."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from steelyard.effects.selection import LeftOut, Pairing
from steelyard.pooling.dependence import Alternative, r_between_outcomes
from steelyard.pooling.equivalence import Equivalence, equivalence_of_pool
from steelyard.pooling.pool import BETWEEN_IN_WORDS, INTERVAL_IN_WORDS, PoolResult
from steelyard.pooling.pool_nested import NestedPoolResult
from steelyard.pooling.scale import Scale, stated_worthwhile
from steelyard.pooling.size_words import SizeWord, size_words
from steelyard.pooling.verdict import EQUIVALENT, Verdict
from steelyard.records.question import Question
from steelyard.show import Shown, count, number, p_text
from steelyard.show import interval as shown_interval

if TYPE_CHECKING:
    from steelyard.pooling.other_r import OtherR


@dataclass(frozen=True, slots=True, eq=False)
class Weighing(Shown):
    """The weighed answer to a question.

    Attributes
    ----------
    question : Question
    effects : DataFrame
        The effect table, with a column ``used`` (bool).
    studies : DataFrame
        A row per study: ``study, label, year, effect, variance, low_50 … high_95, weight``
        (fraction of the pool), ``n_intervention, n_comparator, people, n_effects, flags,
        used``; machine scale.
    pooled : PoolResult or NestedPoolResult
        Over the studies, or the effects within studies, used.
    verdict : Verdict
    decisive, ninety : PoolResult or NestedPoolResult
        The same pool with 95 % and with 90 % intervals, which decide the verdict whatever the
        level that is shown.
    worthwhile : float or None
        Smallest worthwhile effect on the machine scale.
    dependence : str
        How several effects of one study were handled: ``single``, ``composite``,
        ``multilevel`` or ``slope``.
    why_dependence : str
        The reason for that.
    alternatives : tuple of Alternative
        What the answer would have been, handled another way.
    assumptions : tuple of str
        Every use of something the papers do not say.
    left_out : tuple of LeftOut
        What touches the question but is not pooled, with the reason.
    without_suspects : PoolResult, NestedPoolResult or None
        The pool with the use of suspect numbers turned the other way; None if there are none.
    scale : Scale
    intervention, comparator : str
        Names of the two things compared.
    invented : bool
        Whether any of the data is invented.
    fingerprint : str
    design_notes : tuple of str
        What the designs of the pooled studies do to their effects, each with its studies.
    on_assumed_r : tuple of Pairing
        Those whose effect rests on an assumed correlation.
    """

    question: Question
    effects: pd.DataFrame
    studies: pd.DataFrame
    pooled: PoolResult | NestedPoolResult
    verdict: Verdict
    decisive: PoolResult | NestedPoolResult
    ninety: PoolResult | NestedPoolResult
    worthwhile: float | None
    dependence: str
    why_dependence: str
    alternatives: tuple[Alternative, ...]
    assumptions: tuple[str, ...]
    left_out: tuple[LeftOut, ...]
    without_suspects: PoolResult | NestedPoolResult | None
    scale: Scale
    intervention: str
    comparator: str
    invented: bool
    fingerprint: str
    design_notes: tuple[str, ...] = ()
    on_assumed_r: tuple[Pairing, ...] = ()

    @property
    def k_studies(self) -> int:
        return int(self.studies["used"].sum())

    @property
    def k_effects(self) -> int:
        return int(self.effects["used"].sum())

    @property
    def low_90(self) -> float:
        """Low end of the 90 % interval, which decides on equivalence; machine scale."""
        return self.ninety.low

    @property
    def high_90(self) -> float:
        """High end of the 90 % interval, which decides on equivalence; machine scale."""
        return self.ninety.high

    @property
    def people(self) -> int:
        return int(self.studies.loc[self.studies["used"], "people"].sum())

    def __getattr__(self, name: str):
        if name in _FROM_POOL:
            return getattr(self.pooled, name)
        raise AttributeError(f"a weighing has no {name!r}")

    def text(self, value: float) -> str:
        """One machine value in display units, with its unit."""
        shown = float(self.scale.shown(value))
        return number(shown, decimals=self.scale.decimals, sign=self.scale.sign) + self.scale.unit

    def span(self, low: float, high: float) -> str:
        """One machine interval in display units, low end first, with its unit."""
        ends = sorted(float(self.scale.shown(end)) for end in (low, high))
        body = shown_interval(*ends, decimals=self.scale.decimals, sign=self.scale.sign)
        return body + self.scale.unit

    def as_json(self) -> dict:
        """The machine's view: ratios on the log scale, positive favours the intervention."""
        pooled = self.pooled
        values = {name: plain(getattr(pooled, name)) for name in _FROM_POOL}
        return {
            "question": self.question.id,
            "asks": self.question.asks,
            "metric": self.question.metric,
            "contrast": self.question.contrast,
            "k_studies": self.k_studies,
            "k_effects": self.k_effects,
            "people": self.people,
            **values,
            "between": pooled.between,
            "interval": pooled.interval,
            "dependence": self.dependence,
            "why_dependence": self.why_dependence,
            "alternatives": [
                {
                    "name": other.name,
                    **{name: plain(getattr(other.pooled, name, None)) for name in _FROM_POOL},
                    "refused": other.refused or None,
                }
                for other in self.alternatives
            ],
            **self._split_variance(),
            "direction": "positive favours the intervention",
            "per": plain(self.question.dose_step) if self.question.dose else None,
            "smallest_worthwhile": plain(self.worthwhile),
            "verdict": self.verdict.word,
            "low_90": plain(self.low_90),
            "high_90": plain(self.high_90),
            "verdict_sentence": self.verdict.sentence,
            "assumptions": list(self.assumptions),
            "at_other_r": [each.as_json() for each in self.at_other_r],
            "equivalence": self._equivalence_values(),
            "size_words": [each.as_json() for each in self.size_words],
            "design_notes": list(self.design_notes),
            "notes": list(pooled.notes),
            "left_out": [{"study": o.study, "reason": o.reason} for o in self.left_out],
            "effects": [
                {str(key): plain(value) for key, value in row.items()}
                for row in self.effects.to_dict("records")
            ],
            "studies": [
                {str(key): plain(value) for key, value in row.items()}
                for row in self.studies.to_dict("records")
            ],
            "invented": self.invented,
            "fingerprint": self.fingerprint,
        }

    def _title(self) -> str:
        return f"Weighing: {self.question.id}"

    def _rows(self) -> list[tuple[str, str]]:
        from steelyard.pooling.other_r import told_at_other_r

        pooled, percent = self.pooled, f"{100 * self.pooled.level:g} %"
        rows = [
            ("asked", self.question.asks),
            # Before the estimate, so that nobody sets it with the answer in mind.
            ("too small to matter", self.margin),
            ("answer", self.verdict.sentence),
            (
                "estimate",
                f"{self.text(pooled.estimate)}, {percent} interval "
                f"{self.span(pooled.low, pooled.high)}{self._per()}",
            ),
            *self._decisive(),
            *self._one_sided(),
            ("next study's average", self._next_study()),
            ("between studies", self._between()),
            *(("as a word", each.text) for each in self.size_words),
            (
                "evidence",
                f"{count(self.k_effects, 'effect')} in "
                f"{count(self.k_studies, 'study', 'studies')}, {self.people:,} people",
            ),
            ("method", self.method),
        ]
        if self.dependence in ("composite", "multilevel"):
            rows.append(("several effects", f"{self.dependence}: {self.why_dependence}"))
        rows += [("otherwise", self.other_answer(other)) for other in self.alternatives]
        rows += [("otherwise", text) for text in told_at_other_r(self)]
        rows += [("assumed", text) for text in self.assumptions]
        rows += [("design", text) for text in self.design_notes]
        rows += [("note", note) for note in pooled.notes]
        if self.without_suspects is not None:
            rows.append(("suspect numbers", self.suspect_sentence))
        rows += [("not pooled", f"{out.study}: {out.reason}") for out in self.left_out]
        if self.invented:
            rows.append(("data", "invented, for demonstration"))
        rows.append(("fingerprint", self.fingerprint))
        return rows

    @property
    def at_other_r(self) -> tuple[OtherR, ...]:
        """The answer at both ends of each correlation that is assumed; worked out when asked."""
        from steelyard.pooling.other_r import at_other_r

        return at_other_r(self)

    @property
    def method(self) -> str:
        """The method in words."""
        r = r_between_outcomes(self.question)
        dependence = {
            "composite": "several effects of a study combined into one composite"
            + (f" (assumed r {r:.2f} between outcomes)" if self._several_outcomes() else ""),
            "multilevel": "effects within studies, study as cluster",
            "slope": "one slope per study, from its arms with their shared comparator",
            "single": "one effect per study",
        }[self.dependence]
        interval = INTERVAL_IN_WORDS[self.pooled.interval]
        return f"{BETWEEN_IN_WORDS[self.pooled.between]}; {interval}; {dependence}"

    def _several_outcomes(self) -> bool:
        used = self.effects[self.effects["used"]].groupby("study")
        return bool((used["outcome"].nunique() > 1).any() or (used["week"].nunique() > 1).any())

    def other_answer(self, other: Alternative) -> str:
        """One sentence: what the answer would have been, handled another way."""
        pooled = other.pooled
        if pooled is None:
            return f"with {other.name}: cannot be had ({other.refused})"
        return (
            f"with {other.name}: {self.text(pooled.estimate)}, {self.span(pooled.low, pooled.high)}"
        )

    def _equivalence_values(self) -> dict | None:
        tests = self.equivalence
        if tests is None:
            return None
        names = ("against_lower", "against_upper", "p_lower", "p_upper", "p", "df")
        return {name: plain(getattr(tests, name)) for name in names}

    def _split_variance(self) -> dict:
        if not isinstance(self.pooled, NestedPoolResult):
            return {}
        names = ("variance_between_studies", "variance_within_studies", "df")
        return {name: plain(getattr(self.pooled, name)) for name in names}

    @property
    def suspect_sentence(self) -> str:
        """What the answer would be with suspect numbers treated the other way."""
        other = self.without_suspects
        held = self.question.model.suspect == "hold-out"
        return (
            f"{'with' if held else 'without'} them the estimate would be "
            f"{self.text(other.estimate)}, {self.span(other.low, other.high)}"
        )

    def _decisive(self) -> list[tuple[str, str]]:
        if self.verdict.word != EQUIVALENT:
            return []
        span = self.span(self.low_90, self.high_90)
        return [("decided by", f"90 % interval {span} (two one-sided tests at 5 %)")]

    @property
    def equivalence(self) -> Equivalence | None:
        """Two one-sided tests at 5 % against the smallest worthwhile effect; None without one."""
        if not self.worthwhile:
            return None
        return equivalence_of_pool(self.ninety, wide=self.decisive, margin=self.worthwhile)

    def _one_sided(self) -> list[tuple[str, str]]:
        tests = self.equivalence
        if tests is None:
            return []
        df = f" on {number(tests.df, decimals=1)} df" if np.isfinite(tests.df) else ""
        name = "t" if df else "z"
        ends = (
            (-self.worthwhile, tests.against_lower, tests.p_lower),
            (self.worthwhile, tests.against_upper, tests.p_upper),
        )
        told = "; ".join(
            f"against {self.text(bound)} {name} {number(distance)}, {p_text(p)}"
            for bound, distance, p in ends
        )
        shown = "shown" if tests.verdict.word == EQUIVALENT else "not shown"
        return [("two one-sided tests", f"{told}{df}{self._widened()}: sameness {shown}")]

    def _widened(self) -> str:
        """That the 90 % interval, and it alone, has the width of the common-effect one."""
        ninety = self.ninety
        if ninety.interval == "normal" or np.isfinite(ninety.df) or np.isinf(self.decisive.df):
            return ""
        return " (the interval at this level would be narrower than the common-effect one)"

    @property
    def margin(self) -> str:
        """The smallest worthwhile effect with its source, or that none is set and how to."""
        if self.worthwhile is None:
            return NO_MARGIN
        source = self.question.smallest_worthwhile_source
        return f"{self.zone} ({source})" if source else self.zone

    @property
    def zone(self) -> str:
        """The effects too small to matter, in words."""
        if self.scale.kind == "log":
            return f"from {self.span(-self.worthwhile, self.worthwhile)}"
        size = stated_worthwhile(self.question)
        return f"less than {size}{self.scale.unit} either way{self._per()}"

    @property
    def size_words(self) -> tuple[SizeWord, ...]:
        """Threshold words for the size; none for a slope, whose step is free to choose."""
        if self.question.dose:
            return ()
        ends = {name: getattr(self.pooled, name) for name in ("estimate", "low", "high")}
        shown = {name: float(self.scale.shown(value)) for name, value in ends.items()}
        return size_words(self.question.metric, **shown)

    def _per(self) -> str:
        if not self.question.dose:
            return ""
        step = float(self.question.dose_step or 1)
        return f", per {step:g} more {self.question.dose.replace('_', ' ')}"

    def _next_study(self) -> str:
        if np.isnan(self.pooled.prediction_low):
            return "no prediction interval"
        pooled = self.pooled
        return self.span(pooled.prediction_low, pooled.prediction_high) + self._per()

    def _between(self) -> str:
        pooled = self.pooled
        spread = number(np.sqrt(pooled.tau2), decimals=3)
        beside = []
        if not np.isnan(pooled.tau2_high):
            ends = [np.sqrt(end) for end in (pooled.tau2_low, pooled.tau2_high)]
            beside.append(shown_interval(*ends, decimals=3, sign=False))
        if isinstance(pooled, NestedPoolResult):
            parts = (pooled.variance_between_studies, pooled.variance_within_studies)
            between, within = (number(np.sqrt(part), decimals=3) for part in parts)
            beside.append(f"between studies {between}, within {within}")
        text = f"SD {spread}" + (f" ({'; '.join(beside)})" if beside else "")
        if self.question.metric not in ("standardised", "raw", "risk-difference"):
            text += " on the log scale" if self.question.metric != "correlation" else " of z"
        # I² comes from Q and so from the sampling variances alone, the SD from the model: under
        # REML the one can be 0 while the other is not.
        q = f", from Q ({p_text(pooled.q_p)})" if pooled.q_p == pooled.q_p else ""
        return f"{text}; I² {number(100 * pooled.i2, decimals=0)} %{q}"


NO_MARGIN = (
    "not set, so no verdict is given on the size; to have one, write the smallest effect worth "
    "having as smallest_worthwhile, and where it comes from as smallest_worthwhile_source, in the "
    "question's file, before looking at the answer"
)
_FROM_POOL = (
    *("estimate", "standard_error", "level", "low", "high", "prediction_low"),
    *("prediction_high", "tau2", "tau2_low", "tau2_high", "i2", "q", "q_df", "q_p"),
)


def plain(value):
    """A value JSON can hold: NaN becomes null."""
    if value is None or isinstance(value, str | bool | int):
        return value
    if isinstance(value, np.bool_):
        return bool(value)
    value = float(value)
    return None if not np.isfinite(value) else value
