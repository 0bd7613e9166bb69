"""One study marked retracted changes the pool, the certainty and every text in one run."""

from __future__ import annotations

import json
import os
import subprocess
import sys

import pytest

from steelyard import open_library
from steelyard.judging.movers import RETRACTED
from steelyard.notebook.page import RecommendationPage
from steelyard.notebook.standings import at_a_glance, to_mind, to_read_again, told_and_now
from tests.judging.reviewed_library import effect, recommendation, tell
from tests.small_library import question, study

VALUES = {"ash": 0.42, "birch": 0.47, "cedar": 0.4, "elder": 0.45}


@pytest.fixture
def folder(tmp_path):
    """Told 'better' from five studies, of which a heavy and far-reaching one is then retracted."""
    for name, value in VALUES.items():
        study(tmp_path, name, effect(value, se=0.22))
    study(tmp_path, "fir", effect(0.5, se=0.05), n_slow=800, n_usual=800)
    question(tmp_path, more="smallest_worthwhile = 0.14")
    recommendation(tmp_path, more='would_change = "one large trial"')
    tell(tmp_path)
    return tmp_path


def retract(folder, name: str) -> None:
    path = folder / "studies" / f"{name}.toml"
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace("issued = 2020", 'issued = 2020\nstatus = "retracted"'), "utf-8")


def texts(folder) -> dict[str, str]:
    """Everything a reader may see of the recommendation, by part."""
    library = open_library(folder)
    page = RecommendationPage.of(library, "lower")
    parts = ("in_short", "weighing", "how_sure", "would_change", "says")
    found = {part: str(getattr(page, part)()) for part in parts}
    found |= {part: repr(getattr(page, part)()) for part in ("forest", "history")}
    tables = {"told_and_now": told_and_now, "to_mind": to_mind, "to_read_again": to_read_again}
    found |= {name: str(table(library)) for name, table in tables.items()}
    return found | {"review": str(library.review()), "glance": repr(at_a_glance(library))}


def test_the_pool_is_that_of_the_other_studies_exactly(folder):
    retract(folder, "fir")
    now = open_library(folder).weigh("asked")
    (folder / "studies" / "fir.toml").unlink()
    without = open_library(folder).weigh("asked")
    assert now.estimate == without.estimate
    assert (now.low, now.high, now.tau2) == (without.low, without.high, without.tau2)


def test_every_text_changes_in_one_run_and_none_keeps_the_old_answer(folder):
    before_library = open_library(folder)
    before, old = texts(folder), before_library.weigh("asked")
    assert before_library.certainty("asked").step("imprecision").step == 0
    retract(folder, "fir")
    library = open_library(folder)
    after, new = texts(folder), library.weigh("asked")
    assert library.certainty("asked").level < before_library.certainty("asked").level
    for part in before:
        assert before[part] != after[part], part
    old_text, new_text = (w.span(w.low, w.high) for w in (old, new))
    assert old_text != new_text
    for part in ("in_short", "weighing", "says", "forest"):
        assert new_text in after[part], part
        assert old_text not in after[part], part
    assert library.certainty("asked").grounds() in after["in_short"]
    assert before_library.certainty("asked").grounds() not in after["in_short"]
    assert old.fingerprint not in after["how_sure"]


def test_the_difference_is_shown_with_the_study_that_made_it(folder):
    old = open_library(folder).weigh("asked")
    retract(folder, "fir")
    library = open_library(folder)
    new, review = library.weigh("asked"), library.review().review("lower")
    assert review.changed
    ((study_id, what, shift),) = [(m.study, m.what, m.shift) for m in review.movers]
    assert (study_id, what) == ("fir", RETRACTED)
    assert shift == pytest.approx(new.estimate - old.estimate)
    table = str(told_and_now(library)).replace("\u00a0", " ")
    for weighing in (old, new):
        assert weighing.span(weighing.low, weighing.high) in table
    assert "fir retracted" in table
    assert "1 retracted study, no weight: fir" in str(to_mind(library))


def test_the_command_shows_it_in_one_run(folder):
    retract(folder, "fir")
    command = [sys.executable, "-m", "steelyard", "review", "--library", folder, "--format", "json"]
    done = subprocess.run(
        command,
        capture_output=True,
        encoding="utf-8",
        env={**os.environ, "PYTHONIOENCODING": "utf-8"},
        check=True,
    )
    (row,) = json.loads(done.stdout)
    assert (row["changed"], row["moved_by"]) == (True, ["fir"])
    assert row["moves"][0]["what"] == RETRACTED
    assert row["told"]["low"] != row["now"]["low"]
    assert row["told"]["certainty"] != row["now"]["certainty"]
