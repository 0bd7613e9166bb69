"""Long lines fitted to a terminal."""

from __future__ import annotations

import pytest

from steelyard.cli.wrapping import wrapped

ROW = "  told (2024-06-01)  " + " ".join(["words"] * 30)


def test_a_row_goes_on_below_what_it_says():
    lines = wrapped(ROW, width=80).split("\n")
    assert lines[0].startswith("  told (2024-06-01)  words")
    assert len(lines) > 2
    for line in lines[1:]:
        assert line.startswith(" " * 21 + "words")


@pytest.mark.parametrize("width", [60, 80, 120])
@pytest.mark.parametrize("text", [ROW, "a title of " + "many words " * 20, "- " + "x y " * 60])
def test_no_line_is_longer_than_the_terminal_and_no_word_is_lost(text, width):
    found = wrapped(text, width=width)
    assert max(map(len, found.split("\n"))) <= width
    assert found.split() == text.split()


def test_what_fits_stays_as_it_is():
    text = "a title\n\n  name   says this\n"
    assert wrapped(text, width=80) == text


def test_words_longer_than_the_terminal_are_not_broken():
    assert "x" * 90 in wrapped(f"  name  {'x' * 90} end", width=80)
