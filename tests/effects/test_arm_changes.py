"""Changes inside arms: over each arm's own SD as papers print them, or over one SD shared."""

from __future__ import annotations

import numpy as np
import pytest

from steelyard import open_library
from steelyard.effects import PrePost
from steelyard.effects.arm_changes import arm_changes
from steelyard.effects.within_group import change_over_shared_sd
from steelyard.errors import DesignError
from tests.small_library import question, result, study

# The slow arm gains less, yet more of its own smaller SDs.
BODY = result("slow", pre="{ mean = 90, sd = 16 }", post="{ mean = 101, sd = 16 }", r="0.8")
BODY += result("usual", pre="{ mean = 88, sd = 22 }", post="{ mean = 101, sd = 22 }", r="0.8")


def changes_and_row(folder, body=BODY, *, more="", by_comparison=True, **words):
    study(folder, "one", body, **words)
    question(folder, more=more)
    library = open_library(folder)
    rows = library.effect_table("asked").rows
    records = library.records
    found = arm_changes(
        rows, records.studies.values(), records.questions["asked"], by_comparison=by_comparison
    )
    return found.set_index("arm"), rows.iloc[0]


@pytest.mark.parametrize("better", ["higher", "lower"])
def test_changes_of_a_comparison_differ_by_its_effect(tmp_path, better):
    arms, row = changes_and_row(tmp_path, better=better, n_slow=14)
    difference = arms.loc["slow", "change"] - arms.loc["usual", "change"]
    assert difference == pytest.approx(row["effect"], rel=1e-12)
    # By hand: gains of 11 and 13 over √((13·16² + 19·22²)/32), with J on 32.
    sd, factor = np.sqrt((13 * 16**2 + 19 * 22**2) / 32), 1 - 3 / 127
    turn = 1 if better == "higher" else -1
    assert list(arms["change"]) == pytest.approx([turn * factor * g / sd for g in (13, 11)])


def test_over_their_own_sds_the_smaller_gain_looks_the_larger(tmp_path):
    arms, row = changes_and_row(tmp_path, by_comparison=False)
    assert arms.loc["slow", "change"] > arms.loc["usual", "change"]
    assert row["effect"] < 0


def test_each_comparison_of_three_arms_has_an_sd_of_its_own(tmp_path):
    third = '[[arm]]\nid = "also"\ntags = ["slow"]\nn = 12\n'
    body = third + BODY
    body += result("also", pre="{ mean = 90, sd = 10 }", post="{ mean = 99, sd = 11 }", r="0.8")
    study(tmp_path, "one", body)
    question(tmp_path)
    library = open_library(tmp_path)
    rows = library.effect_table("asked").rows
    records = library.records
    found = arm_changes(
        rows, records.studies.values(), records.questions["asked"], by_comparison=True
    )
    assert len(found) == 2 * len(rows) == 4
    for row in rows.itertuples():
        arms = found[found["comparison"] == row.comparison].set_index("arm")["change"]
        assert arms[row.intervention] - arms[row.comparator] == pytest.approx(row.effect)


@pytest.mark.parametrize("kind", ["crossover", "within-person"])
def test_the_same_people_share_their_degrees_of_freedom(tmp_path, kind):
    arms, row = changes_and_row(tmp_path, kind=kind)
    difference = arms.loc["slow", "change"] - arms.loc["usual", "change"]
    assert difference == pytest.approx(row["effect"], rel=1e-12)


@pytest.mark.parametrize("metric", ["raw", "percent"])
def test_other_metrics_have_no_sd_to_share(tmp_path, metric):
    more = f'metric = "{metric}"'
    one, _ = changes_and_row(tmp_path / "a", more=more)
    other, _ = changes_and_row(tmp_path / "b", more=more, by_comparison=False)
    assert list(one["change"]) == list(other["change"])


def test_an_arm_that_does_not_train_has_its_own_assumed_r(tmp_path):
    body = BODY.replace("r = 0.8\n", "")
    path = study(tmp_path, "one", body)
    path.write_text(path.read_text().replace('["usual"]', '["usual", "no-training"]'))
    question(tmp_path, more='metric = "raw"')
    library = open_library(tmp_path)
    rows = library.effect_table("asked").rows
    records = library.records
    arms = arm_changes(rows, records.studies.values(), records.questions["asked"])
    arms = arms.set_index("arm")
    assert arms["r_assumed"].all()
    # s_Δ² = 2·s²·(1 − r), defaults 0.85 for strength trained and 0.90 untrained.
    assert arms.loc["slow", "variance"] == pytest.approx(2 * 16**2 * 0.15 / 20)
    assert arms.loc["usual", "variance"] == pytest.approx(2 * 22**2 * 0.10 / 20)


def test_standard_error_in_simulation():
    draw = np.random.default_rng(19)
    repeats, r, groups = 40_000, 0.85, []
    for n, gain in ((8, 0.6), (11, 0.0)):
        pre = draw.standard_normal((repeats, n))
        post = r * pre + np.sqrt(1 - r**2) * draw.standard_normal((repeats, n)) + gain
        sds = [scores.std(axis=1, ddof=1) for scores in (pre, post)]
        off = [scores - scores.mean(axis=1, keepdims=True) for scores in (pre, post)]
        found_r = (off[0] * off[1]).sum(axis=1) / ((n - 1) * sds[0] * sds[1])
        sizes = np.full(repeats, n)
        groups.append(PrePost(sizes, pre.mean(axis=1), sds[0], post.mean(axis=1), sds[1], found_r))
    sd = np.sqrt((7 * groups[0].pre_sd ** 2 + 10 * groups[1].pre_sd ** 2) / 17)
    found = change_over_shared_sd(groups[0], scale_sd=sd, scale_df=17)
    assert found.effect.mean() == pytest.approx(0.6, abs=0.005)
    assert np.sqrt(found.variance.mean()) == pytest.approx(found.effect.std(), rel=0.03)
    with pytest.raises(DesignError, match="degrees of freedom of the SD"):
        change_over_shared_sd(groups[0], scale_sd=sd, scale_df=2)
