"""The form without a browser: widgets are typed into as the page would."""

from __future__ import annotations

import asyncio
import re
from pathlib import Path

import ipywidgets
import pytest

from steelyard.library import open_library
from steelyard.notebook import enter_study
from steelyard.notebook.entry.form import REDRAW_PAUSE_S
from steelyard.notebook.entry.later import Later
from steelyard.records import load_records
from steelyard.records.drafts import drafts
from tests.notebook.entry.driving import unfold

MARKUP = "<script>alert(1)</script><img src=x onerror=alert(2)>"
ODD = [
    MARKUP,
    "12.5 ± 3.1",
    "12.5 (3.1)",
    "12–14",
    "12.5²",
    "1,5; 2,5",
    "12.5 ± 3.1\t14\n" * 10_000,
    "\u202e\u0000\ufffd½≤",
    "\ud800",
    "=1+1",
    "9" * 500,
    "-1e30",
    "{}",
    "@article{x, title={",
]


def put(form, name: str, text: str) -> None:
    form.fields[name].box.value = text


def fill(form) -> None:
    for name, text in {
        "source.title": f"Invented {MARKUP}",
        "source.author": "Marsh, A.",
        "source.issued": "2024",
        "design.kind": "parallel",
        "design.randomised": "yes",
        "arm.a1.label": f"slow {MARKUP}",
        "arm.a1.tags": "slow-lowering",
        "arm.a1.n": "20",
        "arm.a2.label": "usual",
        "arm.a2.tags": "usual-lifting",
        "arm.a2.n": "21",
        "outcome.o1.label": "knee flexion",
        "outcome.o1.construct": "strength",
        "outcome.o1.site": "hamstrings",
        "outcome.o1.unit": "N",
        "outcome.o1.weeks": "12",
        "cell.o1.a1.pre": "200.0 ± 30.1",
        "cell.o1.a1.post@12": "231.0 ± 32",
        "cell.o1.a2.pre": "204.0 ± 30",
        "cell.o1.a2.post@12": "215.0 ± 31",
    }.items():
        put(form, name, text)


def shown(widget) -> str:
    """All markup the page gets from a widget and what is in it."""
    own = widget.value if isinstance(widget, ipywidgets.HTML) else ""
    return own + "".join(map(shown, getattr(widget, "children", ())))


def test_every_box_has_a_label(page):
    for field in page.form.fields.values():
        assert field.box.description.strip()


def test_from_typing_to_a_file(page, folder):
    form = page.form
    fill(form)
    assert "knee flexion" in form.live_view.says.value
    studies = open_library(folder).weigh("slow-lowering-strength").k_studies
    assert f"{studies} studies" in form.live_view.does.value
    assert f"{studies + 1} studies" in form.live_view.does.value
    assert "<svg" in form.live_view.does.value and "Marsh 2024" in form.live_view.does.value
    form.saving.save()
    assert "Saved: studies/marsh-2024.toml" in form.saving.message.value
    study = load_records(folder).studies["marsh-2024"]
    assert study.source.title == f"Invented {MARKUP}"
    assert drafts(folder) == ()
    put(form, "cell.o1.a2.post@12", "215.50 ± 31")
    form.saving.save()
    saved = load_records(folder).studies["marsh-2024"]
    assert str(saved.results[1].post.mean) == "215.50" and len(saved.results) == 2


def test_what_is_typed_is_never_markup(page):
    fill(page.form)
    html = shown(page.place)
    assert "<script" not in html and "<img" not in html and "&lt;script" in html


@pytest.mark.parametrize("text", ODD, ids=range(len(ODD)))
def test_anything_in_any_field_is_a_message_or_text(text, page, folder, capsys):
    form = page.form
    fill(form)
    unfold(form)
    form.comparisons._add()
    form.comparisons.boxes.second(form.state.comparisons[0])
    form.appraisal._overrule("measurement")
    names = [
        name for name in form.fields if not isinstance(form.fields[name].box, ipywidgets.Dropdown)
    ]
    assert len(names) > 80

    async def type_everywhere() -> None:
        for name in names:
            if name in form.fields:
                put(form, name, text)
        await asyncio.sleep(2 * REDRAW_PAUSE_S)

    asyncio.run(type_everywhere())
    form.outcomes.grids["o1"]._fill()
    form.saving.save()
    html = shown(page.place)
    assert "<script" not in html and "<img" not in html and "Traceback" not in html
    assert not re.search(r"[A-Za-z]+(Error|Exception)\b", html)
    assert "That did not work" not in form.saving.message.value
    assert capsys.readouterr().err == ""
    records = load_records(folder)
    assert records.faults == () and len(records.studies) >= 41


def test_messages_in_words_beside_the_field(page):
    form = page.form
    fill(form)
    put(form, "cell.o1.a1.pre", "two hundred")
    assert "expected a number" in form.fields["cell.o1.a1.pre"].message.value
    put(form, "cell.o1.a1.pre", "200.0 (29)")
    assert "mean 200.0, SD 29" in form.fields["cell.o1.a1.pre"].message.value


