"""A cell that a paper prints for parts of the group: typed, combined, saved and opened again."""

from __future__ import annotations

import json
import statistics
from decimal import Decimal
from pathlib import Path

import ipywidgets
import pytest

from steelyard.library import open_library
from steelyard.notebook import enter_study, second_reading
from steelyard.notebook.entry.blind import blind_form
from steelyard.notebook.entry.build import build
from steelyard.notebook.entry.cell import STYLES
from steelyard.notebook.entry.loading import form_of_study
from steelyard.notebook.entry.parts import fill_in
from steelyard.notebook.entry.parts_form import PART_STYLES, PartsForm
from steelyard.notebook.entry.state import FormState, OutcomeForm
from steelyard.records import load_records
from steelyard.records.difference import changes, differences
from steelyard.records.disagreement import disagreements
from steelyard.records.reading import parse
from steelyard.records.second_reading import find_reading
from tests.notebook.entry.driving import box_by_label, put, type_all, words_of
from tests.notebook.entry.test_build import filled
from tests.notebook.entry.test_form import ODD, shown
from tests.notebook.entry.test_from_empty_to_numbers import HEAD
from tests.notebook.entry.test_second_reading import everything

EVIDENCE = Path(__file__).resolve().parents[3] / "evidence"
STUDY = "tarnholt-2019"
PLACE = "a1|pre"
NAME = "part.o1.g1"
# Six people in all; each part's SD is that of its three raw scores.
WOMEN, MEN = (10, 20, 30), (40, 50, 60)
ROWS = {
    f"{NAME}.1.label": "women",
    f"{NAME}.1.n": "3",
    f"{NAME}.1.mean": "20",
    f"{NAME}.1.sd": "10",
    f"{NAME}.2.label": "men",
    f"{NAME}.2.n": "3",
    f"{NAME}.2.mean": "50",
    f"{NAME}.2.sd": "10",
}
REST = {
    "cell.o1.a1.post@12": "52.0 ± 19.1",
    "cell.o1.a2.pre": "36.0 ± 18.0",
    "cell.o1.a2.post@12": "41.0 ± 18.4",
}


@pytest.fixture(scope="module")
def library():
    return open_library(EVIDENCE)


def open_parts(form) -> None:
    """As a person would: open the fold, press the button; the first cell is chosen."""
    parts = form.outcomes.grids["o1"].parts
    if not parts.fold.is_open:
        parts.fold.button.click()
    press(parts.widget, "Add a cell printed in parts")


def press(widget, label: str) -> None:
    box_by_label(widget, label).click()


def with_parts(rows) -> FormState:
    state = filled()
    state.arms[0].n = "6"
    state.outcomes[0].cells[PLACE] = ""
    state.outcomes[0].add_parts(PLACE).rows = rows
    return state


def rows_of(*typed: tuple[str, str, str, str]) -> list[dict[str, str]]:
    return [dict(zip(("label", "n", "mean", "sd"), each, strict=True)) for each in typed]


TWO = (("women", "3", "20", "10"), ("men", "3", "50", "10"))


def told(state: FormState, library, *, kind: str = "bad") -> dict[str, str]:
    return {p.field: p.message for p in build(state, library.vocabulary).problems if p.kind == kind}


