"""A study's reading shows all that its record holds, or names it with the reason."""

from __future__ import annotations

import json
import re
import tomllib

import numpy as np
import pytest
from click.testing import CliRunner

from steelyard import open_library
from steelyard.cli.reading import read_command
from steelyard.effects.whole_study import is_counted
from steelyard.pooling.reading_words import _all_of_it
from steelyard.pooling.study_reading import read_study
from steelyard.records.fingerprint import fingerprint
from tests.small_library import THIRD, comparison, question, result, study

ENDS = ("post", "change", "change_percent", "events", "correlation")
PRE, POST = "{ mean = 100.0, sd = 20.0 }", "{ mean = 106.0, sd = 20.0 }"
LATER = "{ mean = 103.0, sd = 20.0 }"


def in_record(folder, study_id) -> set[tuple[str, float]]:
    """Outcome and week of everything measured after the start, from the file itself."""
    with (folder / "studies" / f"{study_id}.toml").open("rb") as file:
        record = tomllib.load(file)
    found = {
        (each["outcome"], float(each["week"]))
        for each in record.get("result", [])
        if each["week"] > 0 and any(end in each for end in ENDS)
    }
    return found | {(each["outcome"], float(each["week"])) for each in record.get("comparison", [])}


def shown(reading) -> set[tuple[str, float]]:
    tables = (reading.effects, reading.own_changes)
    return {pair for table in tables for pair in zip(table["outcome"], table["week"], strict=True)}


def missing(reading) -> set[tuple[str, float]]:
    return {(each.outcome, each.week) for each in reading.not_formed}


def both(outcome: str = "peak", week: int = 12, **cells) -> str:
    return "".join(result(arm, outcome=outcome, week=week, **cells) for arm in ("slow", "usual"))


def test_shown_and_left_out_are_what_the_record_holds(shipped):
    looked = 0
    for each, record in shipped.studies.items():
        reading = shipped.read(each)
        held = in_record(shipped.folder, each)
        assert shown(reading) | missing(reading) == held, each
        assert all(out.reason and out.what in out.sentence for out in reading.not_formed)
        arms = {(r.outcome, float(r.week), r.arm) for r in record.results if r.week > 0}
        drawn = {
            (row.outcome, row.week, arm)
            for row in reading.effects.itertuples()
            for arm in (row.intervention, row.comparator)
        } | {(row.outcome, row.week, row.arm) for row in reading.own_changes.itertuples()}
        assert arms <= drawn, each
        data = shipped.reading(each)
        assert len(data.rows) == len(reading.effects) + len(reading.own_changes) > 0
        looked += len(held)
    assert looked > 50


ROBBED = {
    "results": dict.fromkeys(("n", "pre", "post", "change", "events", "change_percent"))
    | {"correlation": 0.2},
    "comparisons": dict.fromkeys(("difference", "standardised", "log_ratio_of_means", "t", "f"))
    | dict.fromkeys(("log_risk_ratio", "log_odds_ratio", "risk_difference"))
    | {"p": "ns"},
}


@pytest.mark.parametrize("kind", list(ROBBED))
def test_what_is_said_is_true_whatever_is_taken_out_of_a_record(shipped, kind):
    """Each result or comparison of the shipped studies in turn loses what effects come from."""
    left_out = 0
    for record in shipped.studies.values():
        held = {(r.outcome, float(r.week)) for r in record.results if r.week > 0}
        held |= {(c.outcome, float(c.week)) for c in record.comparisons}
        parts = getattr(record, kind)
        for place, part in enumerate(parts):
            robbed = part.model_copy(update=ROBBED[kind])
            kept = (*parts[:place], robbed, *parts[place + 1 :])
            reading = _read(shipped, record.model_copy(update={kind: kept}))
            assert shown(reading) | missing(reading) == held, record.id
            said = _all_of_it(reading)
            assert ("none left out" in said) == (not reading.not_formed)
            left_out += bool(reading.not_formed)
    assert left_out >= (60 if kind == "results" else 4)


def _read(library, record):
    return read_study(record, questions=library.questions.values(), vocabulary=library.vocabulary)


