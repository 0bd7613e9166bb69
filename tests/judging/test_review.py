"""Told against now, by adding, correcting, retracting and removing studies."""

from __future__ import annotations

import datetime as dt
import json
import math
from dataclasses import replace
from decimal import Decimal

import pytest

from steelyard import open_library
from steelyard.errors import RecordError, UsageError
from steelyard.judging.mark import mark_reviewed
from steelyard.judging.told import differences, standing_now, told_of
from tests.judging.reviewed_library import (
    MARKED,
    VALUES,
    effect,
    recommendation,
    tell,
    told_library,
)
from tests.small_library import question, study


@pytest.fixture
def folder(tmp_path):
    return told_library(tmp_path)


def reviewed(folder, *, on=MARKED):
    return open_library(folder).review(on).review("lower")


def moves(review):
    return {(mover.study, mover.what) for mover in review.movers}


def test_nothing_changed_nothing_said(folder):
    found = reviewed(folder)
    assert not found.changed
    assert not found.due
    assert found.movers == ()
    assert found.first.told.estimate == pytest.approx(found.first.now.estimate, abs=1e-4)
    assert found.first.told.certainty == found.first.now.certainty
    assert found.first.told.verdict == found.first.now.verdict == "better"
    assert "nothing told has changed" in str(found)


def test_a_study_added_is_named_with_its_shift(folder):
    study(folder, "fir", effect(-0.6))
    found = reviewed(folder)
    assert found.changed
    assert found.overturned
    assert moves(found) == {("fir", "added")}
    (mover,) = found.movers
    # The second route: the told estimate is what there was without the new study.
    assert found.first.now.estimate - mover.shift == pytest.approx(
        found.first.told.estimate, abs=1e-4
    )
    assert {"estimate", "verdict"} <= set(found.first.differs)
    assert found.due == ("the evidence is not the same as when it was told",)


def test_two_studies_added_are_both_named_the_larger_shift_first(folder):
    study(folder, "fir", effect(0.1))
    study(folder, "gorse", effect(-0.9))
    found = reviewed(folder)
    assert [mover.study for mover in found.movers] == ["gorse", "fir"]


def test_a_study_retracted_is_named_and_its_weight_is_gone(folder):
    study(folder, "ash", effect(VALUES["ash"]), source_more='status = "retracted"')
    found = reviewed(folder)
    assert found.changed
    assert moves(found) == {("ash", "retracted")}
    assert found.first.now.estimate == pytest.approx((0.5 + 0.55 + 0.5) / 3)
    assert "1 retracted study, no weight: ash" in found.warnings


def test_a_study_corrected_is_guessed_without_the_earlier_records(folder):
    study(folder, "ash", effect(-1.5), source_more='status = "corrected"')
    found = reviewed(folder)
    assert found.changed
    assert moves(found) == {("ash", "perhaps")}
    assert any("comes from corrected papers: ash" in warning for warning in found.warnings)


def test_a_study_removed_changes_the_answer_without_a_culprit(folder):
    (folder / "studies" / "cedar.toml").unlink()
    found = reviewed(folder)
    assert found.changed
    assert "cedar" not in {mover.study for mover in found.movers}


def test_comments_order_and_white_space_change_nothing(folder):
    path = folder / "studies" / "ash.toml"
    lines = path.read_text(encoding="utf-8").splitlines()
    head, rest = lines[:2], lines[2:]
    text = "\n\n# a thought\n" + "\n".join([head[1], "   " + head[0], *rest]) + "   # another\n"
    path.write_text(text, encoding="utf-8")
    found = reviewed(folder)
    assert found.first.now.fingerprint == found.first.told.fingerprint
    assert not found.changed