def test_from_parts_to_the_cell_and_to_a_file(page, folder):
    form = page.form
    type_all(form, HEAD | {"arm.a1.n": "6"})
    open_parts(form)
    type_all(form, ROWS | REST)
    sd = statistics.stdev(WOMEN + MEN)
    said = words_of(form.fields["cell.o1.a1.pre"].message)
    assert said == f"from 2 parts: 6 people, mean 35, SD {sd:.4g}"
    assert form.fields["cell.o1.a1.pre"].box.placeholder == f"35 (SD {sd:.4g})"
    parts = form.outcomes.grids["o1"].parts
    assert f"Together 6 people, mean 35, SD {sd:.4g}, as if" in words_of(parts.told["g1"])
    assert "(1 cell)" in parts.fold.button.description
    assert "combined (n 3, mean 20, SD 10; n 3, mean 50, SD 10)" in words_of(form.live_view.says)
    form.saving.save()
    assert "Saved" in form.saving.message.value
    one = load_records(folder).studies["marsh-2024"].results[0]
    assert [(g.label, g.n, str(g.mean), str(g.sd)) for g in one.pre.groups] == [
        *(("women", 3, "20", "10"), ("men", 3, "50", "10")),
    ]
    assert one.pre.mean is None and str(one.post.mean) == "52.0"

    again = enter_study("marsh-2024").form
    assert again.fields[f"{NAME}.2.mean"].box.value == "50"
    assert said == words_of(again.fields["cell.o1.a1.pre"].message)
    put(again, f"{NAME}.2.mean", "50.5")
    again.saving.save()
    one = load_records(folder).studies["marsh-2024"].results[0]
    assert [str(group.mean) for group in one.pre.groups] == ["20", "50.5"]


@pytest.mark.parametrize(
    ("style", "spread", "printed", "step"),
    [
        # SD 10 of three people: SE = 10 / √3 = 5.7735; t on 2 df at 95 % is 4.3027 and at 90 %
        # 2.9200, so 20 ± 24.84 and 20 ± 16.86; worked by hand.
        ("se", "5.7735", "se", "SE 5.774 × √3 = SD 10"),
        ("ci95", "{low95} to {high95}", "ci95", "SD 10"),
        ("ci90", "{low90}–{high90}", "ci90", "SD 10"),
        ("sd", "SE 5.7735", "se", "SE 5.774 × √3 = SD 10"),
        ("ci95", "SD 10", "sd", ""),
    ],
)
def test_a_part_printed_with_se_or_interval(style, spread, printed, step, page, folder):
    form = page.form
    type_all(form, HEAD | {"arm.a1.n": "6"})
    open_parts(form)
    put(form, f"{NAME}.style", style)
    typed = {}
    for number, mean in ((1, 20), (2, 50)):
        ends = {"low95": mean - 24.841, "high95": mean + 24.841}
        ends |= {"low90": mean - 16.859, "high90": mean + 16.859}
        typed[f"{NAME}.{number}.sd"] = spread.format(**ends)
    type_all(form, ROWS | REST | typed)
    assert f"from 2 parts: 6 people, mean 35, SD {statistics.stdev(WOMEN + MEN):.4g}" == words_of(
        form.fields["cell.o1.a1.pre"].message
    )
    told_sum = words_of(form.outcomes.grids["o1"].parts.told["g1"])
    assert step in told_sum and step in words_of(form.live_view.says)
    form.saving.save()
    group = load_records(folder).studies["marsh-2024"].results[0].pre.groups[0]
    assert [key for key in ("sd", *PART_STYLES[1:]) if getattr(group, key) is not None] == [printed]
    again = enter_study("marsh-2024").form
    assert again.fields[f"{NAME}.style"].box.value == printed
    before = again.fields[f"{NAME}.1.sd"].box
    assert before.description == f"Its {STYLES[printed]}"
    assert build(again.state, open_library(folder).vocabulary).ready
    put(again, f"{NAME}.1.label", "girls")
    again.saving.save()
    after = load_records(folder).studies["marsh-2024"].results[0].pre.groups[0]
    assert after == group.model_copy(update={"label": "girls"})


def test_parts_printed_in_different_ways_come_back_as_they_were(library):
    rows = rows_of(("women", "3", "20", "SE 5.77"), ("men", "3", "50", "95 % CI 25.2 to 74.8"))
    state = with_parts(rows)
    values = build(state, library.vocabulary).values["result"][0]["pre"]
    assert [sorted(group) for group in values["groups"]] == [
        ["label", "mean", "n", "se"],
        ["ci95", "label", "mean", "n"],
    ]
    parts = PartsForm("g1")
    fill_in(parts, values)
    assert parts.style == "se"
    assert [row["sd"] for row in parts.rows] == ["5.77", "95 % CI 25.2 to 74.8"]


