"""What is said of confounded sets, of a step that is advised, and of how strongly."""

from __future__ import annotations

from dataclasses import replace
from math import exp

import pytest

from steelyard import open_library
from steelyard.explaining.advised_step import advised_step
from steelyard.explaining.client_sizes import client_sizes
from steelyard.explaining.dose_gaps import dose_gaps
from steelyard.explaining.explain import explain
from steelyard.explaining.handout import handout
from steelyard.explaining.lay_pictures import hills_data, hundred_data
from steelyard.explaining.ledger import Ledger
from steelyard.explaining.names import claim_of
from steelyard.explaining.two_options import two_options
from steelyard.explaining.wording.catalogue import catalogue
from steelyard.judging.dose import check_dose
from steelyard.judging.strength import advice_table
from steelyard.records.settings import Letterhead, LetterheadWords, Settings
from tests.small_library import comparison, question, study

RECORD = 'id = "advice"\nstatement = "Lower slowly."\nquestions = ["asked"]\ncost_size = "small"\n'


@pytest.fixture(scope="module")
def library():
    return open_library()


def lines(found, key):
    part = found.section(key)
    return [] if part is None else [line.text for line in part.lines]


def with_sets(folder, *pairs, equated="not reported"):
    """A study for each pair of weekly sets; None where an arm does not say."""
    for at, (more, less) in enumerate(pairs):
        path = study(
            folder,
            f"s{at}",
            comparison(standardised=f"{{ value = 0.{5 + at}, se = 0.1, over = 'pre-sd' }}"),
        )
        text = path.read_text(encoding="utf-8")
        for tag, sets in (("slow", more), ("usual", less)):
            if sets is not None:
                there = f'tags = ["{tag}"]'
                text = text.replace(there, f"{there}\ndose = {{ sets_per_week = {sets} }}")
        text = text.replace("[design]\n", f'[design]\nequated = "{equated}"\n')
        path.write_text(text, encoding="utf-8")
    question(folder, more="smallest_worthwhile = 0.2")
    place = folder / "recommendations" / "advice.toml"
    place.parent.mkdir(exist_ok=True)
    place.write_text(RECORD, encoding="utf-8")
    return explain(open_library(folder), "advice")


def test_sets_that_came_with_it_are_not_known_to_be_idle(library):
    found = explain(library, "add-slow-lowering")
    used = found.evidence[0].weighing.effects
    used = used[used["used"]]
    equal = {
        row.study
        for row in used.itertuples()
        if library.studies[row.study].arm(row.intervention).dose.sets_per_week
        == library.studies[row.study].arm(row.comparator).dose.sets_per_week
    }
    said = lines(found, "unknown")
    assert said[0] == (
        "What part the extra sets play: mostly 12 a week with slow lowering added, 8 otherwise."
    )
    assert said[1] == f"Both did as many sets in {len(equal)} of these 16 studies."
    for other in ("rest-between-sets", "one-leg-work", "weekly-sets-thigh"):
        shown = str(explain(library, other))
        assert "did as many sets" not in shown and "extra sets" not in shown


def test_the_commonest_sets_and_the_equal_ones_by_what_the_records_say(tmp_path):
    said = lines(with_sets(tmp_path / "a", (9, 6), (9, 6), (12, 6), (6, 6)), "unknown")
    assert "mostly 9 a week with slow, 6 otherwise" in said[0]
    assert said[1] == "Both did as many sets in 1 of these 4 studies."
    said = lines(with_sets(tmp_path / "b", (4, 6)), "unknown")
    assert said[0].startswith("What part the number of sets plays: mostly 4 a week")
    assert said[1] == "Both did as many sets in none of these 1 studies."
    # One without doses counts by what it says was held equal.
    said = lines(with_sets(tmp_path / "c", (9, 6), (None, 6), equated="weekly sets"), "unknown")
    assert said[1] == "Both did as many sets in 1 of these 2 studies."
    assert "sets" not in " ".join(lines(with_sets(tmp_path / "d", (6, 6)), "unknown"))


