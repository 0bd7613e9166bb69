"""The handout: one sheet, self-contained, and nothing that loads or acts."""

from __future__ import annotations

import re
import shutil
import subprocess

import pytest

from steelyard import open_library
from steelyard.explaining.explain import explain
from steelyard.explaining.handout import handout
from steelyard.explaining.handout_text import markdown
from steelyard.explaining.profile import ClientProfile
from steelyard.records.settings import Letterhead, Settings

CHROMIUM = shutil.which("chromium") or "chromium"
SETTINGS = Settings(
    coach=Letterhead(
        name="R. Holm",
        organisation="Tarnside Rowing Club (invented)",
        contact=("coach@tarnside.example",),
        colour="#2f5d50",
    )
)
PROFILE = ClientProfile(
    training_status="highly-trained", age=80, sex="female", baseline=900, unit="N",
    cares_about="muscle-size", sessions_per_week=1,
)  # fmt: skip


@pytest.fixture(scope="module")
def library():
    return open_library()


def printed_pages(page, folder):
    source, target = folder / "page.html", folder / "page.pdf"
    source.write_text(page, encoding="utf-8")
    subprocess.run(
        [
            *(CHROMIUM, "--headless", "--no-sandbox", "--disable-gpu", "--no-pdf-header-footer"),
            *(f"--print-to-pdf={target}", source.as_uri()),
        ],
        check=True,
        capture_output=True,
        timeout=120,
    )
    return len(re.findall(rb"/Type\s*/Page[^s]", target.read_bytes()))


@pytest.mark.parametrize(
    ("name", "language", "paper", "profile"),
    [
        ("add-slow-lowering", "en", "A4", None),
        ("add-slow-lowering", "de", "Letter", PROFILE),
        ("rest-between-sets", "en", "Letter", None),
        ("one-leg-work", "en", "A4", PROFILE),
        ("hamstring-strain-caution", "en", "A4", None),
    ],
)
def test_it_prints_to_one_sheet(library, tmp_path, name, language, paper, profile):
    settings = SETTINGS.model_copy(update={"paper": paper})
    found = explain(library, name, language=language, profile=profile, settings=settings)
    assert printed_pages(handout(found, settings=settings), tmp_path) == 1


def test_two_sheets_are_seen_as_two(tmp_path):
    page = "<p>one</p><p style='break-before:page'>two</p>"
    assert printed_pages(page, tmp_path) == 2


@pytest.mark.parametrize("name", ["add-slow-lowering", "rest-between-sets", "one-leg-work"])
def test_nothing_loads_and_nothing_acts(library, name):
    page = handout(explain(library, name), settings=SETTINGS)
    assert "<script" not in page
    assert not re.search(r"""(?:src|href)\s*=\s*["'](?!#)""", page)
    assert not re.search(r"url\(|@import", page)


def test_what_stands_on_it(library):
    found = explain(library, "add-slow-lowering")
    page = handout(found, settings=SETTINGS)
    for words in ("R. Holm", "coach@tarnside.example", "#2f5d50", "Invented data", found.caption):
        assert words.replace("&", "&amp;") in page
    assert page.count("<h1") == 1
    assert 'id="numbers"' in page
    assert "result[" in page
    for picture in re.findall(r"<svg[^>]*>", page):
        assert 'role="img"' in picture and "aria-label" in picture


@pytest.mark.parametrize("name", ["add-slow-lowering", "one-leg-work"])
def test_neither_pairs_nor_a_certainty_said_twice(library, name):
    found = explain(library, name)
    page = handout(found, settings=SETTINGS)
    assert "airs, one person with each</" not in page
    assert page.count("How sure we are") == 1
    reason = found.certainty_line.partition(": ")[2]
    assert markdown(found).casefold().count(reason) == 1


def test_german_page_marks_the_records_own_language(library):
    page = handout(explain(library, "one-leg-work", language="de"))
    assert '<html lang="de">' in page
    assert "<h1>Lassen Sie Ruderer wählen" in page
    written = Settings(records_language="fr")
    other = handout(explain(library, "one-leg-work", language="en", settings=written))
    assert '<h1 lang="fr">' in other
    assert "This part is only in fr." in other
    assert "Vorsicht" in page


def test_markup_in_a_record_stays_text(library):
    found = explain(library, "one-leg-work")
    record = found.recommendation.model_copy(update={"statement": "<b>x</b><script>y</script>"})
    from dataclasses import replace

    page = handout(replace(found, recommendation=record))
    assert "<script" not in page and "&lt;script&gt;" in page
    assert r"\<script\>" in markdown(replace(found, recommendation=record))


def test_markdown_has_all_parts(library):
    found = explain(library, "rest-between-sets")
    text = markdown(found, settings=SETTINGS)
    assert text.startswith("# Rest one minute or three")
    for heading in ("## What to expect", "## Cautions", "## References"):
        assert heading in text
    assert found.fingerprint in text
