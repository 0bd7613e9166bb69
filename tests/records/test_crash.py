"""Killed at any moment, a save leaves the old record or the new one, whole."""

from __future__ import annotations

import os
import random
import signal
import time
from decimal import Decimal
from pathlib import Path

from steelyard.records import load_records
from steelyard.records.drafts import drafts
from steelyard.records.saving import open_study, save_study
from tests.records.saving_worker import Worker

TRIES = 200


def kill_while_saving(
    worker: Worker, library: Path, wait_s: float, *, after_a_save: bool = False
) -> None:
    """Start saving over and over, wait, and kill; also for a first save to have happened."""
    path = library / "studies" / "good-one.toml"
    before = path.stat().st_mtime_ns
    child = worker.start(f"flip {library}")
    give_up = time.monotonic() + 30
    while after_a_save and path.stat().st_mtime_ns == before:
        assert time.monotonic() < give_up
        time.sleep(0.001)
    time.sleep(wait_s)
    os.kill(child, signal.SIGKILL)
    assert worker.ended() == -signal.SIGKILL, worker.process.stderr.read()


def test_killed_two_hundred_times(library, workers):
    worker, chance = workers[0], random.Random(20_260_311)
    kill_while_saving(worker, library, 0.0, after_a_save=True)
    broken_off, versions = 0, set()
    for number in range(TRIES):
        # On a busy computer few saves are done in so short a time, so some are waited for.
        wait_s = chance.uniform(0.0, 0.04)
        kill_while_saving(worker, library, wait_s, after_a_save=number % 8 == 0)
        records = load_records(library)
        assert records.faults == ()
        study = records.studies["good-one"]
        means = {str(result.pre.mean) for result in study.results}
        assert (study.source.title, means) in (("old", {"200.0"}), ("new", {"210.00"}))
        assert len(study.results) == 2 and "# Table 2" in (
            library / "studies" / "good-one.toml"
        ).read_text(encoding="utf-8")
        (draft,) = drafts(library)
        assert draft.form["title"] in ("old", "new") and len(draft.form["filler"]) == 5_000
        leftovers = list(library.rglob("*.part"))
        broken_off += bool(leftovers)
        versions.add(study.source.title)
        for path in leftovers:
            path.unlink()
    # The kills are of use only if some fall into the middle of a write.
    assert broken_off >= TRIES // 20
    assert versions == {"old", "new"}


def test_a_killed_holder_of_the_lock_keeps_nobody_out(library, workers):
    kill_while_saving(workers[0], library, 0.05)
    begin = time.monotonic()
    values = {**_values(library), "id": "after"}
    assert save_study(library, values).outcome == "saved"
    assert time.monotonic() - begin < 5


def test_two_at_once_lose_no_study_and_no_word(library, workers):
    times = 15
    for worker, who in zip(workers, ("ada", "ben"), strict=True):
        worker.start(f"new {library} {who} {times}")
    assert [worker.ended() for worker in workers] == [0, 0]
    records = load_records(library)
    wanted = {f"{who}-{number}" for who in ("ada", "ben") for number in range(times)}
    assert records.faults == ()
    assert wanted <= set(records.studies)
    assert wanted <= records.vocabulary.words("site")


def test_two_at_once_on_one_study_lose_no_change(library, workers):
    times = 20
    for worker in workers:
        worker.start(f"count {library} {times}")
    assert [worker.ended() for worker in workers] == [0, 0]
    study = load_records(library).studies["good-one"]
    assert study.population.n_randomised == 100 + 2 * times
    assert study.results[0].post.mean == Decimal("236.40")


def _values(library: Path) -> dict:
    return open_study(library, "good-two").values
