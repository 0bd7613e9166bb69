"""Dependence handled as it should be: split controls, bad covariances, many effects at once."""

import numpy as np
import pytest

from steelyard import open_library
from steelyard.errors import DesignError
from steelyard.pooling import pool_nested
from steelyard.pooling.turns import turns
from tests.small_library import question, result, study

GAINS = (5.0, 9.0, 2.0, 7.0, 11.0, 4.0, 8.0)


def _arms(gain, controls):
    """Arms of one study and their results; controls are (id, n), all with the same numbers."""
    body = result(
        "slow",
        pre="{ mean = 100.0, sd = 20.0 }",
        post=f"{{ mean = {100 + gain}, sd = 20.0 }}",
        r=0.8,
    )
    for arm, n in controls:
        if arm != "usual":
            body = f'[[arm]]\nid = "{arm}"\ntags = ["usual"]\nn = {n}\n' + body
        body += result(
            arm, pre="{ mean = 100.0, sd = 20.0 }", post="{ mean = 102.0, sd = 20.0 }", r=0.8
        )
    return body


def _library(folder, *, split):
    for number, gain in enumerate(GAINS):
        halves = number in split
        controls = [("usual", 20), ("usual-too", 20)] if halves else [("usual", 40)]
        body = _arms(gain, controls)
        study(folder, f"s{number}", body, n_slow=30 + number, n_usual=20 if halves else 40)
    question(folder, more='metric = "raw"\n[model]\ndependence = "auto"')
    return open_library(folder)


def test_splitting_a_control_in_two_changes_nothing(tmp_path):
    # Halves with the same mean and SD hold together what the whole holds.
    whole = _library(tmp_path / "whole", split=()).weigh("asked")
    halved = _library(tmp_path / "halved", split=(1, 4, 5)).weigh("asked")
    assert whole.dependence == halved.dependence == "single"
    assert halved.k_effects == whole.k_effects + 3
    for name in ("estimate", "standard_error", "low", "high", "tau2", "q", "prediction_low"):
        assert getattr(halved, name) == pytest.approx(getattr(whole, name), rel=1e-9), name
    assert halved.people == whole.people
    assert "several comparator arms of one study taken as one" in str(halved)


def test_one_study_with_forty_effects_does_not_take_the_pool():
    rng = np.random.default_rng(4)
    study_of = np.append(np.arange(8), np.repeat(8, 40))
    y = np.append(rng.normal(0.3, 0.2, 8), 0.9 + rng.normal(0, 0.05, 40))
    covariance = np.diag(np.full(48, 0.04))
    covariance[8:, 8:] = 0.04 * (0.6 + 0.4 * np.eye(40))
    found = pool_nested(y, covariance, study=study_of)
    assert found.weights[8:].sum() < 0.25
    assert np.isfinite([found.low, found.high, found.standard_error]).all()


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda v: v - 0.09 * (1 - np.eye(4)), "positive semidefinite"),
        (lambda v: v * np.nan, "finite"),
        (lambda v: v + np.triu(np.full((4, 4), 0.01), 1), "symmetric"),
        (lambda v: v * 0 + 0.04, "repeat others or follow from them"),
    ],
)
def test_a_covariance_that_is_none_is_refused_in_words(change, words):
    base = 0.04 * np.eye(4)
    with pytest.raises(DesignError, match=words):
        pool_nested([0.1, 0.2, 0.3, 0.4], change(base), study=["a"] * 4)


def test_a_likelihood_flat_or_at_its_bound_says_so():
    same = pool_nested([0.2] * 6, [0.04] * 6, study=["a", "a", "b", "b", "c", "c"])
    assert same.tau2 == 0
    assert "narrower" in " ".join(same.notes)
    single = pool_nested([0.2], [0.04], study=["a"])
    assert "no variance between studies" in " ".join(single.notes)


def test_leaving_out_studies_does_not_depend_on_their_order(tmp_path):
    found = turns(_library(tmp_path, split=(1, 4)).weigh("asked")).without.set_index("study")
    again = turns(_library(tmp_path, split=(1, 4)).weigh("asked")).without.set_index("study")
    assert found["estimate"].to_dict() == again["estimate"].to_dict()
    assert set(found.index) == {f"s{number}" for number in range(len(GAINS))}


def test_permuting_records_changes_nothing(tmp_path):
    forward = _library(tmp_path / "one", split=(2, 3)).weigh("asked")
    for number, gain in enumerate(GAINS):
        halves = number in (2, 3)
        controls = [("usual-too", 20), ("usual", 20)] if halves else [("usual", 40)]
        study(
            tmp_path / "two",
            f"z{len(GAINS) - number}",
            _arms(gain, controls),
            n_slow=30 + number,
            n_usual=20 if halves else 40,
        )
    question(tmp_path / "two", more='metric = "raw"\n[model]\ndependence = "auto"')
    backward = open_library(tmp_path / "two").weigh("asked")
    assert backward.estimate == pytest.approx(forward.estimate, rel=1e-9)
    assert backward.low == pytest.approx(forward.low, rel=1e-7)
