"""Sizes turned into things, against published figures."""

from __future__ import annotations

import pytest

from steelyard.effects.magnitude import (
    ANY_FIELD,
    BETWEEN_PROGRAMMES,
    CHANGE,
    CORRELATION,
    CORRELATIONS,
    DIFFERENCE,
    RHEA,
)
from steelyard.explaining.own_result import smallest_detectable_change, standard_error_from_icc
from steelyard.explaining.sizes import (
    Spanned,
    chance_of_superiority,
    on_change_scale,
    people_for_one_better,
    people_for_one_more,
)


def point(value):
    return Spanned(value, value, value)


def test_heights_of_men_and_women():
    """McGraw & Wong (1992), height example: 69.7 (SD 2.8) and 64.3 (SD 2.6) inches, z 1.41 and
    0.92. Digits recalled, the page was not seen; recomputed from the formula, z 1.4132446 and
    0.92120809. The formula here takes d = z·√2."""
    z = (69.7 - 64.3) / (2.8**2 + 2.6**2) ** 0.5
    assert z == pytest.approx(1.41, abs=0.005)
    chance = chance_of_superiority(point(z * 2**0.5)).value / 100
    assert chance == pytest.approx(0.92, abs=0.005)
    assert chance == pytest.approx(0.92120809, abs=1e-7)


@pytest.mark.parametrize(
    ("effect", "of_100"),
    # 0.14, 0.29 and 0.51 as 54, 58 and 64 of 100: recomputed from the formula, no page seen.
    [(0.14, 54), (0.29, 58), (0.51, 64)],
)
def test_thresholds_as_chances(effect, of_100):
    assert chance_of_superiority(point(effect)).value == pytest.approx(of_100, abs=0.5)


def test_the_same_effect_on_two_scales():
    """0.2 at r 0.89: 56 of 100 by the spread between people, 62 by the spread of gains.
    Simulated values, given to whole percents."""
    assert chance_of_superiority(point(0.2)).value == pytest.approx(56, abs=0.5)
    assert chance_of_superiority(point(0.2), r=0.89).value == pytest.approx(62, abs=0.5)


@pytest.mark.parametrize(("r", "raw"), [(0.3, 1.18321596), (0.5, 1.0), (0.8, 0.63245553)])
def test_change_scale_and_back(r, raw):
    """Morris & DeShon (2002), equation 11, d_change 1 in raw units; from memory, recomputed from
    the formula only."""
    assert on_change_scale(raw, r=r) == pytest.approx(1, abs=1e-7)


@pytest.mark.parametrize(
    ("effect", "printed", "exact"),
    # Printed 8.9, 3.6 and 2.3 for 0.2, 0.5 and 0.8 (PMC9307914, Table 3, seen), after Kraemer &
    # Kupfer (2006). Another public page prints 5.2 for 0.5 under the same name: that is
    # 1/(U3 − 0.5) and not this formula.
    [(0.2, 8.9, 8.891819947), (0.5, 3.6, 3.618908782), (0.8, 2.3, 2.334308697)],
)
def test_people_for_one_more_win_than_loss(effect, printed, exact):
    found = people_for_one_better(point(effect)).value
    assert found == pytest.approx(exact, rel=1e-8)
    assert found == pytest.approx(printed, abs=0.05)


@pytest.mark.parametrize(
    ("effect", "expected"), [(0.2, 16.512666408), (0.5, 6.012579118), (0.8, 3.528577489)]
)
def test_people_for_one_more_with_a_known_share(effect, expected):
    """Furukawa & Leucht (2011), 20 of 100 without: formula only, no printed figure."""
    assert people_for_one_more(point(effect), share_anyway=0.2).value == pytest.approx(
        expected, rel=1e-8
    )


@pytest.mark.parametrize(
    ("effect", "word"),
    # Swinton & Murphy (2022), abstract of the preprint, seen: 0.14, 0.29, 0.51.
    [(0.13, "below small"), (0.14, "small"), (0.29, "medium"), (-0.51, "large")],
)
def test_words_for_differences_between_programmes(effect, word):
    assert BETWEEN_PROGRAMMES.word(effect, of=DIFFERENCE) == word
    assert BETWEEN_PROGRAMMES.name == "Swinton & Murphy 2022"


