"""Explanations of the shipped library: every number against the weighing, and what must be said."""

from __future__ import annotations

import json
import re
import tomllib
from statistics import NormalDist

import numpy as np
import pytest

from steelyard import open_library
from steelyard.errors import UsageError
from steelyard.explaining.explain import explain
from steelyard.explaining.people_and_limits import share_word
from steelyard.explaining.profile import ClientProfile
from steelyard.explaining.wording.catalogue import catalogue
from steelyard.explaining.wording.claim import capital
from steelyard.explaining.wording.lint import HIGHEST_GRADE, lint
from steelyard.explaining.wording.reading_grade import reading_grade
from tests.small_library import question, result, study

NUMBER = re.compile(r"\d+(?:[.,]\d+)*")
RECOMMENDATIONS = (
    *("add-slow-lowering", "rest-between-sets", "one-leg-work", "hamstring-strain-caution"),
    "weekly-sets-thigh",
)


@pytest.fixture(scope="module")
def library():
    return open_library()


@pytest.fixture(scope="module")
def told(library):
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
def test_every_number_said_is_kept(told, name, tag):
    found = told[name, tag]
    kept = {number.text.lstrip("−") for number in found.numbers} | {"100"}
    for number in NUMBER.findall(spoken(found)):
        assert number in kept, (number, found.paragraph)


@pytest.mark.parametrize("tag", ["en", "de"])
@pytest.mark.parametrize("name", RECOMMENDATIONS)
def test_every_number_is_its_value_rounded(told, name, tag):
    for number in told[name, tag].numbers:
        text = number.text.replace("−", "-").replace(",", ".")
        _, _, after = text.partition(".")
        step = 10.0 ** -len(after) if after else 10.0 if text.endswith("0") else 1.0
        written = abs(float(text))
        # A difference ruled out may go up to the next whole one.
        slack = step if number.name.startswith("worthwhile") else 0.5 * step
        assert abs(written - abs(number.value)) <= slack + 1e-9, number


def again(library, name):
    """The values of an explanation, worked out anew from the machine's weighing and the files."""
    record = library.recommendations[name]
    asked = library.questions[record.questions[0]]
    file = library.folder / "questions" / f"{asked.id}.toml"
    client = tomllib.loads(file.read_text(encoding="utf-8"))["client"]
    weighed = library.weigh(asked.id).as_json()
    ends = ("estimate", "low", "high", "prediction_low", "prediction_high")
    machine = {end: weighed[end] for end in ends}
    if asked.metric == "standardised":
        unit = {end: value * client["reference_sd"] for end, value in machine.items()}
    elif asked.metric == "percent":
        unit = {end: client["baseline"] * (np.exp(v) - 1) for end, v in machine.items()}
    elif asked.metric == "risk-ratio":
        unit = {end: 100 * client["baseline"] * np.exp(-v) for end, v in machine.items()}
        unit["low"], unit["high"] = sorted((unit["low"], unit["high"]))
        turned = sorted((unit["prediction_low"], unit["prediction_high"]))
        unit["prediction_low"], unit["prediction_high"] = turned
    else:
        unit = dict(machine)
    used = [row for row in weighed["effects"] if row["used"]]
    per_study = {}
    for row in used:
        per_study[row["study"]] = max(row["week"], per_study.get(row["study"], 0))
    return (
        {
            "average.value": unit["estimate"],
            "average.low": unit["low"],
            "average.high": unit["high"],
            "next_group.low": unit["prediction_low"],
            "next_group.high": unit["prediction_high"],
            "people": weighed["people"],
            "studies": weighed["k_studies"],
            "weeks": float(np.median(list(per_study.values()))),
            "weeks.low": min(per_study.values()),
            "weeks.high": max(per_study.values()),
        },
        client,
        asked,
    )


@pytest.mark.parametrize("name", RECOMMENDATIONS)
def test_every_number_against_the_weighing(library, told, name):
    found = told[name, "en"]
    expected, client, asked = again(library, name)
    seen = set()
    for number in found.numbers:
        if number.name in expected and number.question == asked.id:
            seen.add(number.name)
            wanted = expected[number.name]
            assert abs(number.value) == pytest.approx(abs(wanted), rel=1e-9), number
        if number.name == "baseline":
            assert number.value == client["baseline"]
    assert {"average.low", "average.high", "people", "studies", "weeks"} <= seen
    chance = found.as_json()["chance_better"].get("gains_more")
    said = {each.name: each.value for each in found.numbers if each.question == asked.id}
    if asked.metric == "risk-ratio":
        assert chance is None
        assert "chance.value" not in said
        return
    # The chance that one of a random pair gains more: McGraw & Wong (1992) on the scale of
    # changes, whose SD is that of the start times sqrt(2(1 - r)).
    spread = client["reference_sd"] * (2 * (1 - found.sizes.r.value)) ** 0.5
    for end in ("value", "low", "high"):
        wanted = 100 * NormalDist().cdf(expected[f"average.{end}"] / spread / 2**0.5)
        assert chance[end] == pytest.approx(wanted, rel=1e-9)
        assert said[f"chance.{end}"] == chance[end]