def test_the_title_says_every_outcome_only_where_it_is_so(tmp_path, shipped):
    for each in shipped.studies:
        words = shipped.reading(each).title
        if shipped.read(each).not_formed:
            assert words.endswith("every outcome it measured, but for 1 left out"), each
        else:
            assert words.endswith(("every outcome it measured", "how its group changed")), each
    assert shipped.read("wherrygate-2022").not_formed
    body = both(pre=PRE, post=POST) + both("grip", correlation="0.3")
    more = '[[outcome]]\nid = "grip"\nconstruct = "strength"\n'
    study(tmp_path, "one", body, outcome_more=more)
    library = open_library(tmp_path)
    data, reading = library.reading("one"), library.read("one")
    assert data.title.endswith("every outcome it measured, but for 1 left out")
    (reason,) = reading.left_out
    assert reason == (
        "grip, week 12, slow against usual: only a correlation inside a group is in the record, "
        "which compares no groups"
    )
    assert f"Left out: {reason}." in data.notes
    assert ("left out", reason) in reading._rows()
    assert "One thing that the record holds cannot be shown" in " ".join(reading.findings)


@pytest.mark.parametrize(
    ("body", "reason"),
    [
        (both("grip", pre=PRE), "grip: the record holds no result after training"),
        (both("grip", week=0, post=POST), "grip: the record holds no result after training"),
        ("", "grip: the record holds no result"),
        (result("slow", outcome="grip", pre=PRE, post=POST), "grip, week 12: only slow has"),
        (comparison(outcome="grip", p="0.03"), "grip, week 12, slow against usual: "),
        (both("grip", post="{ mean = 4.0 }"), "grip, week 12, slow against usual: "),
    ],
)
def test_what_cannot_be_shown_is_named_with_its_reason(tmp_path, body, reason):
    more = '[[outcome]]\nid = "grip"\nconstruct = "strength"\nunit = "kg"\n'
    study(tmp_path, "one", both(pre=PRE, post=POST) + body, outcome_more=more)
    (said,) = open_library(tmp_path).read("one").left_out
    assert said.startswith(reason) and len(said) > len("grip: ")


def test_nothing_that_can_be_shown_is_a_reading_too(tmp_path):
    study(tmp_path, "one", comparison(p="0.03"))
    library = open_library(tmp_path)
    reading, data = library.read("one"), library.reading("one")
    assert reading.effects.empty and len(reading.left_out) == 1
    assert data.panels == () and "No effect can be formed" in data.subtitle
    assert "No effect can be formed" in " ".join(reading.findings)
    assert json.dumps(reading.as_json(), allow_nan=False)


def test_an_effect_is_that_of_the_pool_where_both_have_one_metric(shipped):
    """A second route to the numbers: the effect table of each question."""
    looked = 0
    keys = ["outcome", "comparison", "week", "metric"]
    for asked in shipped.questions:
        for row in shipped.effect_table(asked).rows.itertuples():
            effects = shipped.read(row.study).effects.set_index(keys)
            key = (row.outcome, row.comparison, row.week, row.metric)
            if key not in effects.index:
                continue
            mine = effects.loc[key]
            assert mine["effect"] == pytest.approx(row.effect, abs=1e-12), row.study
            assert mine["variance"] == pytest.approx(row.variance, abs=1e-12), row.study
            looked += 1
    assert looked >= 35


def test_outcomes_of_one_construct_stand_under_one_heading(shipped):
    several = 0
    for each in shipped.studies:
        for panel in shipped.reading(each).panels:
            names = list(panel.rows["construct"])
            runs = [name for at, name in enumerate(names) if at == 0 or names[at - 1] != name]
            assert len(runs) == len(set(names)), each
            several += len(names) > len(runs) > 1
    assert several
    assert {"soreness", "muscle activation"} <= set(
        shipped.reading("wherrygate-2022").rows.construct
    )


def test_a_result_of_which_less_is_better_says_so_beside_its_turned_sign(shipped):
    rows = shipped.reading("wherrygate-2022").rows
    sore = rows[rows["outcome"].str.startswith("soreness the day after")].iloc[0]
    told = re.search(r"([+−])\d\.\d+ points \(less is better\)", sore["printed"])
    assert (told[1] == "−") == (sore["estimate"] > 0)
    assert told[0] in str(shipped.read("wherrygate-2022"))
    assert "less is better" not in str(shipped.reading("netherquill-2024").rows["printed"].tolist())


