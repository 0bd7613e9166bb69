"""Certainty × interval × zone: no cell says more than it may."""

from __future__ import annotations

import re
from dataclasses import replace
from itertools import product

import pytest

from steelyard.explaining.wording.catalogue import catalogue
from steelyard.explaining.wording.claim import Claim, claim_sentence
from steelyard.explaining.wording.lint import LONGEST_SENTENCE, words_to_avoid
from steelyard.explaining.wording.reading_grade import reading_grade
from steelyard.pooling.verdict import verdict

A, B = "slow lowering", "usual lifting"
CERTAINTIES = ("high", "moderate", "low", "very low")
ENDS = (-40.0, -22.0, -12.0, -5.0, -0.5, 0.0, 0.5, 5.0, 12.0, 22.0, 40.0)
ZONES = (None, 6.0, 15.0)
INTERVALS = [(low, high) for low, high in product(ENDS, ENDS) if low < high]
GAIN = Claim(A, B, "strength in the thigh", "strength", "gain", "", False, "high", unit="kg")
CLAIMS_MORE = re.compile(r"\b(?:will|may)(?: probably)? (?:give|mean|go with)\b")


def cell(certainty, low, high, zone, *, base=GAIN):
    said = verdict(low=low, high=high, low_90=low, high_90=high, worthwhile=zone)
    value = (low + high) / 2
    return replace(
        base,
        verdict=said.word,
        direction_shown=said.direction_shown,
        certainty=certainty,
        value=value,
        low=low,
        high=high,
        zone=zone,
        favours_b=value < 0,
    )


@pytest.mark.parametrize("certainty", CERTAINTIES)
@pytest.mark.parametrize("kind", ["gain", "lower"])
@pytest.mark.parametrize("zone", ZONES)
def test_every_cell(certainty, kind, zone):
    words = catalogue("en")
    for low, high in INTERVALS:
        claim = cell(certainty, low, high, zone, base=replace(GAIN, kind=kind))
        text = claim_sentence(claim, words)
        inside = zone is not None and -zone < low and high < zone
        shown = low > 0 or high < 0
        enough = zone is not None and (low >= zone or high <= -zone)
        assert not words_to_avoid(text, words), text
        assert reading_grade(text).longest <= LONGEST_SENTENCE, text
        verbs = {
            "high": r"\bwill (?!probably)",
            "moderate": r"\bwill probably\b",
            "low": r"\bmay\b",
        }
        for name, verb in verbs.items():
            if name != certainty:
                assert not re.search(verb, text), (certainty, text)
        if certainty == "very low":
            assert text.startswith("We do not know") and "not settled" not in text
            assert not CLAIMS_MORE.search(text)
        elif not shown and not inside:
            assert "not settled" in text
            assert not CLAIMS_MORE.search(text)
        if "same" in text:
            assert inside
        if CLAIMS_MORE.search(text) and not inside:
            assert shown
            assert ("perhaps too little to matter" in text) == (zone is not None and not enough)
            winner = A if low > 0 else B
            assert text.lower().startswith(winner), text
            assert f"give {'less' if kind == 'lower' else 'more'}" in text


@pytest.mark.parametrize("certainty", CERTAINTIES)
def test_people_counted(certainty):
    words = catalogue("en")
    base = replace(GAIN, kind="event", outcome="a strain", outcome_short="a strain", without=20.0)
    for low, high in [(5, 12), (5, 40), (24, 40), (18.5, 21.5), (5, 19)]:
        # The event is rarer with A where fewer than 20 of 100 have it; in points of 100.
        said = verdict(
            low=20 - high, high=20 - low, low_90=20 - high, high_90=20 - low, worthwhile=3
        )
        claim = replace(
            base,
            verdict=said.word,
            direction_shown=said.direction_shown,
            certainty=certainty,
            value=(low + high) / 2,
            low=low,
            high=high,
            zone=3.0,
            favours_b=(low + high) / 2 > 20,
        )
        text = claim_sentence(claim, words)
        assert not words_to_avoid(text, words)
        assert reading_grade(text).longest <= LONGEST_SENTENCE, text
        if certainty == "very low":
            assert text.startswith("We do not know") and "not settled" not in text
            assert not CLAIMS_MORE.search(text)
        elif low <= 20 <= high and said.word != "equivalent":
            assert "not settled" in text
        elif said.word == "not settled":
            assert "perhaps too few to matter" in text
        elif said.word == "better":
            assert "fewer people" in text and text.startswith("Slow lowering")
        elif said.word == "worse":
            assert "fewer people" in text and text.startswith("Usual lifting")


@pytest.mark.parametrize("certainty", CERTAINTIES)
def test_a_stand_in_claims_nothing(certainty):
    words = catalogue("en")
    for (low, high), zone in product(INTERVALS, ZONES):
        claim = replace(cell(certainty, low, high, zone), surrogate=True)
        text = claim_sentence(claim, words)
        assert text.startswith("We do not know")
        assert not CLAIMS_MORE.search(text)


@pytest.mark.parametrize("certainty", CERTAINTIES[1:])
def test_groups_not_formed_by_chance_name_no_cause(certainty):
    words = catalogue("en")
    for (low, high), zone in product(INTERVALS, ZONES):
        claim = replace(cell(certainty, low, high, zone), by_chance=False)
        text = claim_sentence(claim, words)
        if claim.direction_shown and certainty != "very low" and claim.verdict != "equivalent":
            assert "perhaps not as its cause" in text
            assert " give " not in text


@pytest.mark.parametrize("certainty", CERTAINTIES)
def test_a_step_of_dose_names_no_second_option(certainty):
    words = catalogue("en")
    base = replace(GAIN, a="5 more sets a week", b="", dose=True)
    for (low, high), zone in product(INTERVALS, ZONES):
        claim = cell(certainty, low, high, zone, base=base)
        text = claim_sentence(claim, words)
        assert " than " not in text
        assert reading_grade(text).longest <= LONGEST_SENTENCE, text
        if high < 0 and certainty != "very low" and claim.verdict != "equivalent":
            assert "give less" in text


@pytest.mark.parametrize("tag", ["en", "de"])
def test_without_a_size_nothing_is_made_up(tag):
    words = catalogue(tag)
    for certainty, word, shown in product(
        CERTAINTIES, ("better", "equivalent", "worse", "not settled", ""), (True, False)
    ):
        claim = replace(GAIN, verdict=word, direction_shown=shown, certainty=certainty)
        text = claim_sentence(claim, words)
        assert not re.search(r"\d", text), text
        assert "None" not in text and "{" not in text


def test_german_uses_the_same_scale():
    words = catalogue("de")
    verbs = {"high": "wird", "moderate": "wird wahrscheinlich", "low": "könnte"}
    for certainty in CERTAINTIES:
        for low, high in INTERVALS:
            text = claim_sentence(cell(certainty, low, high, 6.0), words)
            assert not words_to_avoid(text, words)
            if certainty == "very low":
                assert text.startswith("Wir wissen nicht") and "nicht geklärt" not in text
            elif low >= 6:
                assert f" {verbs[certainty]} " in text
                assert ("wahrscheinlich" in text) == (certainty == "moderate")