def test_the_chance_of_a_pair_by_simulation(told):
    """Draw the gains of pairs of people and count who gains more."""
    found = told["add-slow-lowering", "en"]
    spread = 44 * (2 * (1 - found.sizes.r.value)) ** 0.5
    draw = np.random.default_rng(20261125)
    mine = draw.normal(found.sizes.average.value, spread, 400_000)
    yours = draw.normal(0, spread, 400_000)
    share = 100 * float(np.mean(mine > yours))
    # Four standard errors of a share of 400 000 draws.
    assert found.sizes.chance.value == pytest.approx(share, abs=0.3)
    whole = round(found.sizes.chance.value)
    assert f"In about {whole} of them" in str(found)
    assert "who changes more, not who ends up ahead" in str(found)


@pytest.mark.parametrize("name", RECOMMENDATIONS)
def test_no_text_breaks_the_rules(told, name):
    found = told[name, "en"]
    assert found.slips == ()
    own = [part for part in found.sections if part.key != "cautions"]
    for part in (found.sentence, found.paragraph):
        assert not [slip for slip in lint(part, catalogue("en")) if slip.rule != "grade"]
    assert reading_grade(found.paragraph).grade <= HIGHEST_GRADE
    assert own


@pytest.mark.parametrize("name", RECOMMENDATIONS)
def test_german_breaks_no_rule_either(told, name):
    assert told[name, "de"].slips == ()
    assert told[name, "de"].sentence != told[name, "en"].sentence


def test_the_same_records_give_the_same_letters(told):
    again_read = open_library()
    for (name, tag), found in told.items():
        other = explain(again_read, name, language=tag)
        one, two = (json.dumps(each.as_json(), ensure_ascii=False) for each in (found, other))
        assert one == two
        assert str(found) == str(other)
        assert found.fingerprint == other.fingerprint


def test_settled_equivalent_and_not_settled_are_told_apart(told):
    settled, equivalent, unsettled = (
        told[name, "en"].paragraph
        for name in ("add-slow-lowering", "rest-between-sets", "one-leg-work")
    )
    assert "will probably give more strength" in settled
    assert "about the same" in equivalent and "(within 0.47 mm)" in equivalent
    assert "not settled" in unsettled
    assert "not settled" not in equivalent
    for text in (settled, equivalent, unsettled):
        assert "no difference" not in text


@pytest.mark.parametrize("name", RECOMMENDATIONS)
def test_cautions_harm_and_limits_are_always_there(told, name):
    found = told[name, "en"]
    text = str(found)
    for words in (
        "not medical advice",
        "See a physician before you start",
        "heart, joint or metabolic disease or high blood pressure",
        *("chest pain, fainting", "new numbness or weakness", "pain that grows"),
        *("are pregnant", "illness or surgery"),
        "Stop on sharp pain, dizziness or chest pain",
        *("People under 18", "older or frail people"),
        "Local rules and licensed practice come first",
    ):
        assert words in text
    assert capital(found.recommendation.risk) in text
    for caution in found.recommendation.cautions:
        assert caution in text
    assert "Invented data" in text
    assert found.fingerprint in found.caption


def test_machine_view(told):
    data = told["add-slow-lowering", "en"].as_json()
    for key in (
        *("recommendation", "sentence", "paragraph", "size", "prediction", "certainty"),
        *("chance_better", "cautions", "citations", "fingerprint"),
    ):
        assert data[key], key
    r = told["add-slow-lowering", "en"].sizes.r.value
    assert data["chance_better"]["gains_more"]["formula"].endswith(f"r {r:.2f}")
    json.dumps(data, allow_nan=False)


def test_a_recommendation_that_is_not_there(library):
    with pytest.raises(UsageError, match="nearest known: one-leg-work"):
        explain(library, "one-leg-wrok")


RECORD = """id = "advice"
statement = "Do slow lowering."
questions = {questions}
risk = "sore legs"
{more}
"""