@pytest.mark.parametrize(
    "name",
    [
        *("ashlocke-2021", "brackwater-2011", "cobblemarsh-2017", "drumlaw-2018"),
        *("eskerholt-2019", "marrowdale-2015", "ottermouth-2024"),
    ],
)
def test_strains_are_read_and_drawn_on_a_scale_of_ratios(shipped, name):
    reading, data = shipped.read(name), shipped.reading(name)
    strains = reading.effects[reading.effects["outcome"] == "hamstring-strain"]
    assert set(strains["metric"]) == {"risk-ratio"} and len(strains) >= 1
    assert "hamstring strains" in str(reading) and "times the risk" in str(reading)
    panel = next(panel for panel in data.panels if "times as likely" in panel.axis_title)
    assert panel.scale == "log" and panel.no_effect == 1.0 and panel.zone[0] < 1 < panel.zone[1]
    assert panel.left_words.startswith("favours usual lifting plus slow lowering")
    events = strains.dropna(subset=["events_comparator"])
    for row in events.itertuples():
        turned = np.log(row.events_comparator / row.n_comparator) - np.log(
            max(row.events_intervention, 0.5) / row.n_intervention
        )
        assert np.sign(turned) == np.sign(row.effect)
        told = f"{row.events_intervention:g} of {row.n_intervention:g} against"
        assert told in str(reading) and any(told in words for words in panel.rows["printed"])


def test_every_week_is_read_and_the_last_counts(shipped):
    reading = shipped.read("drumlaw-2018")
    peak = reading.effects[reading.effects["outcome"] == "knee-flexion-peak"]
    assert list(peak["week"]) == [6, 12, 24] and list(peak["counted"]) == [False, False, True]
    assert set(peak["metric"]) == {"standardised"}
    text = " ".join(reading.findings)
    assert text.startswith("Of 2 effects, each held against")
    assert "not counted: 2 results of earlier weeks." in text
    assert list(reading.composites["outcomes"]) == [1, 1]
    assert "week 6" in text and "week 12" in text


def test_one_outcome_at_two_weeks_counts_once(tmp_path):
    body = "".join(
        result("slow", week=week, pre=PRE, post=POST, r="0.9")
        + result("usual", week=week, post=LATER, pre=PRE, r="0.9")
        for week in (6, 12)
    )
    study(tmp_path, "one", body)
    question(tmp_path, more="smallest_worthwhile = 0.1")
    reading = open_library(tmp_path).read("one")
    text = " ".join(reading.findings)
    assert "The effect at week 12, held against" in text
    assert "results point the same way" not in text
    assert "not counted: 1 result of an earlier week." in text
    assert list(reading.composites["outcomes"]) == [1]


def test_only_a_difference_within_people_is_read_in_its_unit():
    done = CliRunner().invoke(read_command, ["ivelsham-2016", "--format", "json"])
    assert done.exit_code == 0
    told = json.loads(done.stdout)
    (effect,) = told["effects"]
    # As printed: +0.9 kg, SD of 15 people's differences 6.8 kg.
    assert effect["metric"] == "raw" and effect["unit"] == "kg"
    assert effect["effect"] == pytest.approx(0.9)
    assert effect["variance"] == pytest.approx(6.8**2 / 15)
    assert effect["worthwhile"] == told["smallest_worthwhile"] == 2.5
    assert told["verdicts"][0]["verdict"] == "not settled"
    said = str(open_library().read("ivelsham-2016"))
    assert "+0.90 kg" in said and "smallest worthwhile one (2.50 kg)" in said


def test_a_worthwhile_effect_holds_only_in_its_own_unit(tmp_path):
    """A question in kg says nothing of what would be worth having in N."""
    body = comparison(difference="{ value = 5, se = 2 }")
    body += comparison(outcome="grip", difference="{ value = 5, se = 2 }")
    more = '[[outcome]]\nid = "grip"\nconstruct = "strength"\nunit = "kg"\n'
    study(tmp_path, "one", body, outcome_more=more)
    question(tmp_path, more='metric = "raw"\nsmallest_worthwhile = 1\n[client]\nunit = "kg"\n')
    reading = open_library(tmp_path).read("one")
    effects = reading.effects.set_index("outcome")
    assert list(effects["metric"]) == ["raw", "raw"] and len(reading.groups) == 2
    assert effects.loc["grip", "worthwhile"] == 1 and effects.loc["grip", "verdict"]
    assert np.isnan(effects.loc["peak", "worthwhile"]) and effects.loc["peak", "verdict"] == ""
    assert "No smallest worthwhile effect is set for peak" in " ".join(reading.findings)


