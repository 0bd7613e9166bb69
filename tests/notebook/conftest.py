"""A tiny invented library whose texts hold markup, as a careless paste would bring it."""

from __future__ import annotations

from pathlib import Path

import pytest

STUDY = """schema = 1
id = "{id}"
invented = true

[source]
title = "<script>alert('title')</script> Invented & small"
author = [{{ family = "<b>Fellgate</b>", given = "A." }}]
issued = {year}

[design]
kind = "parallel"
randomised = true
duration_weeks = 8

[[arm]]
id = "slow"
label = "slow <i>lowering</i>"
tags = ["slow"]
n = 20
dose = {{ sessions_per_week = 2, sets_per_week = 6, rest_s = 120 }}

[[arm]]
id = "usual"
label = "usual"
tags = ["usual"]
n = 20
dose = {{ sessions_per_week = 2, sets_per_week = 4, rest_s = 120 }}

[[outcome]]
id = "pull"
construct = "strength"
unit = "N"

[[result]]
outcome = "pull"
arm = "slow"
week = 8
n = 20
pre = {{ mean = 200, sd = 30 }}
post = {{ mean = {post}, sd = 31 }}
r = 0.85
where = "Table <2>, p. 4"

[[result]]
outcome = "pull"
arm = "usual"
week = 8
n = 20
pre = {{ mean = 201, sd = 29 }}
post = {{ mean = 208, sd = 30 }}
r = 0.85
where = "Table <2>, p. 4"
"""

QUESTION = """schema = 1
id = "{id}"
invented = true
asks = "Is slow <em>lowering</em> better?"
intervention = "slow"
comparator = "usual"
constructs = ["{construct}"]
smallest_worthwhile = 0.14
smallest_worthwhile_source = "invented <u>source</u>"
"""


@pytest.fixture(scope="session")
def tiny_library(tmp_path_factory) -> Path:
    """Three studies, a question with an answer, one without, and no recommendation."""
    folder = tmp_path_factory.mktemp("tiny")
    for name in ("studies", "questions", "workbook"):
        (folder / name).mkdir()
    for number, post in enumerate((215, 220, 224), 1):
        study = STUDY.format(id=f"fellgate-{number}", year=2010 + number, post=post)
        (folder / "studies" / f"fellgate-{number}.toml").write_text(study, encoding="utf-8")
    for name, construct in (("slow-strength", "strength"), ("slow-size", "size")):
        question = QUESTION.format(id=name, construct=construct)
        (folder / "questions" / f"{name}.toml").write_text(question, encoding="utf-8")
    return folder
