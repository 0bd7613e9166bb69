"""Words for a pooled size, each with the table it is from: for the details, never a headline."""

from __future__ import annotations

from dataclasses import dataclass

from steelyard.effects.magnitude import (
    ANY_FIELD,
    BETWEEN_PROGRAMMES,
    CORRELATION,
    CORRELATIONS,
    DIFFERENCE,
    ThresholdTable,
)

_TABLES = {
    "standardised": (DIFFERENCE, (BETWEEN_PROGRAMMES, ANY_FIELD)),
    "correlation": (CORRELATION, (CORRELATIONS,)),
}


@dataclass(frozen=True, slots=True)
class SizeWord:
    """The words of one table for an estimate and the ends of its interval."""

    table: ThresholdTable
    word: str
    low: str
    high: str

    @property
    def text(self) -> str:
        """The word, the interval's where they differ, and the table with how it is sourced."""
        ends = "" if self.low == self.high else f", interval {self.low} to {self.high}"
        return f"{self.word}{ends} ({self.table.name}: {self.table.about}; {self.table.sourced})"

    def as_json(self) -> dict[str, str]:
        """``word, low, high, table, about, sourced``."""
        words = {"word": self.word, "low": self.low, "high": self.high}
        table = self.table
        return words | {"table": table.name, "about": table.about, "sourced": table.sourced}


def size_words(metric: str, *, estimate: float, low: float, high: float) -> tuple[SizeWord, ...]:
    """Words for a pooled size, from every table that holds for the metric.

    Parameters
    ----------
    metric : str
        Of a question; only ``standardised`` and ``correlation`` have tables.
    estimate, low, high : float
        Standard deviations, or correlations.

    Returns
    -------
    tuple of SizeWord
        An end of the interval on the other side of zero is said to point the other way.
    """
    of, tables = _TABLES.get(metric, ("", ()))

    def end(table: ThresholdTable, value: float) -> str:
        return table.word(value, of=of) + (" the other way" if value * estimate < 0 else "")

    return tuple(
        SizeWord(table, table.word(estimate, of=of), end(table, low), end(table, high))
        for table in tables
    )
