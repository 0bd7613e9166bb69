"""Drafts: kept whole, offered again, and no business of the library's readers."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

import pytest

from steelyard.errors import UsageError
from steelyard.library import open_library
from steelyard.notebook.entry.opening import EntryPage
from steelyard.records import load_records
from steelyard.records.drafts import (
    READING_DRAFTS_FOLDER,
    drafts,
    drop_draft,
    keep_draft,
    new_draft_id,
    read_draft,
)


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


NO_DRAFTS: dict[str, Callable[[Path], None]] = {
    "a named pipe": os.mkfifo,
    "a device": lambda path: os.symlink("/dev/zero", path),
    "a link to itself": lambda path: os.symlink(path, path),
    "a link to nowhere": lambda path: os.symlink(path.parent / "nowhere", path),
}


def without_drafts(library: Path) -> None:
    """Nothing that looks for drafts waits or fails."""
    assert load_records(library).findings == ()
    opened = open_library(library)
    assert [each for each in opened.check() if each.severity == "fault"] == []
    for place in (".drafts", READING_DRAFTS_FOLDER):
        assert drafts(library, place=place) == ()
        with pytest.raises(UsageError, match="that can be read"):
            read_draft(library, "endless", place=place)
    assert EntryPage(opened, "").form.library is opened


@pytest.mark.parametrize("kind", [*NO_DRAFTS, "a file"])
def test_what_is_no_folder_of_drafts(library, kind):
    path = library / ".drafts"
    NO_DRAFTS.get(kind, Path.touch)(path)
    without_drafts(library)
    with pytest.raises(UsageError, match="the draft cannot be kept"):
        keep_draft(library, "endless", {})
    drop_draft(library, "endless")
    assert os.path.lexists(path)


@pytest.mark.parametrize("place", [".drafts", READING_DRAFTS_FOLDER])
@pytest.mark.parametrize("kind", [*NO_DRAFTS, "a folder"])
def test_what_is_no_draft(library, place, kind):
    (library / place).mkdir(parents=True)
    path = library / place / "endless.json"
    NO_DRAFTS.get(kind, Path.mkdir)(path)
    without_drafts(library)
    drop_draft(library, "endless", place=place)
    assert os.path.lexists(path) == (kind == "a folder")


def test_drafts_that_nobody_may_read(library, monkeypatch):
    keep_draft(library, "endless", {})

    def refuse(path: Path, *_, **__):
        raise PermissionError(13, "Permission denied", str(path))

    monkeypatch.setattr(Path, "iterdir", refuse)
    assert drafts(library) == ()
    monkeypatch.undo()
    monkeypatch.setattr("builtins.open", refuse)
    assert drafts(library) == ()
