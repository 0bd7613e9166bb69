"""A study entered in a real browser, from the keyboard alone, and got back after a crash."""

from __future__ import annotations

import json
import os
from decimal import Decimal
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect

from steelyard.library import open_library
from steelyard.records import load_records
from tests.browser.jupyter import WAIT_MS, Browser, Lab, browsing, chromium, running_lab

NOTEBOOK = "01-enter-a-study.ipynb"
TITLE = "Invented: slow lowering at Tarnside <script>window.ran = true</script>"
CITATION = json.dumps(
    {
        "title": TITLE,
        "author": [{"family": "Marshgate", "given": "A."}, {"family": "Fell", "given": "B."}],
        "issued": {"date-parts": [[2024]]},
        "container-title": "Journal of Invented Trials",
    }
)
QUESTION = "slow-lowering-strength"
expect.set_options(timeout=WAIT_MS)


def test_there_is_a_browser_where_it_counts():
    assert chromium() or os.environ.get("CI") != "true", "the browser tests need Chromium"


@pytest.fixture(scope="module")
def lab(tmp_path_factory):
    if not chromium():
        pytest.fail("the browser tests need Chromium")
    with running_lab(tmp_path_factory.mktemp("lab")) as running:
        yield running


@pytest.fixture
def browser():
    with browsing() as seen:
        yield seen
        assert seen.strangers == []


def focused_label(page: Page) -> str:
    """The label of the box that has the keyboard; a button's text."""
    return page.evaluate(
        """() => {
          const box = document.activeElement;
          return (box?.labels?.[0] ?? box)?.textContent?.trim() ?? '';
        }"""
    )


def tab_to(page: Page, label: str, *, most: int = 150) -> None:
    """Press Tab until a box with that label has the keyboard."""
    for _ in range(most):
        if focused_label(page) == label:
            return
        page.keyboard.press("Tab")
    raise AssertionError(f"no {label!r} to be reached with Tab; last was {focused_label(page)!r}")


def type_into(page: Page, label: str, text: str) -> None:
    tab_to(page, label)
    page.keyboard.insert_text(text)


def choose(page: Page, label: str, text: str) -> None:
    """Choose in a list with the arrow keys."""
    tab_to(page, label)
    page.keyboard.press("Home")
    for _ in range(40):
        shown = page.evaluate("document.activeElement.selectedOptions[0].textContent.trim()")
        if shown.replace("\xa0", " ").startswith(text):
            return
        page.keyboard.press("ArrowDown")
    raise AssertionError(f"{label!r} does not offer {text!r}")


def cell_message(page: Page, label: str):
    return page.get_by_label(label, exact=True).locator(
        "xpath=ancestor::*[contains(@class, 'sy-field')][1]//*[contains(@class, 'sy-message')]"
    )


def enter_head(page: Page) -> None:
    """Everything before the numbers."""
    expect(page.get_by_label("Paste the citation")).to_be_focused()
    page.keyboard.insert_text(CITATION)
    expect(page.get_by_label("Title", exact=True)).to_have_value(TITLE)
    choose(page, "How the study was made", "parallel")
    choose(page, "Randomised", "yes")
    type_into(page, "Arm 1: name", "with slow lowering")
    type_into(page, "Tags", "slow-lowering")
    type_into(page, "People", "20")
    type_into(page, "Arm 2: name", "usual lifting")
    type_into(page, "Tags", "usual-lifting")
    type_into(page, "People", "21")
    type_into(page, "Outcome: name", "isometric knee flexion")
    choose(page, "Measures", "strength")
    choose(page, "Site", "hamstrings")
    type_into(page, "Unit", "N")
    type_into(page, "Measured after, weeks", "12")
    page.keyboard.press("Tab")
    page.get_by_label("After 12 weeks, usual lifting", exact=True).wait_for()


def pooled(page: Page, which: str) -> str:
    row = page.locator(".sy-live tr", has_text=which).first
    return row.locator("td").inner_text()


