"""Every outcome and week of the study being typed, on each metric that is asked for."""

from __future__ import annotations

import re
from decimal import Decimal
from math import exp, log
from pathlib import Path

import pytest

from steelyard.effects.every_effect import every_effect
from steelyard.effects.group_changes import group_changes, has_no_comparison
from steelyard.library import open_library
from steelyard.notebook.entry.live import LiveLibrary
from steelyard.notebook.entry.live_effects import PAPERS_OWN, LiveEffects
from steelyard.notebook.entry.live_view import LiveView
from tests.notebook.entry.driving import words_of
from tests.small_library import SLOW, USUAL, comparison, question, result, study

EVIDENCE = Path(__file__).resolve().parents[3] / "evidence"


@pytest.fixture(scope="module")
def library():
    return open_library(EVIDENCE)


def looked_at(folder, body: str, *, more: str = "", **words):
    """A small library with one question and one study, and what the form says of the study."""
    study(folder, "one", body, **words)
    question(folder, more=more)
    small = open_library(folder)
    assert not small.faults, small.faults
    return LiveLibrary(small, "one").look(small.studies["one"], small.vocabulary)


def shown(live) -> str:
    view = LiveView()
    view.show(live)
    return words_of(view.says)


def test_every_comparison_and_week_of_the_record_shows(library):
    compared = changed = 0
    for one in library.studies.values():
        outcomes = LiveEffects(library.questions.values()).of(one, library.vocabulary)
        questions = library.questions.values()
        if has_no_comparison(one):
            rows = group_changes(one, questions=questions, vocabulary=library.vocabulary).rows
            told = [each for outcome in outcomes for each in outcome.changes]
            assert [each.main.value for each in told] == list(rows["change"])
            changed += len(told)
            continue
        whole = every_effect(one, questions=questions, vocabulary=library.vocabulary)
        told = [each for outcome in outcomes for each in outcome.effects]
        # Outcome by outcome gives what the study as a whole gives.
        assert {(each.week, each.main.metric, each.main.value) for each in told} >= {
            (row.week, row.metric, row.effect) for row in whole.rows.itertuples()
        }
        routes = {each.route.rpartition(" people; ")[2] for each in told}
        assert routes >= set(whole.rows["route"])
        compared += len(told)
    assert compared > 80 and changed >= 1


def test_what_a_question_weighs_is_among_what_is_told_of_the_study(library):
    seen = set()
    for asked in library.questions:
        for row in library.effect_table(asked).rows.itertuples():
            one = library.studies[row.study]
            outcomes = LiveEffects(library.questions.values()).of(one, library.vocabulary)
            sizes = [
                size
                for outcome in outcomes
                for effect in outcome.effects
                if effect.week == row.week
                for size in (effect.main, *effect.also)
            ]
            assert any(
                size.metric == row.metric and size.value == pytest.approx(row.effect, abs=1e-12)
                for size in sizes
            ), (asked, row.study, row.outcome)
            seen.add(row.metric)
    assert {"standardised", "raw", "percent", "risk-ratio"} <= seen


def test_in_the_outcomes_own_unit_beside_sds(tmp_path):
    (effect,) = looked_at(tmp_path, SLOW + USUAL).effects
    # (108 − 100) − (105 − 100) = 3 N; worked by hand.
    assert effect.main.metric == "standardised"
    (raw,) = effect.also
    assert raw.value == pytest.approx(3.0, abs=1e-12)
    assert re.fullmatch(r"\+3\.0 N \(−\d\.\d to \+\d\.\d\)", raw.text)


def test_a_unit_runs_as_it_was_measured_where_less_is_better(tmp_path):
    live = looked_at(tmp_path, SLOW + USUAL, better="lower")
    (effect,) = live.effects
    assert effect.main.value < 0 and effect.main.text.startswith("−")
    assert effect.also[0].text.startswith("+3.0 N")
    assert "less is better" in shown(live)


@pytest.mark.parametrize(
    ("metric", "value", "words"),
    [
        # Percent: (108/100) ÷ (105/100) = 1.0286; SDs after training: 14 ÷ 13 = 1.0769 and its
        # small-sample term 1/(2·19) − 1/(2·19) = 0; worked by hand.
        ("percent", log(1.08 / 1.05), "+2.9 % as a ratio of means"),
        ("variability-ratio", log(14 / 13), "1.08 times the SD between people"),
    ],
)
def test_a_question_on_another_metric_has_its_own_line(metric, value, words, tmp_path):
    contrast = 'contrast = "post"' if metric == "variability-ratio" else ""
    live = looked_at(tmp_path, SLOW + USUAL, more=f'metric = "{metric}"\n{contrast}')
    (effect,) = live.effects
    (size,) = (each for each in effect.also if each.metric == metric)
    assert size.value == pytest.approx(value, abs=1e-9)
    assert size.text.startswith(words) and size.text in shown(live)


def test_the_same_metric_weighed_otherwise_says_whose_it_is(tmp_path):
    (effect,) = looked_at(tmp_path, SLOW + USUAL, more='contrast = "post"').effects
    _, post = effect.also
    assert (post.metric, post.of) == ("standardised", "for asked")
    assert post.value != effect.main.value


