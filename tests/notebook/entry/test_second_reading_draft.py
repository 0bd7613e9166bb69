"""What a second reader types is kept from the first keystroke, apart from the study's own draft."""

from __future__ import annotations

import asyncio
import json
import time

import pytest

from steelyard.notebook import enter_study, second_reading
from steelyard.notebook.entry.form import DRAFT_LONGEST_S, DRAFT_PAUSE_S
from steelyard.records.drafts import READING_DRAFTS_FOLDER, drafts
from steelyard.records.second_reading import find_reading
from tests.notebook.entry.driving import box_by_label
from tests.notebook.entry.test_second_reading import NUMBERS, STUDY, everything

COMPARED = "nettlewater-2023"


def begun(folder):
    return drafts(folder, place=READING_DRAFTS_FOLDER)


def put(page, name: str, text: str) -> None:
    page.fields[name].box.value = text


def start(page, name: str = "Ben") -> None:
    box_by_label(page.body, "Your name").value = name
    put(page, "cell.o1.a1.pre", "90.5 ± 4.16")


def go_on(page, who: str = "Ben") -> None:
    box_by_label(page.notice, f"Go on as {who}").click()


@pytest.fixture
def page(folder):
    enter_study(STUDY).form.saving.second_button.click()
    return second_reading(STUDY)


def test_kept_from_the_first_keystroke_and_offered_again(page, folder):
    assert begun(folder) == () and page.notice.children == ()
    put(page, "cell.o1.a1.pre", "9")
    (draft,) = begun(folder)
    assert draft.form["outcomes"][0]["cells"]["a1|pre"] == "9"
    start(page)
    put(page, "cell.o2.a2.post@12", "80.9 ± 8.99")
    again = second_reading(STUDY)
    assert again.fields["cell.o1.a1.pre"].box.value == ""
    assert "Ben, last typed in" in everything(again.notice)
    go_on(again)
    assert again.fields["cell.o1.a1.pre"].box.value == "90.5 ± 4.16"
    assert again.fields["cell.o2.a2.post@12"].box.value == "80.9 ± 8.99"
    assert box_by_label(again.body, "Your name").value == "Ben"
    assert "mean 90.5, SD 4.16" in again.fields["cell.o1.a1.pre"].message.value
    put(again, "cell.o1.a1.pre", "90.5 ± 4.17")
    (same,) = begun(folder)
    assert same.id == draft.id


def test_kept_while_typing_goes_on(page, folder):
    async def type_on() -> str:
        started, length = time.monotonic(), 0
        while time.monotonic() - started < 3 * DRAFT_LONGEST_S:
            length += 1
            put(page, "detail.o1.a1.12.where", "x" * length)
            await asyncio.sleep(DRAFT_PAUSE_S / 3)
        (draft,) = begun(folder)
        return draft.form["outcomes"][0]["details"]["a1|12"]["where"]

    assert len(asyncio.run(type_on())) > 10


def test_from_draft_to_a_kept_reading(page, folder):
    for outcome in page.state.outcomes:
        for column in outcome.columns():
            outcome.styles[column] = "se"
    start(page)
    for name, text in NUMBERS.items():
        put(page, name, text)
    again = second_reading(STUDY)
    go_on(again)
    again.keep()
    assert "Kept" in again.message.value
    reading = find_reading(folder, STUDY)
    assert reading.read_by == "Ben" and str(reading.results[0].pre.se) == "4.16"
    assert begun(folder) == () and again.notice.children == ()
    again._keep_draft()
    assert begun(folder) == (), "nothing typed before comes back as a draft"


def test_never_mixed_with_the_draft_of_the_study(page, folder):
    first = enter_study(STUDY).form
    first.fields["cell.o1.a1.pre"].box.value = "77.7 ± 7.77"
    start(page)
    (own,) = drafts(folder)
    assert "77.7" in json.dumps(own.form) and own.id not in [each.id for each in begun(folder)]
    assert "77.7" not in json.dumps(begun(folder)[0].form)
    assert "77.7" not in everything(second_reading(STUDY).widget)
    for opened in (enter_study(), enter_study(STUDY)):
        told = everything(opened.form.notice)
        assert told.count("last typed in") == 1 and "Ben" not in told
    first.saving.save()
    assert len(begun(folder)) == 1


