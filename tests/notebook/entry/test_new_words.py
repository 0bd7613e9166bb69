"""Words added to the vocabulary: whatever is typed, the form and its draft stay usable."""

from __future__ import annotations

import copy

import pytest

from steelyard.notebook import enter_study
from steelyard.notebook.entry.form import EntryForm
from steelyard.notebook.entry.state import FormState
from steelyard.records import load_records
from steelyard.records.drafts import drafts, keep_draft
from tests.notebook.entry.driving import box_by_label, put, words_of
from tests.notebook.entry.test_form import ODD, fill, shown


def add_word(page, label: str) -> str:
    page.form.fields["word.label"].box.value = label
    box_by_label(page.place, "Add the word").click()
    return words_of(page.form.fields["word.label"].message)


@pytest.mark.parametrize("label", ["cal\ud800f", "\udfff", "calf\x00", "calf\x1b[2J"])
def test_half_a_character_is_no_word(label, page, folder):
    form = page.form
    fill(form)
    assert "type it again" in add_word(page, label)
    assert form.state.new_words == []
    put(form, "source.title", "Another title")
    assert "That did not work" not in form.saving.message.value
    assert enter_study().form.notice.children
    form.saving.save()
    assert load_records(folder).studies["marsh-2024"].source.title == "Another title"


@pytest.mark.parametrize("label", ODD, ids=range(len(ODD)))
def test_anything_as_a_word_is_a_message_or_a_word(label, page, folder):
    form = page.form
    fill(form)
    add_word(page, label.split("\n")[0])
    put(form, "source.title", "Another title")
    assert "That did not work" not in form.saving.message.value
    again = enter_study()
    again.form.notice.children[0].children[1].children[1].click()
    assert again.form.fields["source.title"].box.value == "Another title"
    form.saving.save()
    assert "Saved" in form.saving.message.value
    assert load_records(folder).faults == ()


def test_a_draft_that_holds_a_broken_word_opens_without_it(page, folder):
    fill(page.form)
    state = page.form.state.as_json() | {
        "new_words": [
            {"kind": "site", "id": "calf", "label": "cal\ud800f"},
            {"kind": "verse", "label": "calf"},
            {"kind": "site", "label": "calf"},
        ]
    }
    for draft in drafts(folder):
        keep_draft(folder, draft.id, state, title="kept by an earlier form")
    again = enter_study()
    again.form.notice.children[0].children[1].children[1].click()
    form = again.form
    assert form.fields["cell.o1.a1.pre"].box.value == "200.0 ± 30.1"
    assert "calf" in form.vocabulary.words("site")
    form.saving.save()
    assert "Saved" in form.saving.message.value


@pytest.mark.parametrize("text", ODD, ids=range(len(ODD)))
def test_a_draft_of_anything_opens(text, page):
    fill(page.form)
    page.form.state.add_comparison()
    page.form.state.new_words.append({"kind": "site", "id": "calf", "label": "calf"})

    def filled(values):
        if isinstance(values, dict):
            return {
                name: value if name in ("key", "kind") else filled(value)
                for name, value in values.items()
            }
        return [filled(each) for each in values] if isinstance(values, list) else text

    state = filled(copy.deepcopy(page.form.state.as_json()))
    state |= {"editing": "", "base": "", "opened": ""}
    form = EntryForm(page.library, FormState.from_json(state))
    assert "source.title" in form.fields
    assert "That did not work" not in form.saving.message.value
    assert "Traceback" not in shown(form.widget)
