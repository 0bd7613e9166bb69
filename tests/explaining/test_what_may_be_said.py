"""What an explanation may say of harm, of what is ruled out, and of what nobody knows."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from steelyard import open_library
from steelyard.explaining.client_sizes import client_sizes
from steelyard.explaining.explain import explain
from steelyard.explaining.ledger import Ledger
from steelyard.explaining.names import claim_of
from steelyard.explaining.told_sizes import ToldSizes
from steelyard.explaining.wording.catalogue import catalogue
from steelyard.explaining.wording.claim import capital, claim_sentence
from tests.small_library import question, result, study

NOT_COUNTED = "these studies did not count it"
HARM = """
[[outcome]]
id = "strained"
construct = "muscle-strain"
unit = "people"
better = "lower"
[[result]]
outcome = "strained"
arm = "slow"
week = 12
n = 20
events = 3
[[result]]
outcome = "strained"
arm = "usual"
week = 12
n = 20
events = 2
"""
RECORD = """id = "advice"
statement = "Do slow lowering."
questions = ["asked"]
for_whom = "rowers"
risk = "sore legs"
"""
CLIENT = 'smallest_worthwhile = 0.2\n[client]\nunit = "N"\nreference_sd = 5\nbaseline = 50\n'


@pytest.fixture(scope="module")
def told():
    library = open_library()
    return {
        (name, tag): explain(library, name, language=tag)
        for name in library.recommendations
        for tag in ("en", "de")
    }


def texts(found, key):
    part = found.section(key)
    return [] if part is None else [line.text for line in part.lines]


def small(folder, *, harm):
    pre = "{ mean = 50, sd = 5 }"
    for at in range(4):
        body = "".join(
            result(arm, pre=pre, post=f"{{ mean = {mean}, sd = 5 }}", r="0.9")
            for arm, mean in (("slow", 60), ("usual", 50))
        )
        study(folder, f"s{at}", body + (harm if at < 3 else ""))
    question(folder, "asked", CLIENT)
    path = folder / "recommendations" / "advice.toml"
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(RECORD, encoding="utf-8")
    return open_library(folder)


def test_a_harm_that_the_studies_counted_is_told_with_its_answer(told):
    """Counted by hand in the records: six of the sixteen studies of strength saw strains."""
    found = told["add-slow-lowering", "en"]
    strains = told["hamstring-strain-caution", "en"]
    assert NOT_COUNTED not in str(found)
    risk = texts(found, "risk")
    assert "Of these 16 studies, 6 also counted muscle strain." in risk
    assert strains.sentence in risk
    assert any("3 to 15 in 100" in line and "11 otherwise" in line for line in risk)
    assert "Soreness: recorded in 1 of these 16 studies, not weighed here." in texts(
        found, "unknown"
    )
    assert found.as_json()["harms_from"] == ["slow-lowering-strains"]


def test_a_harm_is_said_not_to_be_counted_only_where_no_study_did(told, tmp_path):
    assert NOT_COUNTED in str(told["one-leg-work", "en"])
    counted = explain(small(tmp_path / "one", harm=HARM), "advice")
    assert counted.evidence[0].weighing is not None
    assert NOT_COUNTED not in str(counted)
    said = "recorded in 3 of these 4 studies, not weighed here."
    assert any(line.endswith(said) for line in texts(counted, "unknown"))
    none = explain(small(tmp_path / "two", harm=""), "advice")
    assert NOT_COUNTED in str(none)
    # An outcome that is named and has no results was not counted.
    named = HARM.split("[[result]]")[0]
    assert NOT_COUNTED in str(explain(small(tmp_path / "three", harm=named), "advice"))


def test_ruled_out_is_said_at_high_certainty_alone(told):
    evidence = told["rest-between-sets", "en"].evidence[0]
    sizes, words = client_sizes(evidence), catalogue("en")
    claim = claim_of(evidence, sizes, words)
    for certainty in ("high", "moderate", "low", "very low"):
        one = replace(claim, certainty=certainty)
        said = ToldSizes(evidence, sizes, one, ledger=Ledger(words)).zone()
        assert ("ruled out" in said) == (certainty == "high"), said
    assert claim.certainty == "moderate"
    assert "ruled out" not in str(told["rest-between-sets", "en"])
    assert "ausgeschlossen" not in str(told["rest-between-sets", "de"])


@pytest.mark.parametrize(("tag", "zone"), [("en", "0.47 mm"), ("de", "0,47 mm")])
def test_a_size_that_makes_no_odds_is_said_once_in_the_paragraph(told, tag, zone):
    assert told["rest-between-sets", tag].paragraph.count(zone) == 1


@pytest.mark.parametrize("tag", ["en", "de"])
def test_very_low_says_that_we_do_not_know_and_says_numbers_once(told, tag):
    found = told["hamstring-strain-caution", tag]
    assert found.certainty == "very low"
    assert found.sentence.startswith("We do not know" if tag == "en" else "Wir wissen nicht")
    assert "not settled" not in found.paragraph and "nicht geklärt" not in found.paragraph
    without = r"\b(?:11 otherwise|against 11|sonst 11|gegenüber 11)\b"
    assert len(re.findall(without, found.paragraph)) == 1


def test_an_open_count_is_not_said_twice(told):
    evidence = told["hamstring-strain-caution", "en"].evidence[0]
    sizes, words = client_sizes(evidence), catalogue("en")
    claim = replace(claim_of(evidence, sizes, words), certainty="low")
    sentence = claim_sentence(claim, words)
    assert "3 to 15 in 100" in sentence
    size, zone = ToldSizes(evidence, sizes, claim, ledger=Ledger(words)).beside(sentence)
    assert size == "" and "not settled" in zone


@pytest.mark.parametrize("tag", ["en", "de"])
def test_what_pairs_count_stands_behind_the_pairs(told, tag):
    scale = catalogue(tag).say("paragraph.chance_scale", even=50)
    for (_, language), found in told.items():
        if language != tag or found.sizes.without is not None:
            continue
        text = " ".join(str(found).split())
        assert text.count(scale) == 1
        before = text.partition(scale)[0].rstrip().removesuffix(".")
        assert re.search(r"\(\d+ (?:to|bis) \d+\)", re.split(r"[.:] ", before)[-1]), before[-90:]


def test_for_whom_it_is_has_a_heading_of_its_own(told):
    for (name, tag), found in told.items():
        own = capital(found.recommendation.for_whom)
        assert own not in texts(found, "shown_for"), name
        assert texts(found, "for_whom") == [own]
        heading = found.section("for_whom").heading
        assert heading == ("Who this is for" if tag == "en" else "Für wen das ist")


def test_german_says_it_as_german_does(told):
    german = {name: str(found) for (name, tag), found in told.items() if tag == "de"}
    everything = " ".join(" ".join(german.values()).split())
    for clumsy in (
        "mm genau)",
        "gegen 11",
        "Anfangs bei",
        "Freizeit,",
        "hier größer:",
        "im Bereich",
    ):
        assert clumsy not in everything, clumsy
    said = " ".join(german["rest-between-sets"].split())
    assert "(Unterschied unter 0,47 mm)" in said
    assert "1,0 % weniger bis 0,7 % mehr, bei einem üblichen Ausgangswert von 23,4 mm" in said
    assert "brächte kurze Pause den größeren Zuwachs" in said
    assert "freizeitmäßig trainiert" in said
    assert "brächten 5 weitere Sätze pro Woche" in " ".join(german["weekly-sets-thigh"].split())
