"""Saving: comments kept, nothing overwritten unseen, nothing deleted for good."""

from __future__ import annotations

import copy
from concurrent.futures import ThreadPoolExecutor
from decimal import Decimal

import pytest

from steelyard.errors import RecordError, UsageError
from steelyard.records import load_records
from steelyard.records.difference import changes, differences
from steelyard.records.editing import edited
from steelyard.records.locking import writing_lock
from steelyard.records.reading import parse
from steelyard.records.saving import (
    bring_back,
    open_study,
    remove_study,
    removed_studies,
    replace_study,
    save_study,
)
from steelyard.records.tables.reading import TableWord


def test_comments_and_order_stay(library):
    opened = open_study(library, "good-one")
    values = copy.deepcopy(opened.values)
    values["result"][0]["pre"]["sd"] = Decimal("31.50")
    values["result"][1]["post"] = {"mean": Decimal("216.0"), "se": Decimal("7.1")}
    values["source"]["DOI"] = "10.5555/abc"
    before = (library / "studies" / "good-one.toml").read_text(encoding="utf-8")
    saved = save_study(library, values, opened=opened.mark)
    after = (library / "studies" / "good-one.toml").read_text(encoding="utf-8")
    assert saved.outcome == "saved"
    assert differences(parse(after, file="x"), values) == ()
    kept = [line for line in before.splitlines() if "31.5 }" not in line and "215.2" not in line]
    assert [line for line in after.splitlines() if line in kept] == kept
    assert "sd = 31.50" in after and "# Table 2" in after
    assert open_study(library, "good-one").mark == saved.mark


def test_saving_the_same_writes_nothing(library, tree_hash):
    opened = open_study(library, "good-one")
    (library / ".lock").touch()
    before = tree_hash(library)
    assert save_study(library, opened.values, opened=opened.mark).outcome == "unchanged"
    assert tree_hash(library) == before


def test_a_file_changed_since_is_left_alone_and_both_are_kept(library):
    opened = open_study(library, "good-one")
    path = library / "studies" / "good-one.toml"
    theirs = path.read_text(encoding="utf-8").replace("sd = 31.5", "sd = 35.1")
    path.write_text(theirs, encoding="utf-8")
    mine = copy.deepcopy(opened.values)
    mine["result"][1]["post"]["mean"] = Decimal("215.9")
    saved = save_study(library, mine, opened=opened.mark)
    assert saved.outcome == "changed-on-disk"
    assert path.read_text(encoding="utf-8") == theirs
    kept = parse((library / saved.kept).read_text(encoding="utf-8"), file="kept")
    assert differences(kept, mine) == ()
    assert {(d.place, d.one, d.other) for d in saved.differences} == {
        ("result[knee-flexion, added, week 12].pre.sd", "35.1", "31.5"),
        ("result[knee-flexion, usual, week 12].post.mean", "215.2", "215.9"),
    }
    load_records(library)
    replaced = replace_study(library, mine, seen=saved.mark)
    assert replaced.outcome == "saved"
    assert (library / ".removed" / removed_studies(library)[0]).read_text("utf-8") == theirs


def test_a_replacement_of_what_changed_again_writes_nothing(library):
    opened = open_study(library, "good-one")
    path = library / "studies" / "good-one.toml"
    path.write_text(path.read_text("utf-8") + "\n# again\n", encoding="utf-8")
    last = path.read_bytes()
    assert replace_study(library, opened.values, seen="stale").outcome == "changed-on-disk"
    assert path.read_bytes() == last


def test_a_new_study_never_takes_a_taken_id(library):
    values = open_study(library, "good-one").values
    before = (library / "studies" / "good-one.toml").read_bytes()
    values["source"]["title"] = "Another"
    assert save_study(library, values).outcome == "changed-on-disk"
    assert (library / "studies" / "good-one.toml").read_bytes() == before


