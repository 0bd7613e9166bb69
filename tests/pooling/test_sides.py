"""The verdict's words fit what was asked: better, more varied, or going together."""

import pytest

from steelyard import open_library
from steelyard.pooling.answer import answer_sentence
from steelyard.pooling.belief import belief
from steelyard.pooling.forest_data import forest_data
from steelyard.pooling.sides import sides
from steelyard.pooling.verdict import verdict
from tests.small_library import question, result, study

INTERVALS = {
    "ahead": (0.3, 0.5),
    "behind": (-0.5, -0.3),
    "leaning": (0.05, 0.5),
    "same": (-0.05, 0.05),
    "open": (-0.5, 0.5),
    "open above": (-0.05, 0.5),
    "open below": (-0.5, 0.05),
}


def said(metric, low, high, worthwhile=0.2):
    return verdict(
        low=low,
        high=high,
        low_90=low,
        high_90=high,
        worthwhile=worthwhile,
        intervention="slow",
        comparator="usual",
        metric=metric,
    )


@pytest.mark.parametrize(
    "metric", ["variability-ratio", "relative-variability-ratio", "correlation"]
)
@pytest.mark.parametrize("worthwhile", [0.2, None])
@pytest.mark.parametrize("name", INTERVALS)
def test_spread_and_correlation_are_neither_better_nor_worse(metric, worthwhile, name):
    told = said(metric, *INTERVALS[name], worthwhile)
    for word in ("better", "worse", "in favour"):
        assert word not in told.sentence
    assert told.word == said("raw", *INTERVALS[name], worthwhile).word


def test_people_vary_more_or_less():
    assert said("variability-ratio", *INTERVALS["ahead"]).sentence == (
        "people vary more with slow than with usual on average, by enough to matter"
    )
    assert "people vary less with slow than with usual" in (
        said("variability-ratio", *INTERVALS["behind"]).sentence
    )
    assert "towards more spread with slow" in (
        said("variability-ratio", *INTERVALS["open above"]).sentence
    )


def test_other_questions_keep_their_words():
    assert said("raw", *INTERVALS["ahead"]).sentence == (
        "slow does better on average, by enough to matter"
    )
    assert said("raw", *INTERVALS["open below"]).sentence.endswith(
        "in favour of usual, and none at all"
    )
    dose = sides(metric="percent", intervention="more sets", comparator="fewer", dose=True)
    assert (dose.below, dose.above) == ("more does worse", "more does better")


def test_a_weighing_of_spreads_says_so_throughout(tmp_path):
    for number, spread in enumerate(("40.0", "44.0", "38.0", "42.0")):
        cells = {"n": "60", "pre": "{ mean = 100.0, sd = 20.0 }"}
        body = result("slow", **cells, post=f"{{ mean = 112.0, sd = {spread} }}")
        body += result("usual", **cells, post="{ mean = 108.0, sd = 20.0 }")
        study(tmp_path, f"place-{number}", body, n_slow=60, n_usual=60)
    question(
        tmp_path, more='metric = "variability-ratio"\ncontrast = "post"\nsmallest_worthwhile = 1.1'
    )
    weighing = open_library(tmp_path).weigh("asked")
    assert weighing.estimate > 0
    data = forest_data(weighing)
    texts = (answer_sentence(weighing), belief(weighing).sentence, str(belief(weighing)),
             data.left_words, data.right_words)  # fmt: skip
    for text in texts:
        assert "better" not in text and "favours" not in text and "worse" not in text
    assert "vary more" in texts[0] and "vary more" in texts[1] and "vary more" in data.right_words
