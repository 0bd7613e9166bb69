"""What a paper compares itself, read a second time without the first reader's numbers."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path

import ipywidgets
import pytest

from steelyard.library import open_library
from steelyard.notebook import enter_study, second_reading
from steelyard.notebook.entry.blind import blind_form, read_blind
from steelyard.records import load_records
from steelyard.records.disagreement import disagreements
from steelyard.records.read_once import single_read
from steelyard.records.second_reading import find_reading
from tests.notebook.entry.driving import box_by_label
from tests.notebook.entry.test_second_reading import everything

EVIDENCE = Path(__file__).resolve().parents[3] / "evidence"
COMPARED = [
    path
    for path in sorted((EVIDENCE / "studies").glob("*.toml"))
    if "[[comparison]]" in path.read_text(encoding="utf-8")
]
# Invented: a difference of 0.9 with a 99 % CI from -4.3 to 6.2, and p = 0.636.
STUDY = "nettlewater-2023"


@pytest.fixture
def page(folder):
    enter_study(STUDY).form.saving.second_button.click()
    opened = second_reading(STUDY)
    opened.reader = "Ben"
    return opened


def put(page, name: str, text: str) -> None:
    page.fields[name].box.value = text


def rules(folder) -> list[tuple[str, str]]:
    study = load_records(folder).studies[STUDY]
    return [(f.rule, f.message) for f in single_read({STUDY: study}, folder=folder)]


def cells(folder) -> list[tuple[str, str, str]]:
    study = load_records(folder).studies[STUDY]
    found = disagreements(study, find_reading(folder, STUDY))
    return [(each.cell, each.first, each.second) for each in found if each.against]


def settle_first(page, keep: str, note: str) -> None:
    """Settle the first comparison's cell that is listed as it would be on the page."""
    for part in page.apart.children[0].children[1:]:
        if " against " in part.children[0].value:
            choice, why, done = part.children[1].children
            choice.children[0].value = keep
            why.children[0].value = note
            done.click()
            return
    raise AssertionError("no cell of a comparison is listed")


@pytest.mark.parametrize("path", COMPARED, ids=lambda path: path.stem)
def test_only_arms_outcome_and_week_are_known(path):
    state = blind_form(path.read_text(encoding="utf-8"))
    assert state.comparisons
    for each in state.comparisons:
        known = asdict(each)
        for name in ("key", "outcome", "intervention", "comparator", "week"):
            assert known.pop(name)
        assert not any(known.values())


def test_there_are_studies_with_comparisons():
    assert len(COMPARED) > 5


def test_blind(page):
    shown = everything(page.comparisons.widget)
    for number in ("0.9", "-4.3", "6.2", "0.636", "99 % CI"):
        assert number not in shown
    heading = page.comparisons.place.children[0].children[0].value
    assert " against " in heading and "week" in heading
    assert box_by_label(page.comparisons.widget, "Kind of effect").value == "difference"
    assert box_by_label(page.comparisons.widget, "With its").value == "ci95"
    for field in page.fields.values():
        assert field.box.description.strip()
        if field.name.startswith("comparison."):
            assert field.box.value == ""


def test_from_marking_to_settled_both_ways(page, folder):
    box_by_label(page.comparisons.widget, "With its").value = "ci99"
    put(page, "comparison.c1.effect.1", "0.9 (−4.3 to 6.3)")
    assert "value 0.9, 99 % CI -4.3 to 6.3" in page.fields["comparison.c1.effect.1"].message.value
    put(page, "comparison.c1.p", "0.663")
    page.keep()
    assert "Kept" in page.message.value
    assert cells(folder) == [
        ("difference.ci99", "[-4.3, 6.2]", "[-4.3, 6.3]"),
        ("p", "0.636", "0.663"),
    ]
    assert [rule for rule, _ in rules(folder)] == ["read-differently"] * 2
    path = folder / "studies" / f"{STUDY}.toml"
    before = path.read_text(encoding="utf-8")
    settle_first(page, "second", "6.3 in Table 3")
    assert "Settled" in page.message.value
    assert path.read_text(encoding="utf-8") == before.replace("[-4.3, 6.2]", "[-4.3, 6.3]")
    settle_first(page, "first", "0.636 it is")
    assert path.read_text(encoding="utf-8") == before.replace("[-4.3, 6.2]", "[-4.3, 6.3]")
    assert cells(folder) == [] and rules(folder) == []
    settled = find_reading(folder, STUDY).settled
    assert [(each.keep, each.note) for each in settled if each.against] == [
        *(("second", "6.3 in Table 3"), ("first", "0.636 it is")),
    ]


