"""What the form says while typing is what the library says once the study is in it."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest

from steelyard.judging.integrity import integrity_findings
from steelyard.judging.integrity.one_study import AmongOthers
from steelyard.library import open_library
from steelyard.notebook.entry.live import LiveLibrary
from steelyard.records.record_set import RecordSet

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
    for question in looked.questions:
        full = library.weigh(question.id)
        for name in ("estimate", "low", "high", "prediction_low", "prediction_high", "tau2"):
            # Another order of the same sums.
            assert getattr(question.after, name) == pytest.approx(getattr(full, name), abs=1e-9)
        assert question.after.verdict == full.verdict
        assert question.after.k_studies == full.k_studies
        assert question.before is full
        assert question.picture(width="phone").startswith("<svg")


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


def test_an_empty_library_gives_the_first_answer(library):
    records: RecordSet = replace(library.records, studies={})
    alone = LiveLibrary(type(library)(records))
    looked = alone.look(library.studies["oxmere-2013"], library.vocabulary)
    (question,) = looked.questions
    assert question.before is None and question.after.k_studies == 1
