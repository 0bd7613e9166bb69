"""``steelyard weigh --by``: moderators beside the answer, and the curves of a dose question."""

import json

from tests.cli.test_commands import run
from tests.pooling.test_leaning_fits import DOSES, library


def test_moderators_stand_under_the_answer_and_in_json(tmp_path):
    library(tmp_path)
    asked = ("weigh", "asked", "--by", "year", "--by", "age_mean", "--library", tmp_path)
    shown = run(*asked)
    assert shown.returncode == 0
    assert "For whom and when: asked by year" in shown.stdout
    assert "By age_mean: cannot be told, since no paper" in shown.stdout
    year, age = json.loads(run(*asked, "--format", "json").stdout)["moderators"]
    assert "no paper under this question reports mean age" in age["refused"]
    assert year["at_fitted_effects"][1]["estimate"] > year["coefficients"][1]["estimate"]
    plain = json.loads(run("weigh", "asked", "--library", tmp_path, "--format", "json").stdout)
    assert "moderators" not in plain and "dose_response" not in plain


def test_an_unknown_moderator_is_wrong_usage(tmp_path):
    library(tmp_path)
    done = run("weigh", "asked", "--by", "shoe_size", "--library", tmp_path)
    assert done.returncode == 2
    assert "no moderator 'shoe_size'; there are duration_weeks" in done.stderr
    assert not done.stdout


def test_a_dose_question_has_its_curves_in_json(tmp_path):
    library(tmp_path, doses=DOSES)
    asked = ("weigh", "asked", "--library", tmp_path, "--format", "json")
    found = json.loads(run(*asked).stdout)
    line = found["dose_response"]["forms"]["linear"]
    step, fitted = line["against_lowest"][0], line["at_fitted_effects"][0]
    assert abs(step["estimate"] - found["estimate"]) < 1e-6
    assert abs(fitted["estimate"] - found["alternatives"][-1]["estimate"]) < 1e-4
    for number in range(3, 8):
        (tmp_path / "studies" / f"s{number}.toml").unlink()
    few = json.loads(run(*asked).stdout)
    assert "needs at least 4 studies" in few["dose_response"]["refused"]
