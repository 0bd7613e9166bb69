"""What every picture has: words around it, and a scale on which effects stand."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class EffectAxis:
    """The scale on which effects stand.

    Attributes
    ----------
    title : str
        Quantity and unit in words.
    left_words, right_words : str
        What it means to lie to that side (below, above on an upright scale).
    kind : str
        ``"linear"`` or ``"log"``.
    no_effect : float
        0 on a difference scale, 1 on a ratio scale.
    zone : tuple of float or None
        Bounds of the effects too small to matter.
    decimals : int
        Decimals that display numbers deserve.
    zero_words : str
        At no effect, where there is no zone to name.
    """

    title: str
    left_words: str
    right_words: str
    kind: str = "linear"
    no_effect: float = 0.0
    zone: tuple[float, float] | None = None
    decimals: int = 2
    zero_words: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Worded:
    """The words around a picture: title, one sentence that says what it shows, and notes."""

    title: str
    subtitle: str
    notes: tuple[str, ...] = ()
