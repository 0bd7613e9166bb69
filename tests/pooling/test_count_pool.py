"""Counts of a question pooled as counts."""

import numpy as np
import pytest

from steelyard import open_library
from steelyard.errors import DesignError
from steelyard.pooling.count_pool import count_pool
from tests.small_library import question, result, study


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
            for each in study.results:
                same = (each.outcome, each.arm) == (row.outcome, arm)
                if same and float(each.week) == row.week and each.events is not None:
                    got.append((float(each.events), float(each.n or study.arm(arm).n)))
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


def test_a_study_without_events_is_left_out_in_a_clean_sentence(tmp_path):
    for number, (one, other) in enumerate([(0, 3), (2, 5), (0, 0)]):
        body = result("slow", events=str(one)) + result("usual", events=str(other))
        study(tmp_path, f"s{number}", body)
    question(tmp_path, more='metric = "risk-ratio"')
    out = open_library(tmp_path).weigh("asked").left_out
    assert [each.study for each in out] == ["s2"]
    assert out[0].reason.endswith("got no events in both groups")
