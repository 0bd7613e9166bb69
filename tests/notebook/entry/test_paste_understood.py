"""Every heading and name of a pasted table is understood to its last word, or refused in words."""

from __future__ import annotations

import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from steelyard.notebook.entry.cell import read_cell
from steelyard.notebook.entry.paste import PasteError, read_block
from steelyard.records.cells import decimal_marks
from tests.notebook.entry.test_paste_places import arms, outcome

SPLIT = "slow lowering\t{0}\nusual lifting\t{1}"
CELLS = {
    "a1|pre": "200 ± 30",
    "a1|post@12": "220 ± 31",
    "a2|pre": "201 ± 29",
    "a2|post@12": "210 ± 32",
}
BOTH = SPLIT.format("200 ± 30\t220 ± 31", "201 ± 29\t210 ± 32")
TURNED = SPLIT.format("220 ± 31\t200 ± 30", "210 ± 32\t201 ± 29")
MEAN_SD = SPLIT.format("200\t30\t220\t31", "201\t29\t210\t32")
MEANS_SDS = SPLIT.format("200\t220\t30\t31", "201\t210\t29\t32")


@pytest.mark.parametrize(
    "text",
    [
        "Group\tPre mean\tPre SD\tPost mean\tPost SD\n" + MEAN_SD,
        "Group\tPre SD\tPre mean\tPost SD\tPost mean\n"
        + SPLIT.format("30\t200\t31\t220", "29\t201\t32\t210"),
        "Group\tMean pre\tMean post\tSD pre\tSD post\n" + MEANS_SDS,
        "Group\tMean\t\tSD\t\n\tPre\tPost\tPre\tPost\n" + MEANS_SDS,
        "Group\tPre (mean ± SD)\tPost (mean ± SD)\n" + BOTH,
        "Variable Post Pre\n" + TURNED.replace("\t", " "),
        "Group Week 12 Week 0\n" + TURNED.replace("\t", " "),
        "Group After (mean ± SD) Before (mean ± SD)\n" + TURNED.replace("\t", " "),
        "Mean ± SD\nGroup\tPost\tPre\n" + TURNED,
        "Outcome\tMean ± SD\nslow lowering Post\t220 ± 31\nslow lowering Pre\t200 ± 30\n"
        "usual lifting Post\t210 ± 32\nusual lifting Pre\t201 ± 29",
        "\tslow lowering\t\tusual lifting\t\n\tPre\tPost\tPre\tPost\n"
        "Mean\t200\t220\t201\t210\nSD\t30\t31\t29\t32",
        "Group\tPre knee (N)\tPost knee (N)\n" + BOTH,
    ],
)
def test_headings_that_are_understood_place_every_number(text):
    block = read_block(text, outcome(label="knee", unit="N"), arms())
    assert block.cells == CELLS and block.sizes == {}