def test_a_change_too_small_to_be_told_is_new_evidence_and_no_change(folder):
    path = folder / "studies" / "ash.toml"
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace("value = 0.45", "value = 0.4500001"), encoding="utf-8")
    found = reviewed(folder)
    assert found.first.now.fingerprint != found.first.told.fingerprint
    assert not found.changed
    assert found.due
    # One sentence, not one of sameness and another of difference.
    assert (
        str(found).count("the evidence has changed since it was told; the answer is the same") == 1
    )
    assert "nothing told has changed" not in str(found)
    assert "is not the same" not in str(found)


def test_a_number_that_shifts_little_is_changed_by_rule_and_the_answer_the_same(folder):
    study(folder, "ash", effect(0.48))
    found = reviewed(folder)
    assert "estimate" in found.first.differs
    assert found.as_json()["changed"] is True
    assert not found.moved
    assert "the answer is the same" in found.first.since_told
    assert "no longer holds" not in str(found)
    assert "0 moved since told" in open_library(folder).review(MARKED).table().title


@pytest.mark.parametrize(
    ("shift", "half_width", "moved"),
    [
        # The question sets 0.14: half of it is 0.07.
        (0.069, 0.1, False),
        (0.071, 0.1, True),
        (-0.071, 0.1, True),
        # Smaller, but what was told lies outside the interval of now.
        (0.05, 0.04, True),
    ],
)
def test_moved_from_half_the_smallest_worthwhile_effect(folder, shift, half_width, moved):
    found = reviewed(folder)
    found = found.first
    middle = found.told.estimate
    told = replace(found.told, low=middle - 0.2, high=middle + 0.2)
    now = replace(
        found.now,
        estimate=middle + shift,
        low=middle + shift - half_width,
        high=middle + shift + half_width,
    )
    found = replace(found, told=told, now=now, differs=("estimate",))
    assert found.moved is moved
    assert not found.overturned


def test_other_rules_with_the_same_evidence_are_told_as_such(folder):
    path = folder / "recommendations" / "lower.toml"
    certainty = reviewed(folder).first.told.certainty
    other = "high" if certainty != "high" else "low"
    text = path.read_text(encoding="utf-8").replace(f'"{certainty}"', f'"{other}"')
    path.write_text(text, encoding="utf-8")
    found = reviewed(folder)
    assert found.first.differs == ("certainty",)
    assert any("the evidence is the same and the answer is not" in w for w in found.warnings)


@pytest.mark.parametrize(
    ("units", "moved", "warned"),
    [
        (1, False, False),  # rounding
        (2, False, True),
        (30, False, True),
        (2000, True, True),
    ],
)
def test_other_numbers_of_the_same_evidence_never_gainsay_the_answer(folder, units, moved, warned):
    """Computed otherwise: told to four decimals, and off by so many of its last units."""
    carried = open_library(folder).recommendations["lower"].told
    other = carried.estimate + units * Decimal("0.0001")
    path = folder / "recommendations" / "lower.toml"
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace(f"estimate = {carried.estimate}", f"estimate = {other}"), "utf-8")
    found = reviewed(folder)
    assert found.first.now.fingerprint == found.first.told.fingerprint
    assert found.moved is moved
    said = [each for each in found.warnings if "the evidence is the same" in each]
    assert bool(said) is warned
    assert any("the answer is not" in each for each in said) is moved
    assert ("the answer is the same" in str(found)) is not moved


@pytest.mark.parametrize(
    ("today", "due"),
    [
        (dt.date(2025, 6, 1), False),
        (dt.date(2025, 6, 2), True),
        (dt.date(2025, 7, 1), True),
        (dt.date(2024, 6, 1), False),
    ],
)
def test_due_after_twelve_months(folder, today, due):
    assert bool(reviewed(folder, on=today).due) is due


def test_a_date_in_the_future_is_told(folder):
    found = reviewed(folder, on=dt.date(2024, 5, 31))
    assert "in the future" in found.due[0]
    assert any("in the future" in warning for warning in found.warnings)


