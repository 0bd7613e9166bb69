"""Which saved notebooks are signed, so that their pictures show when they are opened."""

from __future__ import annotations

import shutil
from typing import ClassVar

import nbformat
import pytest

from steelyard.library import shipped_workbook
from steelyard.notebook import workbook
from steelyard.notebook.shipped_cells import SHIPPED_CELLS


class Notary:
    """Takes down what it is asked to sign."""

    signed: ClassVar[list[str]] = []

    def sign(self, book) -> None:
        self.signed.append(book.cells[0].source.splitlines()[0])


@pytest.fixture
def notary(monkeypatch):
    monkeypatch.setattr(Notary, "signed", [])
    monkeypatch.setattr(workbook, "NotebookNotary", Notary)
    return Notary


def test_digests_are_those_of_the_shipped_notebooks():
    found = {
        path.name: workbook.cells_digest(nbformat.read(path, as_version=4))
        for path in shipped_workbook().glob("*.ipynb")
    }
    assert found == SHIPPED_CELLS


def test_notebooks_as_they_ship_are_signed_and_no_other(tmp_path, notary):
    for name in SHIPPED_CELLS:
        shutil.copy(shipped_workbook() / name, tmp_path / name)
    path = tmp_path / "02-read-a-study.ipynb"
    book = nbformat.read(path, as_version=4)
    book.cells[1].source += "\nimport os"
    workbook.save(book, path)
    shutil.copy(shipped_workbook() / "00-start-here.ipynb", tmp_path / "another.ipynb")
    workbook.trust(tmp_path)
    assert len(notary.signed) == len(SHIPPED_CELLS) - 1
    assert "# Read a study" not in notary.signed
    assert notary.signed.count("# Start here") == 1


def test_outputs_do_not_enter_the_digest(tmp_path):
    book = nbformat.read(shipped_workbook() / "00-start-here.ipynb", as_version=4)
    before = workbook.cells_digest(book)
    for cell in book.cells:
        if cell.cell_type == "code":
            cell.outputs = []
    assert workbook.cells_digest(book) == before
