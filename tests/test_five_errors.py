"""The five errors of published meta-analyses of strength training, each caught or impossible.

Counted in the twenty most cited by Kadlec, D., Sainani, K. L. & Nimphius, S. (2023). With great
power comes great responsibility: common errors in meta-analyses and meta-regressions in
strength & conditioning research. Sports Medicine 53, 313-325, doi 10.1007/s40279-022-01766-0
(the five read in a stored public page): implausible outliers, a standard error taken for an SD,
correlated effects treated as independent, within-study variance ignored, within-group in place
of between-group effects. Each test writes a library and runs the command.
"""

from __future__ import annotations

import json
import subprocess
import sys
from math import sqrt

import numpy as np
import pytest

from steelyard import open_library
from steelyard.pooling import pool
from tests.small_library import comparison, question, result, study

GAINS = {"aldbury": 8, "benholm": 11, "carrick": 6, "dunmore": 9, "esthwaite": 12, "farley": 7}


def steelyard(*arguments):
    return subprocess.run(
        [sys.executable, "-m", "steelyard", *map(str, arguments)],
        capture_output=True,
        text=True,
        encoding="utf-8",
        timeout=120,
    )


def weigh(folder):
    done = steelyard("weigh", "asked", "--library", folder, "--format", "json")
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


def trial(folder, name, gain, *, spread="sd", size=20.0, n=16, more="", **words):
    """A two-arm trial of squat strength: `gain` kg with slow lowering, 4 kg without."""
    body = ""
    for arm, change in (("slow", gain), ("usual", 4)):
        body += result(
            arm,
            pre=f"{{ mean = 100.0, {spread} = {size} }}",
            post=f"{{ mean = {100 + change}.0, {spread} = {size + 0.7} }}",
            r="0.85",
        )
    study(folder, name, body + more, n_slow=n, n_usual=n, **words)


@pytest.fixture
def library(tmp_path):
    for name, gain in GAINS.items():
        trial(tmp_path, name, gain)
    question(tmp_path)
    return tmp_path


def test_implausible_outlier_is_named_and_the_answer_shown_without_it(library):
    assert "outlying-effect" not in steelyard("check", "--library", library).stdout
    trial(library, "gatley", 64)
    checked = steelyard("check", "--library", library).stdout
    (line,) = [line for line in checked.splitlines() if "outlying-effect" in line]
    assert "studies/gatley.toml" in line
    assert "robust SDs from its peers" in line
    told = steelyard("weigh", "asked", "--library", library).stdout
    assert "suspect numbers" in told
    without = open_library(library).weigh("asked").without_suspects
    (library / "studies" / "gatley.toml").unlink()
    assert without.estimate == pytest.approx(weigh(library)["estimate"], abs=1e-9)


def test_standard_error_taken_for_an_sd_is_caught_with_what_to_write(library):
    se = 5.0  # 20/√16
    trial(library, "gatley", 9, size=se)
    checked = steelyard("check", "--library", library).stdout
    lines = [line for line in checked.splitlines() if "standard-error-as-sd" in line]
    assert len(lines) == 2  # one for each arm
    line = lines[0]
    assert all("studies/gatley.toml" in each for each in lines)
    assert "if 5.0 is a standard error, the SD is 20" in line
    assert "write se = 5.0" in line
    wrong = open_library(library).effect_table("asked").rows.set_index("study")
    trial(library, "gatley", 9, size=se, spread="se")
    right = open_library(library).effect_table("asked").rows.set_index("study")
    # The error makes the effect √n times too large: own algebra.
    ratio = wrong.loc["gatley", "effect"] / right.loc["gatley", "effect"]
    assert ratio == pytest.approx(sqrt(16), rel=1e-9)
    assert "SE 5 × √16 = SD 20" in right.loc["gatley", "route"]
    assert "standard-error-as-sd" not in steelyard("check", "--library", library).stdout


