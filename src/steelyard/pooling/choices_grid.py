"""What could defensibly be chosen otherwise when a question is weighed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
import pandas as pd

from steelyard.effects import formed as words
from steelyard.effects.from_arms import PAIRED_DESIGNS
from steelyard.records.question import Question
from steelyard.reporting.default_correlation import (
    BETWEEN_ARMS,
    BETWEEN_OUTCOMES,
    default_correlation,
)

# Common practice, no source: how far these two may lie from their defaults.
BETWEEN_OUTCOMES_RANGE = (0.3, 0.9)
BETWEEN_ARMS_RANGE = (0.3, 0.8)

BETWEEN_TEXTS = {
    "reml": "REML",
    "pm": "Paule–Mandel",
    "dl": "DerSimonian–Laird",
    "ml": "maximum likelihood",
    "common": "one common effect",
}
INTERVAL_TEXTS = {"knapp-hartung": "Knapp–Hartung", "normal": "normal"}
KNAPP_HARTUNG_OR_CLUSTERED = "Knapp–Hartung or CR2"
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


def correlation_dials(question: Question) -> tuple[Dial, Dial, Dial]:
    """Assumed correlations: before to after, between two conditions, between outcomes."""
    known = [default_correlation(construct) for construct in question.constructs]
    usual = known[0].value if len({each.value for each in known}) == 1 else None
    return (
        _correlation(
            "r",
            "correlation before–after, where assumed",
            question.assume.r_pre_post,
            usual,
            (min(each.low for each in known), max(each.high for each in known)),
        ),
        _correlation(
            "r_between_arms",
            "correlation between two limbs or periods",
            question.assume.r_between_arms,
            BETWEEN_ARMS,
            BETWEEN_ARMS_RANGE,
        ),
        _correlation(
            "r_between_outcomes",
            "correlation between outcomes of a study",
            question.assume.r_between_outcomes,
            BETWEEN_OUTCOMES,
            BETWEEN_OUTCOMES_RANGE,
        ),
    )


def _correlation(column, what, asked, usual, bounds) -> Dial:
    value = usual if asked is None else float(asked)
    low, high = bounds
    if value is None:
        return Dial(column, what, (f"{low:.2f}", "usual", f"{high:.2f}"), (low, None, high), 1)
    values = sorted({low, high, value})
    return Dial(
        column, what, tuple(f"{each:.2f}" for each in values), tuple(values), values.index(value)
    )


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

    Each value is a tuple of flags that bar a row. Retracted studies are in under no rule.
    """
    flags = rows.loc[~rows["flags"].str.contains(words.RETRACTED, regex=False), "flags"]
    there = {flag for cell in flags for flag in cell.split("; ")}
    found = [(flag, text) for flag, text in RULES if flag in there]
    held = question.model.suspect == "hold-out" and words.SUSPECT in there
    if not held:
        options = ["all", *(f"without {text}" for _, text in found)]
        return Dial(
            "inclusion",
            "which results count",
            tuple(options),
            ((), *((flag,) for flag, _ in found)),
        )
    others = [(flag, text) for flag, text in found if flag != words.SUSPECT]
    options = ["with suspect numbers", "without suspect numbers"]
    options += [f"also without {text}" for _, text in others]
    values = [(), (words.SUSPECT,), *((words.SUSPECT, flag) for flag, _ in others)]
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


def assumes_between_arms(rows: pd.DataFrame) -> bool:
    """Whether a limb or period design among the rows rests on an assumed correlation."""
    paired = rows["design"].isin(PAIRED_DESIGNS)
    return bool((paired & rows["assumed"].str.contains("between the two conditions")).any())


def barred(rows: pd.DataFrame, flags: tuple[str, ...]) -> np.ndarray:
    """Rows that a rule leaves out; retracted ones always."""
    out = rows["flags"].str.contains(words.RETRACTED, regex=False).to_numpy()
    for flag in flags:
        out = out | rows["flags"].str.contains(flag, regex=False).to_numpy()
    return out
