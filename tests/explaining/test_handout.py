"""The handout: one sheet, self-contained, and nothing that loads or acts."""

from __future__ import annotations

import re
import shutil
from itertools import product

import pytest
from playwright.sync_api import sync_playwright

from steelyard import open_library
from steelyard.explaining.explain import explain
from steelyard.explaining.handout import handout
from steelyard.explaining.handout_style import PAPERS
from steelyard.explaining.handout_text import markdown
from steelyard.explaining.profile import ClientProfile
from steelyard.explaining.wording.catalogue import languages
from steelyard.records.settings import Letterhead, Settings, read_settings

CHROMIUM = shutil.which("chromium") or "chromium"
SETTINGS = Settings(
    coach=Letterhead(
        name="R. Holm",
        organisation="Tarnside Rowing Club (invented)",
        contact=("coach@tarnside.example",),
        colour="#2f5d50",
    )
)
# Everything a profile can say, and nearly all of it outside what was studied.
PROFILE = ClientProfile(
    training_status="highly-trained", age=17, sex="female", baseline=2000, unit="N",
    does_now="two sessions a week of usual lifting",
    does_now_tags=("usual-lifting", "slow-lowering", "one-leg"),
    cares_about="soreness", minutes_per_week=45, sessions_per_week=1,
)  # fmt: skip


@pytest.fixture(scope="module")
def library():
    return open_library()


@pytest.fixture(scope="module")
def printed_pages():
    """How many sheets a page prints to, at the paper it asks for; one browser for all."""
    with sync_playwright() as player:
        browser = player.chromium.launch(executable_path=CHROMIUM)
        tab = browser.new_page()

        def count(page):
            tab.set_content(page)
            return len(re.findall(rb"/Type\s*/Page[^s]", tab.pdf(prefer_css_page_size=True)))

        yield count
        browser.close()


@pytest.fixture(scope="module")
def explained(library):
    """Every recommendation in every language as shipped, without a client and with a full one."""
    shipped = read_settings(library.folder)
    return {
        (name, language, profile is not None): explain(
            library, name, language=language, profile=profile, settings=shipped
        )
        for name, language, profile in product(
            library.recommendations, languages(), (None, PROFILE)
        )
    }


def test_no_handout_breaks_the_rules_of_wording(explained):
    assert {key: told.slips for key, told in explained.items() if told.slips} == {}


def test_every_handout_prints_to_one_sheet(library, explained, printed_pages):
    shipped = read_settings(library.folder)
    found = {}
    for (key, told), paper in product(explained.items(), PAPERS):
        page = handout(told, settings=shipped.model_copy(update={"paper": paper}))
        found[*key, paper] = printed_pages(page)
    assert len(found) == 40
    assert {key: sheets for key, sheets in found.items() if sheets != 1} == {}


def test_two_sheets_are_seen_as_two(printed_pages):
    assert printed_pages("<p>one</p><p style='break-before:page'>two</p>") == 2


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


def test_no_letter_on_the_sheet_is_too_small_to_read(explained):
    """Type of the text, and of the picture at the width at which it is printed."""
    for told in explained.values():
        page = handout(told, settings=SETTINGS)
        style = page.partition("@media print")[2].partition("</style>")[0]
        sizes = [
            float(size) for size in re.findall(r"font-size: (?:max\([\d.]+em, )?([\d.]+)pt", style)
        ]
        assert len(sizes) == 4 and min(sizes) >= 6.5
        # What is set in shares of the text is larger, or has a least size of its own.
        assert all(float(part) > 1 for part in re.findall(r"font-size: ([\d.]+)em", style))
        drawn = re.search(
            r'<figure class="paper"><svg[^>]*viewBox="0 0 ([\d.]+)(.*?)</figure>', page, re.S
        )
        if drawn is None:
            assert told.sizes.without is not None
            continue
        points = float(re.search(r"svg {{? ?width: ([\d.]+)mm", style)[1]) / 25.4 * 72
        letters = min(float(size) for size in re.findall(r'font-size="([\d.]+)"', drawn[2]))
        assert letters * points / float(drawn[1]) >= 6.5