def test_correlated_effects_are_not_counted_as_independent(library):
    for name, gain in (("gatley", 10), ("hexham", 8), ("ingleby", 13), ("jarrow", 5)):
        trial(library, name, gain)
    once = weigh(library)
    text = (library / "studies" / "aldbury.toml").read_text()
    outcome = text[text.index("[[outcome]]") : text.index("[[result]]")]
    results = text[text.index("[[result]]") :]
    for number in range(2, 6):
        name = f'"peak-{number}"'
        text = text.replace("[[result]]", outcome.replace('"peak"', name) + "[[result]]", 1)
        text += results.replace('"peak"', name)
    (library / "studies" / "aldbury.toml").write_text(text)
    again = weigh(library)
    assert (once["k_effects"], again["k_effects"], again["k_studies"]) == (10, 14, 10)
    # Ten studies, one of them with its rows five times over, which is no new evidence; one that
    # takes the rows for independent shrinks the SE by some 15 %.
    se = {name: told["standard_error"] for name, told in (("once", once), ("again", again))}
    assert again["estimate"] == once["estimate"]
    assert se["again"] == se["once"]
    assert "counted once: aldbury (4 effects)" in " ".join(again["assumptions"])
    rows = open_library(library).effect_table("asked").rows
    naive = pool(rows["effect"].to_numpy(float), rows["variance"].to_numpy(float))
    assert naive.standard_error < 0.9 * se["once"]
    # Told a little otherwise, they are outcomes of the same people.
    path = library / "studies" / "aldbury.toml"
    head, *blocks = path.read_text().split("[[result]]")
    for number, block in enumerate(blocks[2:]):
        blocks[number + 2] = block.replace("mean = 100.0", f"mean = 100.{number + 1}")
    path.write_text("[[result]]".join((head, *blocks)))
    nearly = weigh(library)
    assert nearly["assumptions"] != again["assumptions"]
    assert nearly["standard_error"] == pytest.approx(se["once"], rel=0.05)
    question(library, more='model = { dependence = "none" }')
    refused = steelyard("weigh", "asked", "--library", library)
    assert refused.returncode == 1
    assert "would count several effects of one study as independent" in refused.stderr


def test_within_study_variance_always_weighs(library):
    trial(library, "gatley", 9, n=160)
    told = weigh(library)
    weights = {row["study"]: row["weight"] for row in told["studies"]}
    assert weights["gatley"] > 2 * max(w for name, w in weights.items() if name != "gatley")
    effects = np.array([row["effect"] for row in told["effects"]])
    assert abs(told["estimate"] - effects.mean()) > 1e-4
    # A difference with nothing to tell its variance never enters, and its study is named.
    study(library, "hexham", comparison(difference="{ value = 40.0 }"))
    later = weigh(library)
    assert later["estimate"] == told["estimate"]
    (out,) = later["left_out"]
    assert out["study"] == "hexham"
    # Nor is there a setting that leaves variances out.
    question(library, more='model = { between = "unweighted" }')
    assert "questions/asked.toml" in steelyard("check", "--library", library).stdout


def test_change_inside_a_group_never_stands_for_an_effect(library):
    before = weigh(library)
    path = study(library, "gatley", "", kind="single-group")
    alone = path.read_text().replace('[[arm]]\nid = "usual"\ntags = ["usual"]\nn = 20\n', "")
    cells = {"pre": "{ mean = 100.0, sd = 20.0 }", "post": "{ mean = 130.0, sd = 21.0 }"}
    path.write_text(alone + result("slow", **cells, r="0.85"))
    after = weigh(library)
    assert after["estimate"] == before["estimate"]
    (out,) = after["left_out"]
    assert out["study"] == "gatley"
    assert "not an effect of training" in out["reason"]
    # "A improved (p < 0.05), B did not" gives the difference of the changes, not A's change.
    rows = open_library(library).effect_table("asked").rows.set_index("study")
    assert rows.loc["aldbury", "effect"] == pytest.approx(
        (1 - 3 / (4 * 30 - 1)) * (8 - 4) / 20.0, abs=1e-9
    )
    text = (library / "questions" / "asked.toml").read_text()
    (library / "questions" / "asked.toml").write_text(text.replace('comparator = "usual"\n', ""))
    checked = steelyard("check", "--library", library)
    assert checked.returncode == 1
    assert "a change inside one group is not an effect of training" in checked.stdout
