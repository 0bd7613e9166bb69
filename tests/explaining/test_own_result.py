"""One person's before and after: error, evidence and both together."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest

from steelyard.errors import DesignError
from steelyard.explaining.own_result import own_result, smallest_detectable_change
from steelyard.explaining.own_result_picture import own_result_strip
from steelyard.explaining.wording.catalogue import catalogue
from steelyard.explaining.wording.lint import lint


def test_the_worked_update():
    """Evidence 5 ± 6 %, observed 9 %, typical error 4.2 % → 7.0 ± 4.2 %, 51 % of the weight on
    the own result. Given to two figures; the arithmetic of two normal distributions."""
    found = own_result(100, 109, typical_error=4.2, unit="%", expected=5, expected_sd=6)
    assert found.likely == pytest.approx(7.0, abs=0.05)
    assert found.likely_sd == pytest.approx(4.2, abs=0.05)
    assert found.weight_on_own == pytest.approx(0.51, abs=0.005)


def test_the_update_by_simulation():
    generator = np.random.default_rng(3)
    true = generator.normal(5, 6, 4_000_000)
    seen = true + generator.normal(0, 4.2 * 2**0.5, true.size)
    kept = true[np.abs(seen - 9) < 0.05]
    found = own_result(
        100, 109, typical_error=4.2, unit="%", expected=5, expected_sd=6, worthwhile=4
    )
    error = kept.std() / kept.size**0.5
    assert found.likely == pytest.approx(kept.mean(), abs=4 * error)
    assert found.likely_sd == pytest.approx(kept.std(), rel=0.02)
    assert found.chance_worthwhile == pytest.approx((kept > 4).mean(), abs=0.01)


def test_evidence_without_weight_leaves_the_own_result():
    found = own_result(100, 109, typical_error=4.2, expected=5, expected_sd=1e6)
    assert found.likely == pytest.approx(9, abs=1e-6)
    assert found.likely_sd == pytest.approx(found.error, rel=1e-6)


CHANGES = 0.9999 * np.linspace(-1, 1, 21)
# Words that would call a change real; whole words, in any case.
REAL = {
    "en": ("real", "was measured", "improved", "a true", "true gain", "proof"),
    "de": ("echt", "gemessen wurde", "verbessert", "wirklich"),
}


@pytest.mark.parametrize("tag", ["en", "de"])
def test_a_change_within_error_is_never_called_real(tag):
    unsure = {"en": "does not show a gain or a loss", "de": "weder Gewinn noch Verlust"}[tag]
    for typical, trials, better, certainty, joined in product(
        (0.004, 0.3, 4.2, 60), (1, 3), ("higher", "lower"), ("high", "low"), (False, True)
    ):
        least = smallest_detectable_change(typical) / trials**0.5
        evidence = {"expected": 9 * typical, "expected_sd": typical} if joined else {}
        for share in CHANGES:
            found = own_result(
                [1000.0] * trials,
                [1000.0 + share * least] * trials,
                typical_error=typical,
                unit="kg",
                better=better,
                certainty=certainty,
                language=tag,
                **evidence,
            )
            text = str(found)
            assert not found.beyond_error
            assert unsure in found.sentence
            assert not [word for word in REAL[tag] if word in text.casefold()]
            if joined:
                alone = {"en": "By itself this result does not", "de": "Dieses Ergebnis allein"}
                assert alone[tag] in text


@pytest.mark.parametrize(
    ("before", "after", "evidence", "warned"),
    [
        (200, 400, {}, True),
        (400, 200, {}, True),
        (200, 260, {}, False),
        (200, 270, {"expected": 15, "expected_sd": 5}, True),
        (200, 230, {"expected": 15, "expected_sd": 5}, False),
        (200, 130, {"expected": 15, "expected_sd": 5}, True),
        # Within error nothing is said to be large.
        (4, 10, {}, False),
        (-200, 400, {}, False),
    ],
)
@pytest.mark.parametrize(("tag", "said"), [("en", "typed right"), ("de", "richtig getippt")])
def test_a_change_that_looks_mistyped_is_asked_about(before, after, evidence, warned, tag, said):
    """A start doubled or halved, or 4 SDs from what was expected; the rule is our own."""
    found = own_result(before, after, typical_error=8, unit="N", language=tag, **evidence)
    assert (said in str(found)) == warned
    assert found.as_json()["looks_mistyped"] == warned


def test_a_change_beyond_error_is_measured_either_way():
    least = smallest_detectable_change(4.2)
    assert own_result(100, 100 + least * 1.01, typical_error=4.2).beyond_error
    assert "a gain was measured" in own_result(100, 112, typical_error=4.2).sentence
    assert "a loss was measured" in own_result(100, 88, typical_error=4.2).sentence


@pytest.mark.parametrize("tag", ["en", "de"])
def test_words_are_plain_over_a_grid(tag):
    """No word to avoid, 20 words a sentence, and in English grade 8 or lower, as elsewhere."""
    words = catalogue(tag)
    for change, certainty, better in product(
        (-30, -5, 0, 5, 9, 40), ("", "high", "moderate", "low", "very low"), ("higher", "lower")
    ):
        found = own_result(
            100, 100 + change, typical_error=4.2, unit="kg", expected=5, expected_sd=6,
            worthwhile=4, certainty=certainty, better=better, language=tag, invented=True,
        )  # fmt: skip
        texts = [text for _, text in found._rows()]
        assert "{" not in str(found)
        assert lint("\n".join(texts), words) == ()
        assert lint(found.sentence, words) == ()


def test_the_way_of_a_change_is_said_and_not_left_to_a_sign():
    slower = own_result(10, 12, typical_error=0.2, better="lower", unit="s")
    faster = own_result(10, 8, typical_error=0.2, better="lower", unit="s")
    assert "2.00 s more" in slower.sentence and "a loss was measured" in slower.sentence
    assert "2.00 s less" in faster.sentence and "a gain was measured" in faster.sentence


def test_doubtful_evidence_is_said_with_an_if():
    sure, unsure = (
        str(own_result(100, 109, typical_error=4, expected=5, expected_sd=6, certainty=word))
        for word in ("moderate", "low")
    )
    assert "If the studies hold" not in sure
    assert unsure.count("f the studies hold") == 3


def test_repeated_trials_make_error_smaller():
    one = own_result(100, 109, typical_error=4)
    four = own_result([99, 101, 100, 100], [108, 110, 109, 109], typical_error=4)
    assert four.error == pytest.approx(one.error / 2)
    assert (one.change, four.change) == (9, 9)


def test_lower_may_be_better():
    found = own_result(10, 8, typical_error=0.2, better="lower", unit="s")
    assert found.change == 2
    assert "a gain was measured" in found.sentence


@pytest.mark.parametrize(
    ("tag", "said"),
    [
        ("en", ("regression to the mean", "One person is not a trial", "not medical advice")),
        ("de", ("Rückkehr zur Mitte", "Ein Mensch ist keine Studie", "kein ärztlicher Rat")),
    ],
)
def test_warnings_are_in_every_own_result(tag, said):
    for change, evidence in product((-20, 1, 30), ({}, {"expected": 5, "expected_sd": 6})):
        text = str(own_result(100, 100 + change, typical_error=4, language=tag, **evidence))
        assert all(words in text for words in said)


@pytest.mark.parametrize(
    "words",
    [
        {"typical_error": 0},
        {"typical_error": "4 kg"},
        {"typical_error": 4, "expected": 3},
        {"typical_error": 4, "expected": 3, "expected_sd": 0},
        {"typical_error": 4, "better": "up"},
        {"typical_error": 4, "worthwhile": -1},
    ],
)
def test_bad_numbers_are_refused(words):
    with pytest.raises(DesignError):
        own_result(100, 109, **words)
    with pytest.raises(DesignError):
        own_result([], 109, typical_error=4)
    with pytest.raises(DesignError):
        own_result("a hundred", 109, typical_error=4)


@pytest.mark.parametrize("tag", ["en", "de"])
def test_text_and_picture_say_the_same_ranges(tag):
    """The text names what is drawn, and apart from it what tests may show, error included."""
    found = own_result(
        195, 230, typical_error=9, unit="N", expected=32, expected_sd=12.2, language=tag
    )
    drawn = own_result_strip(found).ranges
    words = catalogue(tag)
    expected = drawn[drawn["words"] == words.say("own.band_expected")]["numbers"].item()
    assert f"({expected})" in found.against_evidence
    half = 1.959964 * (12.2**2 + found.error**2) ** 0.5
    for end in (32 - half, 32 + half):
        assert f" {abs(end):.0f} N" in found.against_evidence
    assert ("measuring error" if tag == "en" else "Messfehler") in found.against_evidence
