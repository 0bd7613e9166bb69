"""A question weighed anew with one study more: the same answer as weighing all at once."""

import numpy as np
import pytest

from steelyard import open_library
from steelyard.effects.table import build_table
from steelyard.pooling.reweigh import reweigh
from tests.small_library import comparison, question, study

GRIP = '[[outcome]]\nid = "grip"\nconstruct = "strength"\nunit = "N"\n'
# Found by search: with two effects a study, the cluster-robust interval is the wider one at
# 95 %, and the common-effect one at 90 %.
CLOSE = {
    "ash": (0.38, 0.15, 0.38),
    "birch": (-0.45, 0.0, 0.46),
    "cedar": (-0.16, 0.04, 0.44),
    "elder": (-0.29, 0.04, 0.30),
}


def test_the_interval_that_decides_is_the_one_of_all_effects_together(tmp_path):
    for name, (peak, grip, error) in CLOSE.items():
        body = comparison(standardised=f"{{ value = {peak}, se = {error}, over = 'pre-sd' }}")
        body += comparison(
            outcome="grip", standardised=f"{{ value = {grip}, se = {error}, over = 'pre-sd' }}"
        )
        study(tmp_path, name, body, outcome_more=GRIP)
    question(tmp_path, more="smallest_worthwhile = 0.2\n[assume]\nr_between_outcomes = 0.6\n")
    library = open_library(tmp_path)
    whole = library.weigh("asked")
    assert whole.dependence == "multilevel"
    assert np.isfinite(whole.decisive.df) and np.isinf(whole.ninety.df)
    fewer = {name: each for name, each in library.studies.items() if name != "elder"}
    others = library.weigh_question(whole.question, studies=fewer)
    alone = build_table(whole.question, [library.studies["elder"]], library.vocabulary)
    again = reweigh(others, alone)
    assert (again.low, again.high) == pytest.approx((whole.low, whole.high))
    assert (again.low_90, again.high_90) == pytest.approx((whole.low_90, whole.high_90))
    assert again.equivalence.p == pytest.approx(whole.equivalence.p)
    assert again.verdict == whole.verdict
