"""From a keystroke in the entry form to everything redrawn, for a question of sixty effects.

The target, under 150 ms of computation, is this project's own: what is typed and what it does to
the answer then seem to happen together.
"""

from __future__ import annotations

import time
from decimal import Decimal
from pathlib import Path

import pytest

from steelyard.library import open_library
from steelyard.notebook.entry.build import build
from steelyard.notebook.entry.live import LiveLibrary
from steelyard.notebook.entry.live_view import LiveView
from steelyard.notebook.entry.loading import form_of_study
from tests.small_library import question, result, study

EFFECTS = 60
TARGET_SECONDS = 0.150
TWO_OUTCOMES = '[[outcome]]\nid = "grip"\nconstruct = "strength"\nunit = "N"\n'


EARLIER = "".join(
    result(
        arm,
        outcome=outcome,
        week=week,
        pre="{ mean = 211.0, sd = 30 }",
        post=f"{{ mean = {mean}, sd = 31 }}",
    )
    for outcome in ("peak", "grip")
    for week in (3, 6, 9)
    for arm, mean in (("slow", 215.5 + week), ("usual", 213.5))
)


def spread(mean: float, sd: float) -> str:
    return f"{{ mean = {mean:.1f}, sd = {sd:.1f} }}"


@pytest.fixture(scope="module")
def library(tmp_path_factory) -> Path:
    """Invented: forty studies, twenty of them with two outcomes, one measured at four weeks."""
    folder = tmp_path_factory.mktemp("sixty")
    question(folder, more="smallest_worthwhile = 0.2")
    for number in range(40):
        outcomes = ("peak", "grip") if number % 2 else ("peak",)
        gain = 12 + 7 * ((number * 37) % 11 - 5) / 5
        body = "".join(
            result(
                arm,
                outcome=outcome,
                pre=spread(200 + number, 30),
                post=spread(200 + number + extra + 0.3 * number % 7, 31),
            )
            for outcome in outcomes
            for arm, extra in (("slow", gain), ("usual", 6.0))
        )
        body += EARLIER if number == 11 else ""
        more = TWO_OUTCOMES if len(outcomes) == 2 else ""
        study(folder, f"study-{number:02d}", body, outcome_more=more, year=1980 + number)
    return folder


# Processor time, so that what else a computer does is not taken for the form's slowness.
@pytest.mark.benchmark(timer=time.process_time)
def test_keystroke_to_redraw(benchmark, library):
    opened = open_library(library)
    assert len(opened.effects("asked")) == EFFECTS
    text = (library / "studies" / "study-11.toml").read_text(encoding="utf-8")
    state = form_of_study(text, mark="")
    live = LiveLibrary(opened, "study-11")
    typed = iter(range(10_000))

    view = LiveView()

    def keystroke() -> str:
        state.outcomes[0].cells["a1|post@12"] = f"{220 + next(typed) / 10} ± 31.5"
        built = build(state, opened.vocabulary)
        view.show(live.look(built.study, opened.vocabulary))
        return view.does.value

    picture = benchmark.pedantic(keystroke, rounds=10, warmup_rounds=2)
    assert "Study-11" in picture and "new" in picture
    assert view.says.value.count("week 3") == 2
    assert build(state, opened.vocabulary).study.results[0].post.sd == Decimal("31.5")
    print(f"\nkeystroke to redraw: {benchmark.stats.stats.median * 1000:.0f} ms")
    assert benchmark.stats.stats.median < TARGET_SECONDS