def test_another_style_renames_the_boxes_where_they_are(page):
    open_parts(page.form)
    box = page.form.fields[f"{NAME}.2.sd"].box
    put(page.form, f"{NAME}.style", "ci95")
    assert page.form.fields[f"{NAME}.2.sd"].box is box
    assert (box.description, box.placeholder) == ("Its 95 % CI", "84.2 to 96.8")


def test_a_new_cell_in_parts_takes_the_style_of_its_column(page):
    put(page.form, "style.o1.pre", "se")
    open_parts(page.form)
    assert page.form.fields[f"{NAME}.style"].box.value == "se"


def test_opened_and_changed_in_one_number(folder):
    path = folder / "studies" / f"{STUDY}.toml"
    before = path.read_text(encoding="utf-8")
    form = enter_study(STUDY).form
    outcome = next(o for o in form.state.outcomes if o.parts)
    assert [each.place for each in outcome.parts] == ["a1|pre", "a2|pre"]
    name = f"part.{outcome.key}.g2.2.sd"
    assert form.fields[name].box.value == "14.6"
    put(form, name, "16.4")
    form.saving.save()
    assert path.read_text(encoding="utf-8") == before.replace("sd = 14.6", "sd = 16.4")


def test_every_box_has_a_label(page):
    open_parts(page.form)
    names = [name for name in page.form.fields if name.startswith("part.")]
    assert len(names) == 10
    for name in names:
        assert page.form.fields[name].box.description.strip()


def test_taking_parts_away_frees_the_cell(page, folder):
    form = page.form
    type_all(form, HEAD | {"arm.a1.n": "6"})
    open_parts(form)
    type_all(form, ROWS | REST | {"cell.o1.a1.pre": "35 ± 18.7"})
    assert "typed below" in words_of(form.fields["cell.o1.a1.pre"].message)
    form.saving.save()
    assert "Not saved" in form.saving.message.value
    press(form.outcomes.grids["o1"].parts.widget, "Take cell 1 in parts away")
    assert words_of(form.fields["cell.o1.a1.pre"].message) == "mean 35, SD 18.7"
    assert form.fields["cell.o1.a1.pre"].box.placeholder == "90.5 ± 14.2"
    form.saving.save()
    assert load_records(folder).studies["marsh-2024"].results[0].pre.groups == ()


def test_a_third_part(page):
    form = page.form
    type_all(form, HEAD | {"arm.a1.n": "9"})
    open_parts(form)
    type_all(form, ROWS | REST)
    press(form.outcomes.grids["o1"].parts.widget, "Add a part")
    third = {"n": "3", "mean": "80", "sd": "10"}
    type_all(form, {f"{NAME}.3.{key}": text for key, text in third.items()})
    sd = statistics.stdev((*WOMEN, *MEN, 70, 80, 90))
    assert f"from 3 parts: 9 people, mean 50, SD {sd:.4g}" in words_of(
        form.fields["cell.o1.a1.pre"].message
    )


def test_names_follow_the_arms_and_columns(page):
    form = page.form
    open_parts(form)
    put(form, "arm.a1.label", "slow")
    put(form, "arm.a2.label", "usual <b>")
    which = form.fields[f"{NAME}.place"].box
    assert which.value == PLACE
    assert ("Before, slow", PLACE) in which.options
    assert ("Before, usual <b>", "a2|pre") in which.options
    put(form, "outcome.o1.weeks", "6")
    which = form.fields[f"{NAME}.place"].box
    assert "a2|post@6" in [place for _, place in which.options]


def test_another_cell_may_be_chosen_afterwards(page):
    form = page.form
    type_all(form, HEAD | {"arm.a2.n": "6"})
    open_parts(form)
    type_all(form, ROWS | {f"{NAME}.place": "a2|pre"})
    assert words_of(form.fields["cell.o1.a1.pre"].message) == ""
    assert "from 2 parts" in words_of(form.fields["cell.o1.a2.pre"].message)
    assert form.built.values["result"][0]["pre"]["groups"][1]["mean"] == 50