def test_words_go_into_the_vocabulary_with_the_study(library):
    values = open_study(library, "good-one").values
    values |= {"id": "third"}
    values["outcome"][0]["site"] = "calf"
    with pytest.raises(RecordError, match="calf"):
        save_study(library, values)
    assert not (library / "studies" / "third.toml").exists()
    save_study(library, values, new_words=[TableWord("site", "calf", "calf", "")])
    text = (library / "vocabulary.toml").read_text(encoding="utf-8")
    assert 'id = "calf"' in text and "# what a dynamometer shows" in text
    assert "third" in load_records(library).studies


def test_removed_and_brought_back_byte_for_byte(library):
    path = library / "studies" / "good-one.toml"
    before = path.read_bytes()
    name = remove_study(library, "good-one")
    assert not path.exists() and "good-one" not in load_records(library).studies
    assert removed_studies(library) == (name,)
    assert bring_back(library, name) == "good-one"
    assert path.read_bytes() == before and removed_studies(library) == ()


def test_bringing_back_does_not_overwrite(library):
    path = library / "studies" / "good-one.toml"
    name = remove_study(library, "good-one")
    path.write_text("# someone else's\n", encoding="utf-8")
    with pytest.raises(UsageError, match="already there"):
        bring_back(library, name)
    assert path.read_text(encoding="utf-8") == "# someone else's\n"
    assert removed_studies(library) == (name,)


@pytest.mark.parametrize("name", ["../good-one", "a/b", "", ".hidden", "a\0b"])
def test_an_id_is_never_a_path(library, name):
    with pytest.raises(UsageError):
        remove_study(library, name)


def test_a_writer_that_never_ends_is_said(library):
    def other() -> None:
        with writing_lock(library, patience_s=0.1):
            raise AssertionError("two writers at once")

    with writing_lock(library), ThreadPoolExecutor(1) as pool:
        assert isinstance(pool.submit(other).exception(timeout=20), UsageError)
        # Who holds it already goes on: a writer may call another.
        with writing_lock(str(library) + "/../library", patience_s=0.1):
            assert isinstance(pool.submit(other).exception(timeout=20), UsageError)
        # And the inner end is not the outer end.
        assert isinstance(pool.submit(other).exception(timeout=20), UsageError)
    with pytest.raises(AssertionError, match="two writers"):
        other()


def test_changes_turn_one_record_into_the_other(library):
    path = library / "studies" / "good-one.toml"
    text = path.read_text(encoding="utf-8")
    before = parse(text, file="x")
    after = copy.deepcopy(before)
    after["arm"].insert(0, {"id": "more", "tags": ["usual"], "n": 9})
    after["result"] = [
        {"outcome": "knee-flexion", "arm": "more", "week": 12, "post": {"mean": Decimal("3.40")}},
        after["result"][1],
    ]
    after["result"][1]["week"] = Decimal("12")
    after["population"] = {"sex": "mixed"}
    del after["invented"]
    new = edited(text, changes(before, after), file="x")
    assert differences(parse(new, file="x"), after) == ()
    assert "3.40" in new and "# One outcome is enough here." in new


def test_decimals_that_differ_only_in_figures_shown_differ():
    assert len(differences({"a": Decimal("3.40")}, {"a": Decimal("3.4")})) == 1
    assert differences({"a": Decimal("12")}, {"a": 12}) == ()


def test_every_fault_of_what_is_to_be_saved_is_told_at_once(library, tree_hash):
    values = dict(open_study(library, "good-one").values)
    values["arm"] = [{"id": "added", "n": 1}, {"id": "usual", "tags": ["usuel"]}]
    before = tree_hash(library)
    with pytest.raises(RecordError) as caught:
        save_study(library, values)
    assert [(fault.path, fault.rule) for fault in caught.value.findings] == [
        ("arm[1].n", "whole-number"),
        ("result[2].n", "needs-n"),
        ("arm[2].tags", "unknown-tag"),
    ]
    assert tree_hash(library) == before
