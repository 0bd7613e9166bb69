"""Reading one study: verdicts by the zone, agreement under dependence, words, bad input."""

import json

import numpy as np
import pytest
from click.testing import CliRunner
from statsmodels.stats.power import TTestIndPower

from steelyard import open_library
from steelyard.cli.reading import read_command
from steelyard.errors import DesignError, UsageError
from steelyard.pooling import (
    chance_any_significant,
    chance_same_direction,
    detectable_difference,
)
from steelyard.pooling.study_reading import NONE_SHOWN, NOT_SETTLED, SHOWN
from tests.small_library import question, result, study

NINE = "".join(
    f'[[outcome]]\nid = "o{n}"\nconstruct = "{"size" if n % 2 else "strength"}"\n' for n in range(8)
)


def _nine(tmp_path, gains, *, sd=20.0, worthwhile=0.2, **words):
    """Nine outcomes, pre-post r derived from change SDs (0.9), twenty people a group."""
    body = ""
    for n, gain in enumerate(gains):
        outcome = "peak" if n == 8 else f"o{n}"
        for arm, change in (("slow", gain), ("usual", 0.0)):
            body += result(
                arm,
                outcome=outcome,
                pre=f"{{ mean = 100.0, sd = {sd} }}",
                post=f"{{ mean = {100 + change}, sd = {sd} }}",
                r=0.9,
            )
    study(tmp_path, "nine", body, outcome_more=NINE, **words)
    question(tmp_path, more=f"smallest_worthwhile = {worthwhile}")
    return open_library(tmp_path).read("nine")


def test_one_of_nine_and_all_nine_are_put_in_their_place(tmp_path):
    reading = _nine(tmp_path, [6.0] + [1.5] * 8)
    text = " ".join(reading.findings)
    # A second route: one integral in place of the simulation, at the assumed correlation.
    same = chance_same_direction(9, at_least=9, correlation=0.6).chance
    any_one = chance_any_significant(9, correlation=0.6).chance
    assert "All 9 results point the same way" in text
    assert f"about {100 * same:.0f} times in 100" in text
    assert "1 of 9 has an interval that leaves out no difference" in text
    assert f"about {100 * any_one:.0f} times in 100" in text


def test_three_verdicts_by_the_zone_and_not_by_p(tmp_path):
    # SE of each standardised effect is near 0.14 (r = 0.9, 20 a group): 0.7 SD lies beyond a
    # zone of 0.3 with its whole interval, 0.0 within it with its 90 % interval, and 0.3 does not.
    reading = _nine(tmp_path, [14.0, 0.0, 6.0] + [0.0] * 6, worthwhile=0.3)
    verdicts = list(reading.effects["verdict"])
    by_outcome = dict(zip(reading.effects["outcome"], verdicts, strict=True))
    assert by_outcome["o0"] == SHOWN
    assert by_outcome["o1"] == NONE_SHOWN
    assert by_outcome["o2"] == NOT_SETTLED
    # o2 is "significant" and still not settled; o1 is not "significant" and yet settled.
    leaves_out = dict(
        zip(reading.effects["outcome"], reading.effects["leaves_out_zero"], strict=True)
    )
    assert leaves_out["o2"] and not leaves_out["o1"]


def test_the_composite_is_the_mean_under_the_assumed_correlation(tmp_path):
    reading = _nine(tmp_path, [2.0, 4.0, 6.0, 1.0, 3.0, 5.0, 2.0, 4.0, 6.0])
    for row in reading.composites.itertuples():
        part = reading.effects[reading.effects["construct"] == row.construct]
        assert row.effect == pytest.approx(part["effect"].mean())
        # Borenstein et al. (2009), eq. 24.7, with unequal variances.
        root = np.sqrt(part["variance"].to_numpy())
        m = len(part)
        expected = (0.4 * (root**2).sum() + 0.6 * root.sum() ** 2) / m**2
        # The arms' shares of each variance differ a little between outcomes, hence 0.1 %.
        assert row.variance == pytest.approx(expected, rel=1e-3)


def test_detectable_differences_are_told_from_end_to_end(tmp_path):
    # Outcomes of unlike r: 0.95 on the first, 0.6 on the second, so unlike standard errors.
    body = ""
    for outcome, r in (("peak", 0.95), ("o0", 0.6)):
        for arm, change in (("slow", 4.0), ("usual", 0.0)):
            body += result(
                arm,
                outcome=outcome,
                pre="{ mean = 100.0, sd = 20.0 }",
                post=f"{{ mean = {100 + change}, sd = 20.0 }}",
                r=r,
            )
    more = '[[outcome]]\nid = "o0"\nconstruct = "strength"\n'
    study(tmp_path, "two", body, outcome_more=more)
    question(tmp_path, more="smallest_worthwhile = 0.2")
    reading = open_library(tmp_path).read("two")
    low, high = (reading.effects["detectable"].agg(end) / 0.2 for end in ("min", "max"))
    assert 1 < low < high - 0.5
    assert f"which is {low:.1f} to {high:.1f} times the smallest" in " ".join(reading.findings)


