"""Numbers read off a figure that do not say how far off a reading may be."""

from __future__ import annotations

from collections.abc import Iterator

from steelyard.judging.integrity.finding import IntegrityFinding, found
from steelyard.judging.integrity.reading import Laid
from steelyard.reporting.reading_error import FIGURE_READING_SHARE, default_reading_error


def figure_findings(laid: Laid) -> Iterator[IntegrityFinding]:
    """A finding for each mean that was read off a figure without a reading error."""
    for row in laid.rows:
        if row.result.read_off != "figure":
            continue
        for cell in (row.pre if row.own_pre else None, row.post, row.change):
            if cell is None or cell.mean is None or cell.spread.reading_error is not None:
                continue
            sd = cell.sd.value if cell.sd is not None else None
            assumed = default_reading_error(cell.mean.value, sd)
            yield found(
                laid.study.id,
                f"{cell.path}.reading_error",
                "reading-error-missing",
                "read off a figure without a reading error: write how far off a reading may be, "
                f"in the outcome's unit; until then {assumed:.2g} is assumed",
                outcome=row.outcome.id,
                arithmetic=f"{100 * FIGURE_READING_SHARE:g} % of mean + SD = {assumed:.2g}",
            )
