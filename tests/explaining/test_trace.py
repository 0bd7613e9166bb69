"""The trace: every cell it names is there, and holds what it says."""

from __future__ import annotations

import re
import tomllib
from decimal import Decimal

import pytest

from steelyard import open_library
from steelyard.explaining.explain import explain
from steelyard.explaining.handout import handout
from steelyard.explaining.trace import trace
from steelyard.explaining.trace_page import linked
from steelyard.explaining.wording.catalogue import catalogue


@pytest.fixture(scope="module")
def library():
    return open_library()


def looked_up(record, path):
    """The value at ``result[2].pre.mean``, counted from 1."""
    for name, at in re.findall(r"([A-Za-z0-9_]+)(?:\[(\d+)\])?", path):
        record = record[name]
        if at:
            record = record[int(at) - 1]
    return record


@pytest.mark.parametrize(
    "name", ["add-slow-lowering", "rest-between-sets", "one-leg-work", "hamstring-strain-caution"]
)
def test_every_cell_is_in_its_file(library, name):
    found = trace(explain(library, name))
    asked = library.recommendations[name].questions[0]
    own = [effect for effect in found.effects if effect.question == asked]
    assert len(own) == library.weigh(asked).k_effects
    files = {}
    for effect in found.effects:
        assert effect.cells, effect.study
        for cell in effect.cells:
            if cell.file not in files:
                text = (library.folder / cell.file).read_text(encoding="utf-8")
                files[cell.file] = tomllib.loads(text, parse_float=Decimal)
            value = looked_up(files[cell.file], cell.path)
            shown = f"[{', '.join(map(str, value))}]" if isinstance(value, list) else str(value)
            assert cell.printed == shown
    assert sum(effect.weight for effect in own) > 99


def test_every_number_rests_on_something(library):
    found = trace(explain(library, "add-slow-lowering"))
    assert found.numbers
    for number in found.numbers:
        assert number.rests_on
    places = [place for place, _, _ in found.turned_by]
    assert "questions/slow-lowering-strength.toml client.reference_sd" in places
    assert "Table 2" in str(found)


def test_a_changed_cell_changes_the_text(library, tmp_path):
    import shutil

    folder = tmp_path / "evidence"
    shutil.copytree(library.folder, folder)
    before = explain(library, "one-leg-work")
    cell = trace(before).effects[0].cells[0]
    path = folder / cell.file
    lines = path.read_text(encoding="utf-8")
    number = next(c for c in trace(before).effects[0].cells if c.path.endswith("change.mean"))
    assert number.printed in lines
    path.write_text(lines.replace(f"mean = {number.printed}", "mean = 40.0", 1), encoding="utf-8")
    after = explain(open_library(folder), "one-leg-work")
    assert after.paragraph != before.paragraph
    assert after.fingerprint != before.fingerprint


def test_every_number_leads_to_its_own_row_and_on_to_cells(library):
    page = handout(explain(library, "add-slow-lowering"))
    addresses = set(re.findall(r'id="([^"]+)"', page))
    links = re.findall(r'<a[^>]*href="#([^"]+)"', page)
    assert links and set(links) <= addresses
    numbers = re.findall(r'class="number" href="#(number-\d+)">([^<]+)</a>', page)
    assert len(numbers) > 20
    for address, text in numbers:
        row = re.search(rf'<tr id="{address}">(.*?)</tr>', page).group(1)
        written = re.findall(r"<td>(.*?)</td>", row)[1]
        assert written.lstrip("−").split(" ")[0] == text
        assert "#effect-" in row or "#turned-" in row or ".toml" in row or "this page" in row
    effect = re.search(r'<tr id="effect-1">(.*?)</tr>', page).group(1)
    assert "studies/brackwater-2011.toml" in effect
    assert 'id="cell-1-1"' in effect and "result[1].n = 22" in effect


def test_numbers_written_alike_are_told_apart_by_their_unit(library):
    explanation = explain(library, "add-slow-lowering")
    found = trace(explanation)
    line = next(
        line.text for line in explanation.section("expect").lines if "after 12" in line.text
    )
    assert "(12 to 20)" in line
    told = explanation.section("expect").numbers
    html = linked(line, told, trace=found, words=catalogue("en"))
    rows = [int(at) for at in re.findall(r"#number-(\d+)", html)]
    names = [found.numbers[at - 1].name for at in rows]
    assert names == ["weeks", "average.value", "average.low", "average.high"]


def test_numbers_of_a_further_question_lead_to_its_own_studies(library):
    explanation = explain(library, "add-slow-lowering")
    found = trace(explanation)
    number = next(each for each in found.numbers if each.name == "average.value")
    asked = [effect.question for effect in found.effects]
    own = asked.count("slow-lowering-strength")
    assert found.rows_of(number) == tuple(range(1, own + 1))
    # What the studies counted as a harm leads to the studies that all together weigh it.
    harm = next(each for each in found.numbers if each.question == "slow-lowering-strains")
    assert found.rows_of(harm) == tuple(range(own + 1, len(asked) + 1))
    assert set(asked[own:]) == {"slow-lowering-strains"}
    from dataclasses import replace

    assert found.rows_of(replace(number, question="another")) == ()
    assert "rows 1 to 20 of the effects" in str(found)
    assert found.as_json()["numbers"][0]["effects"] == list(found.rows_of(number))


def test_an_age_leads_to_the_study_that_has_it(library):
    found = trace(explain(library, "add-slow-lowering"))
    lowest = next(each for each in found.numbers if each.name == "age.low")
    file, key = lowest.rests_on.split(" ")
    text = (library.folder / file).read_text(encoding="utf-8")
    value = looked_up(tomllib.loads(text), key)
    assert float(value) == lowest.value