@pytest.mark.parametrize("n", [8, 20])
def test_detectable_is_that_of_a_t_test(tmp_path, n):
    # Second route: the power of a t test of two groups of n in statsmodels, which also counts
    # the rare significant result on the wrong side; its d over sqrt(2/n) is in standard errors.
    reading = _nine(tmp_path, [2.0] * 9, n_slow=n, n_usual=n)
    assert set(reading.effects["df"]) == {2 * n - 2}
    ratio = reading.effects["detectable"] / np.sqrt(reading.effects["variance"])
    theirs = TTestIndPower().solve_power(nobs1=n, alpha=0.05, power=0.8) / np.sqrt(2 / n)
    assert ratio.to_numpy() == pytest.approx(theirs, abs=1e-3)


def test_detectable_takes_degrees_of_freedom_one_by_one():
    # z(0.975) + z(0.80) = 2.8016: any table of the normal distribution.
    found = detectable_difference([[1.0, 4.0], [1.0, 1.0]], df=[[np.inf, np.inf], [14.0, 38.0]])
    assert found[0] == pytest.approx([2.8016, 5.6032], abs=1e-4)
    for each, df in zip(found[1], (14.0, 38.0), strict=True):
        assert each == float(detectable_difference(1.0, df=df)) > 2.8016
    with pytest.raises(DesignError, match="df must be above 0"):
        detectable_difference([1.0, 1.0], df=[4.0, 0.0])


def test_no_study_settles_a_question_and_is_too_small_to_settle_it(shipped):
    settled = 0
    for each in shipped.studies:
        reading = shipped.read(each)
        counted = reading.effects[reading.effects["counted"]]
        alone = counted["scale"].nunique() == 1
        for _, rows in counted.groupby("scale"):
            shown = rows["verdict"].isin([SHOWN, NONE_SHOWN]).any()
            names = [reading.study.outcome(outcome).name for outcome in rows["outcome"]]
            text = " ".join(
                told
                for told in reading.findings
                if "to settle" in told and (alone or any(name in told for name in names))
            )
            settled += shown and "cannot be counted on" in text
            assert not (shown and "too small to settle" in text), each
            assert not ("cannot be counted on" in text and not shown), each
    assert settled >= 8
    told = " ".join(shipped.read("brackwater-2011").findings)
    assert "cannot be counted on to settle that, though this one does; what so small" in told
    told = " ".join(shipped.read("windlecombe-2014").findings)
    assert "settle the question" in told


def test_a_study_held_out_is_read_with_its_flag(shipped):
    reading = shipped.read("inchmarsh-2021")
    assert "suspect numbers" in reading.effects["flags"].iloc[0]
    assert "suspect numbers" in shipped.reading("inchmarsh-2021").rows["flags"].iloc[0]
    text = " ".join(reading.findings)
    assert text.startswith("The numbers of isometric knee flexion do not hang together (an SD")
    assert "it is left out of the pool of slow-lowering-strength." in text
    assert "though this one does" not in text
    assert "do not hang together" not in " ".join(shipped.read("hazelmire-2014").findings)


def test_within_group_changes_are_never_the_effect(tmp_path):
    # Only the trained group's own change is told from none; the difference is not.
    body = result(
        "slow", pre="{ mean = 100.0, sd = 20.0 }", post="{ mean = 104.5, sd = 20.0 }", r=0.9
    ) + result(
        "usual", pre="{ mean = 100.0, sd = 20.0 }", post="{ mean = 103.0, sd = 20.0 }", r=0.9
    )
    study(tmp_path, "trial", body)
    question(tmp_path, more="smallest_worthwhile = 0.2")
    text = " ".join(open_library(tmp_path).read("trial").findings)
    assert "the groups' own changes" in text
    assert "the other's cannot; that does not show that the groups differ." in text


