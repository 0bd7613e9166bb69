"""Parts of a group printed with SE or interval give what their SDs give."""

from __future__ import annotations

import statistics
from math import sqrt

import pytest
from pydantic import ValidationError
from scipy.stats import t

from steelyard.records.study import Subgroup
from steelyard.reporting.summary import combine_subgroups

# Raw scores, invented; the answer is the SD of all of them at once.
PARTS = ((10.0, 20.0, 30.0), (40.0, 55.0, 60.0, 61.0))


def printed(scores, style: str) -> Subgroup:
    n, mean, sd = len(scores), statistics.mean(scores), statistics.stdev(scores)
    level = {"ci90": 0.9, "ci95": 0.95, "ci99": 0.99}.get(style)
    if level is not None:
        half = float(t.ppf((1 + level) / 2, n - 1)) * sd / sqrt(n)
        return Subgroup(n=n, mean=mean, **{style: (mean - half, mean + half)})
    return Subgroup(n=n, mean=mean, **{style: sd if style == "sd" else sd / sqrt(n)})


@pytest.mark.parametrize("one", ["sd", "se", "ci90", "ci95", "ci99"])
@pytest.mark.parametrize("other", ["sd", "se", "ci95"])
def test_the_sd_of_everybody(one, other):
    combined = combine_subgroups([printed(PARTS[0], one), printed(PARTS[1], other)])
    everybody = [score for part in PARTS for score in part]
    assert combined.n.value == 7
    assert combined.mean.value == pytest.approx(statistics.mean(everybody), rel=1e-12)
    assert combined.sd.value == pytest.approx(statistics.stdev(everybody), rel=1e-9)
    assert combined.sd.tier == "derived"


def test_each_conversion_stands_before_the_sum():
    chain = combine_subgroups([printed(PARTS[0], "se"), printed(PARTS[1], "ci95")]).sd.chain
    assert chain[0] == "SE 5.774 × √3 = SD 10"
    assert "95 % interval" in chain[1] and chain[-1].startswith("combined (n 3, mean 20, SD 10;")


@pytest.mark.parametrize(
    ("spread", "said"),
    [
        ({}, "found none"),
        ({"sd": 3, "se": 1}, "found sd and se"),
        ({"ci95": (21, 30)}, "with the mean 20 inside"),
        ({"se": 0}, "above 0"),
    ],
)
def test_one_measure_of_spread_that_can_be(spread, said):
    with pytest.raises(ValidationError, match=said):
        Subgroup(n=3, mean=20, **spread)
