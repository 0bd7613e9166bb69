"""Breaking a text into lines loses nothing and keeps within the width."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from steelyard.charts.lettering import text_width, wrap, wrap_evenly

TEXT = st.text(alphabet="abc iW−–%é漢 ", max_size=120)


@given(TEXT, st.floats(30, 400), st.booleans())
def test_lines_fit_and_nothing_is_lost(text, width, bold):
    for breaking in (wrap, wrap_evenly):
        lines = breaking(text, width, size=12, bold=bold)
        assert "".join(lines).replace(" ", "") == text.replace(" ", "")
        assert all(text_width(line, 12, bold=bold) <= width for line in lines)
    assert len(wrap_evenly(text, width, size=12)) == len(wrap(text, width, size=12))


def test_a_no_break_space_is_kept_whole():
    room = text_width("95\u00a0%", 12) + 1
    assert wrap("in 95\u00a0% in", room, size=12) == ["in", "95\u00a0%", "in"]


def test_wider_letters_are_wider_and_bold_too():
    assert text_width("WWW", 12) > text_width("iii", 12)
    assert text_width("abc", 12, bold=True) > text_width("abc", 12)
