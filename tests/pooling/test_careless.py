"""Careless readings: each reproduces the error it names, by arithmetic; sound answers stay put."""

from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from steelyard import open_library
from steelyard.judging.integrity import suspect_results
from steelyard.pooling import pool
from steelyard.pooling.careless import Careless, careless
from steelyard.pooling.careless_records import errors_as_spreads, spreads_as_errors
from tests.small_library import comparison, question, result, study


def made(library, question_id):
    found = careless(
        library.weigh(question_id),
        library.studies,
        vocabulary=library.vocabulary,
        suspects=suspect_results(library.integrity),
    )
    return {answer.error: answer for answer in found.answers}


def _library(tmp_path, *, spread="sd", n=16, gains=(6.0, 8.0, 10.0, 7.0)):
    for number, gain in enumerate(gains):
        body = ""
        for arm, change in (("slow", gain), ("usual", 3.0)):
            body += result(
                arm,
                pre=f"{{ mean = 100.0, {spread} = 20.0 }}",
                post=f"{{ mean = {100 + change}, {spread} = 20.0 }}",
                r=0.9,
            )
        study(tmp_path, f"s{number}", body, n_slow=n, n_usual=n)
    question(tmp_path, more="smallest_worthwhile = 0.2")
    return open_library(tmp_path)


def test_a_standard_error_taken_for_an_sd_inflates_by_the_root_of_n(tmp_path):
    # Exactly √n (Kadlec, Sainani & Nimphius 2023): SE 20 at n = 16 is an SD of 80.
    library = _library(tmp_path, spread="se")
    answer = made(library, "asked")["SE taken for SD"]
    # Weights hang a little on the effects themselves, so the pool is near, not at, four times.
    assert answer.times_estimate == pytest.approx(4.0, rel=0.02)
    assert "4.0 times as large" in answer.words


def test_records_with_the_slip(shipped):
    plain = shipped.studies["oxmere-2013"]
    slipped = errors_as_spreads(plain)
    before, after = plain.results[0], slipped.results[0]
    printed = before.pre or before.change
    entered = after.pre or after.change
    assert printed.se is not None and entered.sd == printed.se and entered.se is None
    assert plain.results[0] is before
    sd_only = shipped.studies["zealbeck-2015"]
    assert errors_as_spreads(sd_only) is None
    other = spreads_as_errors(sd_only)
    n = sd_only.results[0].n or sd_only.arm(sd_only.results[0].arm).n
    ratio = float(sd_only.results[0].pre.sd / other.results[0].pre.sd)
    assert ratio == pytest.approx(np.sqrt(n), rel=1e-9)


def test_only_studies_whose_pooled_numbers_move_are_named(shipped):
    # What ottermouth-2024 prints with standard errors is muscle activation, which is not pooled.
    slipped = errors_as_spreads(shipped.studies["ottermouth-2024"])
    changed = {
        after.outcome
        for before, after in zip(
            shipped.studies["ottermouth-2024"].results, slipped.results, strict=True
        )
        if before is not after
    }
    weighing = shipped.weigh("slow-lowering-strength")
    rows = weighing.effects[weighing.effects["used"]]
    assert not changed & set(rows.loc[rows["study"] == "ottermouth-2024", "outcome"])
    words = made(shipped, "slow-lowering-strength")["SE taken for SD"].words
    assert words.startswith("standard errors of oxmere-2013 entered as SDs (")


def test_an_effect_that_rests_on_no_spread_cannot_suffer_the_slip(tmp_path):
    # Four papers print a standardised difference and nothing else.
    for number, value in enumerate((0.3, 0.5, 0.2, 0.4)):
        study(
            tmp_path,
            f"s{number}",
            comparison(standardised=f"{{ value = {value}, se = 0.2, over = 'pre-sd' }}"),
        )
    question(tmp_path, more="smallest_worthwhile = 0.2")
    answer = made(open_library(tmp_path), "asked")["SE taken for SD"]
    assert answer.why_not == "no effect rests on a printed standard error or SD"


def test_the_heaviest_study_that_rests_on_an_sd_is_taken(tmp_path):
    _library(tmp_path)
    study(tmp_path, "heavy", comparison(standardised="{ value = 0.2, se = 0.05, over = 'pre-sd' }"))
    library = open_library(tmp_path)
    studies = library.weigh("asked").studies.set_index("study")
    assert studies["weight"].idxmax() == "heavy"
    answer = made(library, "asked")["SE taken for SD"]
    assert answer.words.startswith(f"had {studies['weight'].drop('heavy').idxmax()} printed")


