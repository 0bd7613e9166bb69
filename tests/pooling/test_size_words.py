"""Threshold words in the details of a weighing: from which table, and where there is none."""

from __future__ import annotations

from steelyard.pooling.answer import answer_sentence
from steelyard.pooling.size_words import size_words
from tests.small_library import correlations


def test_both_scales_are_told_with_their_tables_and_never_in_the_answer(shipped):
    weighing = shipped.weigh("slow-lowering-strength")
    one, other = weighing.size_words
    assert one.table.name == "Swinton & Murphy 2022" and other.table.name == "Hopkins et al. 2009"
    rows = [value for name, value in weighing._rows() if name == "as a word"]
    assert rows == [one.text, other.text]
    assert "417 studies" in rows[0] and "any field" in rows[1] and "recalled" in rows[1]
    # 0.29 and 0.51 of the one, 0.2 and 0.6 of the other, against the interval.
    assert weighing.low < 0.29 < weighing.estimate < weighing.high < 0.51
    assert (one.word, one.low, one.high) == ("medium", "small", "medium")
    assert rows[0].startswith("medium, interval small to medium (")
    assert (other.word, other.low, other.high) == ("small", "small", "small")
    assert rows[1].startswith("small (")
    assert "Hopkins" not in answer_sentence(weighing)
    assert [each["table"] for each in weighing.as_json()["size_words"]] == [
        one.table.name,
        other.table.name,
    ]


def test_an_end_on_the_other_side_points_the_other_way():
    one, other = size_words("standardised", estimate=-0.3, low=-0.8, high=0.2)
    assert (one.word, one.low, one.high) == ("medium", "large", "small the other way")
    assert (other.word, other.low, other.high) == ("small", "moderate", "small the other way")
    assert "interval moderate to small the other way" in other.text


def test_no_words_for_a_slope_or_for_a_metric_without_a_table(shipped):
    for each in ("weekly-sets-size", "one-leg-or-two-strength", "slow-lowering-strains"):
        weighing = shipped.weigh(each)
        assert weighing.size_words == ()
        assert "as a word" not in dict(weighing._rows())


def test_correlations_have_a_scale_of_their_own(tmp_path):
    (word,) = correlations(tmp_path, (0.35, 0.45, 0.4), n=200).weigh("asked").size_words
    # About 0.40, and moderate from 0.3; taken for standard deviations it would be small.
    assert word.word == "moderate" and word.table.name == "Hopkins et al. 2009"
    assert "seen on a page that cites them" in word.text