def small(folder, *, more="", outcome="", slow="60", usual="50", randomised="true", questions=None):
    for at in range(4):
        pre = "{ mean = 50, sd = 5 }"
        body = result("slow", pre=pre, post=f"{{ mean = {slow}, sd = 5 }}", r="0.9") + result(
            "usual", pre=pre, post=f"{{ mean = {usual}, sd = 5 }}", r="0.9"
        )
        study(
            folder,
            f"s{at}",
            body,
            randomised=randomised,
            better=outcome or "higher",
        )
    question(folder, "asked", more)
    named = questions or '["asked"]'
    path = folder / "recommendations" / "advice.toml"
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(RECORD.format(questions=named, more=""), encoding="utf-8")
    return open_library(folder)


CLIENT = '[client]\nunit = "N"\nreference_sd = 5\nbaseline = 50\n'


def test_missing_unit_is_said_with_its_reason(tmp_path):
    found = explain(small(tmp_path, more="smallest_worthwhile = 0.2"), "advice")
    assert "the question names none" in found.paragraph
    assert found.as_json()["size"] is None
    assert not NUMBER.search(found.sentence)


def test_missing_reference_sd_is_said_with_its_reason(tmp_path):
    more = 'smallest_worthwhile = 0.2\n[client]\nunit = "N"'
    found = explain(small(tmp_path, more=more), "advice")
    assert "We cannot give the size in N: no usual spread between people" in found.paragraph
    assert "no usual start" in str(found)


def test_a_harm_is_in_the_paragraph(tmp_path):
    more = f"smallest_worthwhile = 0.2\n{CLIENT}"
    found = explain(small(tmp_path, more=more, slow="50", usual="60"), "advice")
    assert found.sentence.startswith("Usual ")
    assert "Take note: usual did better than slow here." in found.paragraph


def test_lower_may_be_better(tmp_path):
    more = f"smallest_worthwhile = 0.2\n{CLIENT}"
    found = explain(small(tmp_path, more=more, slow="40", usual="50", outcome="lower"), "advice")
    assert "give less strength" in found.sentence
    assert " N less" in found.paragraph


def test_a_chance_claims_no_cause_where_groups_were_not_formed_by_chance(tmp_path):
    more = f"smallest_worthwhile = 0.2\n{CLIENT}"
    found = explain(small(tmp_path, more=more, randomised="false"), "advice")
    assert "Going by the studies, slow went with the bigger gain in about" in str(found)
    assert "would bring" not in str(found)


def test_a_chance_of_less_is_a_bigger_drop(tmp_path):
    more = f"smallest_worthwhile = 0.2\n{CLIENT}"
    found = explain(small(tmp_path, more=more, slow="40", usual="50", outcome="lower"), "advice")
    assert "the bigger drop" in str(found) and "bigger gain" not in str(found)


@pytest.mark.parametrize("name", RECOMMENDATIONS)
@pytest.mark.parametrize("tag", ["en", "de"])
def test_no_bare_spread_reaches_a_client(told, name, tag):
    found = told[name, tag]
    assert not re.search(r"\bSDs?\b", f"{found}\n{found.caption}")


def test_a_size_without_a_unit_is_put_in_words(tmp_path):
    found = explain(small(tmp_path, more="smallest_worthwhile = 0.2"), "advice")
    assert "times the usual spread between people" in found.caption
    assert " SD" not in found.caption


def test_groups_not_formed_by_chance(tmp_path):
    more = f"smallest_worthwhile = 0.2\n{CLIENT}"
    found = explain(small(tmp_path, more=more, randomised="false"), "advice")
    assert found.sentence.startswith("We do not know")
    assert "Groups were not formed by chance" in found.paragraph


def test_nothing_to_weigh_is_an_answer(tmp_path):
    question(tmp_path, "asked", CLIENT)
    study(tmp_path, "s0", "")
    path = tmp_path / "recommendations" / "advice.toml"
    path.parent.mkdir(parents=True)
    path.write_text(RECORD.format(questions='["asked"]', more=""), encoding="utf-8")
    found = explain(open_library(tmp_path), "advice")
    assert found.sentence == "We do not know: no study could be weighed for this question."
    assert found.as_json()["size"] is None
    assert "See a physician" in str(found)


