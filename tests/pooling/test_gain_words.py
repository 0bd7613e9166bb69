"""Words for gains inside one group: over which SD, for whom, and with what they do not say."""

from __future__ import annotations

import json

import pytest
from click.testing import CliRunner

from steelyard import open_library
from steelyard.cli.reading import read_command
from tests.small_library import question, result, study

GAINS = "On a scale for gains inside one group"


def status(word: str) -> str:
    """Lines for the head of a study, after its design."""
    return f'[population]\ntraining_status = "{word}"'


def reading(tmp_path, *, trained: str, slow=(100, 10, 108), usual=(100, 20, 108), **words):
    """One trial; of each arm the mean before, the SD before and the mean after."""
    body = ""
    for arm, (pre, sd, post) in (("slow", slow), ("usual", usual)):
        before, after = f"{{ mean = {pre}, sd = {sd} }}", f"{{ mean = {post}, sd = 15 }}"
        body += result(arm, pre=before, post=after, r="0.8")
    study(tmp_path, "trial", body, design_more=status(trained), **words)
    question(tmp_path)
    return open_library(tmp_path).read("trial")


def told(found) -> list[str]:
    return [sentence for sentence in found.findings if sentence.startswith(GAINS)]


def test_each_gain_is_counted_over_its_own_sd_before_training(tmp_path):
    """Both gain 8, with SDs before training of 10 and 20: 0.8 and 0.4, uncorrected, whatever the
    SD that the effect is standardised by."""
    found = reading(tmp_path, trained="recreational")
    gains = {each.arm: each for each in found.gain_words}
    assert gains["slow"].gain == pytest.approx(0.8, abs=1e-12)
    assert gains["usual"].gain == pytest.approx(0.4, abs=1e-12)
    assert (gains["slow"].word, gains["usual"].word) == ("moderate", "small")
    # What the reading shows beside the effect is over the SD of both, and is not used here.
    shown = found.changes.set_index("arm")["change"]
    assert shown["slow"] == pytest.approx(shown["usual"], abs=1e-12)
    assert found.effects["effect"].item() == pytest.approx(0, abs=1e-12)


def test_the_sentence_names_table_status_and_what_it_does_not_say(tmp_path):
    (sentence,) = told(reading(tmp_path, trained="recreational"))
    assert "(Rhea 2004, recreationally trained; values recalled, not seen)" in sentence
    assert "peak, moderate with slow (+0.80 SD), small with usual (+0.40 SD)" in sentence
    assert "say nothing of what the training did" in sentence
    assert "compare no two groups" in sentence


@pytest.mark.parametrize(
    ("trained", "word"),
    [("untrained", "small"), ("recreational", "moderate"), ("highly-trained", "moderate")],
)
def test_the_people_decide_on_the_table(tmp_path, trained, word):
    found = reading(tmp_path, trained=trained, slow=(100, 10, 109))
    assert {each.word for each in found.gain_words if each.arm == "slow"} == {word}
    assert all(trained.split("-")[0] in each.table.name for each in found.gain_words)


@pytest.mark.parametrize("trained", ["trained", "mixed", "not reported"])
def test_no_word_where_the_people_have_no_table(tmp_path, trained):
    found = reading(tmp_path, trained=trained)
    assert found.gain_words == () and told(found) == []
    assert any("Inside the groups" in sentence for sentence in found.findings)


def test_no_word_for_anything_but_strength(tmp_path):
    body = "".join(
        result(arm, outcome="size", pre="{ mean = 20, sd = 2 }", post="{ mean = 22, sd = 2 }")
        for arm in ("slow", "usual")
    )
    more = '[[outcome]]\nid = "size"\nconstruct = "muscle-size"\n'
    study(tmp_path, "trial", body, outcome_more=more, design_more=status("untrained"))
    question(tmp_path)
    found = open_library(tmp_path).read("trial")
    assert len(found.effects) == 1 and found.gain_words == ()


def test_no_word_for_an_arm_that_rests(tmp_path):
    reading(tmp_path, trained="untrained")
    path = tmp_path / "studies" / "trial.toml"
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace('["usual"]', '["usual", "no-training"]'), encoding="utf-8")
    found = open_library(tmp_path).read("trial")
    assert set(found.changes["arm"]) == {"slow", "usual"}
    assert [each.arm for each in found.gain_words] == ["slow"]


def test_a_loss_is_no_gain(tmp_path):
    (sentence,) = told(reading(tmp_path, trained="untrained", usual=(100, 20, 96)))
    assert "none with usual (−0.20 SD)" in sentence


def test_many_gains_are_counted_by_word(tmp_path):
    body, more = "", ""
    for outcome, slow, usual in (("peak", 108, 101), ("two", 104, 102), ("three", 116, 103)):
        for arm, post in (("slow", slow), ("usual", usual)):
            after = f"{{ mean = {post}, sd = 10 }}"
            body += result(arm, outcome=outcome, pre="{ mean = 100, sd = 10 }", post=after, r="0.8")
        if outcome != "peak":
            more += f'[[outcome]]\nid = "{outcome}"\nconstruct = "strength"\n'
    study(tmp_path, "trial", body, outcome_more=more, design_more=status("recreational"))
    question(tmp_path)
    (sentence,) = told(open_library(tmp_path).read("trial"))
    assert "of 6 gains, 3 trivial (+0.10 SD to +0.30 SD), 1 small (+0.40 SD)" in sentence
    assert "1 moderate (+0.80 SD), 1 large (+1.60 SD)." in sentence


def test_numbers_that_do_not_hang_together_get_no_word(shipped):
    """A standard error under the heading of an SD makes any gain look large."""
    found = shipped.read("inchmarsh-2021")
    assert found.study.population.training_status == "recreational"
    assert not found.changes.empty and found.gain_words == ()


def test_the_machine_is_told_too():
    done = CliRunner().invoke(read_command, ["oxmere-2013", "--format", "json"])
    gains = json.loads(done.stdout)["gains_inside_groups"]
    assert len(gains) == 4
    assert {each["word"] for each in gains} == {"small"}
    assert all(0.35 <= each["gain"] < 0.80 for each in gains)
    assert {each["table"] for each in gains} == {"Rhea 2004, recreationally trained"}
    assert all("recalled" in each["sourced"] for each in gains)
