"""What the form says while typing is what the library says once the study is in it."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest

from steelyard.judging.integrity import IntegrityFinding, integrity_findings
from steelyard.judging.integrity.one_study import AmongOthers
from steelyard.library import open_library
from steelyard.notebook.entry.live import LiveLibrary
from steelyard.records.record_set import RecordSet
from tests.small_library import question, result, study

EVIDENCE = Path(__file__).resolve().parents[3] / "evidence"
TYPED = ("oxmere-2013", "juddlebeck-2021", "ashlocke-2021", "dulwater-2019", "inchmarsh-2021")


@pytest.fixture(scope="module")
def library():
    return open_library(EVIDENCE)


@pytest.mark.parametrize("study_id", TYPED)
def test_after_is_the_librarys_own_answer(study_id, library):
    live = LiveLibrary(library, study_id)
    looked = live.look(library.studies[study_id], library.vocabulary)
    assert looked.questions
    for asked in looked.questions:
        full = library.weigh(asked.id)
        for name in ("estimate", "low", "high", "prediction_low", "prediction_high", "tau2"):
            # Another order of the same sums.
            assert getattr(asked.after, name) == pytest.approx(getattr(full, name), abs=1e-9)
        assert asked.after.verdict == full.verdict
        assert asked.after.k_studies == full.k_studies
        assert asked.before is full
        assert asked.picture(width="phone").startswith("<svg")


def test_a_new_study_moves_the_answer(library):
    study = library.studies["oxmere-2013"].model_copy(update={"id": "typed"})
    looked = LiveLibrary(library).look(study, library.vocabulary)
    (question,) = looked.questions
    assert question.before.k_studies + 1 == question.after.k_studies
    assert question.before.estimate != question.after.estimate
    assert re.search(r"new", question.picture())
    assert any("SE 4.16 × √19 = SD" in effect.route for effect in looked.effects)
    assert any("0.85 assumed" in effect.assumed for effect in looked.effects)


@pytest.mark.parametrize("study_id", TYPED)
def test_findings_are_those_of_the_whole_library(study_id, library):
    among = AmongOthers(s for each, s in library.studies.items() if each != study_id)
    whole = [f for f in integrity_findings(library.studies) if f.study == study_id]
    assert sorted(map(str, among.findings(library.studies[study_id]))) == sorted(map(str, whole))


def told_by_check(library, study_id: str) -> list[str]:
    return sorted(
        str(finding)
        for finding in library.check()
        if isinstance(finding, IntegrityFinding) and finding.study == study_id
    )


def test_everything_check_says_of_a_study_shows_while_it_is_typed(library):
    told = 0
    for study_id, one in library.studies.items():
        looked = LiveLibrary(library, study_id).look(one, library.vocabulary)
        said = told_by_check(library, study_id)
        assert sorted(map(str, looked.findings)) == said
        told += len(said)
    assert told == sum(isinstance(each, IntegrityFinding) for each in library.check()) > 20
    assert library.far_off, "or the shipped library holds none far from its peers"


@pytest.mark.parametrize("held", ["", '[model]\nsuspect = "hold-out"'])
def test_an_effect_far_from_its_peers_is_told_while_it_is_typed(held, tmp_path):
    question(tmp_path, more=held)
    for number, gain in enumerate((10, 14, 12, 8, 16, 11, 127)):
        rows = [
            result("slow", pre=_spread(212.3, 41), post=_spread(212.7 + gain, 44)),
            result("usual", pre=_spread(208.2, 39), post=_spread(214.1, 42)),
        ]
        study(tmp_path, f"study-{number}", "".join(rows))
    small = open_library(tmp_path)
    far = small.studies["study-6"]
    looked = LiveLibrary(small, "study-6").look(far, small.vocabulary)
    assert "outlying-effect" in [finding.rule for finding in looked.findings]
    assert sorted(map(str, looked.findings)) == told_by_check(small, "study-6")
    (asked,) = looked.questions
    full = small.weigh("asked")
    assert asked.after.estimate == pytest.approx(full.estimate, abs=1e-9)
    flags = [set(each.effects["flags"]) for each in (asked.after, full)]
    assert flags[0] == flags[1]
    # As a new study, before any of it is on disk.
    others = {each: one for each, one in small.studies.items() if each != "study-6"}
    alone = type(small)(replace(small.records, studies=others))
    new = LiveLibrary(alone).look(far, small.vocabulary)
    assert "outlying-effect" in [finding.rule for finding in new.findings]


def _spread(mean: float, sd: float) -> str:
    return f"{{ mean = {mean}, sd = {sd} }}"


def test_an_empty_library_gives_the_first_answer(library):
    records: RecordSet = replace(library.records, studies={})
    alone = LiveLibrary(type(library)(records))
    looked = alone.look(library.studies["oxmere-2013"], library.vocabulary)
    (question,) = looked.questions
    assert question.before is None and question.after.k_studies == 1
