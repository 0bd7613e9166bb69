"""A forest plot that answers when pointed at, in a real browser without internet."""

from __future__ import annotations

import nbformat
import pytest
from playwright.sync_api import expect

from steelyard.library import open_library
from steelyard.notebook.template import plain_metadata
from steelyard.pooling.forest_data import forest_data
from tests.browser.jupyter import WAIT_MS, browsing, chromium, running_lab

expect.set_options(timeout=WAIT_MS)

QUESTION = "slow-lowering-strength"
CELL = f"""from steelyard import open_library
from steelyard.charts import forest_plot, live
from steelyard.pooling.forest_data import forest_data

live(forest_plot(forest_data(open_library().weigh("{QUESTION}"))))"""
DRAWN = ".jp-OutputArea-output svg.marks"


def test_a_live_forest_plot_is_drawn_and_answers(tmp_path):
    if not chromium():
        pytest.fail("the browser tests need Chromium")
    data = forest_data(open_library().weigh(QUESTION))
    with running_lab(tmp_path) as lab, browsing() as seen:
        book = nbformat.v4.new_notebook(
            cells=[nbformat.v4.new_code_cell(CELL)], metadata=plain_metadata()
        )
        nbformat.write(book, tmp_path / "workbook" / "live.ipynb")
        seen.run_first_cell(lab.notebook("live.ipynb"), shows=DRAWN)
        chart = seen.page.locator(DRAWN)
        for text in (
            data.subtitle.split(". ")[0],
            data.rows.loc[0, "label"],
            "too small to matter",
        ):
            expect(chart).to_contain_text(text)
        told = seen.page.locator("#vg-tooltip-element")
        expect(told).not_to_be_visible()
        disc = seen.page.locator(".jp-OutputArea-output svg.marks .mark-symbol path").last
        disc.scroll_into_view_if_needed()
        disc.hover()
        expect(told).to_be_visible()
        assert any(label in told.inner_text() for label in data.rows["label"])
        assert seen.strangers == []