COUNTED = result("slow", events="3", n="20") + result("usual", events="6", n="20")


def test_counts_run_as_they_were_counted(tmp_path):
    live = looked_at(tmp_path, COUNTED, more='metric = "risk-difference"', better="lower")
    (effect,) = live.effects
    # 3/20 ÷ 6/20 = 0.5, and 15 − 30 = −15 points per 100; worked by hand.
    assert exp(-effect.main.value) == pytest.approx(0.5, abs=1e-12)
    assert effect.main.text.startswith("0.50 times the risk (")
    assert effect.route.startswith("3 of 20 against 6 of 20 people; ")
    assert [size.text.split(" (")[0] for size in effect.also] == ["−15.0 points per 100"]


def test_the_papers_own_comparison_stands_beside_that_of_the_arms(tmp_path):
    printed = comparison(difference="{ value = 3.4, ci95 = [-1.0, 7.8] }")
    live = looked_at(tmp_path, SLOW + USUAL + printed)
    (effect,) = live.effects
    own = [size for size in effect.also if size.of == PAPERS_OWN]
    assert [size.text for size in own if size.metric == "raw"] == ["+3.4 N (−1.0 to +7.8)"]
    assert effect.also[0].text.startswith("+3.0 N") and PAPERS_OWN in shown(live)


@pytest.mark.parametrize(
    ("cells", "words"),
    [
        ({"difference": "{ value = 3.4, ci95 = [-1.0, 7.8] }"}, "+3.4 N (−1.0 to +7.8)"),
        ({"standardised": '{ value = 0.6, se = 0.3, over = "pre-sd" }'}, "+0.60 SD ("),
        ({"log_ratio_of_means": "{ value = 0.05, se = 0.02 }"}, "+5.1 % as a ratio of means ("),
        ({"log_risk_ratio": "{ value = -0.5, se = 0.4 }"}, "0.61 times the risk ("),
    ],
)
def test_a_comparison_alone_gives_its_effect(cells, words, tmp_path):
    assert words in shown(looked_at(tmp_path, comparison(**cells)))


WEEKS = "".join(
    result(
        arm,
        week=week,
        pre="{ mean = 100, sd = 10 }",
        post=f"{{ mean = {100 + gain * week}, sd = 11 }}",
        r="0.8",
    )
    for week in (4, 8, 12)
    for arm, gain in (("slow", 1), ("usual", 0.5))
)


def test_earlier_weeks_stand_below_the_last(tmp_path):
    live = looked_at(tmp_path, WEEKS)
    assert [(each.week, each.last) for each in live.effects] == [
        (12.0, True),
        (8.0, False),
        (4.0, False),
    ]
    view = LiveView()
    view.show(live)
    told = words_of(view.says)
    assert told.index("week 12") < told.index("week 8") < told.index("week 4")
    method = "difference in changes over the pooled pre-training SD"
    assert told.count(method) == 1
    (button,) = view.more.children
    button.click()
    assert words_of(view.says).count(method) == 3
    button.click()
    assert words_of(view.says).count(method) == 1


def test_one_week_needs_no_button_for_earlier_ones(tmp_path):
    view = LiveView()
    view.show(looked_at(tmp_path, SLOW + USUAL))
    assert view.more.children == ()


def test_a_single_group_shows_its_change_and_no_effect(tmp_path):
    body = SLOW.replace("mean = 108", "mean = 106.5")
    path = study(tmp_path, "one", body, kind="single-group", randomised="false")
    both = '[[arm]]\nid = "usual"\ntags = ["usual"]\nn = 20\n'
    path.write_text(path.read_text(encoding="utf-8").replace(both, ""), encoding="utf-8")
    small = open_library(tmp_path)
    assert not small.faults, small.faults
    live = LiveLibrary(small, "one").look(small.studies["one"], small.vocabulary)
    assert live.effects == ()
    ((change,),) = (outcome.changes for outcome in live.outcomes)
    # 106.5 − 100 = 6.5 N; worked by hand.
    assert change.also[0].text.startswith("+6.5 N (")
    told = shown(live)
    assert "the group’s own change, not an effect of training" in told
    assert "mean change over the group's own pre-training SD" in told
    assert "against" not in told


def test_a_keystroke_works_out_only_the_outcome_it_changed(library):
    one = library.studies["overby-2019"]
    telling = LiveEffects(library.questions.values())
    before = telling.of(one, library.vocabulary)
    first = one.results[0]
    post = first.post.model_copy(update={"mean": Decimal("62.0")})
    results = (first.model_copy(update={"post": post}), *one.results[1:])
    changed = one.model_copy(update={"results": results})
    after = telling.of(changed, library.vocabulary)
    assert [new is old for new, old in zip(after, before, strict=True)].count(False) == 1
    assert after == LiveEffects(library.questions.values()).of(changed, library.vocabulary)
    fewer = one.arms[0].model_copy(update={"n": 9})
    other = one.model_copy(update={"arms": (fewer, *one.arms[1:])})
    assert telling.of(other, library.vocabulary) == LiveEffects(library.questions.values()).of(
        other, library.vocabulary
    )
