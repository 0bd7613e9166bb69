"""Where the numbers of a pasted table go: by names and headings, or refused in words."""

from __future__ import annotations

import random
import time

import pytest

from steelyard.notebook.entry.paste import PasteError, read_block
from steelyard.notebook.entry.pasted_rows import LONGEST_LINE
from steelyard.notebook.entry.pasted_words import Time, column_of, time_of
from steelyard.notebook.entry.state import ArmForm, OutcomeForm
from tests.notebook.entry.test_form import fill, put

SLOW, USUAL = "200.4 ± 30.1\t231.0 ± 32.0", "204.0 ± 30.0\t215.0 ± 31.5"
CELLS = {
    "a1|pre": "200.4 ± 30.1",
    "a1|post@12": "231.0 ± 32.0",
    "a2|pre": "204.0 ± 30.0",
    "a2|post@12": "215.0 ± 31.5",
}
ACROSS = "\tslow lowering\tusual lifting\nPre\t200.4 ± 30.1\t204.0 ± 30.0\n"


def arms(*names: str) -> list[ArmForm]:
    return [
        ArmForm(f"a{number}", label=name)
        for number, name in enumerate(names or ("slow lowering", "usual lifting"), 1)
    ]


def outcome(weeks: str = "12", prints=("pre", "post"), **words) -> OutcomeForm:
    return OutcomeForm("o1", weeks=weeks, prints=list(prints), **words)


@pytest.mark.parametrize(
    "text",
    [
        f"usual lifting\t{USUAL}\nslow lowering\t{SLOW}",
        f"Usual lifting group\t{USUAL}\nThe slow lowering group (SL)\t{SLOW}",
        f"usual\t{USUAL}\nslow lowering, 4 s\t{SLOW}",
        f"usual lifting (n = 21)\t{USUAL}\nslow lowering (n = 20)\t{SLOW}",
        f"usual lifting (n=21) {USUAL}\nslow lowering (n=20) {SLOW}".replace("\t", " "),
        f"Group\tn\tBaseline\tWeek 12\nusual lifting\t21\t{USUAL}\nslow lowering\t20\t{SLOW}",
        f"Group n Pre Post\nusual lifting 21 {USUAL}\nslow lowering 20 {SLOW}".replace("\t", " "),
        "Group\tPost\tPre\nslow lowering\t231.0 ± 32.0\t200.4 ± 30.1\n"
        "usual lifting\t215.0 ± 31.5\t204.0 ± 30.0",
        "Group\t12 weeks\tWeek 0\tn\nslow lowering\t231.0 ± 32.0\t200.4 ± 30.1\t20\n"
        "usual lifting\t215.0 ± 31.5\t204.0 ± 30.0\t21",
        "\tPre\t\tPost\t\n\tM\tSD\tM\tSD\nusual lifting\t204.0\t30.0\t215.0\t31.5\n"
        "slow lowering\t200.4\t30.1\t231.0\t32.0",
        ACROSS + "Post\t231.0 ± 32.0\t215.0 ± 31.5",
        ACROSS + "12 weeks\t231.0 ± 32.0\t215.0 ± 31.5",
        "Time\tusual lifting\tslow lowering\nn\t21\t20\nWeek 12\t215.0 ± 31.5\t231.0 ± 32.0\n"
        "Baseline\t204.0 ± 30.0\t200.4 ± 30.1",
        "\tslow lowering\t\tusual lifting\t\nPre\t200.4\t30.1\t204.0\t30.0\n"
        "Post\t231.0\t32.0\t215.0\t31.5",
        "slow lowering usual lifting\nPre 200.4 ± 30.1 204.0 ± 30.0\n"
        "Post 231.0 ± 32.0 215.0 ± 31.5",
    ],
)
def test_rows_and_columns_go_by_their_names(text):
    block = read_block(text, outcome(), arms())
    assert block.cells == CELLS
    assert block.sizes in ({}, {"a1": "20", "a2": "21"})
    assert bool(block.sizes) == ("20" in text.replace("200", "").replace("204", ""))


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (f"control\t{USUAL}\nslow lowering\t{SLOW}", "which arm is meant by 'control'"),
        (f"control\t{USUAL}\ntreatment\t{SLOW}", "'control' and 'treatment'"),
        (f"control\t{USUAL}", "which arm is meant by 'control'"),
        (f"slow lowering\t{SLOW}\n{USUAL}", "a name before every row, or before none"),
        (f"slow lowering\t{SLOW}\nslow\t{USUAL}", "two rows could be the same arm"),
        (f"Pre\t{SLOW}\nPost\t{USUAL}", "paste the line with the arms' names"),
        (f"\tcontrol\tslow lowering\nPre\t{SLOW}\nPost\t{USUAL}", "paste the line with the arms'"),
        (f"Pre\t{SLOW}\nslow lowering\t{USUAL}", "found the time 'Pre' among them"),
        (ACROSS + "Week 8\t231.0 ± 32.0\t215.0 ± 31.5", "which column of the grid the row 'Week 8"),
        (ACROSS + "Pre\t231.0 ± 32.0\t215.0 ± 31.5", "which column of the grid the row 'Pre'"),
        (f"Group\tPre\tWeek 8\nslow lowering\t{SLOW}\nusual lifting\t{USUAL}", "a week 8"),
        (f"\tPre\tPost\tPre\tPost\nslow lowering\t{SLOW}\t{USUAL}", "name a time twice"),
        (f"\tPost\tFollow-up\tPre\nslow lowering\t1\t{SLOW}", "Follow-up' was not understood"),
        (f"Group\tAge\tPre\tPost\nslow lowering\t25\t{SLOW}", "'Age' was not understood"),
        ("slow lowering" + " " * 190_000 + "200", "at most 5,000 characters"),
        (f"slow lowering\t{SLOW}\nusual lifting 204 kg 215 kg", "put a tab between them"),
        ("slow 3 200 ± 30 231 ± 32", "whether 3 is n or belongs to the name"),
        ("1 200 ± 30 231 ± 32", "n of 2 or more"),
        ("20\t200 ± 30\n21\t204 ± 30", "looks like n"),
        ("200\t30\t\t\n204\t31\t\t", "read in two ways"),
        ("slow lowering 231 200 ± 30", "put tabs"),
        ("slow lowering 12.5–14.1 13.0–15.0", "expected the SD above 0"),
        (f"slow lowering\t{SLOW}\nusual 12.5 to 14.1 13.0 to 15.0", "put a tab between them"),
    ],
)
def test_what_could_be_told_in_two_ways_is_refused(text, said):
    with pytest.raises(PasteError, match=said) as refused:
        read_block(text, outcome(), arms())
    assert "nothing was filled in" in str(refused.value)


