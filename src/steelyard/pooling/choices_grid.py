"""What could defensibly be chosen otherwise when a question is weighed."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

import numpy as np
import pandas as pd

from steelyard.effects import formed as words
from steelyard.effects.correlations_used import assumable_between, assumed_ends, ends_by_arm
from steelyard.effects.selection import Pairing
from steelyard.pooling.held_out import holds_unscaled
from steelyard.records.question import Question

BETWEEN_TEXTS = {
    "reml": "REML",
    "pm": "Paule–Mandel",
    "dl": "DerSimonian–Laird",
    "ml": "maximum likelihood",
    "common": "one common effect",
}
INTERVAL_TEXTS = {"knapp-hartung": "Knapp–Hartung", "normal": "normal"}
KNAPP_HARTUNG_OR_CLUSTERED = "Knapp–Hartung or CR2"
INTERVALS_IN_WORDS = (
    "intervals: Knapp–Hartung's, and CR2 where effects are kept within studies, allow for few "
    "studies; the normal one supposes many"
)
CONTRAST_TEXTS = {
    "auto": "best founded",
    "change": "changes",
    "adjusted": "adjusted for the start",
    "post": "after training only",
}
METRIC_TEXTS = {
    "standardised": "SDs between people",
    "raw": "unit measured",
    "percent": "percent",
    "risk-ratio": "ratio of risks",
    "odds-ratio": "ratio of odds",
    "risk-difference": "difference in risk",
    "correlation": "correlation",
    "variability-ratio": "ratio of spreads",
    "relative-variability-ratio": "ratio of spreads relative to the mean",
}
DEPENDENCE_TEXTS = {
    "composite": "their mean",
    "multilevel": "effects within studies",
    "one": "the most precise alone",
}
RULES = (
    (words.SUSPECT, "suspect numbers"),
    (words.UNRANDOMISED, "unrandomised studies"),
    (words.ASSUMED_R, "an assumed r"),
    (words.FROM_FIGURE, "figure readings"),
    (words.BOUNDED_P, "p given as a bound"),
    (words.POST_ONLY, "post-only scores"),
    (words.SCALE_OPEN, "effects of unknown scale"),
)


@dataclass(frozen=True, slots=True)
class Dial:
    """One thing that could be chosen otherwise.

    Attributes
    ----------
    column : str
        Of the table of ways.
    words : str
        What is chosen.
    options : tuple of str
        As told.
    values : tuple
        As computed with, one per option.
    shipped : int
        Position of the option that the question takes.
    """

    column: str
    words: str
    options: tuple[str, ...]
    values: tuple = field(default=())
    shipped: int = 0

    def only_shipped(self) -> Dial:
        """The same dial fixed where the question has it."""
        at = self.shipped
        return Dial(self.column, self.words, (self.options[at],), (self.values[at],))


def correlation_dials(
    question: Question, on_assumed_r: Iterable[Pairing] = ()
) -> tuple[Dial, Dial, Dial]:
    """Assumed correlations: before to after, between two conditions, between outcomes.

    The first has ends, not numbers, for values: what is low or high goes by construct and arm,
    so its options are told from the effects that rest on an assumed r.
    """
    return (
        _before_to_after(question, tuple(on_assumed_r)),
        _between("r_between_arms", "correlation between two limbs or periods", question),
        _between("r_between_outcomes", "correlation between outcomes of a study", question),
    )


def _before_to_after(question: Question, pairings: tuple[Pairing, ...]) -> Dial:
    what = "correlation before–after, where assumed"
    ends = {end: assumed_ends(question, pairings, end) for end in ("low", "usual", "high")}
    kept = [end for end in ends if end == "usual" or ends[end] != ends["usual"]]
    texts = [ends_by_arm(question, pairings, end) if ends[end] else end for end in kept]
    if len(set(texts)) < len(texts):
        texts = kept
    return Dial("r", what, tuple(texts), tuple(kept), kept.index("usual"))


def _between(column: str, what: str, question: Question) -> Dial:
    span = assumable_between(question, column)
    values = sorted({span.low, span.value, span.high})
    texts = tuple(f"{each:.2f}" for each in values)
    return Dial(column, what, texts, tuple(values), values.index(span.value))


def model_dials(question: Question, *, nested: bool) -> tuple[Dial, Dial]:
    """Estimators of the variance between studies, and intervals.

    `nested` is whether any way models effects within studies, whose interval that allows for few
    studies is the cluster-robust one.
    """
    asked = question.model.between
    estimators = ("reml", "pm", "dl")
    if asked not in estimators:
        estimators = (asked, *estimators)
    intervals = tuple(INTERVAL_TEXTS)
    texts = INTERVAL_TEXTS | ({"knapp-hartung": KNAPP_HARTUNG_OR_CLUSTERED} if nested else {})
    return (
        Dial(
            "between",
            "variance between studies",
            tuple(BETWEEN_TEXTS[each] for each in estimators),
            estimators,
            estimators.index(asked),
        ),
        Dial(
            "interval",
            "interval",
            tuple(texts[each] for each in intervals),
            intervals,
            intervals.index(question.model.interval),
        ),
    )


def inclusion_dial(question: Question, rows: pd.DataFrame) -> Dial:
    """Rules about which results count; a rule that leaves nothing out is none.

    Each value is a tuple of flags that bar a row. Retracted studies are in under no rule, nor are
    effects of unknown scale where the question holds them out.
    """
    never = (words.SCALE_OPEN,) if holds_unscaled(question) else ()
    flags = rows.loc[~barred(rows, never), "flags"]
    there = {flag for cell in flags for flag in cell.split("; ")}
    found = [(flag, text) for flag, text in RULES if flag in there]
    held = question.model.suspect == "hold-out" and words.SUSPECT in there
    if not held:
        options = ["all", *(f"without {text}" for _, text in found)]
        values = [never, *((*never, flag) for flag, _ in found)]
        return Dial("inclusion", "which results count", tuple(options), tuple(values))
    others = [(flag, text) for flag, text in found if flag != words.SUSPECT]
    options = ["with suspect numbers", "without suspect numbers"]
    options += [f"also without {text}" for _, text in others]
    values = [never, (*never, words.SUSPECT)]
    values += [(*never, words.SUSPECT, flag) for flag, _ in others]
    return Dial("inclusion", "which results count", tuple(options), tuple(values), 1)


def dependence_dial(rows: pd.DataFrame, *, shipped: str) -> Dial:
    """Ways to handle several effects of one study; one option where each gives one."""
    what = "several effects of one study"
    if shipped == "slope":
        return Dial("dependence", what, ("one slope",), ("slope",))
    if shipped == "single" or rows.groupby("study").size().max() < 2:
        return Dial("dependence", what, ("one effect each",), ("composite",))
    names = tuple(DEPENDENCE_TEXTS)
    return Dial("dependence", what, tuple(DEPENDENCE_TEXTS.values()), names, names.index(shipped))


def with_suspects(rows: pd.DataFrame, suspects: Mapping[tuple[str, str], str]) -> pd.DataFrame:
    """Rows with the flag of suspect numbers where the numbers do not hang together."""
    keys = zip(rows["study"], rows["outcome"], strict=True)
    flags = [
        "; ".join(filter(None, (flag, words.SUSPECT))) if key in suspects else flag
        for key, flag in zip(keys, rows["flags"], strict=True)
    ]
    return rows.assign(flags=flags)


def barred(rows: pd.DataFrame, flags: tuple[str, ...]) -> np.ndarray:
    """Rows that a rule leaves out; retracted ones always."""
    out = rows["flags"].str.contains(words.RETRACTED, regex=False).to_numpy()
    for flag in flags:
        out = out | rows["flags"].str.contains(flag, regex=False).to_numpy()
    return out
