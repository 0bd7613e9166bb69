"""How the appraisal questions are answered for invented papers, from what their sentences say."""

from __future__ import annotations

import datetime as dt
import zlib
from typing import Any

from steelyard.records.appraisal import FACTS
from tests.invented.plan import StudyPlan

SILENT = "not reported"
SENTENCES = (
    *("registered", "allocation", "deviations", "missing_data", "measurement"),
    *("selective_reporting", "carry_over", "cross_education"),
)
READER = "second reader, Tarnside Rowing Club (invented)"

# Nobody has got round to these yet; a question without an answer is not "not reported".
UNANSWERED = ("netherquill-2024", "harrowmere-2020")

# By how the sentence starts: each question's answer with its place, or several to choose from.
CHANCE_HIDDEN_3 = {"allocated_by": ("chance", "Methods, p. 3"), "next_place": ("hidden", "p. 3")}
CHANCE_HIDDEN_4 = {"allocated_by": ("chance", "Methods, p. 4"), "next_place": ("hidden", "p. 4")}
SAID: dict[str, dict[str, Any]] = {
    "Yes, before the first person": {"plan_made_public": ("before it began", "Methods, p. 3")},
    "Yes, with the outcomes": {"plan_made_public": ("date not given", "p. 2")},
    "Yes, entry": {"plan_made_public": ("before it began", "p. 2, by the date of the entry")},
    "Registered after": {"plan_made_public": ("later", "p. 9")},
    "No register entry given": {"plan_made_public": SILENT},
    "No": {"plan_made_public": ("never", "Methods, p. 2")},
    "Sealed envelopes": CHANCE_HIDDEN_3,
    "Computer list": CHANCE_HIDDEN_4,
    "Drawn by lot": CHANCE_HIDDEN_3,
    "Said to be random": {"allocated_by": ("chance", "Methods, p. 3"), "next_place": SILENT},
    "Paired by strength": {"allocated_by": ("chance", "Methods, p. 4"), "next_place": SILENT},
    "People chose": {
        "allocated_by": ("someone's choice", "Methods, p. 2"),
        "next_place": ("could be told", "Methods, p. 2"),
    },
    "By order of arrival": {
        "allocated_by": ("a fixed rule", "Methods, p. 2"),
        "next_place": ("could be told", "Methods, p. 2"),
    },
    "Everyone analysed as allocated": {
        "counted_where_allocated": ("yes", "Results, p. 6"),
        "sessions_attended": ("most in every arm", "Results, p. 6"),
        "training_beside": [("the same", "Methods, p. 4"), SILENT],
    },
    "Sessions watched": {
        "counted_where_allocated": [("yes", "Figure 1"), ("yes", "Methods, p. 5"), SILENT],
        "sessions_attended": ("most in every arm", "Results, p. 5"),
        "training_beside": ("the same", "Methods, p. 4"),
    },
    "Attendance given": {
        "counted_where_allocated": [("yes", "Results, p. 5"), SILENT],
        "sessions_attended": SILENT,
        "training_beside": [("the same", "Methods, p. 3"), SILENT],
    },
    "Not described": {
        "counted_where_allocated": SILENT,
        "sessions_attended": SILENT,
        "training_beside": SILENT,
    },
    "Some changed groups": {
        "counted_where_allocated": ("no", "p. 5"),
        "sessions_attended": ("few in an arm", "p. 5"),
        "training_beside": SILENT,
    },
    "All who left": {"leavers": ("not tied to the training", "Figure 1, p. 5")},
    "Few left": {"leavers": ("not tied to the training", "Figure 1, p. 4")},
    "Completers only": {"leavers": SILENT},
    "One person left out": {"leavers": SILENT},
    "More left one group": {"leavers": ("tied to the training", "p. 5")},
    "Same device, rater": {
        "measured_by": ("did not know", "Methods, p. 5"),
        "tried_before": [("yes", "Methods, p. 5"), SILENT],
    },
    "Two familiarisation visits": {
        "measured_by": ("did not know", "Methods, p. 4"),
        "tried_before": ("yes", "Methods, p. 4"),
    },
    "Same device throughout": {
        "measured_by": ("knew", "Methods, p. 4"),
        "tried_before": [SILENT, ("yes", "Methods, p. 4"), ("no", "Methods, p. 4")],
    },
    "Who measured is not said": {"measured_by": SILENT, "tried_before": SILENT},
    "Tested by the coach": {
        "measured_by": ("knew", "Methods, p. 3"),
        "tried_before": ("no", "Methods, p. 3"),
    },
    "All outcomes named": {"measured_and_reported": ("all", "Table 2, p. 6")},
    "The plan and the paper": {"measured_and_reported": ("all", "the register entry")},
    "No plan to compare with": {"measured_and_reported": SILENT},
    "Muscle soreness was measured": {
        "measured_and_reported": ("some are missing", "Methods, p. 4, against Results")
    },
    "Six tests": {"measured_and_reported": ("some are missing", "p. 3 against p. 5")},
    "Sixteen weeks between": {"back_at_start": SILENT},  # "no sign" is shown by no number
    "Twelve weeks between": {"back_at_start": ("yes", "p. 5")},
    "Size, not strength": {"other_limb": ("trained too", "Methods, p. 4")},
    "Little is known": {"other_limb": ("trained too", "Methods, p. 4")},
    "Strength crosses over": {"other_limb": ("trained too", "Methods, p. 3")},
}

