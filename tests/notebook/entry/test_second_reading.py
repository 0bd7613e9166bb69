"""The blind form: no number of the first reader, and differences settled with a note."""

from __future__ import annotations

import ipywidgets
import pytest

from steelyard.errors import UsageError
from steelyard.notebook import enter_study, second_reading
from steelyard.records import load_records
from steelyard.records.second_reading import find_reading

STUDY = "oxmere-2013"
NUMBERS = {
    "cell.o1.a1.pre": "90.5 ± 4.16",
    "cell.o1.a1.post@12": "102.3 ± 3.65",
    "cell.o1.a2.pre": "87.9 ± 5.35",
    "cell.o1.a2.post@12": "100.6 ± 4.49",
    "cell.o2.a1.pre": "79.8 ± 3.93",
    "cell.o2.a1.post@12": "89.0 ± 3.86",
    "cell.o2.a2.pre": "70.7 ± 4.75",
    "cell.o2.a2.post@12": "80.9 ± 8.99",
}


def everything(widget) -> str:
    texts = [getattr(widget, name, "") for name in ("value", "placeholder", "description")]
    inner = [everything(child) for child in getattr(widget, "children", ())]
    return " ".join(text for text in (*texts, *inner) if isinstance(text, str))


@pytest.fixture
def page(folder):
    enter_study(STUDY).form.saving.second_button.click()
    return second_reading(STUDY)


def test_nobody_asked(folder):
    with pytest.raises(UsageError, match="nobody asked"):
        second_reading(STUDY)


def test_blind(page):
    shown = everything(page.widget)
    for text in NUMBERS.values():
        for number in text.split(" ± "):
            assert number not in shown or number == "90.5"  # which is also the example's mean
    choices = [w.value for f in page.fields.values() if isinstance(w := f.box, ipywidgets.Dropdown)]
    assert set(choices) <= {""}


def test_from_reading_to_settled(page, folder):
    for outcome in page.state.outcomes:
        for column in outcome.columns():
            outcome.styles[column] = "se"
    page.reader = "Ben"
    for name, text in NUMBERS.items():
        page.fields[name].box.value = text
    page.keep()
    assert "Kept" in page.message.value
    assert find_reading(folder, STUDY).read_by == "Ben"
    assert load_records(folder).studies[STUDY].results[3].post.se.compare_total
    assert "1 cell read differently" in everything(page.apart)
    part = page.apart.children[0].children[1]
    keep, note, done = part.children[1].children
    done.click()
    assert "expected a note" in page.message.value
    keep.children[0].value = "second"
    note.children[0].value = "8.99 in Table 2"
    done.click()
    assert str(load_records(folder).studies[STUDY].results[3].post.se) == "8.99"
    assert "agree" in everything(page.apart)


def test_bad_numbers_are_not_kept(page, folder):
    page.reader = "Ben"
    page.fields["cell.o1.a1.pre"].box.value = "90.5 ± x"
    page.keep()
    assert "cannot be read" in page.message.value
    assert find_reading(folder, STUDY).read is None
