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


def test_a_choice_a_result_and_a_plan(tmp_path):
    chosen = json.loads(run("rest-between-sets", "--prefers", "a", "--format", "json").stdout)
    assert chosen["kind"] == "same"
    assert "You prefer short rest: take that." in chosen["choice"]
    tests = tmp_path / "k17.toml"
    tests.write_text('before = [193, 197]\nafter = [228, 232]\ntypical_error = 9\nunit = "N"\n')
    shown = run("add-slow-lowering", "--result", str(tests)).stdout
    assert "a gain was measured" in shown and "k17" not in shown
    plan = tmp_path / "week.csv"
    plan.write_text("exercise,site,sets,sessions,day\nleg curl,hamstrings,4,2,Mo\n")
    text = run("--plan", str(plan)).stdout
    assert "8 planned in all, 4 advised on top, 8 to 12 tested in all" in " ".join(text.split())
    assert "day" in text.splitlines()[2]
    tests.write_text('before = [193]\nafter = [228]\ntypical_error = 9\nunit = "kg"\n')
    refused = run("add-slow-lowering", "--result", str(tests))
    assert "the tests are in kg" in str(refused.exception) + refused.output


@pytest.mark.parametrize(
    ("words", "message"),
    [
        ([], "name a recommendation, or give --plan FILE"),
        (["one-leg-work", "--plan", "week.csv"], "leave the name out"),
        (["one-leg-work", "--trace", "--choose"], "do not go together"),
        (["one-leg-work", "--choose", "--format", "html"], "is written as text or json"),
        (["one-leg-work", "--result", "nobody.toml"], "no file 'nobody.toml'"),
    ],
)
def test_what_does_not_go_together_is_one_message(words, message):
    refused = run(*words)
    assert refused.exit_code != 0
    assert message in str(refused.exception) + refused.output


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
