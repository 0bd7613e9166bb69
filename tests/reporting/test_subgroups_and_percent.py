from decimal import Decimal
from types import SimpleNamespace

import numpy as np
import pytest

from steelyard.errors import DesignError
from steelyard.records.study import Result
from steelyard.reporting import (
    Number,
    combine_groups,
    log_change_from_percent,
    percent_change,
    percent_to_log_change,
    post_mean_from_percent,
    split_control,
    weakest_tier,
)
from steelyard.reporting.summary import summarise


def test_combining_is_exact_for_raw_scores():
    draw = np.random.default_rng(41)
    parts = [draw.normal(mean, 5, n) for mean, n in ((50, 7), (58, 12), (41, 4))]
    found = combine_groups([(len(x), x.mean(), x.std(ddof=1)) for x in parts])
    everyone = np.concatenate(parts)
    assert found.n.value == 23
    assert found.mean.value == pytest.approx(everyone.mean(), rel=1e-12)
    assert found.sd.value == pytest.approx(everyone.std(ddof=1), rel=1e-12)


def test_combining_two_groups_by_the_handbook_formula_written_out():
    n1, m1, s1, n2, m2, s2 = 10, 11.8, 2.4, 20, 15.3, 3.2
    between = n1 * n2 / (n1 + n2) * (m1**2 + m2**2 - 2 * m1 * m2)
    written_out = np.sqrt(((n1 - 1) * s1**2 + (n2 - 1) * s2**2 + between) / (n1 + n2 - 1))
    assert combine_groups([(n1, m1, s1), (n2, m2, s2)]).sd.value == pytest.approx(written_out)


def test_split_control():
    found = split_control(19, comparisons=2)
    assert found.value == 9.5
    assert found.chain[0] == "control n 19 / 2 comparisons = 9.5 for each"


def test_percent_there_and_back():
    percent = percent_change(212.0, 236.4)
    assert percent.value == pytest.approx(100 * 24.4 / 212)
    assert post_mean_from_percent(212.0, percent=percent.value).value == pytest.approx(236.4)
    assert "not the mean of people's own" in percent.chain[1]


def test_log_change_in_simulation():
    draw = np.random.default_rng(42)
    percents = draw.normal(12, 6, 200_000)
    logs = np.log1p(percents / 100)
    found = log_change_from_percent(Number.printed(12.0), sd=Number.printed(6.0))
    # The log of the mean ratio is above the mean of logs by about half the SD squared, 0.0014.
    assert found.mean.value == pytest.approx(logs.mean(), abs=0.002)
    assert found.sd.value == pytest.approx(logs.std(), rel=0.02)


def test_recorded_percent_change_with_any_spread():
    blank = dict.fromkeys(("sd", "se", "ci90", "ci95", "ci99", "ci_by", "of"))
    by_sd = percent_to_log_change(SimpleNamespace(**{**blank, "mean": 12.0, "sd": 6.0}), n=16)
    by_se = percent_to_log_change(SimpleNamespace(**{**blank, "mean": 12.0, "se": 1.5}), n=16)
    # t on 15 degrees of freedom is 2.13145: 12 ± 2.13145 × 1.5.
    limits = (12 - 2.13145 * 1.5, 12 + 2.13145 * 1.5)
    by_interval = percent_to_log_change(
        SimpleNamespace(**{**blank, "mean": 12.0, "ci95": limits}), n=16
    )
    assert by_se.sd.value == pytest.approx(by_sd.sd.value, rel=1e-12)
    assert by_interval.sd.value == pytest.approx(by_sd.sd.value, rel=1e-5)
    with pytest.raises(DesignError, match="SD, SE or interval"):
        percent_to_log_change(SimpleNamespace(**{**blank, "mean": 12.0}), n=16)


def test_a_chain_is_as_firm_as_its_weakest_link():
    assert weakest_tier("reported", "imputed", "derived") == "imputed"
    assert weakest_tier("derived", "bounded") == "bounded"
    weak = log_change_from_percent(Number(12.0, "read-off-figure", ()), sd=Number.printed(6.0))
    assert weak.mean.tier == "read-off-figure"
    assert weak.sd.tier == "derived"


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: combine_groups([(10, 5.0, 1.0)]), "at least two groups to combine; got 1"),
        (lambda: combine_groups([(10, 5.0, 1.0), (1, 5.0, 1.0)]), "n of group 2 must be at least"),
        (lambda: combine_groups([(10, 5.0, 0.0), (9, 5.0, 1.0)]), "SD of group 1 must be greater"),
        (lambda: split_control(10, comparisons=1), "number of comparisons must be at least 2"),
        (lambda: split_control(5, comparisons=3), "for each comparison must be at least 2"),
        (lambda: percent_change(0, 5), "pre mean must be greater than 0"),
        (lambda: post_mean_from_percent(50, percent=-100), "percent change must be greater"),
        (lambda: Number(1.0, "guessed", ()), "tier must be one of reported"),
    ],
)
def test_refusals(call, message):
    with pytest.raises(DesignError, match=message):
        call()


@pytest.mark.parametrize("percent", ["-100", "-180.5"])
def test_a_percent_of_means_that_leaves_nothing_is_told_and_not_used(percent):
    result = Result.model_validate(
        {
            "outcome": "peak",
            "arm": "one",
            "week": 0,
            "n": 8,
            "pre": {"mean": Decimal("40.5"), "sd": Decimal("6.1")},
            "change_percent": {"mean": Decimal(percent), "of": "means"},
        }
    )
    study = SimpleNamespace(results=(result,), arm=lambda _: SimpleNamespace(n=8))
    summary = summarise(study, result)
    assert summary.post is None and summary.change is None
    assert summary.pre.mean.value == 40.5
    shown = f"percent change must be greater than -100; got {float(percent):g}; not used"
    assert summary.troubles == (shown,)
