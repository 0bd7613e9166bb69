"""Drafts: kept whole, offered again, and no business of the library's readers."""

from __future__ import annotations

import pytest

from steelyard.errors import UsageError
from steelyard.records import load_records
from steelyard.records.drafts import drafts, drop_draft, keep_draft, new_draft_id, read_draft


def test_kept_and_read_again(library):
    form = {"source": {"title": "½ <b>\ud800 12,5 ± 3,1"}, "arms": [{"n": "x" * 10_000}]}
    draft = keep_draft(library, new_draft_id("good-one"), form, study="good-one", title="½")
    assert read_draft(library, draft.id) == draft
    assert drafts(library) == (draft,)


def test_the_latest_comes_first_and_a_dropped_one_is_gone(library):
    one, other = (keep_draft(library, new_draft_id(), {"n": n}) for n in "ab")
    again = keep_draft(library, one.id, {"n": "c"})
    assert {draft.id for draft in drafts(library)} == {one.id, other.id}
    assert read_draft(library, one.id) == again
    drop_draft(library, one.id)
    drop_draft(library, one.id)
    assert [draft.id for draft in drafts(library)] == [other.id]


def test_broken_drafts_are_passed_over(library):
    good = keep_draft(library, new_draft_id(), {})
    for name, text in (("cut", '{"id": "cut", "st'), ("list", "[]"), ("deep", "[" * 100_000)):
        (library / ".drafts" / f"{name}.json").write_text(text, encoding="utf-8")
    (library / ".drafts" / "other.json").write_text(
        (library / ".drafts" / f"{good.id}.json").read_text(encoding="utf-8"), encoding="utf-8"
    )
    assert drafts(library) == (good,)


def test_readers_of_the_library_do_not_see_drafts(library):
    before = load_records(library)
    keep_draft(library, new_draft_id(), {"source": {}})
    (library / "second-readings").mkdir()
    (library / "second-readings" / "good-one.toml").write_text("junk", encoding="utf-8")
    after = load_records(library)
    assert after.findings == before.findings and after.studies.keys() == before.studies.keys()


@pytest.mark.parametrize("draft_id", ["../x", "a/b", "", "A", "." * 3])
def test_a_draft_id_is_never_a_path(library, draft_id):
    with pytest.raises(UsageError):
        keep_draft(library, draft_id, {})
