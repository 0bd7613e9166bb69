"""Dose-response: a second route, recovery of known curves, coverage, and refusals in words."""

import numpy as np
import pytest
from scipy.linalg import block_diag

from steelyard.errors import DesignError
from steelyard.pooling import dose_slope, pool
from steelyard.pooling.dose_answer import dose_answer
from steelyard.pooling.dose_data import dose_data
from steelyard.pooling.dose_forms import dose_basis
from steelyard.pooling.dose_response import dose_response


def _simulated(rng, curve, *, studies=14, slope_sd=0.0, arm_variance=0.01):
    """Studies of three arms; differences from the lowest share its error."""
    y, blocks, dose, start, labels = [], [], [], [], []
    for study in range(studies):
        doses = np.sort(rng.choice(np.arange(2, 25, 2.0), 3, replace=False))
        own = rng.normal(0, slope_sd)
        arms = curve(doses) + own * doses + rng.normal(0, np.sqrt(arm_variance), 3)
        y += list(arms[1:] - arms[0])
        blocks.append(arm_variance * (np.eye(2) + 1))
        dose += list(doses[1:])
        start += [doses[0]] * 2
        labels += [study] * 2
    return np.array(y), block_diag(*blocks), np.array(dose), np.array(start), labels


def _fit(data, form="linear", **options):
    y, v, dose, start, labels = data
    return dose_response(y, v, dose=dose, reference_dose=start, study=labels, form=form, **options)


@pytest.mark.parametrize("slope_sd", [0.0, 0.02])
def test_one_stage_equals_two_stages_for_a_line(slope_sd):
    # An identity: with one column, pooling the studies' own slopes is the same model.
    data = _simulated(np.random.default_rng(3), lambda d: 0.05 * d, slope_sd=slope_sd)
    y, v, dose, start, labels = data
    slopes = []
    for study in dict.fromkeys(labels):
        at = [place for place, label in enumerate(labels) if label == study]
        slopes.append(
            dose_slope(y[at], covariance=v[np.ix_(at, at)], dose_difference=(dose - start)[at])
        )
    two = pool([each.slope for each in slopes], [each.variance for each in slopes])
    one = _fit(data)
    assert one.coefficients[0] == pytest.approx(two.estimate, rel=1e-6)
    assert one.tau2 == pytest.approx(two.tau2, rel=1e-4, abs=1e-12)
    step = one.curve([one.lowest + 1])
    assert step.low[0] == pytest.approx(two.low, rel=1e-5)
    assert step.high[0] == pytest.approx(two.high, rel=1e-5)


def test_permuting_studies_changes_nothing():
    y, v, dose, start, labels = _simulated(np.random.default_rng(8), lambda d: 0.04 * d)
    order = np.random.default_rng(9).permutation(y.size)
    once = _fit((y, v, dose, start, labels), "spline")
    again = _fit(
        (y[order], v[np.ix_(order, order)], dose[order], start[order], [labels[o] for o in order]),
        "spline",
    )
    assert again.coefficients == pytest.approx(once.coefficients, rel=1e-8)
    assert again.covariance == pytest.approx(once.covariance, rel=1e-6)