@pytest.mark.parametrize(
    ("text", "said", "words"),
    [
        (
            "Group\tMean\tSD\tp\n\tPost\tPost\t\n" + SPLIT.format("220\t31\t0.04", "210\t32\t0.2"),
            "'p' was not understood",
            {"prints": ("post",)},
        ),
        (
            "Group\tAge\tMean\tSD\n\t\tPost\tPost\n" + SPLIT.format("24\t220\t31", "26\t210\t32"),
            "'Age' was not understood.*leave this column out",
            {"prints": ("post",)},
        ),
        ("Group\tMean\t\tSD\t\n\tT0\tT1\tT0\tT1\n" + MEANS_SDS, "'T0' was not understood", {}),
        ("Group\tMean\t\tSD\t\n\tTime 1\tTime 2\tTime 1\tTime 2\n" + MEANS_SDS, "'Time 1'", {}),
        ("Group\tMean\tMean\tSD\tSD\n" + MEANS_SDS, "at which time '200' was measured", {}),
        ("Group\tPost\tT0\n" + TURNED, "'T0' was not understood", {}),
        ("Group\tMonth 3\tMonth 0\n" + TURNED, "'Month 3' was not understood", {}),
        ("Group Pre Post p\n" + BOTH.replace("\t", " ") + " 0.2", "'Post p' was not", {}),
        ("Group\tPre (mean ± SD)\tPost (mean ± SD)\n" + BOTH, "say SD, .* set to SE", {"se": 1}),
        (
            "Group\tPre mean (95% CI)\tPost mean (95% CI)\n"
            + SPLIT.format("200 (30)\t220 (31)", "201 (29)\t210 (32)"),
            "say 95 % CI, .* set to SD",
            {},
        ),
        ("Group\tMedian pre\tMedian post\n" + BOTH, "say median", {}),
        ("Group\tslow lowering (SE)\tusual lifting (SE)\nPre\t1 ± 2\t3 ± 4", "say SE", {}),
        ("Mean ± SE\n" + BOTH, "say SE", {}),
        ("Values are mean ± SE\n" + BOTH, "'are' stands for nothing", {}),
        (BOTH + "\nValues are mean ± SE", "below the first row of numbers", {}),
        (
            "Group\tPre (mean ± SD)\tPost (mean ± SD)\n"
            + SPLIT.format("200 (SE 5)\t220 ± 31", "201 ± 29\t210 ± 32"),
            "says another spread",
            {},
        ),
        ("Group\tPre\tDifference\n" + BOTH, "'Difference' was not understood", {}),
        ("Group\tPre\t% change\n" + BOTH, "no column 'Change in %'", {}),
        ("Group\tPre\tPost (kg)\n" + BOTH, "'kg' stands for nothing", {}),
        ("Group\tPre\tPost hip\n" + BOTH, "'hip' stands for nothing", {}),
        (
            "Group\tMean\nslow lowering Pre\t220 ± 31\nusual lifting Pre\t201 ± 29",
            "no column 'Before'",
            {"prints": ("post",)},
        ),
        ("slow lowering women\t200 ± 30\t220 ± 31", "'women' stands for nothing", {}),
        (BOTH + "\np\t0.03\t0.04", "which arm is meant by 'p'", {}),
        (
            "Group\t\tPre\tPost\n" + SPLIT.format("200\t220\t20", "201\t210\t9"),
            "no heading stands above '200'",
            {"none": 1},
        ),
        (
            "Group\tPre\t\tPost\n" + SPLIT.format("200\t210\t220", "201\t205\t210"),
            "under a blank heading",
            {"none": 1},
        ),
        (SPLIT.format("200\t220\t20", "201\t210\t9"), "cannot tell whether 200 is n", {"none": 1}),
        (SPLIT.format("30\t200\t31\t220", "29\t201\t32\t210"), "is the mean", {}),
        (
            "\tslow lowering\t\tusual lifting\t\nChange\t5\t20\t4\t9",
            "is the mean",
            {"prints": ("change",)},
        ),
        (
            "Group\tPre\t\tPost\t\n" + SPLIT.format("30\t200\t31\t220", "29\t201\t32\t210"),
            "the second is larger",
            {},
        ),
    ],
)
def test_what_is_not_understood_is_named_and_nothing_filled_in(text, said, words):
    style = next((each for each in ("se", "none") if words.pop(each, None)), "sd")
    grid = outcome(**words)
    grid.styles = dict.fromkeys(grid.columns(), style)
    with pytest.raises(PasteError, match=said) as refused:
        read_block(text, grid, arms())
    assert str(refused.value).endswith("nothing was filled in")


def test_a_mark_for_not_reported_is_a_row_of_its_own():
    text = "Outcome\tMean SD\nslow lowering Before\t-\nslow lowering After\t220 ± 31"
    assert read_block(text, outcome(), arms()).cells == {"a1|post@12": "220 ± 31"}


