"""Counts of a question pooled as counts."""

import numpy as np
import pytest

from steelyard.errors import DesignError
from steelyard.pooling.count_pool import count_pool


def test_shipped_counts_by_hand(shipped):
    # The odds ratio summed by hand over the studies' printed counts: sum(ad/N) / sum(bc/N).
    weighing = shipped.weigh("slow-lowering-strains")
    found = count_pool(weighing, shipped.studies)
    assert found.pooled.measure == "risk-ratio"
    assert "ashlocke-2021" in found.left_out
    assert found.widened == ("eskerholt-2019",)
    top = bottom = 0.0
    rows = weighing.effects[weighing.effects["used"]]
    for row in rows.drop_duplicates(["study", "intervention", "comparator"]).itertuples():
        study, got = shipped.studies[row.study], []
        for arm in (row.intervention, row.comparator):
            for result in study.results:
                same = (result.outcome, result.arm) == (row.outcome, arm)
                if same and float(result.week) == row.week and result.events is not None:
                    got.append((float(result.events), float(result.n or study.arm(arm).n)))
        if len(got) < 2:
            continue
        (a, n1), (c, n2) = got
        top += a * n2 / (n1 + n2)
        bottom += c * n1 / (n1 + n2)
    assert found.pooled.estimate == pytest.approx(np.log(top / bottom), rel=1e-12)
    assert "nothing added" in str(found) and "not allowed for: eskerholt-2019" in str(found)


def test_only_counts_are_pooled_as_counts(shipped):
    with pytest.raises(DesignError, match="none of counts"):
        count_pool(shipped.weigh("short-rest-size"), shipped.studies)
