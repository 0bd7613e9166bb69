"""What reading numbers off a figure adds to the variance of an effect."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from steelyard.effects.groups import Estimate
from steelyard.reporting.summary import ArmSummary, Moments

NOT_ALLOWED_FOR = "read off a figure, whose reading error is not allowed for"


@dataclass(frozen=True, slots=True)
class Widened:
    """An estimate with the reading errors in its variance.

    Attributes
    ----------
    estimate : Estimate
    comparator : float
        Part of what was added that comes from the comparator arm's means, or from its SD where
        SDs are compared.
    assumptions : tuple of str
        Reading errors that the record does not state.
    """

    estimate: Estimate
    comparator: float
    assumptions: tuple[str, ...]


def widened_means(
    estimate: Estimate,
    summaries: Sequence[ArmSummary],
    *,
    metric: str,
    contrast: str,
    scale: float,
) -> Widened:
    """An effect of means with the reading errors of means and of the SD that divides.

    By the delta method, e the standard error of a reading: Σe² for a raw effect, Σ(e/mean)² on
    the log scale; for a standardised one Σ(e/s)² for the means, and for the pooled s
    d²·Σ((n_i − 1)s_i²/((n₁ + n₂ − 2)s²))²·(e_i/s_i)². The SDs of a raw or percent effect bear
    on its variance alone, where their errors are of second order and left out.

    Parameters
    ----------
    estimate : Estimate
        In the metric; a single effect.
    summaries : sequence of ArmSummary
        Of the intervention and of the comparator.
    metric : {"standardised", "raw", "percent"}
    contrast : {"change", "post", "adjusted"}
    scale : float
        The SD divided by; raw units.

    Returns
    -------
    Widened
    """
    from_means = [_of_means(summary, metric, contrast, scale) for summary in summaries]
    extra = sum(from_means)
    if metric == "standardised":
        extra += float(estimate.effect) ** 2 * _of_scale(summaries, contrast)
    names = ("post",) if contrast == "post" else ("pre", "post", "change")
    used = [getattr(summary, name) for summary in summaries for name in names]
    return Widened(_widen(estimate, extra), from_means[1], _assumed(used))


def widened_spreads(estimate: Estimate, moments: Sequence[Moments]) -> Widened:
    """A log ratio of two SDs with their reading errors: Σ(e/s)², by the delta method."""
    errors = [(moment.reading.sd / moment.sd.value) ** 2 for moment in moments]
    return Widened(_widen(estimate, sum(errors)), errors[1], _assumed(moments))


def _of_means(summary: ArmSummary, metric: str, contrast: str, scale: float) -> float:
    names = {"post": ("post",), "adjusted": ("pre", "post"), "change": ("change",)}[contrast]
    if metric == "percent" and contrast == "change":
        names = ("pre", "post")
    moments = [m for m in (getattr(summary, name) for name in names) if m is not None]
    if metric == "percent":
        return sum((m.reading.mean / (abs(m.mean.value) or 1.0)) ** 2 for m in moments)
    unit = scale if metric == "standardised" else 1.0
    return sum((m.reading.mean / unit) ** 2 for m in moments)


def _of_scale(summaries: Sequence[ArmSummary], contrast: str) -> float:
    """Relative variance of the pooled SD that comes from reading the two SDs."""
    names = ("post",) if contrast == "post" else ("pre", "post", "change")
    squares, relative = [], []
    for summary in summaries:
        moments = (getattr(summary, name) for name in names)
        found = next((m for m in moments if m is not None and m.sd is not None), None)
        if found is None:
            return 0.0
        squares.append((summary.n - 1) * found.sd.value**2)
        relative.append((found.reading.sd / found.sd.value) ** 2)
    shares = [square / sum(squares) for square in squares]
    return sum(share**2 * each for share, each in zip(shares, relative, strict=True))


def _assumed(moments: Sequence[Moments | None]) -> tuple[str, ...]:
    said = (moment.reading.words for moment in moments if moment is not None)
    return tuple(dict.fromkeys(filter(None, said)))


def _widen(estimate: Estimate, extra: float) -> Estimate:
    if not extra:
        return estimate
    method = estimate.method + ", variance widened by the reading error"
    return replace(estimate, variance=estimate.variance + extra, method=method)
