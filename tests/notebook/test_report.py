"""The whole report on a tiny library: run, written, told; one failing notebook among them."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path

import nbformat
import pytest

from steelyard.explaining.page_caution import GENERAL_CAUTIONS, INVENTED_DATA
from steelyard.library import open_library, shipped_library
from steelyard.notebook.workbook import notebooks_for, own_workbook
from steelyard.pooling.answer import answer_sentence

NAMESPACES = ("http://www.w3.org/2000/svg", "http://www.w3.org/1999/xlink")
WORK = ("01-enter-a-study", "02-read-a-study", "03-weigh-a-question", "04-explain-to-a-client")
QUESTIONS = ("questions/slow-strength", "questions/slow-size")
PAGES = ("index", "00-start-here", *WORK, *QUESTIONS, "broken")


@pytest.fixture(scope="module")
def report(tiny_library, tmp_path_factory):
    broken = nbformat.v4.new_notebook(
        cells=[
            nbformat.v4.new_markdown_cell("# Broken"),
            nbformat.v4.new_code_cell("print('so far')"),
            nbformat.v4.new_code_cell("from steelyard.notebook import question\nquestion('slow')"),
        ]
    )
    path = tiny_library / "workbook" / "broken.ipynb"
    nbformat.write(broken, path)
    before = path.read_bytes()
    out = tmp_path_factory.mktemp("pages") / "new" / "folder"
    told = subprocess.run(
        [sys.executable, "-m", "steelyard", "report", "--library", tiny_library, "--out", out],
        capture_output=True,
        encoding="utf-8",
        env={**os.environ, "PYTHONIOENCODING": "utf-8"},
        timeout=300,
    )
    assert path.read_bytes() == before, "a report changes no notebook"
    path.unlink()
    return told, out


def read(out: Path, name: str) -> str:
    return (out / f"{name}.html").read_text(encoding="utf-8")


def test_a_failing_notebook_is_told_once_and_stops_no_other(report):
    told, out = report
    assert told.returncode == 1
    failures = [line for line in told.stderr.splitlines() if line.startswith("steelyard:")]
    assert len(failures) == 1
    assert (
        "notebook broken: code cell 2 (question('slow')): UsageError: no question 'slow'"
        in (failures[0])
    )
    assert "Traceback" not in told.stderr
    assert {path.relative_to(out).with_suffix("").as_posix() for path in out.rglob("*.html")} == {
        *PAGES
    }


def test_progress_and_answers_are_told(report, tiny_library):
    told, out = report
    for number in range(1, 9):
        assert f"running {number} of 8: " in told.stderr
    weighing = open_library(tiny_library).weigh("slow-strength")
    assert answer_sentence(weighing) in told.stdout
    assert f"{weighing.people} people" in told.stdout
    assert str(out / "index.html") in told.stdout


@pytest.mark.parametrize("name", PAGES)
def test_every_page_stands_alone_and_carries_the_cautions(report, name):
    html = read(report[1], name)
    assert html.startswith("<!DOCTYPE html>")
    assert '<html lang="en">' in html
    assert re.search(r"<title>[^<]+</title>", html)
    assert html.count("<h1") == 1
    assert html.count("<main>") == html.count("<header>") == html.count("<footer>") == 1
    assert "<script" not in html
    assert not re.search(r"<(link|iframe|object|embed)\b", html)
    for address in re.findall(r"https?://[^\s\"'<>]+", html):
        assert address in NAMESPACES
    assert INVENTED_DATA in html
    for caution in GENERAL_CAUTIONS:
        assert caution.replace("'", "&#x27;") in html


def test_page_shows_the_plots_for_screen_and_phone(report):
    html = read(report[1], "questions/slow-strength")
    title = "<title>Is slow &lt;em&gt;lowering&lt;/em&gt; better?</title>"
    assert html.count(title) == 2
    assert '<figure class="wide paired"><svg' in html
    assert '<figure class="narrow"><svg' in html


def test_page_has_the_numbers_of_the_weighing(report, tiny_library):
    html = read(report[1], "questions/slow-strength")
    weighing = open_library(tiny_library).weigh("slow-strength")
    assert weighing.text(weighing.estimate) in html
    assert weighing.span(weighing.low, weighing.high) in html
    assert weighing.fingerprint in html


def test_markup_of_records_is_text_on_the_page(report):
    html = read(report[1], "questions/slow-strength")
    assert "&lt;script&gt;alert(" in html
    assert "<b>Fellgate" not in html


def test_question_without_an_answer_has_a_page_that_says_so(report):
    assert "no study has arms and outcomes that it asks for" in read(
        report[1], "questions/slow-size"
    )


def test_index_links_every_page_and_every_link_leads_somewhere(report):
    _, out = report
    linked = set(re.findall(r'href="([^"#]+)"', read(out, "index")))
    assert linked == {f"{name}.html" for name in PAGES if name != "index"}
    for name in PAGES:
        page = out / f"{name}.html"
        for address in re.findall(r'href="([^"#]+)"', page.read_text(encoding="utf-8")):
            assert (page.parent / address).is_file(), f"{name}: {address}"


def test_pages_are_not_written_among_the_records(tiny_library):
    told = subprocess.run(
        [
            *(sys.executable, "-m", "steelyard", "report", "--library", tiny_library),
            *("--out", tiny_library / "studies"),
        ],
        capture_output=True,
        encoding="utf-8",
        timeout=120,
    )
    assert told.returncode == 2
    assert "not written among" in told.stderr
    assert not list((tiny_library / "studies").glob("*.html"))


def test_own_workbook_is_made_and_what_is_there_is_kept(tiny_library):
    library = open_library(tiny_library)
    kept = tiny_library / "workbook" / "questions" / "slow-size.ipynb"
    try:
        assert own_workbook(library) == tiny_library / "workbook"
        book = nbformat.read(kept, as_version=4)
        book.cells.append(nbformat.v4.new_markdown_cell("My own words.", id="own"))
        nbformat.write(book, kept)
        own_workbook(library)
        assert "My own words." in kept.read_text(encoding="utf-8")
        run = notebooks_for(library, tiny_library / "workbook")["questions/slow-size.ipynb"]
        assert run.cells[-1].source == "My own words."
    finally:
        for path in (tiny_library / "workbook").rglob("*.ipynb"):
            path.unlink()


def test_a_library_of_ones_own_gets_every_notebook_to_work_with_not_yet_run(tiny_library):
    library = open_library(tiny_library)
    folder = tiny_library / "workbook"
    try:
        own_workbook(library)
        start = nbformat.read(folder / "00-start-here.ipynb", as_version=4)
        linked = re.findall(r"\]\((0[1-9][^)]+)\)", "\n".join(c.source for c in start.cells))
        assert linked == [f"{name}.ipynb" for name in WORK]
        for name in linked:
            book = nbformat.read(folder / name, as_version=4)
            calls = [cell for cell in book.cells if cell.cell_type == "code"]
            assert calls and not any(cell.outputs for cell in calls)
    finally:
        for path in folder.rglob("*.ipynb"):
            path.unlink()


def test_a_library_with_nothing_in_it_yet_has_pages_without_faults(tmp_path):
    empty = tmp_path / "empty"
    empty.mkdir()
    vocabulary = shipped_library() / "vocabulary.toml"
    (empty / "vocabulary.toml").write_bytes(vocabulary.read_bytes())
    told = subprocess.run(
        [
            *(sys.executable, "-m", "steelyard", "report", "--library", empty),
            *("--out", tmp_path / "pages"),
        ],
        capture_output=True,
        encoding="utf-8",
        timeout=240,
    )
    assert "Error" not in told.stdout + told.stderr
    assert told.returncode == 0
    page = (tmp_path / "pages" / "03-weigh-a-question.html").read_text(encoding="utf-8")
    assert "This library has no question yet." in page


def test_notebooks_of_another_library_are_left_out(tiny_library, tmp_path):
    from steelyard.notebook.template import recommendation_notebook

    folder = tmp_path / "recommendations"
    folder.mkdir()
    nbformat.write(recommendation_notebook("of-another"), folder / "of-another.ipynb")
    books = notebooks_for(open_library(tiny_library), tmp_path)
    assert "recommendations/of-another.ipynb" not in books
    assert "questions/slow-strength.ipynb" in books