def test_a_number_in_an_arms_name_is_not_n():
    own = arms("3 sets", "1 set")
    for gap in (" ", "\t", "   "):
        text = f"1 set{gap}204 ± 30{gap}215 ± 31\n3 sets{gap}200 ± 30{gap}231 ± 32"
        block = read_block(text, outcome(), own)
        assert block.sizes == {} and block.cells["a1|pre"] == "200 ± 30"
    block = read_block("3 sets 20 200 ± 30 231 ± 32", outcome(), own)
    assert block.sizes == {"a1": "20"}
    text = "slow 4-s lowering 200 ± 30 231 ± 32"
    assert read_block(text, outcome(), arms("slow", "usual")).sizes == {}
    assert read_block(text, outcome(), arms("slow 4-s lowering", "usual")).sizes == {}


def test_rows_without_names_go_in_order_and_it_says_so():
    block = read_block(f"{SLOW}\n{USUAL}", outcome(), arms())
    assert block.cells == CELLS and "went in the order of the arms" in block.message
    block = read_block(f"slow\t{SLOW}\nusual\t{USUAL}", outcome(), [ArmForm("a1"), ArmForm("a2")])
    assert block.cells == CELLS and "The arms have no names yet" in block.message
    block = read_block(f"usual\t{USUAL}\nslow lowering\t{SLOW}", outcome(), arms())
    assert "'usual' was taken for 'usual lifting'" in block.message
    assert "order" not in block.message


