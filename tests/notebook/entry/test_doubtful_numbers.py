"""Numbers that cannot be: a message beside the box, and the same from check."""

from __future__ import annotations

import pytest

from steelyard.library import open_library
from tests.notebook.entry.driving import put, unfold, words_of
from tests.notebook.entry.test_form import fill


@pytest.mark.parametrize(
    ("name", "text", "said"),
    [
        ("arm.a1.dose.load_percent_1rm", "750", "0 to 300, found 750"),
        ("arm.a1.dose.load_percent_1rm", "-5", "0 to 300, found -5"),
        ("arm.a1.dose.reps", "8–6", "the fewest first, found 8 to 6"),
        ("arm.a1.dose.reps", "6 to 60000", "found 6 to 60000"),
        ("arm.a1.dose.rest_s", "200000", "seconds of rest, 0 to 86,400"),
        ("arm.a1.dose.lowering_s", "4000", "seconds of lowering, 0 to 600"),
        ("arm.a1.dose.sessions_per_week", "200", "sessions a week, 0 to 50"),
        ("arm.a1.dose.sets_per_week", "12000", "a number of sets, 0 to 1,000"),
        ("population.age_mean", "430", "a mean age in years, above 0 and up to 125"),
        ("population.age_sd", "61", "an SD of age in years, above 0 and up to 60"),
        ("design.duration_weeks", "9000", "weeks of training, above 0 and up to 2,000"),
    ],
)
def test_a_message_beside_the_box_and_nothing_saved(name, text, said, page, folder):
    form = page.form
    fill(form)
    unfold(form)
    put(form, name, text)
    assert said in words_of(form.fields[name].message)
    assert "<h4>knee flexion</h4>" in form.live_view.says.value
    assert "usual, week 12" in words_of(form.live_view.says)
    form.saving.save()
    assert "Not saved" in form.saving.message.value
    assert not (folder / "studies" / "marsh-2024.toml").exists()


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("arm.a1.dose.load_percent_1rm", "130"),
        ("arm.a1.dose.reps", "6–8"),
        ("arm.a1.dose.reps", "8"),
        ("arm.a1.dose.rest_s", "0"),
        ("population.age_mean", "96.5"),
        ("design.duration_weeks", "520"),
    ],
)
def test_what_is_unusual_is_taken(name, text, page):
    fill(page.form)
    put(page.form, name, text)
    assert words_of(page.form.fields[name].message) == ""
    page.form.saving.save()
    assert "Saved" in page.form.saving.message.value


def test_check_says_it_of_a_record(folder):
    path = folder / "studies" / "oxmere-2013.toml"
    text = path.read_text(encoding="utf-8")
    line = next(line for line in text.splitlines() if line.startswith("age_mean"))
    path.write_text(text.replace(line, "age_mean = 430"), encoding="utf-8")
    faults = [each for each in open_library(folder).check() if each.severity == "fault"]
    assert [(each.path, each.rule) for each in faults] == [("population.age_mean", "out-of-range")]
