"""Faults to be planted in sound records, each with the findings it must give and no others."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

from steelyard.records.reading import parse

Values = dict[str, Any]

STUDY = """schema = 1
id = "planted"
invented = true

[source]
title = "Invented: three ways to lower a bar at Tarnside"
issued = 2019

[design]
kind = "parallel"
randomised = true

[population]
age_mean = 51.2
n_randomised = 56

[[arm]]
id = "added"
tags = ["slow-lowering"]
n = 19
dose = { reps = [6, 8] }

[[arm]]
id = "usual"
label = "usual lifting"
tags = ["usual"]
n = 19

[[arm]]
id = "resting"
tags = []

[[outcome]]
id = "knee-flexion"
construct = "strength"
site = "hamstrings"

[[outcome]]
id = "hip-extension"
construct = "strength"
better = "higher"

[[outcome]]
id = "sprint"
construct = "strength"
better = "lower"

[[result]]
outcome = "knee-flexion"
arm = "added"
week = 12
pre = { mean = 212.0, sd = 31.5 }
post = { mean = 236.4, se = 7.9 }

[[result]]
outcome = "knee-flexion"
arm = "usual"
week = 12
pre = { mean = 210.0, sd = 30.5 }
post = { mean = 215.2, sd = 31.0 }

[[result]]
outcome = "knee-flexion"
arm = "resting"
week = 12
n = 18
pre = { mean = 211.0, sd = 30.0 }
post = { mean = 211.2, sd = 30.0 }

[[result]]
outcome = "hip-extension"
arm = "added"
week = 12
pre = { mean = 80.0, sd = 12.0 }
post = { mean = 91.0, ci95 = [85.0, 97.0] }

[[result]]
outcome = "hip-extension"
arm = "usual"
week = 12
pre = { median = 81.0, iqr = [72.0, 90.0] }
post = { median = 84.0, iqr = [75.0, 93.0] }

[[result]]
outcome = "hip-extension"
arm = "resting"
week = 12
n = 18
pre = { mean = 80.5, sd = 12.0 }
post = { groups = [{ n = 9, mean = 79.0, sd = 11.0 }, { n = 9, mean = 82.0, sd = 11.5 }] }

[[result]]
outcome = "sprint"
arm = "added"
week = 12
change_percent = { mean = -2.1, ci95 = [-3.0, -1.2] }

[[result]]
outcome = "sprint"
arm = "usual"
week = 12
events = 3

[[result]]
outcome = "sprint"
arm = "resting"
week = 12
n = 18
change = { mean = 0.01, sd = 0.05 }

[[comparison]]
outcome = "knee-flexion"
intervention = "added"
comparator = "usual"
week = 12
difference = { value = 19.0, ci95 = [4.0, 34.0] }

[[comparison]]
outcome = "hip-extension"
intervention = "added"
comparator = "resting"
week = 12
p = 0.03

[[comparison]]
outcome = "sprint"
intervention = "usual"
comparator = "resting"
week = 12
t = 1.2

[appraisal]
allocated_by = "chance"
leavers = { answer = "nobody left", by_outcome = { sprint = "nobody left" } }
"""

QUESTION = """schema = 1
id = "planted"
invented = true
asks = "Does slow lowering work make masters rowers' hamstrings stronger?"
intervention = ["slow-lowering"]
comparator = ["usual"]
constructs = ["strength"]
sites = ["hamstrings"]
smallest_worthwhile = 0.2

[eligible]
age_min = 40

[assume]
r_pre_post = 0.8
r_between_outcomes = 0.6
r_between_outcomes_range = [0.4, 0.8]

[model]
between = "reml"
level = 0.95

[client]
baseline = 80
"""

RECOMMENDATION = """schema = 1
id = "planted"
invented = true
statement = "Add slow lowering work to both sessions."
questions = ["slow-lowering-strength"]
cautions = ["Pain ends the set.", "A physician's advice comes first."]
reviewed = 2026-11-25

[dose]
sets = [2, 3]

[told]
estimate = 0.36
low = 0.28
high = 0.45
fingerprint = "7bc68fcbb557"

[translations.de]
cautions = ["Schmerz beendet den Satz.", "Ärztlicher Rat geht vor."]

