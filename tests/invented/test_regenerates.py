"""The shipped studies are what the generator writes, byte for byte."""

from __future__ import annotations

from pathlib import Path

from steelyard.records import load_records
from tests.invented.catalogue import PLANS
from tests.invented.simulate import draw
from tests.invented.write import study_text, write_studies

EVIDENCE = Path(__file__).resolve().parents[2] / "evidence"


def test_generator_output_equals_the_shipped_studies(tmp_path):
    written = {path.name: path.read_bytes() for path in write_studies(tmp_path / "studies")}
    shipped = {path.name: path.read_bytes() for path in (EVIDENCE / "studies").iterdir()}
    assert sorted(written) == sorted(shipped)
    assert [name for name in written if written[name] != shipped[name]] == []


def test_another_seed_gives_other_people_and_other_numbers():
    plan = PLANS[0]
    assert study_text(plan, seed=1) != study_text(plan, seed=2)
    assert draw(plan, seed=1).true_effects != draw(plan, seed=2).true_effects


def test_every_shipped_record_is_read_without_a_fault_and_says_it_is_invented():
    records = load_records(EVIDENCE)
    assert records.faults == ()
    assert len(records.studies) == len(PLANS) >= 28
    for kind in (records.studies, records.questions, records.recommendations):
        assert kind
        assert [record.id for record in kind.values() if not record.invented] == []


def test_only_the_crossover_without_starting_values_draws_warnings():
    warned = {f.file for f in load_records(EVIDENCE).findings}
    assert warned == {"studies/gorsemire-2020.toml"}


def test_no_identifier_can_lead_to_a_real_paper():
    for study in load_records(EVIDENCE).studies.values():
        assert study.source.DOI is None or study.source.DOI.startswith("10.0000/invented.")
        assert study.source.URL is None or ".invented.example/" in study.source.URL
        assert "nvented" in study.source.title
        assert "nvented" in study.source.container_title