def test_gains_inside_groups_are_pooled_as_such(tmp_path):
    # The trained groups gained 6 to 10 of an SD of 20, J aside: 0.3 to 0.5, where the
    # differences are 0.15 to 0.35.
    answers = made(_library(tmp_path), "asked")
    answer = answers["gains inside groups"]
    small = 1 - 3 / (4 * 15 - 1)
    assert answer.estimate == pytest.approx(small * 7.75 / 20, rel=0.02)
    assert answer.times_estimate > 1.5


def test_votes_are_counted_by_p(tmp_path):
    library = _library(tmp_path)
    studies = library.weigh("asked").studies
    z = (studies["effect"] / np.sqrt(studies["variance"])).to_numpy()
    significant = int((2 * stats.norm.sf(np.abs(z)) < 0.05).sum())
    assert f"{significant} of 4 significant" in made(library, "asked")["votes by p"].said


def test_effects_as_independent_and_plain_mean(shipped):
    weighing = shipped.weigh("slow-lowering-strength")
    answers = made(shipped, "slow-lowering-strength")
    rows = weighing.effects[weighing.effects["used"]]
    assert answers["effects as independent"].estimate == pytest.approx(
        pool(rows["effect"], rows["variance"]).estimate
    )
    assert answers["effects as independent"].times_width < 1
    values = weighing.studies.loc[weighing.studies["used"], "effect"]
    assert answers["variances ignored"].estimate == pytest.approx(values.mean())
    kept = answers["doubtful studies kept"]
    assert kept.times_estimate > 1.2
    assert kept.words == (
        "kept in: harrowmere-2020 (retracted), inchmarsh-2021 (an SD that looks like a standard "
        "error)"
    )


def test_as_many_errors_are_counted_as_are_listed(shipped):
    for question_id in shipped.questions:
        found = careless(shipped.weigh(question_id), shipped.studies, vocabulary=shipped.vocabulary)
        rows = [name for name, told in found._rows()[2:] if "cannot be made here" not in told]
        assert f"Of {len(rows)} errors that can be made here" in found.sentence
        assert f"votes by p gives no estimate; of the other {len(rows) - 1}, " in found.sentence


def test_one_study_repeated_narrows_the_careless_answer_and_not_the_sound(tmp_path):
    # Ten studies, one of them with its outcome told five times: the careless interval shrinks,
    # the sound standard error moves by 5 % at most.
    rng = np.random.default_rng(2)
    gains = 6 + rng.normal(0, 3, 10)
    errors = {}
    for repeats in (1, 5):
        folder = tmp_path / str(repeats)
        for number, gain in enumerate(gains):
            body, more = "", ""
            for copy in range(repeats if number == 0 else 1):
                outcome = "peak" if copy == 0 else f"peak-{copy}"
                if copy:
                    more += f'[[outcome]]\nid = "{outcome}"\nconstruct = "strength"\nunit = "N"\n'
                for arm, change in (("slow", gain), ("usual", 0.0)):
                    body += result(
                        arm,
                        outcome=outcome,
                        pre="{ mean = 100.0, sd = 20.0 }",
                        post=f"{{ mean = {100 + change:.2f}, sd = 20.0 }}",
                        r=0.9,
                    )
            study(folder, f"s{number}", body, outcome_more=more)
        question(folder, more="smallest_worthwhile = 0.2")
        library = open_library(folder)
        errors[repeats] = library.weigh("asked").standard_error
    assert errors[5] == pytest.approx(errors[1], rel=0.05)
    rows = library.weigh("asked").effects
    naive = pool(rows["effect"], rows["variance"])
    assert naive.standard_error < errors[1]


def test_what_cannot_be_made_says_why(shipped):
    strains = made(shipped, "slow-lowering-strains")
    assert "without an SD" in strains["SE taken for SD"].why_not
    assert "no change inside one group" in strains["gains inside groups"].why_not
    assert (
        "one slope per study" in made(shipped, "weekly-sets-size")["effects as independent"].why_not
    )


def test_every_shipped_question_shows_its_careless_answers(shipped):
    for each in shipped.questions:
        weighing = shipped.weigh(each)
        found = careless(
            weighing,
            shipped.studies,
            vocabulary=shipped.vocabulary,
            suspects=suspect_results(shipped.integrity),
        )
        assert len(found.answers) == 6
        assert weighing.verdict.sentence in str(found)


def test_an_error_that_moves_nothing_printed_is_not_said_to_move_it():
    # Every error's estimate set beside the sound one: 0.721 and 0.719 both print as +0.72.
    library = open_library()
    found = careless(library.weigh("slow-lowering-strength"), library.studies)
    sound = found.weighing.estimate
    near = tuple(
        replace(each, estimate=sound + 1e-6) if not each.why_not else each for each in found.answers
    )
    assert "moves the answer most" in found.sentence
    told = Careless(found.weighing, near).sentence
    assert "instead of" not in told and told.endswith("as much as is printed.")
