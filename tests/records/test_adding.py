"""Adding to a library: all of a file or nothing, and words are not multiplied by slips."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from steelyard.errors import UsageError
from steelyard.records import Study, load_records
from steelyard.records.adding import AddReport, add_file, add_record, add_table
from steelyard.records.reading import read_record
from steelyard.records.vocabulary import Vocabulary

HEADER = "study,arm,tags,n,outcome,construct,site,week,post_mean,post_sd\n"


def rows(study: str, *, tags: str = "slow lowering", site: str = "hamstrings") -> str:
    return (
        f"{study},Added,{tags},18,Knee flexion,strength,{site},12,236.40,31.5\n"
        f"{study},Usual,usual,19,Knee flexion,strength,{site},12,215.2,30.5\n"
    )


@pytest.fixture
def table(tmp_path):
    def write(text: str) -> Path:
        path = tmp_path / "table.csv"
        path.write_text(text, encoding="utf-8")
        return path

    return write


def test_every_study_of_a_table_is_added(library, table):
    report = add_table(library, table(HEADER + rows("Brae 2020") + rows("Corrie 2021")))
    assert report.problems == () and report.updated == () and report.new_words == ()
    assert report.studies == ("brae-2020", "corrie-2021")
    assert report.added == ("studies/brae-2020.toml", "studies/corrie-2021.toml")
    records = load_records(library)
    assert set(records.studies) == {"good-one", "good-two", *report.studies}
    assert records.faults == ()
    assert str(records.studies["brae-2020"].results[0].post.mean) == "236.40"


def test_a_dry_run_says_the_same_and_changes_nothing(library, table, tree_hash):
    path, before = table(HEADER + rows("Brae 2020", tags="pauses")), tree_hash(library)
    tried = add_table(library, path, dry_run=True)
    assert tree_hash(library) == before
    assert tried == add_table(library, path) and tried.studies == ("brae-2020",)


def test_one_problem_keeps_the_whole_file_out(library, table, tree_hash):
    before = tree_hash(library)
    report = add_table(
        library, table(HEADER + rows("Brae 2020") + rows("Corrie 2021").replace("18", "x"))
    )
    assert [problem.path for problem in report.problems] == ["row 4, column n"]
    assert (report.studies, report.added, report.updated) == ((), (), ())
    assert tree_hash(library) == before


def test_a_study_already_there_is_not_replaced(library, table, tree_hash):
    before = tree_hash(library)
    report = add_table(library, table(HEADER + rows("Good one") + rows("Brae 2020")))
    (problem,) = report.problems
    assert (problem.path, problem.rule) == ("good-one", "already-there")
    assert tree_hash(library) == before


def test_a_new_word_is_added_to_the_vocabulary_beside_its_kind(library, table):
    before = (library / "vocabulary.toml").read_text(encoding="utf-8")
    report = add_table(
        library, table(HEADER + rows("Brae 2020", tags="Long pauses; usual", site="calf"))
    )
    assert report.updated == ("vocabulary.toml",)
    assert [(word.kind, word.id) for word in report.new_words] == [
        ("site", "calf"),
        ("tag", "long-pauses"),
    ]
    vocabulary = read_record(library / "vocabulary.toml", Vocabulary)
    assert vocabulary.label("tag", "long-pauses") == "Long pauses"
    after = (library / "vocabulary.toml").read_text(encoding="utf-8")
    assert all(line in after.splitlines() for line in before.splitlines())
    assert after.index('"calf"') < after.index('"slow-lowering"')
    assert load_records(library).faults == ()


@pytest.mark.parametrize(
    ("old", "new", "path", "known"),
    [
        ("slow lowering", "slow lowring", "row 2, column tags", "'slow-lowering'"),
        ("hamstrings", "hamstring", "row 2, column site", "'hamstrings'"),
        ("strength", "strenght", "row 2, column construct", "'strength'"),
    ],
)
def test_a_word_like_a_known_one_is_asked_about(library, table, tree_hash, old, new, path, known):
    before = tree_hash(library)
    report = add_table(library, table(HEADER + rows("Brae 2020").replace(old, new)))
    (problem,) = report.problems
    assert problem.path == path and f"did you mean {known}?" in problem.message
    assert tree_hash(library) == before


def test_two_new_words_alike_are_asked_about_too(library, table):
    text = HEADER + rows("Brae 2020", tags="long-pauses") + rows("Corrie 2021", tags="long-pausse")
    (problem,) = add_table(library, table(text)).problems
    assert problem.path == "row 4, column tags" and "'long-pauses'" in problem.message


def test_without_a_vocabulary_words_are_taken_as_they_come(library, table):
    (library / "vocabulary.toml").unlink()
    report = add_table(library, table(HEADER + rows("Brae 2020", tags="slow lowring")))
    assert report.studies == ("brae-2020",) and report.new_words == ()
    assert not (library / "vocabulary.toml").exists()


def test_a_faulty_vocabulary_is_a_problem(library, table, tree_hash):
    (library / "vocabulary.toml").write_text("[[tag]]\nid = 3\n", encoding="utf-8")
    before = tree_hash(library)
    report = add_table(library, table(HEADER + rows("Brae 2020")))
    assert {problem.file for problem in report.problems} == {"vocabulary.toml"}
    assert tree_hash(library) == before


@pytest.mark.parametrize("make", [None, "folder", "hidden"])
def test_a_library_that_is_not_there_yet_is_made(tmp_path, table, make):
    folder = tmp_path / "new" / "library"
    if make:
        folder.mkdir(parents=True)
    if make == "hidden":
        (folder / ".keep").touch()
    assert add_table(folder, table(HEADER + rows("Brae 2020"))).studies == ("brae-2020",)
    assert set(load_records(folder).studies) == {"brae-2020"}


def test_a_folder_of_other_things_is_no_library(tmp_path, table, tree_hash):
    folder = tmp_path / "letters"
    folder.mkdir()
    (folder / "letter.txt").touch()
    before = tree_hash(folder)
    with pytest.raises(UsageError, match="is not a library"):
        add_table(folder, table(HEADER + rows("Brae 2020")))
    with pytest.raises(UsageError, match="is not a folder"):
        add_table(folder / "letter.txt", table(HEADER + rows("Brae 2020")))
    assert tree_hash(folder) == before


@pytest.mark.parametrize("failing", [1, 2, 3])
def test_a_full_disk_leaves_the_library_as_it_was(library, table, tree_hash, monkeypatch, failing):
    before, real, calls = tree_hash(library), os.replace, []

    def refuse_one(source, target):
        calls.append(target)
        if len(calls) == failing:
            raise OSError(28, "No space left on device", str(target))
        real(source, target)

    path = table(HEADER + rows("Brae 2020", tags="pauses") + rows("Corrie 2021"))
    monkeypatch.setattr(os, "replace", refuse_one)
    with pytest.raises(UsageError, match="nothing was changed"):
        add_table(library, path)
    assert tree_hash(library) == before


def test_a_study_too_large_to_be_read_again_is_not_written(library, table, tree_hash):
    before, long_cell = tree_hash(library), "x" * 100_000
    text = HEADER.replace("post_sd", "post_sd,remark") + "".join(
        f"Brae 2020,a,,9,o{n},strength,,1,2,1,{long_cell}\n" for n in range(21)
    )
    (problem,) = add_table(library, table(text)).problems
    assert problem.rule == "too-large" and tree_hash(library) == before


def record_file(library: Path, tmp_path: Path, *changes: tuple[str, str]) -> Path:
    text = (library / "studies" / "good-one.toml").read_text(encoding="utf-8")
    for old, new in (("good-one", "third"), *changes):
        assert old in text
        text = text.replace(old, new)
    path = tmp_path / "from a colleague.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_a_record_is_added_as_it_stands(library, tmp_path):
    path = record_file(library, tmp_path)
    assert add_file(library, path) == AddReport(studies=("third",), added=("studies/third.toml",))
    added = library / "studies" / "third.toml"
    assert added.read_bytes() == path.read_bytes()
    assert read_record(added, Study).id == "third"


@pytest.mark.parametrize(
    ("old", "new", "rule"),
    [
        ("third", "good-two", "already-there"),
        ("sd = 31.5", "sd = 0", "out-of-range"),
        ("schema = 1", "schema = ", "not-toml"),
        ('arm = "usual"', 'arm = "other"', "unknown-arm"),
        ('"slow-lowering"', '"slow-lowring"', "unknown-tag"),
    ],
)
def test_a_record_with_a_problem_stays_out(library, tmp_path, tree_hash, old, new, rule):
    path, before = record_file(library, tmp_path, (old, new)), tree_hash(library)
    assert [problem.rule for problem in add_record(library, path).problems] == [rule]
    assert tree_hash(library) == before


def test_every_problem_of_a_record_at_once(library, tmp_path):
    text = (library / "studies" / "good-one.toml").read_text(encoding="utf-8")
    for old, new in (("good-one", "new"), ("sd = 31.5", "sd = 0"), ('["usual"]', '["zebra"]')):
        text = text.replace(old, new)
    text = text.replace('tags = ["slow-lowering"]', 'tags = ["slow-lowerin"]')
    (tmp_path / "new.toml").write_text(text, encoding="utf-8")
    report = add_file(library, tmp_path / "new.toml")
    assert [problem.path for problem in report.problems] == ["result[1].pre.sd", "arm[1].tags"]
    assert [str(word) for word in report.new_words] == ["the tag 'zebra'"]


def test_every_problem_of_a_row_at_once(library, table):
    text = rows("Brae 2020", tags="slow lowerin").replace(",12,236.40,31.5", ",-1,236.40,0", 1)
    places = [problem.path for problem in add_table(library, table(HEADER + text)).problems]
    assert places == ["row 2, column week", "row 2, column post_sd", "row 2, column tags"]


def test_what_can_be_added(library, tmp_path):
    with pytest.raises(UsageError, match=r"table \(\.csv, \.xlsx\), a study record \(\.toml\)"):
        add_file(library, tmp_path / "paper.pdf")
    with pytest.raises(UsageError, match="there is no file"):
        add_file(library, tmp_path / "absent.toml")
    with pytest.raises(UsageError, match=r"expected \.toml"):
        add_record(library, tmp_path / "table.csv")


def test_progress_runs_to_the_end_and_never_back(library, table):
    many = HEADER + "".join(rows(f"Brae {year}") for year in range(2000, 2010))
    told: list[tuple[int, int]] = []
    add_table(library, table(many), progress=lambda done, of: told.append((done, of)))
    assert told[0] == (1, 20) and told[-1] == (20, 20)
    assert told == sorted(told) and {of for _, of in told} == {20}
