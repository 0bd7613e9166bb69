"""Every known mistake is refused in one clear message, and nothing else suffers for it."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path

import pytest

from steelyard.errors import Finding, RecordError, UsageError
from steelyard.records import load_records
from steelyard.records.reading import LARGEST_RECORD_BYTES
from steelyard.records.regular_file import FileRefused, read_regular

BAD = sorted((Path(__file__).parent / "bad").glob("*.toml"))


@dataclass(frozen=True, slots=True)
class Mistake:
    """First line of a bad record: folder | places | rule | what the message must show."""

    folder: str
    places: str
    rule: str
    shows: str


def mistake_of(path: Path) -> Mistake:
    first_line = path.read_bytes().split(b"\n", 1)[0].decode("utf-8")
    assert first_line.startswith("# "), f"{path.name}: expected the mistake on the first line"
    return Mistake(*(part.strip() for part in first_line[2:].split(" | ")))


def faults_with(library: Path, folder: str, name: str) -> tuple[Finding, ...]:
    """Load the library, check that the good records are there, and give the faults."""
    records = load_records(library)
    assert set(records.studies) == {"good-one", "good-two"}
    assert set(records.questions) == {"slow-lowering-strength"}
    faults = records.faults
    assert {fault.file for fault in faults} == {f"{folder}/{name}"}
    return faults


def test_there_are_bad_records():
    assert len(BAD) > 40


@pytest.mark.parametrize("path", BAD, ids=lambda path: path.stem)
def test_one_clear_message_and_nothing_else_changes(path, library, tree_hash):
    mistake = mistake_of(path)
    (library / mistake.folder / path.name).write_bytes(path.read_bytes())
    before = tree_hash(library)
    faults = faults_with(library, mistake.folder, path.name)
    assert [fault.path for fault in faults] == mistake.places.split(", ")
    for fault in faults:
        assert fault.rule == mistake.rule
        assert mistake.shows in fault.message
        assert "\n" not in fault.message and "Error" not in fault.message
    assert tree_hash(library) == before


# A recommendation on a question that is not there can itself be read.
UNREADABLE = [path for path in BAD if mistake_of(path).rule != "unknown-question"]


@pytest.mark.parametrize("path", UNREADABLE, ids=lambda path: path.stem)
def test_asking_for_a_bad_record_says_what_is_wrong_with_it(path, library):
    mistake = mistake_of(path)
    (library / mistake.folder / path.name).write_bytes(path.read_bytes())
    kind = {"studies": "study"}.get(mistake.folder, mistake.folder.removesuffix("s"))
    with pytest.raises(RecordError) as caught:
        load_records(library).find(kind, path.stem)
    assert f"[{mistake.rule}]" in str(caught.value)
    assert f"{mistake.folder}/{path.name}" in str(caught.value)


def test_an_empty_file(library):
    (library / "studies" / "empty.toml").touch()
    faults = faults_with(library, "studies", "empty.toml")
    assert {(fault.path, fault.rule) for fault in faults} == {
        *((path, "missing") for path in ("schema", "id", "source", "design", "arm", "outcome")),
        ("result", "no-results"),
    }


def test_a_folder_in_the_place_of_a_file(library):
    (library / "studies" / "folder.toml").mkdir()
    (fault,) = faults_with(library, "studies", "folder.toml")
    assert fault.rule == "not-a-file"


def test_a_file_of_fifty_megabytes(library):
    path = library / "studies" / "large.toml"
    with path.open("wb") as stream:
        stream.truncate(50_000_000)
    (fault,) = faults_with(library, "studies", "large.toml")
    assert fault.rule == "too-large"
    assert "50,000,000" in fault.message and f"{LARGEST_RECORD_BYTES:,}" in fault.message


@pytest.mark.parametrize("kind", ["a named pipe", "a device"])
def test_what_would_never_end_is_not_read(library, kind):
    path = library / "studies" / "endless.toml"
    if kind == "a device":
        os.symlink("/dev/zero", path)
    else:
        os.mkfifo(path)
    (fault,) = faults_with(library, "studies", "endless.toml")
    assert fault.rule == "not-a-file" and fault.message == f"expected a file, found {kind}"


def test_no_more_of_a_file_is_read_than_it_may_have(tmp_path, monkeypatch):
    path = tmp_path / "growing.toml"
    path.write_bytes(b"x" * 20)
    was = path.stat()
    monkeypatch.setattr(Path, "stat", lambda self: os.stat_result((*was[:6], 5, *was[7:])))
    with pytest.raises(FileRefused, match="at most 10 bytes, found 11"):
        read_regular(path, most=10)


@pytest.mark.parametrize("name", ["UPPER.TOML", "windows.toml.txt"])
def test_a_record_by_another_suffix_is_told(library, name):
    (library / "studies" / name).write_text("schema = 1\n", encoding="utf-8")
    records = load_records(library)
    assert set(records.studies) == {"good-one", "good-two"}
    (finding,) = records.findings
    assert (finding.file, finding.severity) == (f"studies/{name}", "warning")
    assert f"a name that ends in .toml, found '{name}'" in finding.message


def test_a_link_to_nowhere(library):
    os.symlink(library / "nowhere.toml", library / "studies" / "link.toml")
    (fault,) = faults_with(library, "studies", "link.toml")
    assert fault.rule == "unreadable"


def test_every_fault_of_a_file_at_once(library):
    text = (library / "studies" / "good-one.toml").read_text(encoding="utf-8")
    text = text.replace("good-one", "three").replace("sd = 31.5", "sd = 0")
    text = text.replace("issued = 2019", 'issued = "2019"').replace("week = 12", "week = -3", 1)
    (library / "studies" / "three.toml").write_text(text, encoding="utf-8")
    faults = faults_with(library, "studies", "three.toml")
    assert [fault.path for fault in faults] == [
        "source.issued",
        "result[1].week",
        "result[1].pre.sd",
    ]


def changed(path: Path, name: str, *changes: tuple[str, str]) -> None:
    """A changed copy of a good record beside it."""
    text = path.read_text(encoding="utf-8")
    for old, new in changes:
        assert old in text
        text = text.replace(old, new, 1)
    path.with_name(f"{name}.toml").write_text(text, encoding="utf-8")


@pytest.mark.parametrize(
    ("change", "first"),
    [
        (("sd = 31.5", "sd = 0"), ("result[1].pre.sd", "out-of-range")),
        (('"good-one"', '"four"'), ("id", "id-is-file-name")),
        (("[design]", "[design]\ncolour = 3"), ("design.colour", "extra-forbidden")),
    ],
)
def test_words_and_references_are_told_beside_a_fault_of_another_kind(library, change, first):
    words = [
        ('tags = ["usual"]', 'tags = ["usuel"]'),
        ('construct = "strength"', 'construct = "strenght"'),
        ('site = "hamstrings"', 'site = "hamstring"'),
        ('outcome = "knee-flexion"\narm = "usual"', 'outcome = "knee"\narm = "usal"'),
    ]
    rename = [] if "good-one" in change[0] else [('"good-one"', '"three"')]
    changed(library / "studies" / "good-one.toml", "three", *rename, change, *words)
    faults = faults_with(library, "studies", "three.toml")
    assert {(fault.path, fault.rule) for fault in faults} == {
        first,
        ("arm[2].tags", "unknown-tag"),
        ("outcome[1].construct", "unknown-construct"),
        ("outcome[1].site", "unknown-site"),
        ("result[2].outcome", "unknown-outcome"),
        ("result[2].arm", "unknown-arm"),
    }
    assert len(faults) == 6


def test_a_reference_is_not_judged_where_the_id_it_may_mean_cannot_be_read(library):
    path = library / "studies" / "good-one.toml"
    changed(path, "three", ('"good-one"', '"three"'), ('id = "usual"', 'id = "Usual!"'))
    (fault,) = faults_with(library, "studies", "three.toml")
    assert fault.path == "arm[2].id"


def test_words_of_a_question_and_a_recommendation_beside_other_faults(library):
    path = library / "questions" / "slow-lowering-strength.toml"
    words = ('comparator = "usual"', 'comparator = "usuel"\ncolour = 3')
    changed(path, "asked", (f'"{path.stem}"', '"asked"'), words)
    (library / "recommendations" / "told.toml").write_text(
        'id = "told"\ncolour = 3\nstatement = "x"\nquestions = ["askd"]\n', encoding="utf-8"
    )
    found = [(fault.file, fault.rule) for fault in load_records(library).faults]
    assert sorted(found) == [
        ("questions/asked.toml", "extra-forbidden"),
        ("questions/asked.toml", "unknown-tag"),
        ("recommendations/told.toml", "extra-forbidden"),
        ("recommendations/told.toml", "unknown-question"),
    ]


def test_a_faulty_vocabulary_is_one_fault_and_the_studies_load(library):
    (library / "vocabulary.toml").write_text("schema = 1\n[[tag]]\nid = 3\n", encoding="utf-8")
    records = load_records(library)
    assert set(records.studies) == {"good-one", "good-two"}
    assert {fault.file for fault in records.faults} == {"vocabulary.toml"}


@pytest.mark.parametrize("make", ["absent", "file", "empty"])
def test_what_is_no_library(tmp_path, make):
    folder = tmp_path / "library"
    if make == "file":
        folder.touch()
    elif make == "empty":
        folder.mkdir()
    with pytest.raises(UsageError, match="library"):
        load_records(folder)


def test_an_unknown_id_names_the_nearest(library):
    with pytest.raises(UsageError, match="nearest known: good-one"):
        load_records(library).find("study", "good-oen")
