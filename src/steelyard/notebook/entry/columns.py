"""What columns and rows of a grid are called."""

from __future__ import annotations

from steelyard.notebook.entry.state import KINDS, ArmForm


def column_label(column: str) -> str:
    """``post@12`` as ``After 12 weeks``."""
    kind, _, week = column.partition("@")
    label = KINDS[kind]
    if not week:
        return label
    if kind == "post":
        return f"{label} {week} weeks"
    return f"{label}, week {week}"


def arm_name(arm: ArmForm, number: int) -> str:
    """An arm's label on one line, else its number."""
    return " ".join(arm.label.split())[:80] or f"Arm {number}"
