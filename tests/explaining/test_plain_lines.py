"""What a client reads at a glance: one line of dose, one of chances, and what nobody tested."""

from __future__ import annotations

from typing import get_args

import pytest

from steelyard import open_library
from steelyard.explaining.explain import explain
from steelyard.explaining.pooled_quantity import QUANTITIES
from steelyard.explaining.wording.catalogue import catalogue
from steelyard.records.question import Metric
from tests.small_library import question

RECOMMENDATIONS = (
    *("add-slow-lowering", "rest-between-sets", "one-leg-work", "hamstring-strain-caution"),
    "weekly-sets-thigh",
)
RECORD = """id = "advice"
statement = "Do slow lowering."
questions = ["asked"]
[dose]
{dose}
"""


@pytest.fixture(scope="module")
def told():
    library = open_library()
    return {
        (name, tag): explain(library, name, language=tag)
        for name in RECOMMENDATIONS
        for tag in ("en", "de")
    }


def spoken(explanation):
    lines = [
        line.text for part in explanation.sections for line in part.lines if not line.own_words
    ]
    return "\n".join([explanation.sentence, explanation.paragraph, *lines])


@pytest.mark.parametrize("tag", ["en", "de"])
@pytest.mark.parametrize("name", RECOMMENDATIONS)
def test_each_chance_is_said_once(told, name, tag):
    found = told[name, tag]
    text = spoken(found)
    for words in ("for one more", "damit einer mehr", "ordinary training"):
        assert words not in text
    # People of a hundred who gain enough, against those who would anyway.
    names = {number.name for number in found.numbers}
    assert ("reach" in names) == (name == "add-slow-lowering")
    assert not names & {"chance_worth", "for_one_more.value", "weeks_usual.value"}
    # Pairs, where people are not counted: on the page, with their scale, and not in short.
    pairs = "100 random pairs" if tag == "en" else "100 zufällige Paare"
    said = 0 if found.sizes.without is not None else 1
    assert pairs not in found.paragraph
    lines = found.section("expect").lines if found.section("expect") else ()
    assert sum(pairs in line.text for line in lines) == said
    assert ("chance.even" in names) == bool(said)
    expected = [line.text for line in found.section("expect").lines]
    begins = ("On average, ", "For one person, ") if tag == "en" else ("Im Mittel ", "Für einen ")
    if found.sizes.without is None:
        assert expected[0].startswith(begins[0])
        assert any(line.startswith(begins[1]) for line in expected)


def test_the_machine_keeps_what_the_text_no_longer_says(told):
    data = told["add-slow-lowering", "en"].as_json()
    assert {"gains_more", "ahead_at_the_end", "average"} <= data["chance_better"].keys()
    units = {size["unit"] for size in data["further_sizes"]}
    assert {"people", "weeks"} <= units


DOSES = {
    ("add-slow-lowering", "en"): (
        "Twice a week: 2 sets of 6 to 8 repetitions, at 70 to 75 % of your heaviest single lift, "
        "3 to 4 seconds on the way down, rest 90 to 120 seconds; 4 added sets a week."
    ),
    ("add-slow-lowering", "de"): (
        "Zweimal pro Woche: 2 Sätze mit 6 bis 8 Wiederholungen, bei 70 bis 75 % der schwersten "
        "Einzellast, 3 bis 4 Sekunden auf dem Weg nach unten, 90 bis 120 Sekunden Pause; "
        "4 zusätzliche Sätze pro Woche."
    ),
    ("one-leg-work", "en"): (
        "Twice a week: 6 to 10 repetitions a set, rest 90 to 120 seconds; 6 to 8 sets a week."
    ),
    ("weekly-sets-thigh", "en"): (
        "Twice a week: 2 sets of 8 to 12 repetitions in each of 2 to 3 exercises, at 65 to "
        "75 % of your heaviest single lift, rest 60 to 180 seconds; 8 to 12 sets a week."
    ),
}


@pytest.mark.parametrize(("name", "tag"), DOSES)
def test_what_to_do_is_one_line(told, name, tag):
    lines = [line.text for line in told[name, tag].section("do").lines if not line.own_words]
    assert lines[:-1] == [DOSES[name, tag]]
    assert lines[-1].startswith(("Strength of advice (", "Stärke des Rats ("))


