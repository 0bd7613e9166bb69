"""A second citation leaves nothing of the first behind, and what was typed by hand stays."""

from __future__ import annotations

from steelyard.notebook import enter_study
from steelyard.notebook.entry.citing import cite
from steelyard.notebook.entry.state import FormState
from tests.notebook.entry.driving import put, words_of

FIRST = (
    "@article{a, title={First}, author={Marsh, A.}, year=2001, journal={J. One}, volume=5, "
    "pages={1--9}, doi={10.5555/first}, url={https://one.invalid/}}"
)
SECOND = "@article{b, title={Second}, author={Fell, R.}, year=2002}"
KEYS = ("title", "author", "issued", "container-title", "volume", "issue", "page", "DOI")


def source(form) -> dict[str, str]:
    shown = {key: form.fields[f"source.{key}"].box.value for key in KEYS}
    assert {key: form.state.source.get(key, "") for key in KEYS} == shown
    return {key: text for key, text in shown.items() if text}


def test_what_the_second_lacks_is_cleared_and_said(page):
    form = page.form
    put(form, "citation", FIRST)
    assert source(form)["DOI"] == "10.5555/first"
    put(form, "citation", SECOND)
    assert source(form) == {"title": "Second", "author": "Fell, R.", "issued": "2002"}
    assert "URL" not in form.state.source
    said = words_of(form.fields["citation"].message)
    assert "Cleared, since this citation has none: journal, volume, pages, DOI, address." in said


def test_what_was_typed_by_hand_stays_and_is_said(page):
    form = page.form
    put(form, "source.issue", "3")
    put(form, "citation", FIRST)
    assert "Left as it stood" not in words_of(form.fields["citation"].message)
    put(form, "source.volume", "55")
    put(form, "source.funding", "nobody")
    put(form, "citation", SECOND)
    found = source(form)
    assert found["issue"] == "3" and found["volume"] == "55" and "DOI" not in found
    said = words_of(form.fields["citation"].message)
    assert "Left as it stood, since no citation filled it in: issue, volume." in said
    assert form.state.source["funding"] == "nobody"


def test_a_citation_that_cannot_be_read_clears_nothing(page):
    form = page.form
    put(form, "citation", FIRST)
    before = source(form)
    put(form, "citation", "@article{b, title={Second")
    assert source(form) == before
    put(form, "citation", "")
    assert source(form) == before


def test_the_same_paper_in_other_words_keeps_what_it_lacks(page):
    form = page.form
    put(form, "citation", FIRST)
    put(form, "citation", "https://doi.org/10.5555/FIRST")
    assert source(form)["volume"] == "5"
    put(form, "citation", SECOND)
    assert "volume" not in source(form)


def test_it_is_known_after_a_crash_too(page):
    put(page.form, "citation", FIRST)
    again = enter_study()
    again.form.notice.children[0].children[1].children[1].click()
    put(again.form, "citation", SECOND)
    assert "DOI" not in source(again.form)


def test_a_study_on_disk_says_what_stayed(folder):
    form = enter_study("oxmere-2013").form
    kept = [key for key in source(form) if key not in ("title", "author", "issued")]
    put(form, "citation", SECOND)
    assert set(kept) < set(source(form))
    assert bool(kept) == ("Left as it stood" in words_of(form.fields["citation"].message))


def test_a_draft_without_the_memory_of_a_citation_clears_nothing():
    state = FormState.from_json({"source": {"title": "First", "volume": "5"}})
    cite(state, {"title": "Second"})
    assert state.source == {"title": "Second", "volume": "5"}