def test_no_composite_is_taken_over_two_scales(tmp_path):
    """Four outcomes of strength: two in SDs, one only in percent, one only in N."""
    body = both(pre=PRE, post=POST, r="0.9") + both("o1", pre=PRE, post=POST, r="0.9")
    body += comparison(outcome="o2", log_ratio_of_means="{ value = 0.05, se = 0.02 }")
    body += comparison(outcome="o3", difference="{ value = 5, se = 2 }")
    more = "".join(
        f'[[outcome]]\nid = "o{n}"\nconstruct = "strength"\nunit = "N"\n' for n in (1, 2, 3)
    )
    study(tmp_path, "one", body, outcome_more=more)
    question(tmp_path)
    reading = open_library(tmp_path).read("one")
    together = reading.composites.set_index("metric")["outcomes"].to_dict()
    assert together == {"standardised": 2, "percent": 1, "raw": 1}
    assert [group.metric for group in reading.groups] == ["standardised", "percent", "raw"]
    assert len(open_library(tmp_path).reading("one").panels) == 3


def test_fewer_is_better_in_the_count_of_directions(tmp_path):
    """Stronger and fewer strains are one way; stronger and more strains are two."""
    more = '[[outcome]]\nid = "strain"\nconstruct = "injury"\nunit = "people"\nbetter = "lower"\n'
    strong = result("slow", pre=PRE, post=POST, r="0.9") + result(
        "usual", pre=PRE, post=LATER, r="0.9"
    )
    for events, same in (((2, 6), True), ((6, 2), False)):
        folder = tmp_path / str(same)
        counts = "".join(
            result(arm, outcome="strain", events=str(number))
            for arm, number in zip(("slow", "usual"), events, strict=True)
        )
        study(folder, "one", strong + counts, outcome_more=more)
        question(folder)
        text = " ".join(open_library(folder).read("one").findings)
        assert ("Both results point the same way" in text) == same
        assert "for strain, less is better" in text
        assert "on whatever scale it is told, for a direction has none" in text


def test_an_arm_that_no_question_asks_about_is_shown(tmp_path):
    body = both(pre=PRE, post=POST) + result("also", pre=PRE, post=LATER)
    third = THIRD.replace('tags = ["slow"]', 'tags = ["other"]')
    study(tmp_path, "one", body, outcome_more=third)
    question(tmp_path)
    reading = open_library(tmp_path).read("one")
    assert list(reading.effects["comparison"]) == ["slow vs usual", "also vs usual"]
    assert set(reading.effects["shares"]) == {"one: usual"}


def test_a_printed_comparison_that_no_question_asks_about_is_shown(tmp_path):
    body = both(pre=PRE, post=POST) + result("also", pre=PRE, post=LATER)
    printed = comparison(standardised="{ value = 0.3, se = 0.2, over = 'pre-sd' }")
    body += printed.replace('comparator = "usual"', 'comparator = "also"')
    study(tmp_path, "one", body, outcome_more=THIRD)
    question(tmp_path)
    found = list(open_library(tmp_path).read("one").effects["comparison"])
    assert found == ["slow vs usual", "also vs usual", "slow vs also"]


def test_arms_are_compared_though_the_usual_one_was_not_measured(tmp_path):
    body = result("slow", pre=PRE, post=POST) + result("also", pre=PRE, post=LATER)
    study(tmp_path, "one", body, outcome_more=THIRD)
    question(tmp_path)
    reading = open_library(tmp_path).read("one")
    assert list(reading.effects["comparison"]) == ["slow vs also"] and not reading.left_out


def test_sds_that_are_not_named_come_last(tmp_path):
    """A difference in its own unit says more than one in SDs of which nobody knows which."""
    study(tmp_path, "one", comparison(difference="{ value = 5, se = 2 }"))
    study(tmp_path, "two", comparison(standardised="{ value = 0.5, se = 0.2 }"))
    question(tmp_path)
    library = open_library(tmp_path)
    assert list(library.read("one").effects["metric"]) == ["raw"]
    assert list(library.read("two").effects["metric"]) == ["standardised"]


def test_reading_changes_no_record(shipped):
    record = shipped.studies["drumlaw-2018"]
    before = fingerprint([record])
    shipped.read("drumlaw-2018")
    assert fingerprint([record]) == before and is_counted(record, "hamstring-strain")
