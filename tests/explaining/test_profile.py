"""Profiles and settings: faults told at once, and clients kept out of sight."""

from __future__ import annotations

from pathlib import Path

import pytest

from steelyard.errors import RecordError, UsageError
from steelyard.explaining.profile import ClientProfile, read_profile
from steelyard.library import shipped_library
from steelyard.records.settings import CLIENTS_FOLDER, Settings, read_settings


def test_a_profile_by_file_and_by_code(tmp_path):
    (tmp_path / "k17.toml").write_text('training_status = "trained"\nage = 52\n')
    settings = Settings(clients_folder=str(tmp_path))
    by_code = read_profile("k17", settings)
    assert by_code == read_profile(str(tmp_path / "k17.toml"), settings)
    assert by_code.person().age_low == 52


@pytest.mark.parametrize("named", ["nobody", "../k17", "K17", "a/b", ""])
def test_a_code_never_leaves_the_folder(tmp_path, named):
    (tmp_path / "k17.toml").write_text("age = 52\n")
    inside = tmp_path / "clients"
    inside.mkdir()
    with pytest.raises(UsageError):
        read_profile(named, Settings(clients_folder=str(inside)))


def test_every_fault_of_a_profile_at_once(tmp_path):
    path = tmp_path / "x.toml"
    path.write_text('training_status = "elite"\nage = -4\nname = "Somebody"\n')
    with pytest.raises(RecordError) as refused:
        read_profile(str(path), Settings())
    assert {finding.path for finding in refused.value.findings} == {
        "training_status",
        "age",
        "name",
    }


def test_nothing_known_is_nobody():
    assert ClientProfile().person() is None
    assert ClientProfile(training_status="unknown").person() is None
    assert not ClientProfile(age=18).minor
    assert ClientProfile(age=17).minor


def test_clients_lie_outside_the_library_by_default():
    folder = Path(CLIENTS_FOLDER).expanduser()
    assert not folder.is_relative_to(shipped_library().parent)
    assert Settings().clients_folder == CLIENTS_FOLDER


def test_settings_of_a_library(tmp_path):
    assert read_settings(tmp_path) == Settings()
    (tmp_path / "settings.toml").write_text(
        'language = "de"\npaper = "Letter"\n[coach]\nname = "R. Holm"\ncolour = "#2f5d50"\n'
        '[terms.de]\nstrength = "Maximalkraft"\n'
    )
    found = read_settings(tmp_path)
    assert (found.language, found.paper, found.coach.name) == ("de", "Letter", "R. Holm")
    assert found.terms["de"]["strength"] == "Maximalkraft"


@pytest.mark.parametrize(
    "text",
    ['paper = "A5"', '[coach]\ncolour = "red; } body { display: none"', 'colour = "#000000"'],
)
def test_faulty_settings_are_refused(tmp_path, text):
    (tmp_path / "settings.toml").write_text(text)
    with pytest.raises(RecordError):
        read_settings(tmp_path)