def test_the_first_blank_cell_is_offered_first(page):
    form = page.form
    type_all(form, HEAD | {"cell.o1.a1.pre": "1 ± 2"})
    open_parts(form)
    assert form.fields[f"{NAME}.place"].box.value == "a1|post@12"


def test_parts_of_no_cell_or_of_one_twice_are_told(library):
    state = with_parts(rows_of(*TWO))
    again = state.outcomes[0].add_parts(PLACE)
    assert build(state, library.vocabulary).ready
    again.rows = rows_of(*TWO)
    assert "typed above already" in told(state, library)["part.o1.g2.place"]
    again.place = ""
    assert told(state, library) == {}
    assert "Choose which" in told(state, library, kind="needed")["part.o1.g2.place"]


@pytest.mark.parametrize(
    ("row", "field", "said"),
    [
        (("women", "three", "20", "10"), "n", "expected a number"),
        (("women", "1", "20", "10"), "n", "2 or more"),
        (("women", "3.5", "20", "10"), "n", "whole number"),
        (("women", "3", "twenty", "10"), "mean", "expected a number"),
        (("women", "3", "20 ± 10", "10"), "mean", "one number"),
        (("women", "3", "20", "0"), "sd", "above 0"),
        (("women", "3", "20", "−4"), "sd", "above 0"),
        (("women", "3", "20", "8 to 9"), "sd", "expected one number for the SD"),
        (("women", "3", "20", "95 % CI 21 to 30"), "sd", "with the mean 20 inside"),
        (("women", "3", "20", "IQR 15 to 25"), "sd", "expected one of SD, SE, 95 % CI"),
        (("women", "3", "20", "SE 3; SD 4"), "sd", "expected one of SD, SE, 95 % CI"),
        (("women" * 2000, "3", "20", "10"), "label", "at most"),
    ],
)
def test_a_bad_value_is_said_beside_its_box(row, field, said, library):
    for rows, number in ((rows_of(row, TWO[1]), 1), ([{}, *rows_of(TWO[1], row)], 3)):
        state = with_parts(rows)
        assert said in told(state, library)[f"{NAME}.{number}.{field}"]
        assert not build(state, library.vocabulary).ready


def test_what_is_missing_is_needed_and_nothing_half_is_saved(library):
    state = with_parts(rows_of(TWO[0], ("men", "3", "", "10")))
    assert told(state, library, kind="needed")[f"{NAME}.2.mean"] == "Type this part’s mean."
    built = build(state, library.vocabulary)
    assert not built.ready and "pre" not in built.values["result"][0]
    state = with_parts(rows_of(TWO[0]))
    assert "second part" in told(state, library, kind="needed")[f"{NAME}.2.n"]
    assert not build(state, library.vocabulary).ready
    state = with_parts([{}, {"n": " "}])
    assert (
        told(state, library) == {}
        and "pre" not in build(state, library.vocabulary).values["result"][0]
    )


def test_people_of_the_parts_are_those_analysed(library):
    state = with_parts(rows_of(*TWO))
    assert told(state, library) == {}
    state.arms[0].n = "20"
    assert "groups of 20 people in all, found 6" in told(state, library)["cell.o1.a1.pre"]
    state.outcomes[0].details["a1|12"] = {"n": "6"}
    assert told(state, library) == {}


def test_decimal_commas_as_elsewhere(library):
    state = with_parts(rows_of(("women", "3", "20,25", "10,5"), TWO[1]))
    groups = build(state, library.vocabulary).study.results[0].pre.groups
    assert groups[0].mean == Decimal("20.25") and groups[0].sd == Decimal("10.5")


def test_another_style_of_the_column_keeps_the_parts(library):
    text = (EVIDENCE / "studies" / f"{STUDY}.toml").read_text(encoding="utf-8")
    state = form_of_study(text, mark="m")
    outcome = next(o for o in state.outcomes if o.parts)
    outcome.styles["pre"] = "se"
    built = build(state, library.vocabulary)
    assert differences(parse(text, file="x"), built.values) == ()
    assert changes(parse(text, file="x"), built.values) == {}


