"""How much of the scale a chart shows, and where its ticks stand."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil, floor, isfinite, log, log10

import altair as alt
import numpy as np

_RATIO_LADDERS = (
    (0.8, 0.85, 0.9, 0.95, 1, 1.05, 1.1, 1.15, 1.2, 1.25),
    (0.5, 0.6, 0.7, 0.8, 0.9, 1, 1.1, 1.2, 1.3, 1.4, 1.6, 1.8, 2),
    (0.25, 0.5, 0.75, 1, 1.5, 2, 3, 4),
    tuple(2.0**power for power in range(-7, 8)),
    tuple(4.0**power for power in range(-6, 7)),
    tuple(10.0**power for power in range(-12, 13)),
)


@dataclass(frozen=True, slots=True)
class Span:
    """The visible part of a scale.

    Attributes
    ----------
    low, high : float
        Ends, in display units.
    logarithmic : bool
        Whether equal ratios, not equal differences, are equally far apart.
    ticks : tuple of float
        Values that carry a label, within the ends.
    """

    low: float
    high: float
    logarithmic: bool
    ticks: tuple[float, ...]

    def scale(self, left: float, right: float) -> alt.Scale:
        """The scale that puts `low` at pixel `left` and `high` at pixel `right`."""
        return alt.Scale(
            type="log" if self.logarithmic else "linear",
            domain=[self.low, self.high],
            range=[left, right],
            nice=False,
            zero=False,
        )

    def position(self, value: float, left: float, right: float) -> float:
        """Pixel at which a value stands, for words that must keep clear of the edges."""
        change = log if self.logarithmic else float
        share = (change(value) - change(self.low)) / (change(self.high) - change(self.low))
        return left + share * (right - left)

    def clip(self, value: float) -> float:
        """The value, or the end of the span that it lies beyond."""
        return min(max(value, self.low), self.high)


def choose_span(estimates, lows, highs, *, keep, prefer=(), scale: str, max_ticks: int = 7) -> Span:
    """Choose a span in which ordinary intervals are readable, whatever the extreme ones do.

    The span reaches to the outermost bound, but no further than a fence: one and a half widths
    of the middle half of the estimates, and one and a half typical half-widths, beyond that
    middle half. What lies further out is drawn as running on.

    Parameters
    ----------
    estimates, lows, highs : array_like of float, shape (k,)
        Estimates with the bounds of their widest interval, display units; NaN is passed over.
    keep : iterable of float
        Values that must be visible, such as no effect and the pooled estimate.
    prefer : iterable of float
        Values shown too if that does not make the span more than twice as wide.
    scale : str
        ``"linear"`` or ``"log"``.
    max_ticks : int
        Most ticks there is room for.

    Returns
    -------
    Span
    """
    logarithmic = scale == "log"
    change = log if logarithmic else float

    def usable(values) -> np.ndarray:
        return np.array(
            [change(v) for v in values if isfinite(v) and (v > 0 or not logarithmic)], dtype=float
        )

    kept = usable(keep)
    centres, left, right = usable(estimates), usable(lows), usable(highs)
    low, high = float(kept.min()), float(kept.max())
    if centres.size:
        first, third = np.quantile(centres, [0.25, 0.75])
        reach = 1.5 * (third - first)
        if left.size and right.size:
            reach += 0.75 * max(np.median(right) - np.median(left), 0.0)
            low = min(low, max(float(left.min()), first - reach))
            high = max(high, min(float(right.max()), third + reach))
        else:
            low = min(low, max(float(centres.min()), first - reach))
            high = max(high, min(float(centres.max()), third + reach))
    if (preferred := usable(prefer)).size:
        wider = min(low, float(preferred.min())), max(high, float(preferred.max()))
        if wider[1] - wider[0] <= 2 * (high - low):
            low, high = wider
    if high - low < 1e-12:
        low, high = low - 1.0, high + 1.0
    margin = 0.04 * (high - low)
    low, high = low - margin, high + margin
    if logarithmic:
        low, high = float(np.exp(low)), float(np.exp(high))
        return Span(low, high, True, _ratio_ticks(low, high, max_ticks))
    return Span(low, high, False, _even_ticks(low, high, max_ticks))


def _even_ticks(low: float, high: float, most: int) -> tuple[float, ...]:
    rough = (high - low) / most
    power = 10.0 ** floor(log10(rough))
    for step in (power, 2 * power, 2.5 * power, 5 * power, 10 * power, 20 * power):
        first, last = ceil(low / step - 1e-9), floor(high / step + 1e-9)
        if last - first + 1 <= most:
            break
    return tuple(round(i * step, 12) for i in range(first, last + 1))


def _ratio_ticks(low: float, high: float, most: int) -> tuple[float, ...]:
    for ladder in _RATIO_LADDERS:
        ticks = tuple(float(tick) for tick in ladder if low <= tick <= high)
        if ladder[0] <= low * 1.3 and high <= ladder[-1] * 1.3 and len(ticks) <= most:
            break
    return ticks if len(ticks) > 1 else (float(f"{low:.3g}"), 1.0, float(f"{high:.3g}"))


def tick_text(value: float, *, signed: bool) -> str:
    """A tick's label: no needless zeros, a real minus sign, a plus where sides have meaning."""
    text = f"{value:.10g}"
    if signed and value > 0:
        text = "+" + text
    return text.replace("-", "−")