@pytest.mark.parametrize(
    ("dose", "said"),
    [
        ("sets_per_week = [1, 1]", "1 set a week."),
        ("sessions_per_week = [1, 1]\nlowering_s = [1, 1]",
         "Once a week: 1 second on the way down."),
        ("sessions_per_week = [1, 2]\nsets = [1, 1]", "1 to 2 times a week: 1 set."),
        ("sets = [1, 2]\nreps = [1, 1]\nrest_s = [0, 1]",
         "1 to 2 sets of 1 repetition, rest 0 to 1 seconds."),
        ("exercises = [2, 2]\nsessions_per_week = [3, 3]", "3 times a week: 2 exercises."),
    ],
)  # fmt: skip
def test_one_and_many_in_a_dose(tmp_path, dose, said):
    question(tmp_path)
    path = tmp_path / "recommendations" / "advice.toml"
    path.parent.mkdir(parents=True)
    path.write_text(RECORD.format(dose=dose), encoding="utf-8")
    found = explain(open_library(tmp_path), "advice")
    assert [line.text for line in found.section("do").lines[1:]] == [said]


def test_a_dose_that_no_study_tested_is_not_known(told):
    said = {name: [line.text for line in told[name, "en"].section("unknown").lines]
            for name in RECOMMENDATIONS}  # fmt: skip
    # All arms rested 120 s, lowered over 4 s at 75 %; the added sets are those of the studies.
    assert (
        "No study tested exactly this dose. Load: tested at 75 % only. Rest: tested at 120 seconds "
        "only. Time on the way down: tested at 4 seconds only."
    ) in said["add-slow-lowering"]
    assert said["one-leg-work"][0] == (
        "No study tested exactly this dose. Sets a week: tested at 8 only. Rest: tested at 120 "
        "seconds only."
    )
    # Rests of a minute and of three are what the studies compared.
    assert "exactly this dose" not in " ".join(said["rest-between-sets"])
    assert said["rest-between-sets"][:2] == [
        "Rest: nothing between 75 and 180 seconds is in the pooled comparisons.",
        "Studies with a group there that was not counted in: 1 of 8.",
    ]
    assert "exactly this dose" not in " ".join(said["hamstring-strain-caution"])
    german = [line.text for line in told["rest-between-sets", "de"].section("unknown").lines]
    assert german[:2] == [
        "Pause: zwischen 75 und 180 Sekunden liegt keiner der ausgewerteten Vergleiche.",
        "Studien mit einer Gruppe dort, die nicht mitgerechnet ist: 1 von 8.",
    ]


CAPTIONS = {
    ("hamstring-strain-caution", "en"): (
        "Share of people with muscle strain in the hamstrings, slow lowering added divided by "
        "usual lifting: 0.62 ("
    ),
    ("hamstring-strain-caution", "de"): "Anteil der Menschen mit Muskelzerrung der hinteren",
    ("one-leg-work", "en"): "Mean difference in strength: +1.0 kg (",
    ("weekly-sets-thigh", "en"): "size in the thigh, for 5 more sets a week: +1.1 % (",
}


@pytest.mark.parametrize(("name", "tag"), CAPTIONS)
def test_a_caption_names_its_quantity_and_its_sources(told, name, tag):
    caption = told[name, tag].caption
    assert CAPTIONS[name, tag] in caption
    assert (" Sources: " if tag == "en" else " Quellen: ") in caption
    assert ", (" not in caption


@pytest.mark.parametrize("tag", ["en", "de"])
def test_every_metric_has_a_name_for_its_number(tag):
    assert set(QUANTITIES) == set(get_args(Metric))
    keys = {f"quantity.{key}{dose}" for key in QUANTITIES.values() for dose in ("", "_dose")}
    assert keys <= catalogue(tag).messages.keys()


def test_who_took_part_and_how_sure_are_said_once(told):
    for (name, tag), found in told.items():
        everyone = "women and men" if tag == "en" else "Frauen und Männer"
        (line,) = [x.text for x in found.section("shown_for").lines if everyone in x.text]
        assert line.count(everyone) == 1 and "," not in line, name
        sure = found.section("sure")
        assert not any(sure.heading in line.text for line in sure.lines)
        assert sure.lines[0].text.casefold() in found.certainty_line.casefold()
        assert str(found).count(found.certainty_line.split(": ", 1)[1][:20]) == 1
