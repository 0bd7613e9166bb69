"""Where the parts of a chart stand: a page's three zones, or a phone's single column."""

from __future__ import annotations

from dataclasses import dataclass

from steelyard.errors import UsageError

from .lettering import text_width
from .look import PADDING, SIZE_BODY

_PAGE_WIDTH = 840.0
_PHONE_WIDTH = 358.0 - 2 * PADDING
_WIDTHS = {"page": _PAGE_WIDTH, "phone": _PHONE_WIDTH}


@dataclass(frozen=True, slots=True)
class Frame:
    """Pixels of a chart's parts, across.

    Attributes
    ----------
    width : float
        Of the whole chart, without padding.
    label_width : float
        Room for the words about a row.
    left, right : float
        Ends of the plotted scale.
    numbers : float or None
        Where the numbers in words begin; None where they stand among the row's words.
    narrow : bool
        Words above the bars instead of beside them.
    """

    width: float
    label_width: float
    left: float
    right: float
    numbers: float | None
    narrow: bool


def choose_frame(width: str, *, labels: list[str], numbers: list[str]) -> Frame:
    """Give each part the room that its words need, and the plot what remains.

    Parameters
    ----------
    width : str
        ``"page"`` or ``"phone"``.
    labels, numbers : list of str
        What will stand to the left and to the right of the plot.

    Raises
    ------
    UsageError
        If `width` is neither of the two.
    """
    whole = room_for(width)
    if width == "phone":
        return plain_frame(whole, left=10.0, right=10.0)
    longest = max((text_width(label, SIZE_BODY, bold=True) for label in labels), default=0.0)
    label_width = min(max(longest + 14, 282.0), 285.0)
    longest = max((text_width(text, SIZE_BODY, bold=True) for text in numbers), default=0.0)
    numbers_width = min(max(longest + 4, 120.0), 230.0)
    left = label_width + 18
    right = _PAGE_WIDTH - numbers_width - 22
    return Frame(_PAGE_WIDTH, label_width, left, right, _PAGE_WIDTH - numbers_width, False)


def room_for(width: str) -> float:
    """Pixels across of a chart for a page or a phone, without padding.

    Raises
    ------
    UsageError
        If `width` is neither of the two.
    """
    if width not in _WIDTHS:
        raise UsageError(f"width is 'page' or 'phone', not {width!r}")
    return _WIDTHS[width]


def plain_frame(whole: float, *, left: float, right: float) -> Frame:
    """A frame whose words stand above the bars, with margins left and right of the plot."""
    return Frame(whole, whole, left, whole - right, None, True)
