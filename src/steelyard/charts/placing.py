"""Texts side by side, each as near to its place as the others allow."""

from __future__ import annotations

from collections.abc import Sequence


def spread(
    wishes: Sequence[float], rooms: Sequence[float], *, left: float, right: float, gap: float = 8.0
) -> list[float]:
    """Find middles for boxes in a row, so that none overlaps another or leaves the edges.

    Parameters
    ----------
    wishes, rooms : sequence of float
        Wished middle and width of each box, from left to right, pixels; with the gaps, the
        widths fit between the edges.
    left, right, gap : float
        Edges, and the least distance between boxes.

    Returns
    -------
    middles : list of float
    """
    middles, edge = [], left
    for wish, room in zip(wishes, rooms, strict=True):
        middles.append(max(wish, edge + room / 2))
        edge = middles[-1] + room / 2 + gap
    edge = right
    for place in reversed(range(len(middles))):
        middles[place] = min(middles[place], edge - rooms[place] / 2)
        edge = middles[place] - rooms[place] / 2 - gap
    return middles
