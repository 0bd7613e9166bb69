"""Many writers at once lose nothing, and each file goes in whole or not at all."""

from __future__ import annotations

from pathlib import Path

from steelyard.records import load_records
from steelyard.records.reading import read_record
from steelyard.records.recommendation import Recommendation
from tests.records.example_tables import strength_table

RECOMMENDATION = """# Invented.
id = "lower"
statement = "Lower slowly."
questions = ["slow-lowering-strength"]   # one is enough
"""


def table_of(folder: Path, name: str, studies: list[str], *, site: str = "hamstrings") -> Path:
    path = folder / f"{name}.csv"
    path.write_text(strength_table(studies, site=site), encoding="utf-8")
    return path


def test_eight_that_add_different_tables_lose_no_study_and_no_word(library, tmp_path, workers):
    sites = ("calf", "neck", "hip", "back", "wrist", "shoulder", "chest", "forearm")
    wanted = {site: [f"{site}-{number}" for number in range(5)] for site in sites}
    tables = [table_of(tmp_path, site, wanted[site], site=site) for site in sites]
    assert workers[0].race(*(f"add {library} {table}" for table in tables)) == [0] * 8
    records = load_records(library)
    assert records.faults == ()
    assert set(records.studies) == {"good-one", "good-two"}.union(*wanted.values())
    assert records.vocabulary.words("site") == {"hamstrings", *sites}
    assert "# Sites, from head to foot." in (library / "vocabulary.toml").read_text("utf-8")


def test_of_eight_that_add_the_same_study_one_does_and_all_of_its_file(library, tmp_path, workers):
    names = [f"who-{number}" for number in range(8)]
    tables = [table_of(tmp_path, name, [name, "same", f"{name}-b"]) for name in names]
    ends = workers[0].race(*(f"add {library} {table}" for table in tables))
    assert sorted(ends) == [0] + [1] * 7
    winner = names[ends.index(0)]
    records = load_records(library)
    assert records.faults == ()
    assert set(records.studies) == {"good-one", "good-two", "same", winner, f"{winner}-b"}


def test_eight_that_make_the_same_new_library_all_get_in(tmp_path, workers):
    folder, names = tmp_path / "not" / "there", [f"who-{number}" for number in range(8)]
    tables = [table_of(tmp_path, name, [name]) for name in names]
    assert workers[0].race(*(f"add {folder} {table}" for table in tables)) == [0] * 8
    assert set(load_records(folder).studies) == set(names)


def test_an_add_and_a_form_that_saves_lose_nothing(library, tmp_path, workers):
    one, other = workers
    one.start(f"new {library} ada 15")
    for number in range(10):
        table = table_of(
            tmp_path, f"t{number}", [f"t{number}-a", f"t{number}-b"], site=f"s{number}x"
        )
        assert other.run(f"add {library} {table}") == 0
    assert one.ended() == 0
    records = load_records(library)
    assert records.faults == ()
    assert len(records.studies) == 2 + 15 + 20
    wanted = {f"ada-{number}" for number in range(15)} | {f"s{number}x" for number in range(10)}
    assert wanted <= records.vocabulary.words("site")


def test_an_edit_and_a_review_of_one_recommendation_lose_nothing(library, workers):
    path = library / "recommendations" / "lower.toml"
    path.write_text(RECOMMENDATION, encoding="utf-8")
    times = 12
    places = ("cost", "risk", "alternatives", "for_whom", "not_for_whom", "would_change")
    edits = [f"edit {library} {place} {times}" for place in places]
    assert workers[0].race(*edits, f"mark {library} {times}") == [0] * 7
    record = read_record(path, Recommendation)
    assert [getattr(record, place) for place in places] == [f"{p} {times - 1}" for p in places]
    assert (record.review_note, record.told.estimate) == (f"note {times - 1}", times - 1)
    assert "# one is enough" in path.read_text(encoding="utf-8")