def words_of(table, cells, *, of):
    """Words just above and just below each cut of a table, as asked of it, and as printed."""
    asked, printed = [], []
    for word, low, high in cells:
        ends = [low + 1e-9, 50.0 if high is None else high - 1e-9]
        asked += [table.word(end, of=of) for end in ends]
        asked.append(table.word(-ends[0], of=of))
        printed += [word] * 3
    return asked, printed


@pytest.mark.parametrize(
    ("status", "cells"),
    # Rhea (2004), J Strength Cond Res 18, 918-920, Table 1: its heading was seen, the values are
    # from memory. Its first column leaves 1.9 to 2.0 to no word.
    [
        (
            "untrained",
            [
                ("trivial", 0.0, 0.50),
                ("small", 0.50, 1.25),
                ("moderate", 1.25, 1.9),
                ("between moderate and large", 1.9, 2.0),
                ("large", 2.0, None),
            ],
        ),
        (
            "recreational",
            [
                ("trivial", 0.0, 0.35),
                ("small", 0.35, 0.80),
                ("moderate", 0.80, 1.50),
                ("large", 1.5, None),
            ],
        ),
        (
            "highly-trained",
            [
                ("trivial", 0.0, 0.25),
                ("small", 0.25, 0.50),
                ("moderate", 0.50, 1.0),
                ("large", 1.0, None),
            ],
        ),
    ],
)
def test_words_for_gains_inside_one_group(status, cells):
    table = RHEA[status]
    asked, printed = words_of(table, cells, of=CHANGE)
    assert asked == printed
    # As printed: small from its edge, large only above it.
    assert table.word(cells[1][1], of=CHANGE) == "small"
    assert table.word(cells[-1][1], of=CHANGE) == cells[-2][0]
    assert table.name.startswith("Rhea 2004, ") and "recalled" in table.sourced


def test_the_last_printed_moderate_gain_of_the_untrained_is_moderate():
    assert RHEA["untrained"].word(1.9, of=CHANGE) == "moderate"


@pytest.mark.parametrize(
    ("table", "of", "edges"),
    # Hopkins et al. (2009), Med Sci Sports Exerc 41, 3-12. Standardised cut-points recalled; those
    # for r seen on a public page that cites them, not in the paper.
    [
        (ANY_FIELD, DIFFERENCE, (0.2, 0.6, 1.2, 2.0, 4.0)),
        (ANY_FIELD, CHANGE, (0.2, 0.6, 1.2, 2.0, 4.0)),
        (CORRELATIONS, CORRELATION, (0.1, 0.3, 0.5, 0.7, 0.9)),
    ],
)
def test_words_of_a_scale_for_any_field(table, of, edges):
    words = ("trivial", "small", "moderate", "large", "very large", "extremely large")
    cells = list(zip(words, (0.0, *edges), (*edges, None), strict=True))
    asked, printed = words_of(table, cells, of=of)
    assert asked == printed
    assert [table.word(edge, of=of) for edge in edges] == [*words[1:5], "very large"]
    assert table.name == "Hopkins et al. 2009"


def test_smallest_detectable_change():
    """SD 10 and ICC 0.91: SEM 3.0, detectable 8.3156. Weir (2005), formula from memory,
    recomputed only."""
    sem = standard_error_from_icc(10, icc=0.91)
    assert sem == pytest.approx(3.0, abs=1e-9)
    assert smallest_detectable_change(sem) == pytest.approx(8.3155757, abs=1e-6)


def test_weir_set_a():
    """Weir (2005), data set A: MSE 57.107, SEM 7.5569, detectable 20.9467. Data recalled, no
    printed result seen; the mean square equals that of his set B, which is the paper's design."""
    first = [146, 148, 170, 90, 157, 156, 176, 205]
    second = [140, 152, 152, 99, 145, 153, 167, 218]
    differences = [b - a for a, b in zip(first, second, strict=True)]
    mean = sum(differences) / 8
    error = (sum((d - mean) ** 2 for d in differences) / 7 / 2) ** 0.5
    assert error**2 == pytest.approx(57.107142857, abs=1e-6)
    assert smallest_detectable_change(error) == pytest.approx(20.946732442, abs=1e-6)
