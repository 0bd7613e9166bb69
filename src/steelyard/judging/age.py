"""Whether something was last read too long ago."""

from __future__ import annotations

import datetime as dt

MONTHS = 12  # own rule


def last_read_long_ago(reviewed: dt.date, today: dt.date) -> str:
    """A sentence if a review is more than `MONTHS` months old; empty if not."""
    months = 12 * (today.year - reviewed.year) + today.month - reviewed.month
    if months > MONTHS or (months == MONTHS and today.day > reviewed.day):
        return f"last read {reviewed}, more than {MONTHS} months ago"
    return ""
