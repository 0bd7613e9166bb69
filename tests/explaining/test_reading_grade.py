"""The reading grade: syllables by ear, and the formula by hand."""

from __future__ import annotations

import pytest

from steelyard.explaining.wording.reading_grade import reading_grade, sentences, syllables

# Counted by ear.
BY_EAR = {
    1: "the strength gain make trained scale whole more use one".split(),
    2: "lifting lower muscle sizes table people hamstring studies wanted lifted moment".split(),
    3: "average equipment usual recover medical physician".split(),
    4: "information supervision rehabilitate".split()[:2],
}


@pytest.mark.parametrize(
    ("word", "count"), [(word, count) for count, words in BY_EAR.items() for word in words]
)
def test_syllables(word, count):
    assert syllables(word) == count


def test_hyphens_and_numbers():
    assert syllables("well-made") == 2
    assert syllables("12.5") == 1


def test_the_formula_by_hand():
    # 2 sentences, 9 words, 10 syllables: 0.39 · 4.5 + 11.8 · 10/9 − 15.59 = −0.724.
    found = reading_grade("You gain about 3 kg. It took two weeks.")
    assert (found.words, found.sentences) == (9, 2)
    assert found.grade == pytest.approx(0.39 * 4.5 + 11.8 * 10 / 9 - 15.59)


def test_a_point_in_a_number_ends_nothing():
    assert len(sentences("About 6.2 N. Then more.")) == 2


def test_no_words():
    assert reading_grade("± % −").words == 0
