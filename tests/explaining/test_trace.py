"""The trace: every cell it names is there, and holds what it says."""

from __future__ import annotations

import re
import tomllib
from decimal import Decimal

import pytest

from steelyard import open_library
from steelyard.explaining.explain import explain
from steelyard.explaining.trace import trace


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
    weighing = library.weigh(library.recommendations[name].questions[0])
    assert len(found.effects) == weighing.k_effects
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
    assert sum(effect.weight for effect in found.effects) > 99


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