def test_a_group_that_lost_got_worse(tmp_path):
    pre = "{ mean = 100.0, sd = 20.0 }"
    body = result("slow", pre=pre, post="{ mean = 105.0, sd = 20.0 }", r=0.9)
    body += result("usual", pre=pre, post="{ mean = 99.0, sd = 20.0 }", r=0.9)
    study(tmp_path, "trial", body)
    question(tmp_path)
    text = " ".join(open_library(tmp_path).read("trial").findings)
    # 5/20 and -1/20 with the small-sample factor on 38 df, 0.98: arithmetic.
    assert "eak got better by 0.25 SD with" in text and "and worse by 0.05 SD with" in text
    assert "by −" not in text and "by +" not in text


def test_changes_that_spread_less_with_training_are_told_in_words(tmp_path):
    pre = "{ mean = 100.0, sd = 20.0 }"
    for folder, spreads in (("less", (8.0, 9.0)), ("more", (9.0, 8.0))):
        body = "".join(
            result(arm, pre=pre, change=f"{{ mean = 5.0, sd = {sd} }}")
            for arm, sd in zip(("slow", "usual"), spreads, strict=True)
        )
        study(tmp_path / folder, "trial", body)
        question(tmp_path / folder)
    told = [
        next(
            text for text in open_library(tmp_path / folder).read("trial").findings if "Who" in text
        )
        for folder in ("less", "more")
    ]
    assert "no sign that people differ in their response" in told[0]
    assert "spread no more with the intervention than with the comparator" in told[0]
    # √(9² − 8²) = 4.1 either way round: shown only where it is a spread.
    assert "SD of individual responses 0 N" in told[0] and "4.1" not in told[0]
    assert "SD of individual responses 4.1 N, 95 % interval 0.0 to" in told[1]
    assert not any("−" in text for text in told)


def test_units_do_not_matter_to_standardised_reading(tmp_path):
    one = _nine(tmp_path / "one", [2.0] * 9)
    body = ""
    for n in range(9):
        for arm, change in (("slow", 2.0), ("usual", 0.0)):
            body += result(
                arm,
                outcome="peak" if n == 8 else f"o{n}",
                pre="{ mean = 1000.0, sd = 200.0 }",
                post=f"{{ mean = {1000 + 10 * change}, sd = 200.0 }}",
                r=0.9,
            )
    study(tmp_path / "two", "nine", body, outcome_more=NINE)
    question(tmp_path / "two", more="smallest_worthwhile = 0.2")
    two = open_library(tmp_path / "two").read("nine")
    assert two.effects["effect"].to_numpy() == pytest.approx(one.effects["effect"].to_numpy())
    assert two.effects["variance"].to_numpy() == pytest.approx(one.effects["variance"].to_numpy())


def test_surrogates_are_labelled_and_counted_nowhere(shipped):
    reading = shipped.read("ottermouth-2024")
    indirect = reading.effects[reading.effects["surrogate"]]
    assert list(indirect["construct"]) == ["muscle-activation"]
    text = " ".join(reading.findings)
    assert "indirect outcome" in text
    assert "the counts of outcomes above leave it out" in text
    assert text.startswith("Of 2 effects, each held against")
    assert "not counted: 1 stand-in." in text


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("hazelmire-2014", "training one limb makes the other stronger"),
        ("gorsemire-2020", "did both in turn"),
        ("eskerholt-2019", "design effect"),
        ("lintonby-2022", "not allotted by chance"),
        ("harrowmere-2020", "has been retracted"),
    ],
)
def test_designs_say_what_they_do_to_effects(shipped, name, words):
    assert words in " ".join(shipped.read(name).findings)


def test_every_shipped_study_is_read(shipped):
    for each in shipped.studies:
        reading = shipped.read(each)
        assert str(reading)
        assert set(reading.effects["verdict"]) <= {SHOWN, NONE_SHOWN, NOT_SETTLED, ""}
        assert "Invented data" in " ".join(reading.findings)


def test_the_command(shipped):
    done = CliRunner().invoke(read_command, ["oxmere-2013", "--format", "json"])
    assert done.exit_code == 0
    told = json.loads(done.stdout)
    assert {"study", "effects", "composite", "detectable", "verdicts", "findings"} <= set(told)
    assert len(told["detectable"]) == len(told["verdicts"]) == len(told["effects"]) == 2
    assert told["composite"][0]["outcomes"] == 2
    table = CliRunner().invoke(read_command, ["oxmere-2013"])
    assert table.exit_code == 0 and "2 together" in table.stdout
    sheet = CliRunner().invoke(read_command, ["oxmere-2013", "--format", "csv"])
    assert sheet.stdout.startswith("study,")


def test_unknown_study(shipped):
    with pytest.raises(UsageError):
        shipped.read("no-such-study")
