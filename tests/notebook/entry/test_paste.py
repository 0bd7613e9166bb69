"""Blocks pasted from spreadsheets and PDF tables."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from steelyard.notebook.entry.paste import PasteError, read_block
from steelyard.notebook.entry.state import ArmForm, OutcomeForm

ARMS = [ArmForm("a1", label="slow lowering"), ArmForm("a2", label="usual lifting")]
CELLS = {
    "a1|pre": "200.4 ± 30.1",
    "a1|post@12": "231.0 ± 32.0",
    "a2|pre": "204.0 ± 30.0",
    "a2|post@12": "215.0 ± 31.5",
}
ONE_CELL = "200.4 ± 30.1\t231.0 ± 32.0\n204.0 ± 30.0\t215.0 ± 31.5"


def outcome(**words) -> OutcomeForm:
    return OutcomeForm("o1", weeks="12", **words)


@pytest.mark.parametrize(
    "text",
    [
        ONE_CELL,
        ONE_CELL.replace("\n", "\r\n") + "\r\n\r\n",
        "200.4\t30.1\t231.0\t32.0\n204.0\t30.0\t215.0\t31.5",
        "\tBefore\tAfter\nslow lowering\t200.4 ± 30.1\t231.0 ± 32.0\n"
        "usual lifting\t204.0 ± 30.0\t215.0 ± 31.5",
        "usual lifting\t204.0 ± 30.0\t215.0 ± 31.5\nslow lowering\t200.4 ± 30.1\t231.0 ± 32.0",
        "usual\t204.0 ± 30.0\t215.0 ± 31.5\nslow\t200.4 ± 30.1\t231.0 ± 32.0",
        "Slow lowering 200.4 ± 30.1 231.0 ± 32.0\nUsual lifting 204.0 ± 30.0 215.0 ± 31.5",
        "200.4 ± 30.1    231.0 ± 32.0*\n204.0 ± 30.0    215.0 ± 31.5 †",
        "| slow lowering | 200.4 ± 30.1 | 231.0 ± 32.0 |\n"
        "| usual lifting | 204.0 ± 30.0 | 215.0 ± 31.5 |",
    ],
)
def test_the_same_table_in_many_guises(text):
    assert read_block(text, outcome(), ARMS).cells == CELLS


def test_n_may_come_first():
    text = "20\t200.4\t30.1\t231.0\t32.0\n21\t204.0\t30.0\t215.0\t31.5"
    block = read_block(text, outcome(), ARMS)
    assert block.cells == CELLS and block.sizes == {"a1": "20", "a2": "21"}


def test_intervals_in_brackets():
    columns = outcome(styles={"pre": "ci95", "post@12": "ci95"})
    text = "slow 200.4 (190.1 to 210.2) 231.0 (220 to 241)\nusual 204 (194, 214) 215 (205, 225)"
    cells = read_block(text, columns, ARMS).cells
    assert cells["a1|pre"] == "200.4 (190.1 to 210.2)" and cells["a2|post@12"] == "215 (205, 225)"


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "rows with numbers"),
        ("nothing here", "rows with numbers"),
        ("1 ± 2\t3 ± 4\n" * 10_000, "found 10,000"),
        ("1 ± 2\t3 ± 4\t5 ± 6", "expected 2 or 4 numbers"),
        ("1 ± 2\t3 ± x", "nothing was filled in"),
        ("1 ± 2\t<script>alert(1)</script>", "nothing was filled in"),
        ("9" * 300_000, "characters"),
    ],
)
def test_what_does_not_fit_is_said_and_nothing_filled_in(text, said):
    with pytest.raises(PasteError, match=said):
        read_block(text, outcome(), ARMS)


@given(st.text(alphabet="0123456789.,±()[]-–\t\n ;|abcSD%<>²", max_size=300))
def test_anything_gives_a_block_or_a_message(text):
    try:
        block = read_block(text, outcome(), ARMS)
    except PasteError as error:
        assert 0 < len(str(error)) < 600
    else:
        assert set(block.cells) <= set(CELLS)
