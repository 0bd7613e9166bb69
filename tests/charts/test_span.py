"""The visible span keeps what must be seen, cuts what would squash, and ticks sensibly."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from steelyard.charts.span import choose_span, even_span, tick_text

MODEST = st.floats(-50, 50)


@given(st.lists(MODEST, min_size=1, max_size=40), st.lists(MODEST, min_size=1, max_size=4))
def test_kept_values_and_ticks_lie_inside(estimates, keep):
    lows, highs = [e - 1 for e in estimates], [e + 1 for e in estimates]
    span = choose_span(estimates, lows, highs, keep=keep, scale="linear")
    assert all(span.low <= value <= span.high for value in keep)
    assert all(span.low - 1e-9 <= tick <= span.high + 1e-9 for tick in span.ticks)
    assert 2 <= len(span.ticks) <= 7


@given(st.lists(st.floats(-6, 6), min_size=1, max_size=40))
def test_ratio_ticks_lie_inside(logs):
    ratios = [2.0**value for value in logs]
    span = choose_span(
        ratios, [r / 1.5 for r in ratios], [r * 1.5 for r in ratios], keep=[1.0], scale="log"
    )
    assert span.low < 1 < span.high
    assert 1.0 in span.ticks
    assert 2 <= len(span.ticks) <= 7
    assert list(span.ticks) == sorted(span.ticks)


def test_ratios_get_ratio_ticks():
    span = choose_span([0.5, 1, 2], [0.26, 0.5, 1], [1, 2, 3.9], keep=[1], scale="log")
    assert set(span.ticks) >= {0.5, 1.0, 2.0}


@given(st.floats(-14, 0), st.floats(0, 14), st.integers(5, 8))
def test_ratio_ticks_are_short_and_far_enough_apart(low, high, most):
    low, high = 2.0 ** (low - 0.1), 2.0 ** (high + 0.1)
    span = choose_span([1.0], [low], [high], keep=[low, 1, high], scale="log", max_ticks=most)
    texts = [tick_text(tick, signed=False) for tick in span.ticks]
    assert 2 <= len(texts) <= most
    for text in texts:
        assert len(text.replace(".", "").replace(",", "").strip("0")) <= 3
    places = [span.position(tick, 0.0, 330.0) for tick in span.ticks]
    assert min(b - a for a, b in pairwise(places)) > 20


def test_wide_ratios_step_by_one_two_five():
    span = choose_span([1.0], [0.03], [27], keep=[0.03, 1, 27], scale="log", max_ticks=8)
    assert span.ticks == (0.05, 0.2, 1.0, 5.0, 20.0)


def test_one_wild_interval_is_cut_but_ordinary_ones_are_not():
    span = choose_span(
        [0.1, 0.2, 0.3, 0.2], [-0.1, 0, 0.1, -9], [0.3, 0.4, 0.5, 9], keep=[0], scale="linear"
    )
    assert span.low <= -0.1 and span.high >= 0.5
    assert span.high < 2
    assert span.clip(9) == span.high


def test_preferred_values_widen_only_so_far():
    ordinary = ([0.1, 0.3], [-0.2, 0.0], [0.4, 0.6])
    near = choose_span(*ordinary, keep=[0], prefer=[-0.5, 0.8], scale="linear")
    far = choose_span(*ordinary, keep=[0], prefer=[-9, 9], scale="linear")
    assert near.low <= -0.5 and near.high >= 0.8
    assert far.high < 2


@pytest.mark.parametrize(
    ("value", "signed", "text"),
    [(-0.5, True, "−0.5"), (1, True, "+1"), (0, True, "0"), (2, False, "2")],
)
def test_tick_text(value, signed, text):
    assert tick_text(value, signed=signed) == text


@given(st.integers(0, 30), st.integers(0, 40), st.sampled_from([6, 10]))
def test_what_is_counted_in_ones_has_whole_ticks(low, more, most):
    span = even_span(low, low + more, max_ticks=most, margin=0.02, whole=True)
    assert span.ticks and all(tick.is_integer() for tick in span.ticks)
    assert len(span.ticks) <= most
    # From 3 to 24 sets in ten ticks at most, the even steps would be 2.5.
    assert 7.5 in even_span(3, 24, max_ticks=10, margin=0.02).ticks
