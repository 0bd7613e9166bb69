"""All files or none, whatever goes wrong on the way."""

from __future__ import annotations

import os

import pytest

from steelyard.errors import UsageError
from steelyard.records.staging import place_files


def test_files_appear_with_their_folders(tmp_path):
    files = {tmp_path / "a" / "b" / "one.toml": b"1", tmp_path / "two.toml": b"2"}
    place_files(files)
    assert {path: path.read_bytes() for path in tmp_path.rglob("*.*")} == files


@pytest.mark.parametrize("step", ["replace", "fsync", "open"])
@pytest.mark.parametrize("failing", [1, 2, 3])
def test_a_refusal_of_the_disk_leaves_everything_as_it_was(
    tmp_path, monkeypatch, tree_hash, step, failing
):
    (tmp_path / "old.toml").write_bytes(b"old")
    before = tree_hash(tmp_path)
    files = {tmp_path / name: b"new" for name in ("new/a.toml", "old.toml", "new/b.toml")}
    real, calls = getattr(os, step), []

    def refuse_one(*given, **named):
        calls.append(given)
        if len(calls) == failing:
            raise OSError(28, "No space left on device", str(given[0]))
        return real(*given, **named)

    monkeypatch.setattr(os, step, refuse_one)
    with pytest.raises(UsageError, match="No space left on device; nothing was changed"):
        place_files(files, replace=[tmp_path / "old.toml"])
    monkeypatch.undo()
    assert len(calls) >= failing
    assert tree_hash(tmp_path) == before


def test_an_interruption_leaves_everything_as_it_was(tmp_path, monkeypatch, tree_hash):
    before, real = tree_hash(tmp_path), os.replace

    def interrupted(source, target):
        if str(target).endswith("b.toml"):
            raise KeyboardInterrupt
        real(source, target)

    monkeypatch.setattr(os, "replace", interrupted)
    with pytest.raises(KeyboardInterrupt):
        place_files({tmp_path / "n" / "a.toml": b"", tmp_path / "n" / "b.toml": b""})
    assert tree_hash(tmp_path) == before


def test_a_file_already_there_is_left_alone(tmp_path, tree_hash):
    (tmp_path / "old.toml").write_bytes(b"old")
    before = tree_hash(tmp_path)
    with pytest.raises(UsageError, match=r"'old\.toml' is already there: nothing was written"):
        place_files({tmp_path / "a.toml": b"", tmp_path / "old.toml": b"new"})
    assert tree_hash(tmp_path) == before


def test_a_replaced_file_keeps_its_permissions_and_its_link(tmp_path):
    target, link = tmp_path / "target.toml", tmp_path / "link.toml"
    target.write_bytes(b"old")
    target.chmod(0o640)
    link.symlink_to(target)
    place_files({link: b"new"}, replace=[link])
    assert link.is_symlink() and target.read_bytes() == b"new"
    assert target.stat().st_mode & 0o777 == 0o640


@pytest.mark.parametrize(
    ("accepted", "told"),
    [
        (1, "nothing was changed"),
        (2, "the change is finished when the library is next opened"),
    ],
)
def test_a_disk_that_refuses_for_good_is_told_with_what_comes_of_it(
    tmp_path, monkeypatch, accepted, told
):
    real, calls = os.replace, []

    def refuse(source, target):
        calls.append(target)
        if len(calls) > accepted:
            raise OSError(5, "Input/output error", str(target))
        real(source, target)

    monkeypatch.setattr(os, "replace", refuse)
    files = {tmp_path / "a.toml": b"", tmp_path / "b.toml": b""}
    # The first rename is that of the list of what is on its way.
    with pytest.raises(UsageError, match=f"cannot be written: Input/output error; {told}"):
        place_files(files, library=tmp_path)
