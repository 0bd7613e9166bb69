"""A copy of the shipped library to write into, and the form on it."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from steelyard.notebook.entry.opening import EntryPage, enter_study

EVIDENCE = Path(__file__).resolve().parents[3] / "evidence"


@pytest.fixture
def folder(tmp_path, monkeypatch) -> Path:
    copy = tmp_path / "evidence"
    shutil.copytree(EVIDENCE, copy, ignore=shutil.ignore_patterns(".*"))
    monkeypatch.setenv("STEELYARD_LIBRARY", str(copy))
    return copy


@pytest.fixture
def page(folder) -> EntryPage:
    return enter_study()
