"""A weighing in the units a person reads, ready to be drawn: charts do no arithmetic."""

from __future__ import annotations

from dataclasses import dataclass

import pandas as pd


@dataclass(frozen=True, slots=True)
class ForestData:
    """All that a forest plot shows, in display units.

    Attributes
    ----------
    rows : DataFrame, a row per study, in drawing order
        ``study`` (id), ``label`` (short name with year), ``estimate``, ``low_50, high_50,
        low_80, high_80, low_95, high_95`` (display units), ``weight`` (percent of the pool, 0
        for one shown but not pooled), ``n_intervention``, ``n_comparator`` (people
        on either side), ``people`` (each once: fewer than both sides where the same were on both),
        ``n_effects`` (results behind the row), ``flags`` (words separated by ``"; "``, empty
        for none; from: retracted, suspect numbers, assumed r, post only, unrandomised,
        read off a figure), ``pooled`` (bool).
    estimate, low, high, prediction_low, prediction_high : float
        Pooled; NaN where there is none.
    level : float
        Of the pooled interval and the prediction interval, e.g. 0.95.
    zone : tuple of float or None
        Bounds of the effects too small to matter.
    no_effect : float
        0 on a difference scale, 1 on a ratio scale.
    scale : str
        ``"linear"`` or ``"log"``.
    axis_title : str
        Quantity and unit in words.
    left_words, right_words : str
        What it means to lie to that side, e.g. ``"favours usual lifting"``.
    intervention, comparator : str
        Names of the two things compared.
    title, subtitle : str
        The question; and one sentence with the answer.
    notes : tuple of str
        Sentences for below the plot (invented data, assumptions, what was left out).
    decimals : int
        Decimals that display numbers deserve.
    """

    rows: pd.DataFrame
    estimate: float
    low: float
    high: float
    prediction_low: float
    prediction_high: float
    level: float
    zone: tuple[float, float] | None
    no_effect: float
    scale: str
    axis_title: str
    left_words: str
    right_words: str
    intervention: str
    comparator: str
    title: str
    subtitle: str
    notes: tuple[str, ...]
    decimals: int


@dataclass(frozen=True, slots=True)
class ReadingPanel:
    """Results of one study that stand on one scale, in display units.

    Attributes
    ----------
    rows : DataFrame, a row per result, in drawing order
        ``outcome`` (label with unit and week), ``construct``, ``estimate``, ``low_50 … high_95``
        as in `ForestData`, ``printed`` (the result as the paper's reader knows it, in words),
        ``flags``.
    zone : tuple of float or None
        Bounds of the effects too small to matter.
    zone_words : str
        The same in words, with the unit; empty without a zone.
    no_effect : float
    scale : str
        ``"linear"`` or ``"log"``.
    axis_title, left_words, right_words : str
    decimals : int
    zero_words : str
        What it means to stand at `no_effect`.
    """

    rows: pd.DataFrame
    zone: tuple[float, float] | None
    zone_words: str
    no_effect: float
    scale: str
    axis_title: str
    left_words: str
    right_words: str
    decimals: int
    zero_words: str = "equal"


@dataclass(frozen=True, slots=True)
class ReadingData:
    """All that one study's reading chart shows: every outcome, a panel for each scale."""

    panels: tuple[ReadingPanel, ...]
    title: str
    subtitle: str
    notes: tuple[str, ...]

    @property
    def rows(self) -> pd.DataFrame:
        """The rows of all panels."""
        tables = [panel.rows for panel in self.panels]
        return pd.concat(tables, ignore_index=True) if tables else pd.DataFrame()