[translations.fr]
cautions = ["La douleur arrête la série.", "L'avis médical d'abord."]
"""


@dataclass(frozen=True, slots=True)
class Plant:
    """One fault.

    Attributes
    ----------
    name : str
    plant : callable
        Changes a record's plain values, or its text where `in_text`.
    found : set of (path, rule)
        What is to be said of it.
    touches : set of str
        Parts it changes; two that share one are not planted together.
    in_text : bool
    """

    name: str
    plant: Callable[[Any], Any]
    found: frozenset[tuple[str, str]]
    touches: frozenset[str] = field(default_factory=frozenset)
    in_text: bool = False


def value_at(values: Values, path: str, value: Any = None, *, drop: bool = False) -> None:
    """Set or drop what stands at a place such as ``result[2].pre.sd``."""
    steps: list[Any] = []
    for part in path.split("."):
        name, *index = re.findall(r"[^\[\]]+", part)
        steps += [name, *(int(each) - 1 for each in index)]
    for step in steps[:-1]:
        values = values[step]
    if drop:
        del values[steps[-1]]
    else:
        values[steps[-1]] = value


def put(path: str, value: Any, rule: str, *, at: str | None = None, more: str = "") -> Plant:
    """A plant that sets one value."""
    return Plant(
        f"{path}={value!r}"[:50],
        lambda values: value_at(values, path, value),
        frozenset({(path if at is None else at, rule)}),
        frozenset({path, *more.split()}),
    )


def drop(path: str, rule: str, *, at: str | None = None, more: str = "") -> Plant:
    """A plant that takes a key out."""
    return Plant(
        f"without {path}",
        lambda values: value_at(values, path, drop=True),
        frozenset({(path if at is None else at, rule)}),
        frozenset({path, *more.split()}),
    )


def rename(path: str, key: str) -> Plant:
    """A plant that misspells a key."""
    above, _, last = path.rpartition(".")
    place = f"{above}.{key}" if above else key

    def plant(values: Values) -> None:
        steps = [each for each in above.split(".") if each]
        table: Any = values
        for step in steps:
            name, *index = re.findall(r"[^\[\]]+", step)
            table = table[name]
            for each in index:
                table = table[int(each) - 1]
        table[key] = table.pop(last)

    return Plant(
        f"{path} as {key}", plant, frozenset({(place, "extra-forbidden")}), frozenset({path})
    )


def append(key: str, part: Values, *found: tuple[str, str], touches: str = "") -> Plant:
    """A plant that puts one more part at the end of a list."""
    return Plant(
        f"one more {key}: {', '.join(rule for _, rule in found)}",
        lambda values: values[key].append(part),
        frozenset(found),
        frozenset({f"{key}[+]", *touches.split()}),
    )


def reword(old: str, new: str, *found: tuple[str, str], touches: str = "") -> Plant:
    """A plant in the text of a record; ``line`` as a place is that of the new text's last line."""

    def plant(text: str) -> str:
        assert text.count(old) == 1, (text.count(old), old)
        return text.replace(old, new)

    return Plant(f"text {new!r}"[:50], plant, frozenset(found), frozenset(touches.split()), True)


LATER = {"outcome": "knee-flexion", "arm": "added", "week": 24}