def test_a_study_is_entered_from_the_keyboard_alone(lab: Lab, browser: Browser):
    page = browser.page
    browser.run_first_cell(lab.notebook(NOTEBOOK))
    assert serious_faults(page) == [], "in the empty form"
    enter_head(page)
    tab_to(page, "Before, spread as")
    choose(page, "Before, spread as", "SE")
    choose(page, "After 12 weeks, spread as", "SE")
    type_into(page, "Before, with slow lowering", "200.40 ± 7.1")
    type_into(page, "After 12 weeks, with slow lowering", "231,0 (7,2)")
    type_into(page, "Before, usual lifting", "204.0 ± 6.9")
    type_into(page, "After 12 weeks, usual lifting", "215 ± seven")
    wrong = cell_message(page, "After 12 weeks, usual lifting")
    expect(wrong).to_contain_text("expected a number for the SE, found 'seven'")
    assert serious_faults(page) == [], "with a warning shown"
    page.keyboard.press("Control+A")
    page.keyboard.insert_text("215.0 ± 7.0")
    expect(wrong).to_have_text("mean 215.0, SE 7.0")
    type_parts(page, "Before, usual lifting")

    live = page.locator(".sy-live")
    in_view = "() => 0 <= document.querySelector('.sy-live').getBoundingClientRect().top"
    assert page.evaluate(in_view), "what follows stays in sight beside the boxes"
    expect(live).to_contain_text("SE 7.1 × √20 = SD")
    expect(live).to_contain_text("assumed")
    expect(live).to_contain_text("Marshgate & Fell 2024")
    expect(live.locator("svg")).to_contain_text("new")
    before, after = pooled(page, "without it"), pooled(page, "with it")
    studies = open_library(lab.library).weigh(QUESTION).k_studies
    assert before.endswith(f"; {studies} studies") and after.endswith(f"; {studies + 1} studies")
    assert before != after
    drawn = live.locator("svg").inner_html()
    tab_to_previous(page, "After 12 weeks, with slow lowering")
    page.keyboard.press("Control+A")
    page.keyboard.insert_text("251.0 ± 7.2")
    page.wait_for_function(
        "before => document.querySelector('.sy-live svg').innerHTML !== before", arg=drawn
    )
    assert pooled(page, "with it") != after

    type_into(page, "Where in the paper", "Table 2, p. 6")
    choose(page, "Read off", "table")
    open_new_parts(page)
    assert serious_faults(page) == [], "with every part open"
    tab_to(page, "Save the study")
    page.keyboard.press("Enter")
    expect(page.locator(".sy-saved")).to_have_text("Saved: studies/marshgate-2024.toml")
    assert page.evaluate("window.ran") is None

    records = load_records(lab.library)
    assert records.faults == ()
    study = records.studies["marshgate-2024"]
    assert study.source.title == TITLE and study.source.issued == 2024
    assert (study.design.kind, study.design.randomised) == ("parallel", True)
    assert [(arm.label, arm.tags, arm.n) for arm in study.arms] == [
        ("with slow lowering", ("slow-lowering",), 20),
        ("usual lifting", ("usual-lifting",), 21),
    ]
    outcome = study.outcomes[0]
    assert (outcome.construct_id, outcome.site, outcome.unit) == ("strength", "hamstrings", "N")
    one, other = study.results
    assert (one.week, one.where, one.read_off) == (Decimal(12), "Table 2, p. 6", "table")
    printed = [(r.pre.mean, r.pre.se, r.post.mean, r.post.se) for r in (one, other)]
    assert [tuple(map(str, numbers)) for numbers in printed] == [
        ("200.40", "7.1", "251.0", "7.2"),
        ("204.0", "6.9", "215.0", "7.0"),
    ]
    (comparison,) = study.comparisons
    assert (comparison.intervention, comparison.week) == (study.arms[0].id, Decimal(12))
    assert (comparison.t, comparison.where) == (Decimal("2.20"), "Results, p. 7")
    assert study.appraisal.measured_by.answer == "knew"
    assert study.overrulings[0].reason == "a machine counts"
    assert not any((lab.library / ".drafts").glob("*.json"))


def type_parts(page: Page, cell: str) -> None:
    """Type one cell in parts from the keyboard, see them combined, and take them away again."""
    tab_to(page, "Outcome 1, printed for parts of a group such as men and women")
    page.keyboard.press("Enter")
    tab_to(page, "Add a cell printed in parts")
    page.keyboard.press("Enter")
    page.get_by_label("Part 2").wait_for()
    page.get_by_label("Numbers printed in parts").focus()
    choose(page, "Numbers printed in parts", cell)
    for label in ("Part 1", "Part 2"):
        type_into(page, label, "women" if label == "Part 1" else "men")
        type_into(page, "People in it", "10")
        type_into(page, "Its mean", "204.0")
        type_into(page, "Its SD", "30.0")
    expect(page.get_by_text("Together 20 people, mean 204, SD 29.2")).to_be_visible()
    expect(cell_message(page, cell)).to_contain_text("Its parts are typed below")
    assert serious_faults(page) == [], "with parts of a group open"
    tab_to(page, "Take cell 1 in parts away")
    page.keyboard.press("Enter")
    expect(cell_message(page, cell)).to_have_text("mean 204.0, SE 6.9")
    tab_to_previous(page, "After 12 weeks, usual lifting")