def test_parts_go_with_their_week_their_arm_and_a_draft(library):
    outcome = OutcomeForm("o1", weeks="12")
    outcome.add_parts("a1|post@12").rows = rows_of(*TWO)
    outcome.set_weeks("14")
    assert [each.place for each in outcome.parts] == ["a1|post@14"]
    state = with_parts(rows_of(*TWO))
    assert FormState.from_json(json.loads(json.dumps(state.as_json()))) == state
    state.remove_arm("a1")
    assert state.outcomes[0].parts == []
    rows = [1, {"n": 4}, {"n": "3"}]
    odd = [4, {}, {"key": "g1", "place": "a1|pre", "rows": rows}, {"key": "g2", "rows": 2}]
    opened = FormState.from_json({"outcomes": [{"key": "o1", "parts": odd}]})
    assert opened.outcomes[0].parts == [
        *(PartsForm("g1", "a1|pre", [{}, {"n": "3"}]), PartsForm("g2")),
    ]
    build(opened, library.vocabulary)


def test_an_arm_known_by_its_parts_alone_counts(library):
    state = with_parts(rows_of(*TWO))
    state.arms[0].label = state.arms[0].tags = state.arms[0].n = ""
    state.arms[0].dose, state.outcomes[0].cells = {}, {"a2|pre": "204 ± 30"}
    assert "a1" in build(state, library.vocabulary).arm_ids


@pytest.mark.parametrize("text", ODD, ids=range(len(ODD)))
def test_anything_in_any_box_is_a_message_or_text(text, page, folder, capsys):
    form = page.form
    type_all(form, HEAD)
    open_parts(form)
    names = [name for name in form.fields if name in ROWS]
    assert len(names) == 8
    type_all(form, REST | dict.fromkeys(names, text))
    form.saving.save()
    html = shown(page.place)
    assert "<script" not in html and "<img" not in html and "Traceback" not in html
    assert "That did not work" not in form.saving.message.value
    assert capsys.readouterr().err == "" and load_records(folder).faults == ()


def test_a_second_reader_sees_no_parts_and_may_type_them(folder):
    text = (folder / "studies" / f"{STUDY}.toml").read_text(encoding="utf-8")
    assert all(not outcome.parts for outcome in blind_form(text).outcomes)
    enter_study(STUDY).form.saving.second_button.click()
    page = second_reading(STUDY)
    assert "cohort" not in everything(page.widget) and "(2 cells)" not in everything(page.widget)
    page.reader = "Ben"
    key = next(o.key for o in form_of_study(text, mark="").outcomes if o.parts)
    parts = page.grids[key].parts
    parts.fold.button.click()
    parts.add()
    name = f"part.{key}.g1"
    assert page.fields[f"{name}.place"].box.value == "a1|pre"
    first = {"1.n": "24", "1.mean": "51.4", "1.sd": "9.5", "2.n": "24", "2.mean": "58.5"}
    for end, value in first.items():
        page.fields[f"{name}.{end}"].box.value = value
    page.keep()
    assert "Not kept" in page.message.value
    assert "Type this part’s SD" in page.fields[f"{name}.2.sd"].message.value
    page.fields[f"{name}.2.sd"].box.value = "14.3"
    assert "from 2 parts: 48 people" in page.fields[f"cell.{key}.a1.pre"].message.value
    page.keep()
    assert "Kept" in page.message.value
    study, reading = load_records(folder).studies[STUDY], find_reading(folder, STUDY)
    apart = [(d.outcome, d.arm, d.cell) for d in disagreements(study, reading)]
    outcome = next(r.outcome for r in study.results if r.pre is not None and r.pre.groups)
    assert (outcome, "short", "pre.groups") not in apart
    assert (outcome, "long", "pre.groups") in apart


def test_the_page_has_a_box_for_each_number(page):
    open_parts(page.form)
    boxes = [
        page.form.fields[name].box for name in page.form.fields if name.startswith(f"{NAME}.1.")
    ]
    assert [box.description for box in boxes] == ["Part 1", "People in it", "Its mean", "Its SD"]
    assert all(isinstance(box, ipywidgets.Text) for box in boxes)
