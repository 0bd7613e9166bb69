"""The draft while a person types on and on: never more than a second behind."""

from __future__ import annotations

import asyncio
import os
import signal
import subprocess
import sys
import time

from steelyard.notebook.entry.form import DRAFT_LONGEST_S, DRAFT_PAUSE_S
from steelyard.notebook.entry.later import Later
from steelyard.records.drafts import drafts

TITLE = "A title " * 400
TYPIST = """
import asyncio, sys
from steelyard.notebook import enter_study

form = enter_study().form

async def type_on():
    title = "A title " * 400
    for length in range(1, len(title)):
        form.fields["source.title"].box.value = title[:length]
        print(length, flush=True)
        await asyncio.sleep(float(sys.argv[1]))

asyncio.run(type_on())
"""


def test_what_is_asked_for_again_and_again_still_runs():
    done: list[float] = []

    async def ask_on() -> float:
        later = Later(lambda: done.append(time.monotonic()), pause_s=0.2, longest_s=0.4)
        start = time.monotonic()
        while time.monotonic() - start < 2:
            later.ask()
            await asyncio.sleep(0.01)
        return start

    start = asyncio.run(ask_on())
    assert len(done) >= 3
    gaps = [after - before for before, after in zip([start, *done], done, strict=False)]
    assert min(gaps) > 0.2, "asked for again, it is put off"


def test_one_that_may_be_put_off_for_ever_is():
    done: list[int] = []

    async def ask_on() -> None:
        later = Later(lambda: done.append(1), pause_s=0.2)
        for _ in range(60):
            later.ask()
            await asyncio.sleep(0.01)
        assert done == []
        await asyncio.sleep(0.3)

    asyncio.run(ask_on())
    assert done == [1]


def test_a_killed_kernel_loses_no_more_than_the_last_second(folder):
    # Quicker than the pause, so that typing never stops long enough for one.
    pace_s = DRAFT_PAUSE_S / 2
    typist = subprocess.Popen(
        [sys.executable, "-c", TYPIST, str(pace_s)],
        stdout=subprocess.PIPE,
        text=True,
        env=os.environ,
    )
    try:
        typed, start = 0, None
        for line in typist.stdout:
            typed, start = int(line), start or time.monotonic()
            if time.monotonic() - start > 3 * DRAFT_LONGEST_S:
                break
    finally:
        typist.send_signal(signal.SIGKILL)
        typist.wait()
        typist.stdout.close()
    (draft,) = drafts(folder)
    kept = draft.form["source"]["title"]
    assert TITLE.startswith(kept)
    behind = DRAFT_LONGEST_S / pace_s
    assert typed > 1.5 * behind
    assert len(kept) >= typed - behind - 3