def test_every_further_question_has_its_sentence(tmp_path):
    question(tmp_path, "other", f"smallest_worthwhile = 0.2\n{CLIENT}")
    library = small(
        tmp_path, more=f"smallest_worthwhile = 0.2\n{CLIENT}", questions='["asked", "other"]'
    )
    found = explain(library, "advice")
    assert "On another question: We do not know whether slow" in found.paragraph
    assert found.fingerprint.count("+") == 1


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ({"age": 16, "training_status": "trained"}, "only with qualified supervision"),
        ({"training_status": "unknown"}, "You did not say how trained you are"),
        ({}, "You did not say how trained you are"),
        ({"age": 85, "training_status": "trained"}, "At 85 you are outside the ages studied"),
        ({"training_status": "trained", "baseline": 900, "unit": "N"}, "far outside the studies"),
        ({"training_status": "trained", "baseline": 900, "unit": "N"}, "We did not use it, and"),
        ({"training_status": "recreational"}, " the weight of the studies comes from people like"),
        ({"training_status": "trained", "baseline": 90, "unit": "kg"}, "we did not use it"),
        ({"training_status": "trained", "cares_about": "muscle-size"}, "You care about muscle"),
        ({"training_status": "trained", "sessions_per_week": 1}, "time for 1 session a week; the"),
        (
            {"training_status": "trained", "does_now_tags": ("slow-lowering",)},
            "You do this already",
        ),
    ],
)
def test_a_profile_adds_what_it_must(library, words, said):
    found = explain(library, "add-slow-lowering", profile=ClientProfile(**words))
    section = found.section("for_you")
    assert any(said in line.text for line in section.lines), section


def test_the_clients_start_is_used_and_said(library):
    profile = ClientProfile(training_status="trained", baseline=240, unit="N", code="k17")
    found = explain(library, "add-slow-lowering", profile=profile)
    assert "of your start at 240 N" in found.paragraph
    percent = found.as_json()["size"]["percent"]["value"]
    assert percent == pytest.approx(100 * found.as_json()["size"]["value"] / 240)
    assert "k17" not in json.dumps(found.as_json()) + str(found)


@pytest.mark.parametrize("unit", ["newton", "Newtons", " n ", "N"])
def test_a_unit_may_be_written_in_words(library, unit):
    found = explain(library, "add-slow-lowering", profile=ClientProfile(baseline=240, unit=unit))
    assert "of your start at 240 N" in found.paragraph
    assert "we did not use it" not in str(found)


@pytest.mark.parametrize("tag", ["en", "de"])
def test_a_start_far_outside_gives_no_percent_of_it(library, tag):
    far, none = (
        explain(library, "add-slow-lowering", profile=profile, language=tag)
        for profile in (ClientProfile(baseline=2000, unit="N"), None)
    )
    assert far.sizes.percent == none.sizes.percent
    assert "2000" not in far.paragraph
    assert any("2000 N" in line.text for line in far.section("for_you").lines)


@pytest.mark.parametrize(
    ("share", "word"),
    [
        *((0.02, "little"), (0.26, "quarter"), (0.35, "third"), (0.48, "half")),
        *((0.62, "two_thirds"), (0.74, "three_quarters"), (0.999, "most"), (1.0, "all")),
    ],
)
def test_a_share_is_said_as_a_fraction(share, word):
    assert share_word(share) == word
    for tag in ("en", "de"):
        assert not NUMBER.search(catalogue(tag).say(f"share.{word}"))


def test_nobody_like_the_client_is_said_and_counts(library):
    profile = ClientProfile(training_status="highly-trained", age=75, sex="female")
    plain = explain(library, "rest-between-sets")
    found = explain(library, "rest-between-sets", profile=profile)
    assert "None of the evidence comes from people like you" in str(found)
    order = ("very low", "low", "moderate", "high")
    assert order.index(found.certainty) < order.index(plain.certainty)


@pytest.mark.parametrize("name", RECOMMENDATIONS)
def test_chances_follow_from_the_pool(library, told, name):
    chances = told[name, "en"].as_json()["chance_better"]
    weighed = library.weigh(library.recommendations[name].questions[0])
    # A prior that hardly says anything leaves nearly the pool's own normal distribution.
    near = 1 - NormalDist(weighed.estimate, weighed.standard_error).cdf(0)
    assert chances["average"]["better"] == pytest.approx(near, abs=0.08)
    parts = ("better_by_enough", "about_the_same", "worse_by_enough")
    for part in ("average", "next_group"):
        assert sum(chances[part][key] for key in parts) == pytest.approx(1, abs=1e-9)
    assert chances["next_group"]["worse_by_enough"] >= chances["average"]["worse_by_enough"] - 1e-9
