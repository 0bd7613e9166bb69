"""One template: the same cells each time, and every committed notebook is made by it."""

from __future__ import annotations

import re

import nbformat
import pytest

from steelyard.library import open_library, shipped_workbook
from steelyard.notebook.template import IGNORE_OUTPUT, question_notebook, recommendation_notebook
from steelyard.notebook.workbook import on_disk, templated

MADE = templated(open_library())


@pytest.mark.parametrize("make", [recommendation_notebook, question_notebook])
def test_template_makes_the_same_valid_notebook_each_time(make):
    one, other = make("add-slow-lowering"), make("add-slow-lowering")
    assert nbformat.writes(one) == nbformat.writes(other)
    nbformat.validate(one)
    ids = [cell["id"] for cell in one.cells]
    assert len(set(ids)) == len(ids)


def test_two_recommendations_differ_in_their_id_alone():
    one, other = (nbformat.writes(recommendation_notebook(each)) for each in ("aaa-bbb", "ccc-ddd"))
    assert one != other
    assert one.replace("aaa-bbb", "ccc-ddd").replace("Aaa bbb", "Ccc ddd") == other


def test_every_cell_of_a_recommendation_is_compared():
    for cell in recommendation_notebook("x").cells:
        assert "tags" not in cell.metadata


def test_a_coachs_questions_come_in_order():
    named = [cell["id"] for cell in recommendation_notebook("x").cells]
    asked = ["how-big", "how-sure", "for-whom", "how-much", "turns-on", "missing", "history",
             "would-change"]  # fmt: skip
    assert [name for name in named if name in asked] == asked


def test_what_depends_on_the_day_is_not_compared():
    tagged = [
        cell["id"]
        for cell in MADE["00-start-here.ipynb"].cells
        if IGNORE_OUTPUT in cell.metadata.get("tags", [])
    ]
    assert tagged == ["due"]


def test_every_other_cell_is_compared_but_the_form():
    tagged = {
        (path.name, cell["id"])
        for path in sorted(shipped_workbook().rglob("*.ipynb"))
        for cell in nbformat.read(path, as_version=4).cells
        if "tags" in cell.metadata
    }
    assert len(tagged) == 2
    assert ("00-start-here.ipynb", "due") in tagged
    assert {name for name, _ in tagged} == {"00-start-here.ipynb", "01-enter-a-study.ipynb"}


def test_workbook_has_every_notebook_the_library_calls_for():
    assert set(MADE) <= set(on_disk(shipped_workbook()))
    assert sum(name.startswith("recommendations/") for name in MADE) >= 1


@pytest.mark.parametrize("name", sorted(MADE))
def test_committed_notebook_is_the_template_run(name):
    book = nbformat.read(shipped_workbook() / name, as_version=4)
    made = MADE[name]
    assert [(c["id"], c.cell_type, c.source) for c in book.cells] == [
        (c["id"], c.cell_type, c.source) for c in made.cells
    ]
    assert book.metadata == made.metadata
    for number, cell in enumerate((c for c in book.cells if c.cell_type == "code"), 1):
        assert cell.execution_count == number
        assert cell.outputs, f"{cell.source!r} was saved without its output"
        assert "execution" not in cell.metadata


@pytest.mark.parametrize("name", sorted(MADE))
def test_words_hold_no_typed_number(name):
    words = [cell.source for cell in MADE[name].cells if cell.cell_type == "markdown"]
    shown = re.sub(r"\]\([^)]*\)", "]", "\n".join(words))
    assert not re.search(r"\d", shown)


def test_saved_plots_are_pictures_with_a_title():
    for name, book in on_disk(shipped_workbook()).items():
        if name.startswith("recommendations/"):
            drawn = [
                output.data
                for cell in book.cells
                for output in cell.get("outputs", ())
                if "image/svg+xml" in output.data
            ]
            assert len(drawn) >= 8
            for data in drawn:
                assert "<title>" in data["image/svg+xml"]
                assert set(data) == {"image/svg+xml", "text/plain"}