def open_new_parts(page: Page) -> None:
    """Open the folded parts from the keyboard, and type into them."""
    tab_to(page, "The paper’s own comparisons: a difference, t, F or p")
    assert page.evaluate("document.activeElement.getAttribute('aria-expanded')") == "false"
    page.keyboard.press("Enter")
    tab_to(page, "Add a comparison")
    page.keyboard.press("Enter")
    page.get_by_label("Outcome compared").wait_for()
    type_into(page, "t", "2.20")
    type_into(page, "Where in the paper it stands", "Results, p. 7")
    tab_to(page, "How the study was run: questions and what follows")
    page.keyboard.press("Enter")
    page.get_by_label("Who measured, and did they know the group?").wait_for()
    choose(page, "Who measured, and did they know the group?", "knew")
    follows = page.locator(".sy-follows", has_text="whoever measured knew the group")
    expect(follows).to_contain_text("some concern")
    tab_to(page, "Overrule: measurement")
    page.keyboard.press("Enter")
    page.get_by_label("Your judgement").wait_for()
    choose(page, "Your judgement", "low")
    message = cell_message(page, "Why")
    expect(message).to_contain_text("without a reason")
    type_into(page, "Why", "a machine counts")
    type_into(page, "Your name", "the coach")
    expect(page.locator(".sy-follows", has_text="a machine counts")).to_contain_text("low concern")


def test_a_draft_comes_back_after_the_kernel_is_killed(lab: Lab, browser: Browser):
    page = browser.page
    browser.run_first_cell(lab.notebook(NOTEBOOK))
    expect(page.get_by_label("Paste the citation")).to_be_focused()
    type_into(page, "Title", "Half a study <img src=x onerror='window.ran = true'>")
    type_into(page, "Arm 1: name", "half an arm")
    type_into(page, "Arm 2: name", "the other half")
    type_into(page, "Outcome: name", "isometric knee flexion")
    type_into(page, "Measured after, weeks", "12")
    page.keyboard.press("Tab")
    page.get_by_label("After 12 weeks, half an arm", exact=True).wait_for()
    type_into(page, "Before, half an arm", "200.40 ± 7.1")
    type_into(page, "After 12 weeks, half an arm", "231,0 (7,2")
    wait_for_draft(page, lab.library, "231,0 (7,2")
    lab.kill_kernels()
    page.goto("about:blank")
    browser.run_first_cell(lab.notebook(NOTEBOOK))
    expect(page.locator(".sy-note")).to_contain_text("Half a study")
    page.get_by_role("button", name="Go on with “Half a study").focus()
    page.keyboard.press("Enter")
    expect(page.get_by_label("Arm 1: name")).to_have_value("half an arm")
    before = page.get_by_label("Before, half an arm", exact=True)
    expect(before).to_have_value("200.40 ± 7.1")
    half_typed = page.get_by_label("After 12 weeks, half an arm", exact=True)
    expect(half_typed).to_have_value("231,0 (7,2")
    expect(page.get_by_label("Title", exact=True)).to_have_value(
        "Half a study <img src=x onerror='window.ran = true'>"
    )
    assert page.evaluate("window.ran") is None


def tab_to_previous(page: Page, label: str) -> None:
    for _ in range(60):
        if focused_label(page) == label:
            return
        page.keyboard.press("Shift+Tab")
    raise AssertionError(f"no {label!r} before this box")


def wait_for_draft(page: Page, library: Path, text: str) -> None:
    for _ in range(WAIT_MS // 100):
        kept = [path.read_text("utf-8") for path in (library / ".drafts").glob("*.json")]
        if any(text in draft for draft in kept):
            return
        page.wait_for_timeout(100)
    raise AssertionError("no draft was kept")


def serious_faults(page: Page) -> list[str]:
    """What axe finds in the form that would keep somebody from using it."""
    found = Axe().run(page, context=".sy-entry").response["violations"]
    return [
        f"{fault['id']}: {fault['nodes'][0]['html'][:200]}"
        for fault in found
        if fault["impact"] in ("serious", "critical")
    ]