def test_the_step_advised_is_sized_and_held_against_what_is_worth_having(library):
    found = explain(library, "weekly-sets-thigh")
    pooled = found.evidence[0].weighing.pooled
    # Four of the five sets that the slope is per, on the log scale, from the usual start.
    wanted = {
        f"step.{name}": 23.4 * (exp(0.8 * end) - 1)
        for name, end in (("value", pooled.estimate), ("low", pooled.low), ("high", pooled.high))
    }
    kept = {number.name: number.value for number in found.numbers}
    assert {name: kept[name] for name in wanted} == pytest.approx(wanted, rel=1e-12)
    said = lines(found, "expect")
    at = said.index(
        "Going from 8 to 12 sets a week, as advised, may bring about 0.20 mm (0.12 to 0.28)."
    )
    # 1 % for five sets is 0.19 mm for four, which lies inside 0.12 to 0.28.
    least = 23.4 * (exp(0.8 * found.evidence[0].weighing.worthwhile) - 1)
    assert kept["step.worthwhile"] == pytest.approx(least, rel=1e-12)
    assert said[at + 1] == (
        "Whether that is 0.19 mm or more, enough to matter for such a step, is not settled."
    )
    german = lines(explain(library, "weekly-sets-thigh", language="de"), "expect")
    settled = "also genug für einen solchen Schritt, ist nicht geklärt."
    assert f"Ob es 0,19 mm oder mehr sind, {settled}" in german
    assert any(
        "Schritt von 8 auf 12 Sätze pro Woche könnte etwa 0,20 mm" in text for text in german
    )
    # The form of the curve is not told apart, so that nothing may be said of levelling off.
    assert "seems to bring less" not in str(found)


def step_of(found, *, least, most, worthwhile=None, language="en"):
    """What is said of a step, with other ends or another smallest worthwhile effect."""
    evidence, words = found.evidence[0], catalogue(language)
    if worthwhile is not None:
        weighing = replace(evidence.weighing, worthwhile=worthwhile)
        evidence = replace(evidence, weighing=weighing)
    dose = found.recommendation.dose.model_copy(update={"sets_per_week": (least, most)})
    record = found.recommendation.model_copy(update={"dose": dose})
    sizes = client_sizes(evidence)
    claim = claim_of(evidence, sizes, words)
    return advised_step(record, evidence, sizes, claim, ledger=Ledger(words))


def test_a_step_is_less_than_what_is_worth_having_only_by_all_of_its_interval(library):
    found = explain(library, "weekly-sets-thigh")
    pooled = found.evidence[0].weighing.pooled
    between = (pooled.estimate + pooled.high) / 2
    for worthwhile, said in (
        (0.9 * pooled.low, None),
        (between, "Whether that is"),
        (1.1 * pooled.high, "That is less than"),
    ):
        told = step_of(found, least=8, most=12, worthwhile=worthwhile)
        assert [text.startswith(str(said)) for text in told[1:]] == [True] * (said is not None)


def test_a_step_beyond_what_was_tested_has_no_size(library):
    found = explain(library, "weekly-sets-thigh")
    assert step_of(found, least=8, most=40) == [
        "What going from 8 to 40 sets a week brings is not known: 3 to 24 were tested."
    ]
    assert step_of(found, least=8, most=40, language="de") == [
        "Was der Schritt von 8 auf 40 Sätze pro Woche bringt, ist nicht bekannt: 3 bis 24 sind "
        "geprüft."
    ]
    # One step as the studies asked for it, where none of them was; and up to the very ends.
    assert "not known" in step_of(found, least=24, most=29)[0]
    assert "as advised" in step_of(found, least=3, most=24)[0]


def test_a_stretch_that_any_pooled_group_reaches_into_is_no_gap(library):
    found = explain(library, "rest-between-sets")
    evidence = found.evidence[0]
    checks = check_dose(found.recommendation, evidence.weighing, evidence.studies)
    (check,) = (each for each in checks if each.part == "rest_s")

    def said(**changes):
        """Gaps with the doses of a study's arms changed."""
        study = evidence.studies["ulverwick-2020"]
        arms = tuple(
            arm.model_copy(update={"dose": arm.dose.model_copy(update={"rest_s": changes[arm.id]})})
            if arm.id in changes
            else arm
            for arm in study.arms
        )
        studies = {**evidence.studies, study.id: study.model_copy(update={"arms": arms})}
        changed = replace(evidence, studies=studies)
        return dose_gaps([check], changed, ledger=Ledger(catalogue("en")))

    assert len(said()) == 2
    assert len(said(middle=75)) == len(said(middle=180)) == len(said(middle=None)) == 1
    assert len(said(middle=(60, 90))) == 2
    assert said(short=100) == []