def test_no_number_of_the_first_reader_goes_into_it(folder):
    for study_id in (STUDY, COMPARED):
        enter_study(study_id).form.saving.second_button.click()
        page = second_reading(study_id)
        box_by_label(page.body, "Your name").value = "Ben"
        kept = json.dumps(begun(folder)[0].form)
        text = (folder / "studies" / f"{study_id}.toml").read_text(encoding="utf-8")
        start_of_numbers = min(
            text.index(mark) for mark in ("[[result]]", "[[comparison]]") if mark in text
        )
        printed = {word.strip(",{}[]") for word in text[start_of_numbers:].split() if "." in word}
        numbers = {word for word in printed if word.replace(".", "").lstrip("-").isdigit()}
        assert len(numbers) > 2
        assert not [number for number in numbers if f'"{number}"' in kept]


def test_two_readers_and_one_thrown_away(page, folder):
    start(page)
    other = second_reading(STUDY)
    start(other, "Cy")
    put(other, "cell.o1.a1.pre", "91.0 ± 4.2")
    assert len(begun(folder)) == 2
    again = second_reading(STUDY)
    put(again, "cell.o1.a2.pre", "87.9 ± 5.35")
    go_on(again, "Cy")
    assert again.fields["cell.o1.a1.pre"].box.value == "91.0 ± 4.2"
    assert again.fields["cell.o1.a2.pre"].box.value == ""
    assert len(begun(folder)) == 3, "what stood in the boxes is a draft of its own"
    last = second_reading(STUDY)
    told = everything(last.notice)
    assert told.count("Go on as") == 3
    box_by_label(last.notice, "Throw it away").click()
    assert len(begun(folder)) == 2 and everything(last.notice).count("Go on as") == 2


def test_comparisons_listed_and_added_come_back(folder):
    enter_study(COMPARED).form.saving.second_button.click()
    page = second_reading(COMPARED)
    key = page.listed[0]
    put(page, f"comparison.{key}.p", "0.636")
    page.comparisons.add()
    added = page.state.comparisons[-1].key
    put(page, f"comparison.{added}.t", "2.1")
    page.redraw()
    again = second_reading(COMPARED)
    go_on(again, "a reader without a name yet")
    assert again.listed == page.listed
    assert again.fields[f"comparison.{key}.p"].box.value == "0.636"
    assert again.fields[f"comparison.{added}.t"].box.value == "2.1"
    assert "Take added comparison 1 away" in everything(again.body)


@pytest.mark.parametrize(
    ("old", "new"),
    [("week = 12", "week = 10"), ('id = "usual"', 'id = "normal"')],
)
def test_a_study_changed_since_is_not_filled_in_but_told(old, new, page, folder):
    start(page)
    path = folder / "studies" / f"{STUDY}.toml"
    text = path.read_text(encoding="utf-8").replace(old, new)
    path.write_text(
        text.replace('arm = "usual"', 'arm = "normal"') if "id" in old else text, "utf-8"
    )
    again = second_reading(STUDY)
    told = everything(again.notice)
    assert "not filled in" in told and "90.5 ± 4.16" in told and "Go on as" not in told
    assert again.fields["cell.o1.a1.pre"].box.value == ""


@pytest.mark.parametrize("text", ["<b>12</b>", "\ud800", "x" * 30_000, "12.5 ± 3.1\t14\n" * 100])
def test_anything_typed_is_kept_and_comes_back(text, page, folder):
    box_by_label(page.body, "Your name").value = text
    put(page, "detail.o1.a1.12.where", text)
    again = second_reading(STUDY)
    assert "<b>" not in everything(again.notice).replace("Go on as <b>12</b>", "")
    box = again.notice.children[0].children[1].children[1]
    box.click()
    assert again.fields["detail.o1.a1.12.where"].box.value.startswith(text[:10].split("\n")[0])