def test_weight_read_once_and_without_a_place_is_told(folder):
    body = effect(0.5) + 'where = "Table 2"\nchecked_by = "second reader"\n'
    study(folder, "birch", body)
    warnings = " / ".join(reviewed(folder).warnings)
    assert "75 % of the weight (3 studies) was read by one person only: ash, cedar" in warnings
    assert "75 % of the weight (3 studies) has no place in the paper on record" in warnings


def test_one_more_study_is_pooled_at_both_ends(folder):
    library = open_library(folder)
    found = reviewed(folder).first.one_more
    weighing = library.weigh("asked")
    # No spread between studies here: what a study of variance 0.01 finds has variance
    # 0.01 + 0.01/4, and a fifth study of equal variance moves the mean by a fifth of that.
    reach = 1.959964 * math.sqrt(0.01 + 0.01 / 4)
    assert weighing.tau2 == 0
    assert found.finds_high == pytest.approx(0.5 + reach, abs=2e-4)
    assert found.estimate_high == pytest.approx(0.5 + reach / 5, abs=2e-3)
    assert found.people == 40
    assert "'better'" in found.sentence


def test_json_has_what_is_promised(folder):
    study(folder, "fir", effect(-0.6))
    (row,) = open_library(folder).review(MARKED).as_json()
    wanted = "recommendation statement certainty told now reviewed changed moved_by warnings"
    assert set(wanted.split()) <= set(row)
    numbers = "estimate low high prediction_low prediction_high certainty fingerprint".split()
    assert set(numbers) <= set(row["told"])
    assert set(numbers) <= set(row["now"])
    assert row["changed"] is True
    assert row["moved_by"] == ["fir"]
    assert row["reviewed"] == "2024-06-01"
    json.dumps(row, allow_nan=False)


def test_an_answer_never_told_is_due_and_not_changed(tmp_path):
    study(tmp_path, "ash", effect(0.5))
    question(tmp_path)
    recommendation(tmp_path)
    found = reviewed(tmp_path)
    assert found.first.told is None
    assert not found.changed
    assert found.due == ("nobody has reviewed it yet",)


BAD = {
    "missing": ('["asked"]', '["lost"]', "'lost' is not in the library"),
    "told": ("estimate = ", 'estimate = "much" # ', "told.estimate"),
    "override": (
        "[told]",
        '[[override]]\ndomain = "imprecision"\nstep = 0\nby = "T. Fell"\ndate = 2024-01-01\n[told]',
        "override[1].reason",
    ),
}


@pytest.mark.parametrize("name", BAD)
def test_a_bad_recommendation_has_its_line_and_the_rest_still_shows(folder, name):
    old, new, said = BAD[name]
    good = (folder / "recommendations" / "lower.toml").read_text(encoding="utf-8")
    bad = good.replace('id = "lower"', 'id = "other"').replace(old, new)
    (folder / "recommendations" / "other.toml").write_text(bad, encoding="utf-8")
    reviews = open_library(folder).review(MARKED)
    assert [review.recommendation for review in reviews.reviews] == ["lower", "other"]
    assert not reviews.review("lower").problem
    other = reviews.review("other")
    assert said in other.problem
    assert other.first is None or other.first.now is None
    assert said in str(reviews)
    json.dumps(reviews.as_json(), allow_nan=False)


def test_an_empty_question_says_why_and_counts_as_changed(folder):
    for path in (folder / "studies").iterdir():
        path.unlink()
    found = reviewed(folder)
    assert "no study has arms and outcomes" in found.problem
    assert found.changed
    assert found.due == ("there is no answer any more",)
    assert str(found).count("no study has arms and outcomes") == 1
    assert found.overturned


def test_a_second_question_without_an_answer_is_a_warning(folder):
    path = folder / "recommendations" / "lower.toml"
    text = path.read_text(encoding="utf-8").replace('["asked"]', '["asked", "lost"]')
    path.write_text(text, encoding="utf-8")
    found = reviewed(folder)
    assert not found.problem
    assert any("no answer to 'lost'" in warning for warning in found.warnings)


