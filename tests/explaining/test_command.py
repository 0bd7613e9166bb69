"""``steelyard explain``."""

from __future__ import annotations

import json
import subprocess
import sys

import pytest
from click.testing import CliRunner

from steelyard.cli.root import steelyard


def run(*words):
    return CliRunner().invoke(steelyard, ["explain", *words])


def test_text_and_json_say_the_same():
    text = run("add-slow-lowering")
    data = json.loads(run("add-slow-lowering", "--format", "json").stdout)
    assert text.exit_code == 0
    assert data["paragraph"] in text.stdout
    assert "Invented data" in text.stdout


@pytest.mark.parametrize(
    ("form", "begins"),
    [
        ("markdown", "# Rest"),
        ("html", "<!DOCTYPE html>"),
        ("bibtex", "@article{"),
        ("ris", "TY  - JOUR"),
        ("csl-json", "["),
    ],
)
def test_forms(form, begins, tmp_path):
    out = tmp_path / "out"
    printed = run("rest-between-sets", "--format", form)
    assert printed.stdout.startswith(begins)
    assert run("rest-between-sets", "--format", form, "--out", str(out)).exit_code == 0
    assert out.read_text(encoding="utf-8").rstrip("\n") == printed.stdout.rstrip("\n")


def test_trace():
    printed = run("one-leg-work", "--trace").stdout
    assert "result[1].change.mean" in printed
    data = json.loads(run("one-leg-work", "--trace", "--format", "json").stdout)
    assert data["effects"][0]["cells"][0]["file"].startswith("studies/")


def test_language_profile_and_style(tmp_path):
    path = tmp_path / "k17.toml"
    path.write_text('training_status = "trained"\nage = 16\n')
    printed = run("one-leg-work", "--language", "de", "--profile", str(path), "--style", "nature")
    assert "unter 18" in printed.stdout
    assert "k17" not in printed.stdout


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (["one-leg-wrok"], "nearest known: one-leg-work"),
        (["one-leg-work", "--language", "fr"], "no language 'fr'"),
        (["one-leg-work", "--style", "apaa"], "nearest known: apa"),
        (["one-leg-work", "--profile", "nobody"], "no profile"),
        (["one-leg-work", "--out", "no-folder/here/x"], "cannot be written"),
    ],
)
def test_wrong_use_is_one_message(words, message):
    found = subprocess.run(
        [sys.executable, "-m", "steelyard", "explain", *words], capture_output=True, text=True
    )
    assert found.returncode in (1, 2)
    assert message in found.stderr
    assert "Traceback" not in found.stderr
