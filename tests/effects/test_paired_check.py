"""The shown comparison of paired variances: right ones near simulation, the common one far off."""

import pytest

from steelyard.effects.paired_check import paired_check, paired_table


def test_the_variance_used_is_near_simulation_and_the_common_one_is_not():
    found = {(each.people, each.r): each for each in paired_check()}
    for each in found.values():
        # Within 15 % at twelve people is what small paired trials are asked for (common practice).
        assert each.used == pytest.approx(each.simulated, rel=0.05)
    assert found[12, 0.9].common < 0.65 * found[12, 0.9].simulated
    assert found[24, 0.9].common < 0.70 * found[24, 0.9].simulated


def test_the_table_names_how_far_each_is_off():
    text = str(paired_table())
    assert "in common use" in text.lower()
    assert "%)" in text