def test_marking_keeps_comments_and_writes_name_note_and_numbers(folder):
    study(folder, "fir", effect(-0.6))
    assert reviewed(folder).changed
    library = tell(folder, on=dt.date(2024, 9, 1))
    text = (folder / "recommendations" / "lower.toml").read_text(encoding="utf-8")
    assert "# Invented; kept as it is by every review." in text
    assert "# one is enough" in text
    record = library.recommendations["lower"]
    assert (record.reviewed, record.reviewed_by) == (dt.date(2024, 9, 1), "T. Fell")
    assert record.review_note == "read in full"
    assert not library.review(dt.date(2024, 9, 2)).review("lower").changed


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ({"by": " "}, "needs a name"),
        ({"note": ""}, "needs a note"),
        ({"today": dt.date(2999, 1, 1)}, "in the future"),
    ],
)
def test_marking_needs_a_name_a_note_and_a_day_that_has_been(folder, words, said):
    path = folder / "recommendations" / "lower.toml"
    before = path.read_bytes()
    told = open_library(folder).recommendations["lower"].told
    values = {"by": "T. Fell", "note": "read", "told": {"asked": told}} | words
    with pytest.raises(UsageError, match=said):
        mark_reviewed(folder, "lower", **values)
    assert path.read_bytes() == before


def test_marking_what_is_not_there_or_broken(folder):
    told = open_library(folder).recommendations["lower"].told
    with pytest.raises(UsageError, match="no recommendation 'higher'"):
        mark_reviewed(folder, "higher", by="T. Fell", note="read", told={"asked": told})
    path = recommendation(folder, "broken")
    path.write_text(path.read_text(encoding="utf-8") + "cost_size = 3\n", encoding="utf-8")
    with pytest.raises(RecordError):
        mark_reviewed(folder, "broken", by="T. Fell", note="read", told={"asked": told})


def test_told_has_decimals_enough_and_half_of_the_last_one_is_no_change(folder):
    library = open_library(folder)
    weighing = library.weigh("asked")
    now = standing_now(weighing, "moderate")
    told = told_of(now)
    assert -told.estimate.as_tuple().exponent == 4
    assert differences(told, now, worthwhile=0.14) == ()
    import dataclasses

    for shift, found in ((0.9, ()), (1.1, ("estimate",))):
        moved = dataclasses.replace(now, estimate=float(told.estimate) + shift * 0.00005)
        assert differences(told, moved, worthwhile=0.14) == found


@pytest.mark.parametrize(("se", "told"), [(0.088, True), (0.0883, False)])
def test_a_study_that_carries_more_than_three_tenths_is_named(folder, se, told):
    # No spread between these studies: against three of variance 0.01, a variance v carries
    # (1/v) / (1/v + 300), which is 0.3 at v = 0.007778, an error of 0.08819.
    study(folder, "ash", effect(0.45, se=se))
    warnings = reviewed(folder).warnings
    assert any("ash alone carries" in warning for warning in warnings) is told


@pytest.mark.parametrize("policy", ["keep", "hold-out"])
def test_a_study_that_overturns_an_answer_is_not_held_out_for_disagreeing(tmp_path, policy):
    for number in range(12):
        study(tmp_path, f"small-{number}", effect(0.5 + number / 100))
    more = f'smallest_worthwhile = 0.14\n[model]\nsuspect = "{policy}"'
    question(tmp_path, more=more)
    recommendation(tmp_path)
    tell(tmp_path)
    study(tmp_path, "fir", effect(-0.6, se=0.05), n_slow=800, n_usual=800)
    library = open_library(tmp_path)
    assert any(finding.rule == "outlying-effect" for finding in library.check())
    review = library.review().review("lower")
    assert review.overturned
    assert [mover.study for mover in review.movers] == ["fir"]
    weighing = library.weigh("asked")
    assert bool(weighing.studies.set_index("study").at["fir", "used"])
    # Named and shown without it only where suspect numbers are kept in.
    assert (weighing.without_suspects is None) == (policy == "hold-out")