def test_blank_needs_are_said_on_saving_only(page):
    form = page.form
    put(form, "source.author", "Marsh, A.")
    assert form.fields["source.title"].message.value == ""
    form.saving.save()
    assert "needs a title" in form.fields["source.title"].message.value
    assert "Not saved" in form.saving.message.value


def test_a_start_not_typed_yet_is_asked_for_on_saving(page):
    form = page.form
    fill(form)
    put(form, "cell.o1.a1.pre", "")
    assert "expected pre" not in form.fields["cell.o1.a1.post@12"].message.value
    form.saving.save()
    assert "expected pre beside post" in form.fields["cell.o1.a1.post@12"].message.value
    assert "Not saved" in form.saving.message.value


def test_a_citation_fills_the_fields(page):
    form = page.form
    put(form, "citation", "@article{a, title={Slow}, author={Marsh, A.}, year=2024}")
    assert form.fields["source.title"].box.value == "Slow"
    assert form.state.source["issued"] == "2024"
    put(form, "citation", "@article{a, title={")
    assert "not valid BibTeX" in form.fields["citation"].message.value


def test_a_pasted_block_fills_the_grid(page):
    form = page.form
    fill(form)
    put(form, "paste.o1", "20\t1.0 ± 0.2\t2.0 ± 0.3\n19\t1.1 ± 0.2\t1.4 ± 0.3")
    form.outcomes.grids["o1"]._fill()
    assert form.fields["cell.o1.a2.post@12"].box.value == "1.4 ± 0.3"
    assert form.fields["detail.o1.a2.12.n"].box.value == "19"
    assert "Filled in 4 cells and n" in form.fields["paste.o1"].message.value


def test_a_draft_is_kept_from_the_first_keystroke_and_offered_again(page, folder):
    put(page.form, "source.title", "H")
    (draft,) = drafts(folder)
    assert draft.form["source"]["title"] == "H"
    put(page.form, "source.title", "Half a study")
    again = enter_study()
    assert "Half a study" in shown(again.form.notice)
    again.form.notice.children[0].children[1].children[1].click()
    assert again.form.fields["source.title"].box.value == "Half a study"
    assert again.form.draft_id == draft.id


def test_opening_alone_writes_nothing(page, folder):
    assert not (folder / ".drafts").exists() and not (folder / ".lock").exists()


def test_changing_a_study_keeps_comments(folder):
    path = folder / "studies" / "oxmere-2013.toml"
    before = path.read_text(encoding="utf-8")
    form = enter_study("oxmere-2013").form
    put(form, "cell.o2.a2.post@12", "80.9 ± 4.99")
    form.saving.save()
    after = path.read_text(encoding="utf-8")
    assert after == before.replace("se = 3.99", "se = 4.99")


def test_a_file_changed_meanwhile_is_not_overwritten(folder):
    path = folder / "studies" / "oxmere-2013.toml"
    form = enter_study("oxmere-2013").form
    put(form, "cell.o2.a2.post@12", "80.9 ± 4.99")
    theirs = path.read_text(encoding="utf-8").replace("n = 18", "n = 17")
    path.write_text(theirs, encoding="utf-8")
    form.saving.save()
    assert "has changed since it was opened" in form.saving.message.value
    told = shown(form.saving.more)
    assert "3.99" in told and "4.99" in told and "arm[usual].n" in told
    assert path.read_text(encoding="utf-8") == theirs
    form.saving.more.children[0].children[1].children[0].click()
    assert "4.99" in path.read_text(encoding="utf-8")
    assert list((folder / ".removed").glob("oxmere-2013--*.toml"))


def test_removed_and_brought_back(folder):
    path = folder / "studies" / "oxmere-2013.toml"
    before = path.read_bytes()
    form = enter_study("oxmere-2013").form
    form.saving.remove_button.click()
    assert path.exists()
    form.saving.remove_button.click()
    assert not path.exists()
    form.saving.more.children[0].children[0].click()
    assert path.read_bytes() == before


def test_a_new_word_is_written_with_the_study(page, folder):
    form = page.form
    fill(form)
    assert form.add_word("site", "calf")
    assert not form.add_word("site", "hamstring")
    assert "much alike" in form.fields["word.label"].message.value
    put(form, "outcome.o1.site", "calf")
    vocabulary = Path(folder / "vocabulary.toml").read_text(encoding="utf-8")
    assert "calf" not in vocabulary
    form.saving.save()
    assert load_records(folder).studies["marsh-2024"].outcomes[0].site == "calf"


def test_typing_does_not_wait_for_redraws():
    done = []

    async def type_fast() -> None:
        later = Later(lambda: done.append(1), pause_s=0.02)
        for _ in range(50):
            later.ask()
        assert done == []
        await asyncio.sleep(0.1)

    asyncio.run(type_fast())
    assert done == [1]
