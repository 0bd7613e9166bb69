"""What the checks ask about is said where it was typed, and at the foot of the form."""

from __future__ import annotations

from tests.notebook.entry.driving import put, type_all, words_of
from tests.notebook.entry.test_form import fill

SE_AS_SD = {
    "style.o1.pre": "sd",
    "style.o1.post@12": "sd",
    "cell.o1.a1.pre": "204.0 ± 7.1",
    "cell.o1.a1.post@12": "231.0 ± 7.2",
    "cell.o1.a2.pre": "204.0 ± 6.9",
    "cell.o1.a2.post@12": "215.0 ± 7.0",
}


def mistaken(form):
    fill(form)
    type_all(form, SE_AS_SD)


def test_a_standard_error_typed_as_sd_is_asked_about_beside_what_was_typed(page):
    form = page.form
    mistaken(form)
    cell = form.fields["cell.o1.a1.pre"].message
    assert words_of(cell) == "mean 204.0, SD 7.1 Look again: see below the grid."
    below = words_of(form.grid_messages["grid.o1"])
    assert "before: the SD 7.1 is small for an SD" in below
    assert "if the paper prints standard errors, choose SE above the column" in below
    assert "write se" not in below + words_of(form.live_view.says)
    assert "3 things to look at again. The first: slow" in words_of(form.saving.state)
    assert "Everything needed is there." in words_of(form.saving.state)


def test_it_can_be_saved_all_the_same(page, folder):
    mistaken(page.form)
    page.form.saving.save()
    assert (folder / "studies" / "marsh-2024.toml").exists()


def test_chosen_as_standard_errors_nothing_is_asked(page):
    form = page.form
    mistaken(form)
    put(form, "style.o1.pre", "se")
    put(form, "style.o1.post@12", "se")
    form._redraw.now()
    assert "Look again" not in words_of(form.fields["cell.o1.a1.pre"].message)
    assert words_of(form.grid_messages["grid.o1"]) == ""
    assert "look at again" not in words_of(form.saving.state)


def test_boxes_are_named_by_the_arm_as_it_is_called_now(page):
    form = page.form
    mistaken(form)
    put(form, "arm.a2.label", "heavy lifting")
    assert form.fields["cell.o1.a2.pre"].box.description == "Before, heavy lifting"
