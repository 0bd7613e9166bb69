"""The words beside a client's sizes: of programmes, of any field, and of correlations."""

from __future__ import annotations

from steelyard import open_library
from steelyard.explaining.client_sizes import client_sizes
from steelyard.explaining.evidence import answered
from steelyard.explaining.explain import explain
from tests.small_library import correlations


def test_a_standardised_size_has_both_words_and_says_neither_to_a_client():
    library = open_library()
    sizes = client_sizes(answered(library, "slow-lowering-strength", record=None))
    assert sizes.word == "medium (Swinton & Murphy 2022)"
    assert sizes.word_any_field == "small (Hopkins et al. 2009)"
    told = explain(library, "add-slow-lowering")
    machine = told.as_json()
    assert machine["threshold_word"] == sizes.word
    assert machine["threshold_word_any_field"] == sizes.word_any_field
    assert "Hopkins" not in str(told)


def test_a_correlation_has_the_word_of_its_own_scale(tmp_path):
    library = correlations(tmp_path, (0.35, 0.45, 0.4), n=200)
    sizes = client_sizes(answered(library, "asked", record=None))
    assert (sizes.word, sizes.word_any_field) == ("moderate (Hopkins et al. 2009)", "")