STUDY_PLANTS = [
    # Single values.
    put("schema", 2, "literal-error"),
    put("source.issued", "2019", "int-type"),
    drop("source.title", "missing"),
    put("design.randomised", "yes", "bool-type"),
    put("design.kind", "factorial", "literal-error"),
    put("design.colour", 3, "extra-forbidden"),
    put("population.age_mean", 430, "out-of-range"),
    put("population.n_randomised", 0, "whole-number"),
    put("arm[1].n", 1, "whole-number"),
    put("arm[1].dose.reps", [8, 6], "out-of-range"),
    put("arm[2].label", "usual\x00", "control-character"),
    put("arm[2].tags", ["usual", "Bad!"], "string-pattern-mismatch", at="arm[2].tags[2]"),
    put("outcome[1].better", "more", "literal-error"),
    drop("outcome[3].construct", "missing"),
    put("result[1].week", -1, "out-of-range"),
    put("result[1].pre.sd", 0, "out-of-range", more="result[1].pre"),
    put("result[2].post.mean", "215.2 N", "number", more="result[2].post"),
    put("result[3].n", 1.5, "whole-number", more="result[3].pre"),
    put("result[9].change.colour", 3, "extra-forbidden", more="result[9].change"),
    put("result[9].where", 3, "string-type"),
    put("comparison[2].p", "ns", "p-value"),
    put("comparison[3].n_comparator", 1, "whole-number"),
    # Rules over several keys of one part.
    put("result[1].post", {"sd": 7.9}, "needs-centre"),
    put("result[4].post.ci95", [97.0, 85.0], "interval-order", at="result[4].post"),
    put("result[4].post.ci90", [92.0, 97.0], "centre-outside", at="result[4].post"),
    put("result[5].pre", {"mean": 81.0, "iqr": [72.0, 90.0]}, "needs-median"),
    put("result[5].post.mean", True, "number"),
    put("result[5].post.range", [95.0, 99.0], "centre-outside", at="result[5].post"),
    put("result[6].post.mean", 80.0, "groups-alone", at="result[6].post"),
    put("result[6].post.groups[1].se", 3.0, "needs-spread", at="result[6].post.groups[1]"),
    put("result[6].post.groups[2].label", 3, "string-type"),
    put(
        "result[7].change_percent.ci95",
        [1.0, 2.0],
        "interval-order",
        at="result[7].change_percent",
    ),
    put("comparison[1].difference.ci95", [20, 34], "interval-order", at="comparison[1].difference"),
    put("comparison[1].difference.se", -1, "out-of-range"),
    put("appraisal.allocated_by", "luck", "unknown-answer"),
    put("appraisal.leavers.answer", "many", "unknown-answer", at="appraisal.leavers"),
    put("appraisal.measured_by", 3, "model-type"),
    # Words and references.
    put("arm[3].tags", ["slow-lowring"], "unknown-tag"),
    put("outcome[1].construct", "strenth", "unknown-construct"),
    put("outcome[1].site", "hamstring", "unknown-site"),
    put("result[8].arm", "usaul", "unknown-arm", more="result[8].events"),
    put("result[9].outcome", "jumping", "unknown-outcome"),
    put("comparison[1].outcome", "knee", "unknown-outcome"),
    put("comparison[2].intervention", "addd", "unknown-arm"),
    put("comparison[3].comparator", "usual", "same-arm"),
    # More than one part together.
    append("arm", {"id": "usual", "n": 19}, ("arm", "duplicate-id"), touches="arm[2]"),
    append(
        "outcome",
        {"id": "sprint", "construct": "strength"},
        ("outcome", "duplicate-id"),
        touches="outcome[3]",
    ),
    append(
        "result",
        {"outcome": "sprint", "arm": "added", "week": 12, "events": 1},
        ("result[7]", "duplicate-result"),
        ("result[10]", "duplicate-result"),
    ),
    append(
        "comparison",
        {"outcome": "sprint", "intervention": "resting", "comparator": "usual", "week": 12, "t": 1},
        ("comparison[3]", "duplicate-comparison"),
        ("comparison[4]", "duplicate-comparison"),
        touches="comparison[3].comparator",
    ),
    append("result", {**LATER, "arm": "resting", "events": 3}, ("result[10].n", "needs-n")),
    append("result", {**LATER, "n": 12}, ("result[10]", "empty-result")),
    append("result", {**LATER, "n": 12, "events": 15}, ("result[10].events", "events-above-n")),
    drop("result[3].pre", "post-without-pre", at="result[3].post"),
    drop("result[6].n", "needs-n"),
    put("result[8].events", 20, "events-above-n"),
    put(
        "result[6].post",
        {"groups": [{"n": 9, "mean": 79.0, "sd": 11.0}, {"n": 8, "mean": 82.0, "sd": 11.5}]},
        "groups-n",
        more="result[6].n",
    ),
    drop("comparison[3].t", "empty-comparison", at="comparison[3]"),
    put("id", "other", "id-is-file-name"),
    # In the text.
    reword("issued = 2019", "issued = 20x19", ("line", "not-toml"), touches="source.issued"),
    reword("age_mean = 51.2", "age_mean = 5,12", ("line", "not-toml"), touches="population"),
    reword("week = 12\ndifference", "week = 12\nweek = 13\ndifference", ("line", "not-toml")),
    reword("t = 1.2", "t = ", ("line", "not-toml"), touches="comparison[3]"),
    reword(
        "change = { mean = 0.01, sd = 0.05 }",
        "change = { mean = 0.01, sd = }",
        ("line", "not-toml"),
        touches="result[9].change",
    ),
]

QUESTION_PLANTS = [
    put("asks", 3, "string-type"),
    put("metric", "cohen", "literal-error"),
    put("time", [12], "time"),
    put("smallest_worthwhile", 0, "out-of-range"),
    put("eligible.age_min", -1, "out-of-range"),
    put("eligible.colour", 3, "extra-forbidden"),
    put("assume.cluster_icc", 3, "out-of-range"),
    put("assume.r_pre_post", 2, "out-of-range"),
    put(
        "assume.r_pre_post_range",
        [0.9, 0.95],
        "range-without-middle",
        at="assume",
        more="assume.r_pre_post",
    ),
    put("assume.r_between_outcomes_range", [0.7, 0.8], "range-without-middle", at="assume"),
    put("model.between", "best", "literal-error"),
    put("model.level", 1, "out-of-range", at="model"),
    drop("intervention", "needs-arms", at="", more="comparator metric"),
    drop("comparator", "within-group", at="", more="intervention metric"),
    put("intervention", ["slow-lowering", "slow-lowring"], "unknown-tag"),
    put("comparator", ["usuel"], "unknown-tag"),
    put("constructs", ["strength", "speeed"], "unknown-construct"),
    put("sites", ["hamstring", "hamstrings"], "unknown-site"),
    put("client.baseline", "80 N", "number"),
    put("id", "other", "id-is-file-name"),
    reword("age_min = 40", "age_min = forty", ("line", "not-toml"), touches="eligible"),
    reword('between = "reml"', 'between = "reml', ("line", "not-toml"), touches="model.between"),
]

