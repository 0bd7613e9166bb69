import numpy as np
import pytest

from steelyard.errors import DesignError
from steelyard.reporting import change_sd_from_r, r_from_sds

PRE = np.array([212.0, 240.0, 198.0, 255.0, 221.0, 230.0, 205.0])
POST = np.array([225.0, 251.0, 219.0, 262.0, 240.0, 236.0, 214.0])


def test_raw_scores():
    sds = [x.std(ddof=1) for x in (PRE, POST, POST - PRE)]
    r = np.corrcoef(PRE, POST)[0, 1]
    assert r_from_sds(*sds).value == pytest.approx(r, rel=1e-10)
    assert change_sd_from_r(*sds[:2], r=r).value == pytest.approx(sds[2], rel=1e-10)


def test_an_assumed_correlation_makes_the_result_imputed():
    assert change_sd_from_r(30, 32, r=0.8, r_from="reported").tier == "derived"
    assumed = change_sd_from_r(30, 32, r=0.8, r_from="assumed")
    assert assumed.tier == "imputed"
    assert "pre-post correlation 0.8 assumed" in assumed.chain


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: r_from_sds(10, 10, 21), r"correlation implied by the SDs .* got -1\.205"),
        (lambda: r_from_sds(10, 14, 2), "correlation implied by the SDs"),
        (lambda: r_from_sds(0, 14, 2), "pre SD must be greater than 0; got 0"),
        (lambda: change_sd_from_r(10, 12, r=1), "pre-post correlation must lie strictly"),
        (lambda: change_sd_from_r(10, 12, r=0.5, r_from="hoped"), "r_from must be one of"),
    ],
)
def test_refusals(call, message):
    with pytest.raises(DesignError, match=message):
        call()
