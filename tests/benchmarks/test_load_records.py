"""Cold reading of a large library: 5,000 study records.

The target, under 1.5 ms a record on one ordinary core, is this project's own: a library of that
size then opens in under eight seconds.
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from steelyard.records import load_records

EVIDENCE = Path(__file__).resolve().parents[2] / "evidence"
STUDIES = 5_000
TARGET_SECONDS = 0.0015


@pytest.fixture(scope="module")
def large_library(tmp_path_factory) -> Path:
    """The shipped studies, over and over, with other ids and other years and sizes."""
    folder = tmp_path_factory.mktemp("large")
    (folder / "studies").mkdir()
    (folder / "vocabulary.toml").write_bytes((EVIDENCE / "vocabulary.toml").read_bytes())
    shipped = sorted((EVIDENCE / "studies").glob("*.toml"))
    texts = [(path.stem, path.read_text(encoding="utf-8")) for path in shipped]
    for number in range(STUDIES):
        stem, text = texts[number % len(texts)]
        turn = number // len(texts)
        name = f"{stem}-{turn:03d}"
        text = text.replace(f'id = "{stem}"', f'id = "{name}"', 1)
        text = re.sub(r"issued = \d+", f"issued = {1980 + turn % 45}", text, count=1)
        text = re.sub(r"age_mean = \d+", f"age_mean = {20 + turn % 60}", text, count=1)
        (folder / "studies" / f"{name}.toml").write_text(text, encoding="utf-8")
    return folder


def test_load_five_thousand_records(benchmark, large_library):
    records = benchmark.pedantic(load_records, args=(large_library,), rounds=3, warmup_rounds=0)
    assert len(records.studies) == STUDIES
    assert records.faults == ()
    assert benchmark.stats.stats.min / STUDIES < TARGET_SECONDS
