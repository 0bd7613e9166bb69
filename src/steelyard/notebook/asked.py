"""What a question asks, and under which rules it is answered."""

from __future__ import annotations

from dataclasses import dataclass

from steelyard.notebook.answer import Answer
from steelyard.pooling.scale import stated_worthwhile
from steelyard.records.question import Question, Weeks
from steelyard.show import Shown

_METRIC = {
    "standardised": "in standard deviations between people",
    "raw": "in the unit measured",
    "percent": "in percent",
    "correlation": "as a correlation",
    "risk-ratio": "as a ratio of risks",
    "odds-ratio": "as a ratio of odds",
    "risk-difference": "as a difference in risk, per 100 people",
    "variability-ratio": "as a ratio of spreads",
    "relative-variability-ratio": "as a ratio of spreads, each relative to its mean",
}
_UNIT = {"standardised": " SD", "percent": " %", "risk-difference": " per 100 people"}
_SILENT = {
    "r_pre_post": "correlation before to after",
    "r_between_outcomes": "correlation between outcomes",
    "r_between_arms": "correlation between two conditions in one person",
    "cluster_icc": "correlation inside clusters",
}


@dataclass(frozen=True, slots=True)
class Asked(Shown):
    """The question in words."""

    answer: Answer

    def _title(self) -> str:
        return self.answer.question.asks

    def _rows(self) -> list[tuple[str, str]]:
        question = self.answer.question
        rows = [("for whom", question.whom or "not said")]
        rows.append(("compared", compared(self.answer)))
        rows.append(("measured", _measured(self.answer)))
        rows.append(("shown", _METRIC[question.metric] + _per(question)))
        rows.append(("smallest effect worth having", worthwhile(self.answer)))
        if question.smallest_worthwhile_source:
            rows.append(("its source", question.smallest_worthwhile_source))
        rows.append(("taken from each study", _time(question)))
        rows += _eligible(question)
        silent = [
            f"{words} {getattr(question.assume, name)}{_ends(question, name)}"
            for name, words in _SILENT.items()
            if getattr(question.assume, name) is not None
        ]
        if silent:
            rows.append(("assumed where a paper is silent", "; ".join(silent)))
        if self.answer.invented:
            rows.append(("data", "invented, for demonstration"))
        return rows


def compared(answer: Answer) -> str:
    """The two things compared, or the dose that is varied."""
    question, label = answer.question, answer.library.vocabulary.label
    if question.dose is not None:
        return f"more against fewer {_plain(question.dose)}, inside each study"
    sides = [
        " or ".join(label("tag", word) for word in words or ())
        for words in (question.intervention, question.comparator)
    ]
    return " against ".join(side for side in sides if side) or "not said"


def worthwhile(answer: Answer) -> str:
    """The smallest effect worth having, with its unit."""
    question = answer.question
    if question.smallest_worthwhile is None:
        return "none set, so whether an effect matters is not judged"
    unit = answer.weighing.scale.unit if answer.weighing else _UNIT.get(question.metric, "")
    return f"{stated_worthwhile(question)}{unit}{_per(question)}"


def _ends(question: Question, name: str) -> str:
    """How far off an assumed correlation may be, where the question says so."""
    ends = getattr(question.assume, f"{name}_range", None)
    return "" if ends is None else f" ({ends[0]} to {ends[1]})"


def _measured(answer: Answer) -> str:
    question, label = answer.question, answer.library.vocabulary.label
    text = " or ".join(label("construct", word) for word in question.constructs)
    if question.sites:
        text += " (" + " or ".join(label("site", word) for word in question.sites) + ")"
    return text


def _per(question: Question) -> str:
    if question.dose is None:
        return ""
    return f", for every {float(question.dose_step or 1):g} more {_plain(question.dose)}"


def _plain(dose: str) -> str:
    return dose.replace("_per_week", " a week").replace("_", " ")


def _time(question: Question) -> str:
    if isinstance(question.time, Weeks):
        return "measurements at week " + ", ".join(str(week) for week in question.time.weeks)
    return "every measurement" if question.time == "all" else "the last measurement of each outcome"


def _eligible(question: Question) -> list[tuple[str, str]]:
    rules = question.eligible.model_dump(exclude_none=True)
    if not rules:
        return []
    texts = []
    for name, value in rules.items():
        shown = " or ".join(value) if isinstance(value, tuple) else value
        if isinstance(value, bool):
            shown = "yes" if value else "no"
        texts.append(f"{name.replace('_', ' ')}: {shown}")
    return [("only studies with", "; ".join(texts))]
