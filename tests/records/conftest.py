"""A small invented library that every test of records may write into."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from steelyard.records.locking import LOCK_FILE
from steelyard.records.tables import TableImport, read_table
from tests.records.saving_worker import Worker

VOCABULARY = """# The words of this invented library.
schema = 1

[[construct]]
id = "strength"      # what a dynamometer shows
label = "Strength"

# Sites, from head to foot.
[[site]]
id = "hamstrings"
label = "Hamstrings"

[[tag]]
id = "slow-lowering"
label = "slow lowering"

[[tag]]
id = "usual"
label = "usual lifting"
"""

STUDY = """# Demo data, invented.
schema = 1
id = "{study_id}"
invented = true

[source]
title = "Invented: slow lowering at Tarnside"   # working title
author = [{{ family = "Oxmere" }}, {{ family = "Fell" }}]
issued = 2019

[design]
kind = "parallel"
randomised = true

[[arm]]
id = "added"
tags = ["slow-lowering"]
n = 19

[[arm]]
id = "usual"
tags = ["usual"]
n = 19

# One outcome is enough here.
[[outcome]]
id = "knee-flexion"
construct = "strength"
site = "hamstrings"
unit = "N"

[[result]]
outcome = "knee-flexion"
arm = "added"
week = 12
pre = {{ mean = 212.0, sd = 31.5 }}   # Table 2
post = {{ mean = 236.40, se = 7.9 }}

[[result]]
outcome = "knee-flexion"
arm = "usual"
week = 12
pre = {{ mean = 210.0, sd = 30.5 }}
post = {{ mean = 215.2, sd = 31.0 }}
"""

QUESTION = """schema = 1
id = "slow-lowering-strength"
invented = true
asks = "Does adding slow lowering work make masters rowers' hamstrings stronger?"
intervention = "slow-lowering"
comparator = "usual"
constructs = ["strength"]
"""


@pytest.fixture
def library(tmp_path: Path) -> Path:
    """A library of two studies, one question and a vocabulary, without a fault."""
    folder = tmp_path / "library"
    for name in ("studies", "questions", "recommendations"):
        (folder / name).mkdir(parents=True)
    (folder / "vocabulary.toml").write_text(VOCABULARY, encoding="utf-8")
    for study_id in ("good-one", "good-two"):
        text = STUDY.format(study_id=study_id)
        (folder / "studies" / f"{study_id}.toml").write_text(text, encoding="utf-8")
    (folder / "questions" / "slow-lowering-strength.toml").write_text(QUESTION, encoding="utf-8")
    return folder


@pytest.fixture
def tree_hash() -> Callable[[Path], str]:
    """A hash of every name and byte under a folder, but for the empty file that is the lock."""

    def of(folder: Path) -> str:
        mark = hashlib.sha256()
        for path in sorted(path for path in folder.rglob("*") if path.name != LOCK_FILE):
            mark.update(str(path.relative_to(folder)).encode() + b"\0")
            mark.update(path.read_bytes() if path.is_file() else b"folder")
        return mark.hexdigest()

    return of


@pytest.fixture
def table(tmp_path: Path) -> Callable[..., TableImport]:
    """Write a table and read it."""

    def read(text: str | bytes, name: str = "table.csv") -> TableImport:
        path = tmp_path / name
        path.write_bytes(text if isinstance(text, bytes) else text.encode("utf-8"))
        return read_table(path)

    return read


@pytest.fixture(scope="session")
def idle_workers() -> Iterator[list[Worker]]:
    idle: list[Worker] = []
    yield idle
    for worker in idle:
        worker.close()


@pytest.fixture
def workers(idle_workers) -> Iterator[list[Worker]]:
    """Two processes that save on command, kept from test to test: their start is slow."""
    while len(idle_workers) < 2:
        idle_workers.append(Worker())
    yield list(idle_workers)
    for worker in list(idle_workers):
        if worker.is_out_of_step:
            idle_workers.remove(worker)
            worker.close()