def test_a_comparison_left_blank_is_told_until_it_is_settled(page, folder):
    page.keep()
    assert [cell for cell, _, _ in cells(folder)] == ["difference.value", "difference.ci99", "p"]
    assert all(second == "" for _, _, second in cells(folder))
    settle_first(page, "second", "it is of another outcome")
    assert "and with it difference.ci99" in page.message.value
    assert [cell for cell, _, _ in cells(folder)] == ["p"]
    settle_first(page, "second", "this as well")
    assert "at least one result or comparison" in page.message.value
    settle_first(page, "first", "it stands in Figure 2")
    assert cells(folder) == [] and rules(folder) == []
    (left,) = load_records(folder).studies[STUDY].comparisons
    assert left.difference is None and str(left.p) == "0.636"


def test_a_comparison_the_list_lacks(page, folder):
    page.comparisons.add()
    (added,) = [each.key for each in page.state.comparisons if each.key != "c1"]
    put(page, f"comparison.{added}.t", "2.2")
    page.keep()
    assert "Not kept" in page.message.value
    assert "Choose the arm" in page.fields[f"comparison.{added}.comparator"].message.value
    one = page.state.comparisons[0]
    put(page, f"comparison.{added}.outcome", one.outcome)
    put(page, f"comparison.{added}.intervention", one.comparator)
    put(page, f"comparison.{added}.comparator", one.intervention)
    put(page, f"comparison.{added}.week", one.week)
    assert "listed above" in page.fields[f"comparison.{added}.intervention"].message.value
    put(page, f"comparison.{added}.week", "77")
    page.keep()
    assert "Kept" in page.message.value
    found = find_reading(folder, STUDY).comparisons
    assert [(str(each.week), str(each.t)) for each in found if each.t is not None] == [
        ("77", "2.2")
    ]
    assert ("t", "", "2.2") in cells(folder)


def test_half_an_entry_is_told_and_not_lost(page, folder):
    put(page, "comparison.c1.n_intervention", "17")
    assert "Type the effect" not in page.fields["comparison.c1.effect.1"].message.value
    page.keep()
    assert "Type the effect" in page.fields["comparison.c1.effect.1"].message.value
    assert find_reading(folder, STUDY).read is None
    put(page, "comparison.c1.n_intervention", "")
    page.keep()
    assert find_reading(folder, STUDY).read is not None


@pytest.mark.parametrize("text", ["<b>1</b>", "1,5; 2,5", "\ud800", "9" * 500, "{}", "ns", "nan"])
def test_anything_typed_is_a_message_or_kept(text, page, folder):
    names = [
        name
        for name, field in page.fields.items()
        if name.startswith("comparison.") and not isinstance(field.box, ipywidgets.Dropdown)
    ]
    assert len(names) > 6
    for name in names:
        put(page, name, text)
    page.keep()
    assert "did not work" not in page.message.value and "<b>" not in everything(page.apart)
    assert load_records(folder).faults == ()


def test_an_outcome_the_first_reader_has_no_result_for_has_no_grid():
    path = EVIDENCE / "studies" / "cobblemarsh-2017.toml"
    head, _, rest = path.read_text(encoding="utf-8").partition("[[result]]")
    text = head + rest[rest.index("[[comparison]]") :]
    state = blind_form(text)
    assert all(not outcome.weeks for outcome in state.outcomes)
    listed = [each.key for each in state.comparisons]
    read = read_blind(state, open_library(EVIDENCE).vocabulary, listed=listed)
    assert read.results == [] and read.problems == ()
    assert [set(each) for each in read.comparisons] == [
        {"outcome", "intervention", "comparator", "week"}
    ] * len(listed)