RECOMMENDATION_PLANTS = [
    put("statement", "", "string-too-short"),
    put("reviewed", "last spring", "date-from-datetime-parsing"),
    put("dose.sets", [2], "pair"),
    put("told.low", "0.28 SD", "number"),
    drop("told.fingerprint", "missing"),
    put("cost_size", "huge", "literal-error"),
    put("colour", 3, "extra-forbidden"),
    put("questions", ["slow-lowering-strength", "unasked"], "unknown-question"),
    put(
        "translations.de.cautions", ["Eine."], "translated-cautions", at="translations.de.cautions"
    ),
    put("translations.fr.cautions", ["Une."], "translated-cautions"),
    put("translations.fr.cost", 3, "string-type"),
    put("id", "other", "id-is-file-name"),
    reword("estimate = 0.36", "estimate = 0.36.1", ("line", "not-toml"), touches="told"),
]


# Other parts hang on what these spoil: references, n, what was measured before.
SLIPS = [
    put("arm[1].id", "Added!", "string-pattern-mismatch"),
    put("arm[3].id", 3, "string-type"),
    drop("arm[2].id", "missing"),
    drop("outcome[1].id", "missing"),
    drop("result[2].arm", "missing"),
    drop("design.kind", "missing"),
    drop("arm", "missing"),
    drop("outcome", "missing"),
    put("arm", [], "too-short"),
    put("arm", {"id": "added"}, "tuple-type"),
    put("result", 3, "tuple-type"),
    put("result[1]", 3, "model-type"),
    put("population", 3, "model-type"),
    rename("result[3].pre", "pree"),
    rename("result[6].n", "nn"),
    rename("result[8].events", "event"),
    rename("comparison[3].t", "tt"),
    rename("outcome[3].construct", "konstruct"),
    rename("design.kind", "kindd"),
    rename("arm", "armm"),
    rename("result", "resullt"),
    Plant(
        "n below the dose",
        lambda values: (
            values["arm"][0].update(
                n=None, dose={**values["arm"][0]["dose"], "n": values["arm"][0]["n"]}
            )
            or values["arm"][0].pop("n")
        ),
        frozenset({("arm[1].dose.n", "extra-forbidden")}),
    ),
    Plant(
        "mean and sd beside post",
        lambda values: values["result"][2].update(values["result"][2].pop("pre")),
        frozenset({("result[3].mean", "extra-forbidden"), ("result[3].sd", "extra-forbidden")}),
    ),
]


def clash(*plants: Plant) -> bool:
    """Whether two plants change the same part, or one a part of the other's."""
    touched = [place for plant in plants for place in plant.touches]
    for at, one in enumerate(touched):
        for other in touched[at + 1 :]:
            if one == other or one.startswith((f"{other}.", f"{other}[")):
                return True
            if other.startswith((f"{one}.", f"{one}[")):
                return True
    return False


def planted(text: str, *plants: Plant) -> str:
    """The text of a record with faults planted in it."""
    values = parse(text, file="sound")
    for plant in plants:
        if not plant.in_text:
            plant.plant(values)
    text = as_toml(values)
    for plant in plants:
        if plant.in_text:
            text = plant.plant(text)
    return text


def as_toml(values: Values) -> str:
    """Plain values as TOML: tables and lists of tables with headers, all below in one line."""
    lines = [f"{key} = {_inline(value)}" for key, value in values.items() if not _headed(value)]
    for key, value in values.items():
        if not _headed(value):
            continue
        for table in value if isinstance(value, list) else [value]:
            lines.append(f"\n[[{key}]]" if isinstance(value, list) else f"\n[{key}]")
            lines += [f"{name} = {_inline(each)}" for name, each in table.items()]
    return "\n".join(lines) + "\n"


def _headed(value: Any) -> bool:
    return isinstance(value, dict) or (
        isinstance(value, list) and bool(value) and all(isinstance(each, dict) for each in value)
    )


def _inline(value: Any) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, dict):
        inside = ", ".join(f"{key} = {_inline(each)}" for key, each in value.items())
        return "{ " + inside + " }"
    if isinstance(value, list):
        return f"[{', '.join(map(_inline, value))}]"
    if isinstance(value, str):
        text = value.replace("\\", "\\\\").replace('"', '\\"').replace("\x00", "\\u0000")
        return f'"{text}"'
    return str(value) if isinstance(value, int | Decimal) else _as_written(value)


def _as_written(value: Any) -> str:
    return value.isoformat() if hasattr(value, "isoformat") else repr(value)