def test_a_row_called_by_another_outcomes_name_is_refused():
    text = "\tslow lowering\t\tusual lifting\t\n\tPre\tPost\tPre\tPost\n"
    text += "hip\t1 ± 2\t3 ± 4\t5 ± 6\t7 ± 8"
    assert "'hip' was taken for this outcome" in read_block(text, outcome(), arms()).message
    with pytest.raises(PasteError, match="the row 'hip' is"):
        read_block(text, outcome(label="isometric knee flexion"), arms())
    named = text.replace("hip", "Knee flexion")
    assert len(read_block(named, outcome(label="isometric knee flexion"), arms()).cells) == 4


def test_a_block_without_headings_says_that_it_went_by_order():
    found = read_block(BOTH, outcome(), arms())
    assert found.cells == CELLS and "No headings stood above the numbers" in found.message
    found = read_block("20\t200 ± 30\t220 ± 31", outcome(), arms())
    assert found.sizes == {"a1": "20"} and "first number of a row was taken for n" in found.message


WORDS = (
    "Pre",
    "Post",
    "Mean",
    "SD",
    "SE",
    "n",
    "p",
    "Age",
    "week",
    "12",
    "0",
    "±",
    "slow",
    "95 % CI",
)


@given(st.lists(st.sampled_from((*WORDS, "usual lifting", "\t", "\t", "\n", "200 ± 30", "31"))))
def test_any_words_give_a_block_or_a_message_of_fair_length(words):
    try:
        read_block(" ".join(words).replace(" \t ", "\t").replace(" \n ", "\n"), outcome(), arms())
    except PasteError as error:
        assert 0 < len(str(error)) < 900


ARMS = ("slow lowering", "3 sets", "pre-exhaustion", "baseline diet", "usual", "12-week block")
SPOILT = ("", "", "", "age", "p", "n", "lost heading", "lost cell", "other outcome")


