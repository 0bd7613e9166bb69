"""What the notebook for clients calls."""

from __future__ import annotations

import pytest

from steelyard.errors import UsageError
from steelyard.notebook.explain import check_plan, explain
from tests.small_library import question, result, study


def test_by_id_and_by_answer():
    named = explain("rest-between-sets")
    found = explain(answer="equivalent")
    assert found.explanation.recommendation.id == "rest-between-sets"
    assert str(named) == str(found)
    assert '<table class="steelyard-rows"' in named._repr_html_()


def test_pictures_tables_and_texts():
    page = explain("rest-between-sets")
    for picture in (page.ranges(), page.hundred(), page.hills(), page.where_studies_stand()):
        assert repr(picture)
    assert "image/svg+xml" in page.ranges()._repr_mimebundle_()
    assert "Effects and their cells" in str(page.trace())
    assert page.references("ris").startswith("TY  - JOUR")
    assert len(page.citations().rows) == len(page.explanation.citations.references)
    assert page.options(prefers="a").kind == "same"
    assert "does not set two options" in str(explain("weekly-sets-thigh").options())


def test_people_counted_have_no_own_result():
    said = explain("hamstring-strain-caution").own_result(10, 12, typical_error=1)
    assert "one person's tests cannot be held against it." in str(said)


def test_a_handout_is_written(tmp_path):
    said = explain("one-leg-work").handout(tmp_path / "sheet.html")
    assert "sheet.html" in str(said)
    assert (tmp_path / "sheet.html").read_text(encoding="utf-8").startswith("<!DOCTYPE html>")


def test_a_plan_typed_in_lines():
    found = check_plan("exercise, site, sets, sessions\nleg curl, hamstrings, 2, 2\n")
    assert found.findings


def test_another_library_without_such_an_answer(tmp_path, monkeypatch):
    pre = "{ mean = 50, sd = 5 }"
    body = "".join(
        result(arm, pre=pre, post=f"{{ mean = {post}, sd = 5 }}", r="0.9")
        for arm, post in (("slow", 60), ("usual", 50))
    )
    study(tmp_path, "s0", body)
    question(tmp_path)
    monkeypatch.setenv("STEELYARD_LIBRARY", str(tmp_path))
    found = explain(answer="equivalent")
    assert "No recommendation of this library" in str(found)
    assert str(found.ranges()) == str(found.own_result(1, 2, typical_error=1)) == str(found)


def test_wrong_words_are_one_message():
    with pytest.raises(UsageError, match="answer must be one of"):
        explain(answer="good")
    with pytest.raises(UsageError, match="name a recommendation"):
        explain()
