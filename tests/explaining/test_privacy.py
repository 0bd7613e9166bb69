"""Clients' files: outside version control, and in no report, export or picture unasked."""

from __future__ import annotations

import json
import shutil
import subprocess
from pathlib import Path

import pytest
from click.testing import CliRunner

from steelyard import open_library
from steelyard.cli.root import steelyard
from steelyard.explaining.explain import explain
from steelyard.explaining.handout import handout
from steelyard.explaining.lay_pictures import hills_data
from steelyard.explaining.profile import read_profile
from steelyard.explaining.trace import trace
from steelyard.explaining.wording.catalogue import catalogue
from steelyard.library import shipped_library
from steelyard.records.settings import CLIENTS_FOLDER, read_settings

ROOT = Path(__file__).resolve().parents[2]
# Values that no study holds, so that a leak would be seen.
CLIENT = """training_status = "trained"
sex = "female"
age = 47.25
does_now = "swims on Wednesdays"
baseline = 203.75
unit = "N"
"""
TELLTALE = ("zz-secret-code", "47.25", "Wednesdays", "203.75")


@pytest.fixture
def folder(tmp_path):
    """A library whose settings put clients, against advice, into its own folder."""
    place = tmp_path / "evidence"
    shutil.copytree(shipped_library(), place)
    (place / "clients").mkdir()
    (place / "clients" / "zz-secret-code.toml").write_text(CLIENT, encoding="utf-8")
    settings = place / "settings.toml"
    text = settings.read_text(encoding="utf-8")
    inside = (place / "clients").as_posix()
    settings.write_text(text.replace(CLIENTS_FOLDER, inside), encoding="utf-8")
    return place


def run(*words):
    return CliRunner().invoke(steelyard, words)


def leaks(text: str) -> list[str]:
    return [word for word in TELLTALE if word in text]


def test_the_shipped_settings_keep_clients_outside_the_library():
    settings = read_settings(shipped_library())
    assert settings.coach.name and settings.coach.contact
    assert "invented" in settings.coach.name
    clients = Path(settings.clients_folder).expanduser()
    assert not clients.is_relative_to(shipped_library().parent)


@pytest.mark.parametrize("named", ["clients/k17.toml", "evidence/clients/k17.toml"])
def test_version_control_passes_clients_over(tmp_path, named):
    git = shutil.which("git")
    assert git is not None
    shutil.copy(ROOT / ".gitignore", tmp_path / ".gitignore")
    path = tmp_path / named
    path.parent.mkdir(parents=True)
    path.write_text(CLIENT, encoding="utf-8")
    subprocess.run([git, "init", "-q"], cwd=tmp_path, check=True)
    seen = subprocess.run(
        [git, "status", "--porcelain", "--untracked-files=all"],
        cwd=tmp_path, check=True, capture_output=True, text=True,
    ).stdout  # fmt: skip
    assert ".gitignore" in seen and "k17" not in seen


@pytest.mark.parametrize("ending", ["csv", "xlsx"])
def test_no_export_holds_a_client(folder, tmp_path, ending):
    target = tmp_path / f"all.{ending}"
    said = run("export", str(target), "--library", str(folder)).output
    assert not leaks(target.read_bytes().decode("utf-8", errors="ignore") + said)
    if ending == "xlsx":
        import openpyxl

        book = openpyxl.load_workbook(target)
        cells = [str(c) for sheet in book for row in sheet.values for c in row if c is not None]
        assert cells and not leaks("\n".join(cells))


@pytest.mark.parametrize(
    "words",
    [["check", "--all"], ["weigh", "slow-lowering-strength"], ["review"], ["explain"]],
)
def test_no_command_says_a_client_unasked(folder, words):
    if words == ["explain"]:
        words = ["explain", "add-slow-lowering", "--format", "json"]
    said = run(*words, "--library", str(folder)).output
    assert said and not leaks(said)


def test_asked_for_it_says_the_start_and_never_the_code(folder):
    library = open_library(folder)
    settings = read_settings(folder)
    profile = read_profile("zz-secret-code", settings)
    found = explain(library, "add-slow-lowering", profile=profile, settings=settings)
    text = f"{found}{json.dumps(found.as_json())}{handout(found, settings=settings)}{trace(found)}"
    assert "zz-secret-code" not in text
    assert "your start at 203.75 N" in text
    # The next explanation, of nobody, and its pictures know nothing of the last.
    after = explain(library, "add-slow-lowering", settings=settings)
    page = handout(after, settings=settings)
    assert not leaks(f"{after}{json.dumps(after.as_json())}{page}{trace(after)}")
    assert hills_data(after, catalogue("en")).client != hills_data(after, catalogue("en")).client