def test_counts_with_percentages_and_empty_cells():
    events = outcome(prints=("events",))
    assert read_block("3 (12%)\n5 (20 %)", events, arms()).cells == {
        "a1|events@12": "3 (12%)",
        "a2|events@12": "5 (20 %)",
    }
    assert read_block("25\t3 (12%)\n26\t5", events, arms()).sizes == {"a1": "25", "a2": "26"}
    for wrong in ("3\t12%", "3/25", "2\t3", "3.5", "3 ± 1"):
        with pytest.raises(PasteError, match="nothing was filled in"):
            read_block(wrong, events, arms())
    block = read_block("200 ± 30\t\n204 ± 30\t215 ± 31", outcome(), arms())
    assert set(block.cells) == {"a1|pre", "a2|pre", "a2|post@12"}
    block = read_block("20\t200 ± 30\t\n21\t204 ± 30\t", outcome(), arms())
    assert block.sizes == {"a1": "20", "a2": "21"} and set(block.cells) == {"a1|pre", "a2|pre"}


def test_mean_and_sd_in_two_cells_of_one_column():
    block = read_block("231\t32\n215\t31", outcome(prints=("post",)), arms())
    assert block.cells["a1|post@12"] == "231 ± 32" and block.sizes == {}
    block = read_block("20\t231 ± 32\n21\t215 ± 31", outcome(prints=("post",)), arms())
    assert block.cells["a1|post@12"] == "231 ± 32" and block.sizes == {"a1": "20", "a2": "21"}


def test_thousands_parted_by_a_thin_space():
    text = "slow lowering 1\u2009200.4 ± 30.1 1\u2009231.0 ± 32\nusual lifting 1204 ± 30 1215 ± 31"
    assert read_block(text, outcome(), arms()).cells["a1|pre"] == "1\u2009200.4 ± 30.1"
    with pytest.raises(PasteError):
        read_block(text.replace("\u2009", " "), outcome(), arms())


@pytest.mark.parametrize(
    ("text", "time"),
    [
        ("Pre-test", Time("pre")),
        ("Post training", Time("post")),
        ("Week 0", Time("pre", 0)),
        ("12 wk", Time("", 12)),
        ("Change (%)", Time("change_percent")),
        ("Follow-up", Time("later")),
        ("pre-exhaustion training", None),
        ("Pre to post", None),
        ("training", None),
        ("12", None),
    ],
)
def test_words_for_times(text, time):
    assert time_of(text) == time


def test_the_column_of_a_time():
    columns = outcome(weeks="6, 12", prints=("pre", "post", "change")).columns()
    assert column_of(Time("pre"), columns) == "pre"
    assert column_of(Time("post"), columns) == ""
    assert column_of(Time("", 12), columns) == "post@12"
    assert column_of(Time("change", 6), columns) == "change@6"
    assert column_of(Time("post", 8), columns) == ""


NAMES = ("slow lowering", "3 sets", "pre-exhaustion", "heavy 85 %", "one leg", "12-week block")


@pytest.mark.parametrize("seed", range(400))
def test_a_number_never_lands_in_another_cell(seed):
    """Tables in every guise at random: filled in right, or refused."""
    truth, block, columns, own = _guise(seed)
    try:
        found = read_block(block.text, columns, own)
    except PasteError:
        assert not block.plain
        return
    told = {
        tuple(place.split("|")): value.replace("(", "± ").strip(")")
        for place, value in found.cells.items()
    }
    assert told == {place: f"{mean} ± {sd}" for place, (mean, sd) in truth.items()}
    assert found.sizes in ({}, block.sizes)


def _guise(seed: int):
    """What a table says, the table, the grid and the arms."""
    draw = random.Random(seed)
    own = arms(*draw.sample(NAMES, draw.choice((2, 2, 3))))
    columns = outcome(weeks=draw.choice(("12", "6, 12")))
    truth = {
        (arm.key, column): (f"{draw.randint(100, 299)}.{number}", f"{draw.randint(10, 40)}.5")
        for number, arm in enumerate(own)
        for column in columns.columns()
    }
    return truth, Guise(draw, own, columns.columns(), truth), columns, own


