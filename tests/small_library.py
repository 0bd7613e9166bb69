"""Small libraries written to disk for tests: studies and questions from a few words."""

from __future__ import annotations

from pathlib import Path

from steelyard import open_library

HEAD = """schema = 1
id = "{id}"
[source]
title = "Invented study {id}"
author = [{{ family = "{family}" }}]
issued = {year}
{source_more}
[design]
kind = "{kind}"
randomised = {randomised}
{design_more}
[[arm]]
id = "slow"
tags = ["slow"]
n = {n_slow}
[[arm]]
id = "usual"
tags = ["usual"]
n = {n_usual}
[[outcome]]
id = "peak"
construct = "strength"
unit = "N"
better = "{better}"
{outcome_more}
"""

QUESTION = """id = "{id}"
asks = "Does slow lowering help?"
intervention = "slow"
comparator = "usual"
constructs = ["strength"]
{more}
"""


def study(folder: Path, study_id: str, body: str, **words) -> Path:
    """Write one two-arm study; `body` holds its results."""
    values = {
        "family": study_id.title(),
        "year": 2020,
        "kind": "parallel",
        "randomised": "true",
        "n_slow": 20,
        "n_usual": 20,
        "better": "higher",
        "source_more": "",
        "design_more": "",
        "outcome_more": "",
    } | words
    path = folder / "studies" / f"{study_id}.toml"
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(HEAD.format(id=study_id, **values) + body, encoding="utf-8")
    return path


def question(folder: Path, question_id: str = "asked", more: str = "") -> Path:
    """Write one question."""
    path = folder / "questions" / f"{question_id}.toml"
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(QUESTION.format(id=question_id, more=more), encoding="utf-8")
    return path


def result(arm: str, *, outcome: str = "peak", week: int = 12, **cells: str) -> str:
    """One result table; each cell is TOML text."""
    lines = "".join(f"{name} = {value}\n" for name, value in cells.items())
    return f'[[result]]\noutcome = "{outcome}"\narm = "{arm}"\nweek = {week}\n{lines}'


def comparison(*, outcome: str = "peak", week: int = 12, **cells: str) -> str:
    """One comparison of slow against usual."""
    lines = "".join(f"{name} = {value}\n" for name, value in cells.items())
    return (
        f'[[comparison]]\noutcome = "{outcome}"\nintervention = "slow"\n'
        f'comparator = "usual"\nweek = {week}\n{lines}'
    )


SLOW = result("slow", pre="{ mean = 100, sd = 10 }", post="{ mean = 108, sd = 14 }", r="0.8")
USUAL = result("usual", pre="{ mean = 100, sd = 10 }", post="{ mean = 105, sd = 13 }", r="0.9")
THIRD = '[[arm]]\nid = "also"\ntags = ["slow"]\nn = 20\n'


def table(folder: Path, body: str, more: str = "", **words):
    """The effect table of a library of one study and one question; words are the study's."""
    study(folder, "one", body, **words)
    question(folder, more=more)
    return open_library(folder).effect_table("asked")


def only(folder: Path, body: str, more: str = "", **words):
    """The only effect of such a table."""
    found = table(folder, body, more, **words)
    assert len(found.rows) == 1, found.left_out
    return found.rows.iloc[0]


def correlations(folder: Path, values, *, n: int, more: str = ""):
    """A library of one study of `n` people per correlation, and a question that pools them."""
    for number, r in enumerate(values):
        cells = {"correlation": str(r), "pre": "{ mean = 100.0, sd = 20.0 }"}
        study(folder, f"s{number}", result("slow", **cells), n_slow=n)
    asked = question(folder, more=f'metric = "correlation"\n{more}')
    lines = asked.read_text(encoding="utf-8").splitlines()
    kept = [line for line in lines if not line.startswith(("intervention", "comparator"))]
    asked.write_text("\n".join(kept), encoding="utf-8")
    return open_library(folder)