def test_people_who_gain_enough_have_the_interval_of_the_effect(library):
    found = explain(library, "add-slow-lowering")
    size = client_sizes(found.evidence[0]).reach
    assert size.low < size.value < size.high
    ends = [round(end) for end in (size.value, size.low, size.high)]
    kept = {number.name: number.value for number in found.numbers}
    assert (kept["reach.low"], kept["reach.high"]) == (size.low, size.high)
    told = "about {} ({} to {}) would gain 6.2 N or more; 72 otherwise.".format(*ends)
    assert any(text.endswith(told) for text in lines(found, "expect"))
    german = lines(explain(library, "add-slow-lowering", language="de"), "expect")
    told = "würden etwa {} ({} bis {}) mindestens 6,2 N gewinnen; sonst 72.".format(*ends)
    assert any(text.endswith(told) for text in german)


def test_every_strength_of_advice_has_words_in_every_language():
    table = advice_table()
    words = {
        word
        for size in ("matters", "leans", "same", "open", "leans against", "against")
        for cell in table[size].values()
        for word in cell.values()
    }
    for tag in ("en", "de"):
        messages = catalogue(tag).messages
        listed = {key for key in messages if key.startswith("advice.") and "line" not in key}
        assert listed == {f"advice.{word}" for word in words}


@pytest.mark.parametrize(
    ("name", "word"),
    [
        ("add-slow-lowering", "worth trying"),
        ("hamstring-strain-caution", "not for this reason"),
        ("one-leg-work", "let liking and cost decide"),
        ("rest-between-sets", "whichever suits"),
        ("weekly-sets-thigh", "try it and see"),
    ],
)
def test_the_handout_says_how_strongly(library, name, word):
    found = explain(library, name)
    assert lines(found, "do")[-1].startswith("Strength of advice (")
    assert lines(found, "do")[-1].endswith(f"): {word}.")
    assert "Strength of advice (" in handout(found)


def test_a_preference_and_the_strength_of_advice_go_together(library):
    shown = two_options(library, "one-leg-work", prefers="a")
    assert shown.choice.count("You prefer one leg at a time: take that.") == 1
    assert dict(shown.rows)["strength of advice"].endswith("let liking and cost decide.")


def test_what_a_hundred_counts_and_what_a_newton_is(library):
    said = lines(explain(library, "add-slow-lowering"), "expect")
    reach = next(at for at, text in enumerate(said) if text.startswith("Of 100 people with"))
    assert said[reach + 1].startswith(
        "That counts gains as measured, error included; 6.2 N is what"
    )
    assert "N stands for newton, a measure of force: 10 N is about the pull of 1 kg." in said
    assert "stands for" not in " ".join(lines(explain(library, "one-leg-work"), "expect"))


@pytest.mark.parametrize("tag", ["en", "de"])
def test_pairs_in_the_picture_and_in_the_text_are_the_same(library, tag):
    found = explain(library, "add-slow-lowering", language=tag)
    data = hundred_data(found, catalogue(tag))
    told = next(number.text for number in found.numbers if number.name == "chance.value")
    assert data.pairs
    assert f" {told} " in data.subtitle
    assert data.better <= int(told) <= data.better + data.same


@pytest.mark.parametrize("tag", ["en", "de"])
def test_hills_stand_after_training_and_the_client_before(library, tag):
    data = hills_data(explain(library, "add-slow-lowering", language=tag), catalogue(tag))
    after, before = {"en": ("after 12 weeks", "before"), "de": ("nach 12 Wochen", "vor")}[tag]
    assert after in data.title and after in data.axis_title
    assert before in data.client_words


def test_who_signs_is_told_in_the_language_of_the_page(library):
    german = LetterheadWords(name="Die Trainerin")
    coach = Letterhead(name="The coach", organisation="Club", translations={"de": german})
    for tag, name in (("de", "Die Trainerin, Club"), ("en", "The coach, Club")):
        page = handout(
            explain(library, "one-leg-work", language=tag), settings=Settings(coach=coach)
        )
        assert f'<span class="name">{name}</span>' in page


@pytest.mark.parametrize("tag", ["en", "de"])
def test_a_record_s_own_words_begin_as_a_line_does(library, tag):
    for name in library.recommendations:
        for part in explain(library, name, language=tag).sections:
            for line in part.lines:
                assert line.text[0] == line.text[0].upper(), line.text