class Guise:
    """One table as a paper might print it; `plain` where it must be read."""

    def __init__(self, draw, own, columns, truth) -> None:
        self.sizes = sizes = {arm.key: str(draw.randint(8, 30)) for arm in own}
        rows = list(own)
        named, head = draw.random() < 0.8, draw.random() < 0.6
        if named:
            draw.shuffle(rows)
        order = list(columns)
        if head and draw.random() < 0.5:
            draw.shuffle(order)
        with_n, split = draw.random() < 0.5, draw.random() < 0.3
        gap = draw.choice(("\t", "   ", " ", " | "))
        called = {
            arm.key: draw.choice((arm.label, f"{arm.label} group", arm.label.upper()))
            for arm in own
        }
        if draw.random() < 0.2:
            called[own[0].key] = draw.choice(("control", "Pre", "20", "8 sets"))
        times = {each: self._time(draw, each, len(columns) == 2) for each in columns}

        def pair(place) -> list[str]:
            mean, sd = truth[place]
            return [mean, sd] if split else [draw.choice((f"{mean} ± {sd}", f"{mean} ({sd})"))]

        lines: list[list[str]] = []
        self.across = draw.random() < 0.3
        if self.across:
            if head:
                lines.append(["Time", *(called[arm.key] for arm in rows)])
            lines += [
                [times[each], *(text for arm in rows for text in pair((arm.key, each)))]
                for each in order
            ]
        else:
            if head:
                spare = [""] if split and gap != " " else []
                over = [text for each in order for text in (times[each], *spare)]
                lines.append([*["Group"] * named, *["n"] * with_n, *over])
            lines += [
                [
                    *[called[arm.key]] * named,
                    *[sizes[arm.key]] * with_n,
                    *(text for each in order for text in pair((arm.key, each))),
                ]
                for arm in rows
            ]
        self.text = "\n".join(gap.join(line) for line in lines)
        # What a careful person would call clear: tabs, the arms' own names, one cell per number.
        own_names = all(called[arm.key] == arm.label for arm in own)
        clear_names = not any(time_of(arm.label) for arm in own)
        self.plain = gap == "\t" and named and own_names and clear_names and not split
        if self.across:
            self.plain = self.plain and head

    @staticmethod
    def _time(draw, column: str, one: bool) -> str:
        if column == "pre":
            return draw.choice(("Pre", "Baseline", "Week 0"))
        week = column.partition("@")[2]
        return draw.choice((f"Week {week}", f"{week} weeks", *["Post"] * one))


def test_the_guises_are_mostly_read():
    """So that the test above is not passed by refusing everything."""
    read = 0
    for seed in range(400):
        _, block, columns, own = _guise(seed)
        try:
            read_block(block.text, columns, own)
        except PasteError:
            continue
        read += 1
    assert read > 200


@pytest.mark.parametrize("text", ["a{}b 1", "1{}2 ± 3", "x\t1{}\t2", "1;{}2", "1 ±{}3"])
@pytest.mark.parametrize("filling", [" ", "\u2009", "1 ", "(", "1.", "±", "\t"])
def test_reading_takes_time_in_proportion_to_length(text, filling):
    def seconds(length: int) -> float:
        block = text.format(filling * (length // len(filling)))
        took = []
        for _ in range(5):
            start = time.perf_counter()
            for _ in range(3):
                try:
                    read_block(block, outcome(), arms())
                except PasteError:
                    pass
            took.append(time.perf_counter() - start)
        return min(took)

    seconds(100)
    # Ten times the length: in proportion is 10, by the square 100.
    assert seconds(LONGEST_LINE - 100) < 40 * max(seconds((LONGEST_LINE - 100) // 10), 1e-4)


def test_the_form_says_why_and_keeps_what_was_typed(page):
    form = page.form
    fill(form)
    put(form, "paste.o1", f"control\t{USUAL}\nslow\t{SLOW}")
    form.outcomes.grids["o1"]._fill()
    assert "which arm is meant by" in form.fields["paste.o1"].message.value
    assert form.fields["cell.o1.a1.pre"].box.value == "200.0 ± 30.1"
    put(form, "paste.o1", f"usual\t{USUAL}")
    form.outcomes.grids["o1"]._fill()
    assert form.fields["cell.o1.a2.post@12"].box.value == "215.0 ± 31.5"
    assert form.fields["cell.o1.a1.pre"].box.value == "200.0 ± 30.1"
