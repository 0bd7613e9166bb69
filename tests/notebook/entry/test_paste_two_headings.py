"""Tables with two lines of headings: every number by what stands above and before it."""

from __future__ import annotations

import itertools

import pytest

from steelyard.notebook.entry.paste import PasteError, read_block
from tests.notebook.entry.test_paste_places import arms, outcome

CELLS = {
    "a1|pre": "200 ± 30",
    "a1|post@12": "220 ± 31",
    "a2|pre": "201 ± 29",
    "a2|post@12": "210 ± 32",
}
NUMBERS = {
    ("slow lowering", "Pre"): ("200", "30"),
    ("slow lowering", "Post"): ("220", "31"),
    ("usual lifting", "Pre"): ("201", "29"),
    ("usual lifting", "Post"): ("210", "32"),
}
ARMS, TIMES, MEASURES = ("slow lowering", "usual lifting"), ("Pre", "Post"), ("Mean", "SD")


def table(rows, upper, lower, *, merged: bool) -> str:
    """The numbers laid out with these names down the side and these in two lines above."""
    order = [(one, other) for one in upper for other in lower]
    repeated = [one if not merged or other == lower[0] else "" for one, other in order]
    lines = [["Group", *repeated], ["", *(other for _, other in order)]]
    for row in rows:
        cells = []
        for one, other in order:
            told = {row, one, other}
            (arm,), (time,) = told & set(ARMS), told & set(TIMES)
            mean, sd = NUMBERS[arm, time]
            cells.append(sd if "SD" in told else mean if "Mean" in told else f"{mean} ± {sd}")
        lines.append([row, *cells])
    return "\n".join("\t".join(line) for line in lines)


@pytest.mark.parametrize("merged", [True, False])
@pytest.mark.parametrize("names", list(itertools.permutations((ARMS, TIMES, MEASURES))))
@pytest.mark.parametrize("turned", list(itertools.product((1, -1), repeat=3)))
def test_whatever_stands_where_and_in_whatever_order(names, turned, merged):
    rows, upper, lower = (each[::turn] for each, turn in zip(names, turned, strict=True))
    found = read_block(table(rows, upper, lower, merged=merged), outcome(), arms())
    assert found.cells == CELLS and "Read by its two lines of headings" in found.message


@pytest.mark.parametrize("upper", [ARMS, TIMES])
def test_one_row_of_one_outcome(upper):
    lower = TIMES if upper is ARMS else ARMS
    text = table(["knee"], upper, lower, merged=True)
    found = read_block(text, outcome(), arms())
    assert found.cells == CELLS and "The row 'knee' was taken for this outcome" in found.message


def test_n_before_the_times_or_under_each():
    rows = "slow lowering\t20\t200\t30\t{0}220\t31\nusual lifting\t21\t201\t29\t{1}210\t32"
    once = "\tn\tPre\t\tPost\t\nGroup\t\tMean\tSD\tMean\tSD\n" + rows.format("", "")
    each = "\tPre\t\t\tPost\t\t\nGroup\tn\tMean\tSD\tn\tMean\tSD\n" + rows.format("20\t", "21\t")
    for text in (once, each):
        found = read_block(text, outcome(), arms())
        assert (found.cells, found.sizes) == (CELLS, {"a1": "20", "a2": "21"})
    with pytest.raises(PasteError, match="expected one n for each arm, found '20' and '19'"):
        read_block(each.replace("\t20\t220", "\t19\t220"), outcome(), arms())


@pytest.mark.parametrize(
    ("heading", "spread", "cell"),
    [
        ("SE", "6.7", "200 (SE 6.7)"),
        ("SEM", "6.7", "200 (SE 6.7)"),
        ("95% CI", "186 to 214", "200 (95 % CI 186 to 214)"),
        ("SD", "30", "200 ± 30"),
    ],
)
def test_a_spread_named_above_is_never_taken_for_the_columns_own(heading, spread, cell):
    text = f"\tPre\t\tPost\t\nGroup\tMean\t{heading}\tMean\t{heading}\n" + "\n".join(
        f"{arm}\t200\t{spread}\t200\t{spread}" for arm in ARMS
    )
    assert set(read_block(text, outcome(), arms()).cells.values()) == {cell}


@pytest.mark.parametrize(
    ("text", "said"),
    [
        # Post stands over one column, so that Pre would have two means.
        ("\tPre\t\t\tPost\n\tMean\tSD\tMean\tSD\nslow lowering\t1\t2\t3\t4", "a number twice"),
        ("\tPre\t\tPost\t\n\tMean\tMean\tSD\tSD\nslow lowering\t1\t2\t3\t4", "a number twice"),
        ("\tPre\t\tPost\t\n\tSD\tSE\tMean\tSD\nslow lowering\t1\t2\t3\t4", "one mean with one"),
        ("\tKnee\t\tHip\t\n\tPre\tPost\tPre\tPost\nslow lowering\t1\t2\t3\t4", "heading 'Knee'"),
        ("\tPre\t\n\tSD\tMean\nslow lowering\t2\t100", None),
        ("Group\tPre (mean ± SE)\tPost (mean ± SE)\nslow lowering\t1 ± 2\t3 ± 4", "say SE"),
        ("\tPre\t\tPost\t\n\tMean\tSD\tMean\tSD\nslow lowering\t\t2\t3\t4", "a mean beside '2'"),
    ],
)
def test_what_is_left_open_or_told_twice_is_refused(text, said):
    prints = ("pre",) if said is None else ("pre", "post")
    if said is None:
        assert read_block(text, outcome(prints=prints), arms()).cells == {"a1|pre": "100 ± 2"}
        return
    with pytest.raises(PasteError, match=said) as refused:
        read_block(text, outcome(prints=prints), arms())
    assert "nothing was filled in" in str(refused.value)


def test_headings_without_a_corner_are_not_read_one_column_aside():
    text = "\tPre\t\tPost\t\nMean\tSD\tMean\tSD\n" + "\n".join(
        "\t".join((arm, *NUMBERS[arm, "Pre"], *NUMBERS[arm, "Post"])) for arm in ARMS
    )
    found = read_block(text, outcome(), arms())
    assert found.cells == CELLS


def test_the_headings_tell_mean_from_sd_where_the_rows_have_no_names():
    text = "Pre\t\tPost\t\nSD\tMean\tSD\tMean\n30\t200\t31\t220\n29\t201\t32\t210"
    found = read_block(text, outcome(), arms())
    assert found.cells == CELLS and "went in the order of the arms" in found.message
