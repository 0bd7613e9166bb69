"""The message catalogue: complete in every language, and free of what it tells others to avoid."""

from __future__ import annotations

import re
import string

import pytest

from steelyard.errors import UsageError
from steelyard.explaining.wording.catalogue import catalogue, languages
from steelyard.explaining.wording.lint import lint, words_to_avoid


def fields(text):
    return {name for _, name, _, _ in string.Formatter().parse(text) if name}


def test_two_languages_ship():
    assert languages() == ("de", "en")


def test_every_message_in_every_language():
    english, german = catalogue("en").messages, catalogue("de").messages
    assert english.keys() == german.keys()
    assert len(english) > 150


# What a language may leave out: a part it says by other means.
MAY_DIFFER = {"A", "gives", "will", "will_many", "more", "than", "a", "outcome", "cares", "have"}


def test_the_same_numbers_in_every_language():
    english, german = catalogue("en").messages, catalogue("de").messages
    for key, text in english.items():
        assert fields(text) ^ fields(german[key]) <= MAY_DIFFER, key


@pytest.mark.parametrize("tag", ["en", "de"])
def test_no_message_holds_a_word_to_avoid(tag):
    words = catalogue(tag)
    for key, text in words.messages.items():
        assert not words_to_avoid(text, words), key


@pytest.mark.parametrize("tag", ["en", "de"])
def test_no_message_has_a_typed_number(tag):
    for key, text in catalogue(tag).messages.items():
        typed = set(re.findall(r"\d+", re.sub(r"\{[^}]*\}", "", text)))
        # One denominator, and the age of grown-ups.
        assert typed <= {"100", "18"}, key


@pytest.mark.parametrize(
    "text",
    [
        "The effect was significant.",
        "p < 0.05",
        "an SMD of 1",
        "a gain below 0.14 SD",
        "two SDs apart",
        "I² was high",
        "It is 20 % better.",
        "This is proven.",
        "the optimal dose",
        "She is a responder.",
        "muscle activation rose",
        "There is no difference.",
        "the 95 % confidence interval",
    ],
)
def test_words_to_avoid_are_found(text):
    assert [slip.rule for slip in words_to_avoid(text, catalogue("en"))] == ["word"]


def test_long_sentences_and_hard_texts_are_found():
    long = "We " + "go on and " * 8 + "stop."
    assert "long sentence" in [slip.rule for slip in lint(long, catalogue("en"))]
    hard = "Heterogenous physiological adaptations necessitate individualised periodisation."
    assert "grade" in [slip.rule for slip in lint(hard, catalogue("en"))]
    assert lint("You will gain about 3 kg. It takes 12 weeks.", catalogue("en")) == ()


def test_a_language_that_is_not_there_is_one_message():
    with pytest.raises(UsageError, match="no language 'fr'; there are de, en"):
        catalogue("fr")


def test_a_librarys_own_terms_go_first():
    words = catalogue("de", terms={"strength": "Maximalkraft"})
    assert words.term("strength", "strength") == "Maximalkraft"
    assert words.term("thigh", "thigh") == "Oberschenkel"
    assert words.term("unheard", "its label") == "its label"