def test_which_arm_is_the_reference_does_not_matter():
    # Differences from the highest arm instead of the lowest hold the same information.
    data = _simulated(np.random.default_rng(8), lambda d: 0.04 * d, slope_sd=0.02)
    y, v, dose, start, labels = data
    turn = np.array([[0.0, -1.0], [1.0, -1.0]])
    turned = block_diag(*[turn] * (y.size // 2))
    middle, high, low = dose[0::2], dose[1::2], start[0::2]
    fitted = _fit(
        (
            turned @ y,
            turned @ v @ turned.T,
            np.column_stack([low, middle]).ravel(),
            np.repeat(high, 2),
            labels,
        )
    )
    once = _fit(data)
    assert fitted.coefficients == pytest.approx(once.coefficients, rel=1e-7)
    assert fitted.covariance == pytest.approx(once.covariance, rel=1e-5)


def test_units_of_dose_and_effect():
    data = _simulated(np.random.default_rng(4), lambda d: 0.05 * d, slope_sd=0.01)
    y, v, dose, start, labels = data
    one = _fit(data).curve([10.0], reference=4.0)
    other = _fit((100 * y, 1e4 * v, 60 * dose, 60 * start, labels)).curve([600.0], reference=240.0)
    for name in ("estimate", "low", "high"):
        assert getattr(other, name)[0] == pytest.approx(100 * getattr(one, name)[0], rel=1e-6)


def test_a_known_curve_is_recovered():
    # 60 studies of a levelling curve, noise SD 0.02 an arm: the log form finds its slope within
    # three standard errors and fits better than a line.
    data = _simulated(
        np.random.default_rng(6), lambda d: 0.3 * np.log(d), studies=60, arm_variance=4e-4
    )
    log, line = (_fit(data, form) for form in ("log", "linear"))
    assert abs(log.coefficients[0] - 0.3) < 3 * np.sqrt(log.covariance[0, 0])
    assert log.aic < line.aic - 10
    doses = np.array([4.0, 8.0, 16.0, 24.0])
    truth = 0.3 * np.log(doses / 2)
    assert log.curve(doses, reference=2.0).estimate == pytest.approx(truth, abs=0.02)


def test_a_spline_recovers_its_own_curve():
    # Truth in the form itself, knots at 4, 13 and 22 as nearly as the doses drawn put them.
    basis = dose_basis("spline", np.arange(2.0, 25.0))
    slopes = np.array([0.06, -0.05])
    data = _simulated(
        np.random.default_rng(6), lambda d: basis.columns(d) @ slopes, studies=60, arm_variance=4e-4
    )
    doses = np.array([4.0, 8.0, 16.0, 24.0])
    truth = (basis.columns(doses) - basis.columns([2.0])) @ slopes
    found = _fit(data, "spline").curve(doses, reference=2.0)
    assert found.estimate == pytest.approx(truth, abs=0.03)


@pytest.mark.parametrize(("form", "studies"), [("linear", 8), ("spline", 12)])
def test_the_band_covers_the_truth(form, studies):
    # 95 % nominal at 160 draws: binomial SD 1.7 points, so 90 % is three short; slopes vary
    # between studies. Wide bands are allowed: with few studies the floor bites.
    rng = np.random.default_rng(12)
    inside = 0
    for _ in range(160):
        data = _simulated(rng, lambda d: 0.05 * d, studies=studies, slope_sd=0.02)
        fit = _fit(data, form)
        top = fit.curve([fit.highest])
        truth = 0.05 * (fit.highest - fit.lowest)
        inside += top.low[0] <= truth <= top.high[0]
    assert inside / 160 >= 0.90


def test_slopes_between_studies_are_recovered():
    # tau2 of 0.02² by REML over 120 studies: its standard error is about 15 %.
    data = _simulated(np.random.default_rng(7), lambda d: 0.05 * d, studies=120, slope_sd=0.02)
    assert _fit(data).tau2 == pytest.approx(4e-4, rel=0.45)


def test_never_beyond_the_doses_studied():
    fit = _fit(_simulated(np.random.default_rng(1), lambda d: 0.05 * d))
    with pytest.raises(DesignError, match="nothing can be said about 40"):
        fit.curve([10.0, 40.0])
    with pytest.raises(DesignError, match="nothing can be said"):
        fit.curve([10.0], reference=0.0)


def test_spline_is_straight_beyond_its_knots_and_knows_its_places():
    basis = dose_basis("spline", np.arange(1.0, 21.0))
    assert basis.knots == pytest.approx(np.quantile(np.arange(1.0, 21.0), [0.1, 0.5, 0.9]))
    for doses in (np.array([1.0, 1.5, 2.0]), np.array([18.5, 19.25, 20.0])):
        bend = basis.columns(doses)[:, 1]
        assert bend[2] - bend[1] == pytest.approx(bend[1] - bend[0], abs=1e-12)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"studies": 3}, "at least 4 studies"),
        ({"form": "spline", "studies": 7}, "2 coefficients and needs at least 8 studies"),
        ({"form": "square"}, "form must be one of"),
    ],
)
def test_more_than_the_studies_bear_is_refused(change, words):
    studies = change.pop("studies", 10)
    data = _simulated(np.random.default_rng(2), lambda d: 0.05 * d, studies=studies)
    with pytest.raises(DesignError, match=words):
        _fit(data, **change)


def test_bad_numbers_are_refused():
    y, v, dose, start, labels = _simulated(np.random.default_rng(2), lambda d: 0.05 * d)
    with pytest.raises(DesignError, match="equals its reference dose"):
        _fit((y, v, start, start, labels))
    with pytest.raises(DesignError, match="not below 0"):
        _fit((y, v, dose - 30, start, labels))
    with pytest.raises(DesignError, match="positive semidefinite"):
        _fit((y, v + 2 * (v - np.diag(np.diag(v))), dose, start, labels))
    with pytest.raises(DesignError, match="finite"):
        _fit((y + np.nan, v, dose, start, labels))


def test_few_studies_carry_a_note():
    fit = _fit(_simulated(np.random.default_rng(2), lambda d: 0.05 * d, studies=6))
    assert "easily chance" in " ".join(fit.notes)


def test_the_shipped_dose_question(shipped):
    weighing = shipped.weigh("weekly-sets-size")
    answer = dose_answer(weighing, shipped.studies.values())
    step = answer.fit.curve([answer.fit.lowest + answer.step])
    # Same model as the weighing's pooled slopes.
    assert step.estimate[0] == pytest.approx(weighing.estimate, rel=1e-6)
    assert (step.low[0], step.high[0]) == pytest.approx((weighing.low, weighing.high), rel=1e-5)
    data = dose_data(answer)
    assert data.points["dose"].min() == data.evidence_low
    assert data.points["dose"].max() == data.evidence_high
    for form in data.forms:
        assert form.curve["dose"].iloc[[0, -1]].tolist() == [data.evidence_low, data.evidence_high]
    assert "no evidence for the dose" in answer.between_sentence
    assert "nothing was studied" in answer.sentence


def test_a_question_without_a_dose_is_refused(shipped):
    with pytest.raises(DesignError, match="names no dose"):
        dose_answer(shipped.weigh("short-rest-size"), shipped.studies.values())
