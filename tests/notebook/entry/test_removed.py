"""A removed study is offered again whenever the form is opened anew."""

from __future__ import annotations

import pytest

from steelyard.errors import UsageError
from steelyard.notebook import enter_study
from steelyard.notebook.entry.removed_view import still_removed
from steelyard.records.drafts import drafts
from steelyard.records.saving import remove_study
from tests.notebook.entry.driving import box_by_label, put, words_of
from tests.notebook.entry.test_form import shown


def test_offered_again_after_the_message_is_gone(folder):
    path = folder / "studies" / "oxmere-2013.toml"
    before = path.read_bytes()
    form = enter_study("oxmere-2013").form
    form.saving.remove_button.click()
    form.saving.remove_button.click()
    assert "later in the form that enter_study() opens" in words_of(form.saving.message)
    page = enter_study()
    put(page.form, "source.title", "Half a study")
    (draft,) = drafts(folder)
    told = shown(page.form.notice)
    assert "Removed from the library" in told and "oxmere-2013, removed on" in told
    assert page.library.studies.get("oxmere-2013") is None
    box_by_label(page.form.notice, "Bring back oxmere-2013").click()
    assert path.read_bytes() == before and still_removed(folder) == ()
    assert "Brought back oxmere-2013" in words_of(page.form.saving.message)
    assert "Removed from the library" not in shown(page.form.notice)
    assert "oxmere-2013" in page.form.library.studies
    put(page.form, "source.title", "Half a study more")
    assert [each.id for each in drafts(folder)] == [draft.id]
    assert enter_study("oxmere-2013").form.state.editing == "oxmere-2013"


def test_a_removed_study_asked_for_by_id_is_told_of(folder):
    remove_study(folder, "oxmere-2013")
    with pytest.raises(UsageError, match="was removed: enter_study\\(\\) offers to bring it back"):
        enter_study("oxmere-2013")


def test_the_latest_copy_once_and_none_that_the_library_has(folder):
    path = folder / "studies" / "oxmere-2013.toml"
    first = path.read_bytes()
    remove_study(folder, "oxmere-2013")
    path.write_bytes(first + b"# later\n")
    latest = remove_study(folder, "oxmere-2013")
    path.write_bytes(first)
    assert still_removed(folder) == ()
    path.unlink()
    (folder / ".removed" / "no copy of ours.toml").write_text("x", encoding="utf-8")
    (folder / ".removed" / "bad--20260101t000000000000.toml").write_text("= <b>", encoding="utf-8")
    assert {each.study: each.copy for each in still_removed(folder)}["oxmere-2013"] == latest
    told = shown(enter_study().form.notice)
    assert told.count("removed on") == 2 and "a file that is no record" in told
    assert "<b>" not in told


def test_nothing_removed_nothing_said(page):
    assert page.form.notice.children == ()