# What single papers say beyond their sentences.
ODD: dict[str, dict[str, Any]] = {
    "eskerholt-2019": {"tried_before": ("yes", "Methods, p. 4")},
    "greywick-2024": {"sessions_attended": ("few in an arm", "Results, p. 5: with 24 sets")},
    "hazelmire-2014": {"tried_before": ("yes", "Methods, p. 5")},
    "lintonby-2022": {"training_beside": ("different", "p. 2: Thursdays also rowed intervals")},
    "nettlewater-2023": {
        "counted_where_allocated": ("yes", "Methods, p. 5"),
        "tried_before": ("yes", "Methods, p. 5"),
    },
}

OVERRULINGS: dict[str, dict[str, Any]] = {
    "hazelmire-2014": {
        "domain": "cross-education",
        "concern": "low",
        "reason": "Both legs trained equal sets, so what crosses over adds to both alike",
        "by": READER,
        "date": dt.date(2025, 10, 14),
    },
    "juddlebeck-2021": {
        "domain": "selective reporting",
        "concern": "some",
        "reason": "Only the first week's soreness is missing; strength is reported in full",
        "by": READER,
        "date": dt.date(2025, 10, 21),
        "outcome": "knee-flexion-peak",
    },
    "oxmere-2013": {
        "domain": "missing data",
        "concern": "high",
        "reason": "The outlying value was taken out after the groups had been compared",
        "by": READER,
        "date": dt.date(2025, 10, 21),
    },
}


def appraisal_answers(plan: StudyPlan, design: dict[str, Any]) -> dict[str, Any]:
    """The ``[appraisal]`` table of one study, in the order of the questions."""
    if plan.id in UNANSWERED:
        return {}
    found = _from_sentences(plan, design)
    decides = {"crossover": "order_by", "within-person": "limb_by"}.get(plan.kind)
    if decides:
        found[decides] = found["allocated_by"]
    if plan.kind == "within-person" and design["missing_data"].startswith("All who left"):
        if not any(arm.lost for arm in plan.arms):
            found["leavers"] = ("nobody left", "Figure 1, p. 5: the list is empty")
    found["measured_by"] = _measured_by(found["measured_by"], design["blinded_assessors"])
    found |= ODD.get(plan.id, {})
    return {name: _written(name, found[name], plan) for name in FACTS if name in found}


def _from_sentences(plan: StudyPlan, design: dict[str, Any]) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for sentence in (design[key] for key in SENTENCES if key in design):
        # The longest start first: "No register entry given" is not a plain "No".
        starts = [start for start in SAID if sentence.startswith(start)]
        for name, answer in SAID[max(starts, key=len)].items():
            if isinstance(answer, list):
                answer = answer[zlib.crc32(f"{plan.id}/{name}".encode()) % len(answer)]
            found[name] = answer
    return found


def _measured_by(answer: Any, blinded: bool) -> Any:
    """Where the sentence is silent or says otherwise than the paper's word ``blinded``."""
    if answer == SILENT:
        return ("did not know", "Abstract") if blinded else ("knew", "Discussion, p. 7")
    if blinded and answer[0] == "knew":
        return SILENT, "Abstract says blinded, Methods, p. 4, that the rater knew"
    return answer


def _written(name: str, answer: Any, plan: StudyPlan) -> Any:
    """One answer as it stands in the record, with others for single outcomes."""
    word, where = (answer, None) if isinstance(answer, str) else answer
    strains = [part.id for part in plan.outcomes if part.construct == "muscle-strain"]
    sizes = [part.id for part in plan.outcomes if part.construct == "muscle-size"]
    others = {}
    if name == "tried_before":
        if len(strains + sizes) == len(plan.outcomes):
            return "needs no practice"
        others = dict.fromkeys(strains + sizes, "needs no practice")
    elif name == "measured_by" and len(strains) < len(plan.outcomes) and word != "knew":
        # Rowers who knew what they did told the coach of their strains.
        others = dict.fromkeys(strains, "knew")
    if where is None and not others:
        return word
    return (
        {"answer": word}
        | ({"where": where} if where else {})
        | ({"by_outcome": others} if others else {})
    )
