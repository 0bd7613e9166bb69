"""How much of the scale a chart shows, and where its ticks stand."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from math import ceil, floor, isfinite, log, log10

import numpy as np

_ALMOST_EVEN = 1.35
_DECADES = range(-12, 13)
# From fine to coarse: each is read at a glance and holds 1.
_RATIO_LADDERS = (
    (0.8, 0.85, 0.9, 0.95, 1, 1.05, 1.1, 1.15, 1.2, 1.25),
    (0.5, 0.6, 0.7, 0.8, 0.9, 1, 1.1, 1.2, 1.3, 1.4, 1.6, 1.8, 2),
    (0.2, 0.3, 0.5, 0.7, 1, 1.5, 2, 3, 5),
    tuple(step * 10.0**power for power in _DECADES for step in (1, 2, 5)),
    tuple(step * 100.0**power for power in range(-6, 7) for step in (1, 5, 20)),
    tuple(10.0**power for power in _DECADES),
    tuple(100.0**power for power in range(-6, 7)),
    tuple(1000.0**power for power in range(-4, 5)),
    tuple(10000.0**power for power in range(-3, 4)),
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

    The middle of the evidence is the middle half of the estimates, or the width of a typical
    interval where that is more. Estimates up to three such widths beyond the middle half are
    shown. Their bounds are shown up to one and a half widths of the middle half and one and a
    half typical half-widths beyond it. What lies further out is drawn as running on.

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
        typical = max(np.median(right) - np.median(left), 0.0) if left.size and right.size else 0.0
        far = 3 * max(third - first, typical)
        seen = centres[(centres >= first - far) & (centres <= third + far)]
        low, high = min(low, float(seen.min())), max(high, float(seen.max()))
        reach = 1.5 * (third - first) + 0.75 * typical
        if left.size and right.size:
            low = min(low, max(float(left.min()), first - reach))
            high = max(high, min(float(right.max()), third + reach))
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


def even_span(
    low: float, high: float, *, max_ticks: int, margin: float = 0.0, whole: bool = False
) -> Span:
    """A span of equal differences between two values, widened by a share of itself.

    `whole` is for what is counted in ones, such as sets: its ticks are whole numbers.
    """
    if high - low < 1e-12:
        low, high = low - 0.5, high + 0.5
    wider = margin * (high - low)
    low, high = low - wider, high + wider
    if whole:
        high = max(high, low + 1)
        return Span(low, high, False, _even_ticks(low, high, max_ticks, steps=(1, 2, 5), least=1.0))
    return Span(low, high, False, _even_ticks(low, high, max_ticks))


def _even_ticks(
    low: float,
    high: float,
    most: int,
    *,
    steps: tuple[float, ...] = (1, 2, 2.5, 5),
    least: float = 0.0,
) -> tuple[float, ...]:
    rough = max((high - low) / most, least)
    power = 10.0 ** floor(log10(rough))
    for step in (*(power * step for step in steps), 10 * power, 20 * power):
        first, last = ceil(low / step - 1e-9), floor(high / step + 1e-9)
        if last - first + 1 <= most:
            break
    return tuple(round(i * step, 12) for i in range(first, last + 1))


def _ratio_ticks(low: float, high: float, most: int) -> tuple[float, ...]:
    if high / low < _ALMOST_EVEN:
        return _even_ticks(low, high, most, steps=(1, 2, 5))
    for ladder in _RATIO_LADDERS:
        ticks = tuple(float(tick) for tick in ladder if low <= tick <= high)
        if not (ladder[0] <= low * 1.3 and high <= ladder[-1] * 1.3 and len(ticks) <= most):
            continue
        closest = min((b / a for a, b in pairwise(ticks)), default=high / low)
        if log(closest) >= log(high / low) / (1.6 * most):
            break
    return ticks


def tick_text(value: float, *, signed: bool) -> str:
    """A tick's label: no needless zeros, a real minus sign, a plus where sides have meaning."""
    if 0 < abs(value) < 1e-4:
        text = f"{value:.12f}".rstrip("0")
    else:
        text = f"{value:,.10g}" if abs(value) >= 10_000 else f"{value:.10g}"
    if signed and value > 0:
        text = "+" + text
    return text.replace("-", "−")