class Layout:
    """Known content in one of the usual layouts, and whether it was spoilt by what is not in it."""

    def __init__(self, seed: int) -> None:
        draw = random.Random(seed)
        self.own = arms(*draw.sample(ARMS, draw.choice((1, 2, 3))))
        prints = draw.choice((("pre", "post"), ("post",), ("pre", "post", "change"), ("change",)))
        self.grid = outcome(weeks=draw.choice(("12", "6, 12")), prints=prints)
        self.style = draw.choice(("sd", "se"))
        columns = self.grid.columns()
        self.grid.styles = dict.fromkeys(columns, draw.choice((self.style, self.style, "sd")))
        self.truth = {
            (arm.key, column): (f"{draw.randint(60, 299)}.{number}", f"{draw.randint(10, 40)}.5")
            for number, arm in enumerate(self.own)
            for column in columns
        }
        self.sizes = {arm.key: str(draw.randint(8, 40)) for arm in self.own}
        self.spoilt = draw.choice(SPOILT)
        self.text = "\n".join("\t".join(line) for line in self._lines(draw, columns))

    def _lines(self, draw: random.Random, columns: list[str]) -> list[list[str]]:
        times = {each: self._time(draw, each) for each in columns}
        columns = draw.sample(columns, len(columns))
        rows = draw.sample(self.own, len(self.own))
        measures = draw.choice((["Mean", self.style.upper()], [self.style.upper(), "Mean"]))
        kind = draw.choice(
            ("one", "both", "time over measure", "measure over time", "long", "turned")
        )
        merged = draw.random() < 0.6

        def number(arm, column: str, measure: str) -> str:
            mean, spread = self.truth[arm.key, column]
            return mean if measure == "Mean" else spread

        def over(texts: list[str]) -> list[str]:
            if not merged:
                return texts
            return ["" if at and text == texts[at - 1] else text for at, text in enumerate(texts)]

        def pair(arm, column: str) -> str:
            return "{} ± {}".format(*self.truth[arm.key, column])

        pairs = [(c, m) for c in columns for m in measures]
        if kind == "measure over time":
            pairs = [(c, m) for m in measures for c in columns]
        split = [[a.label, *(number(a, c, m) for c, m in pairs)] for a in rows]
        said = f"Mean ± {self.style.upper()}"
        if kind == "one":
            lines = [["Group", *(f"{times[c]} {m}" for c, m in pairs)], *split]
        elif kind == "both":
            lines = [["Group", *(f"{times[c]} ({said})" for c in columns)]]
            lines += [[a.label, *(pair(a, c) for c in columns)] for a in rows]
        elif kind == "time over measure":
            lines = [["Group", *over([times[c] for c, _ in pairs])], ["", *(m for _, m in pairs)]]
            lines += split
        elif kind == "measure over time":
            lines = [["Group", *over([m for _, m in pairs])], ["", *(times[c] for c, _ in pairs)]]
            lines += split
        elif kind == "long":
            lines = [
                ["Group", said],
                *([f"{a.label} {times[c]}", pair(a, c)] for a in rows for c in columns),
            ]
        else:
            lines = [[said, *(a.label for a in rows)]]
            lines += [[times[c], *(pair(a, c) for a in rows)] for c in columns]
        return self._spoil(draw, lines, rows, kind)

    def _spoil(self, draw: random.Random, lines, rows, kind: str) -> list[list[str]]:
        heads = 2 if "over" in kind else 1
        if self.spoilt == "n" and (kind == "turned" or kind == "long"):
            self.spoilt = ""
        for at, line in enumerate(lines):
            if self.spoilt in ("age", "n"):
                n = "" if at < heads or self.spoilt == "age" else self.sizes[rows[at - heads].key]
                first = {"age": "Age", "n": "n"}[self.spoilt] if at == 0 else ""
                line.insert(1, first if at < heads else n or str(draw.randint(18, 70)))
            elif self.spoilt == "p":
                line.append(
                    ("p" if at == 0 else "") if at < heads else f"0.{draw.randint(1, 999):03}"
                )
        if self.spoilt == "lost heading":
            line = lines[draw.randrange(heads)]
            line[draw.randrange(1, len(line))] = ""
        elif self.spoilt == "lost cell":
            line = lines[draw.randrange(heads, len(lines))]
            line[draw.randrange(1, len(line))] = draw.choice(("", "-"))
        elif self.spoilt == "other outcome":
            lines.append(["hip", *lines[-1][1:]])
        return lines

    @staticmethod
    def _time(draw: random.Random, column: str) -> str:
        kind, _, week = column.partition("@")
        if kind == "pre":
            return draw.choice(("Pre", "Baseline", "Week 0", "Pre-test"))
        if kind == "post":
            return draw.choice((f"Week {week}", f"{week} weeks", f"Post {week} weeks"))
        return draw.choice((f"Change week {week}", f"Change at {week} weeks"))


@pytest.mark.parametrize("seed", range(600))
def test_usual_layouts_are_filled_in_right_or_refused(seed):
    layout = Layout(seed)
    try:
        found = read_block(layout.text, layout.grid, layout.own)
    except PasteError:
        other = layout.style not in layout.grid.styles.values()
        assert layout.spoilt not in ("", "n") or other, layout.text
        return
    assert layout.spoilt not in ("age", "p", "other outcome"), layout.text
    marks = decimal_marks(found.cells.values())
    # A lost heading may have been the only one that named the spread.
    named = layout.style.upper() in layout.text
    for place, text in found.cells.items():
        arm, _, column = place.partition("|")
        value = read_cell(text, layout.grid.style(column), marks=marks)
        told = {name: str(each) for name, each in value.items() if each is not None}
        mean, spread = layout.truth[arm, column]
        wanted = {"mean": mean, layout.style if named else layout.grid.style(column): spread}
        assert told == wanted or (layout.spoilt == "lost cell" and told == {"mean": mean}), text
    assert found.sizes in ({}, layout.sizes)
    if not layout.spoilt:
        assert len(found.cells) == len(layout.truth)
