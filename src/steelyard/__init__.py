"""Steelyard: an evidence workbook for weighing training studies.

`open_library` gives a `Library`; ``library.weigh("question-id")`` gives the weighed answer.
Names are imported on first use, so that ``import steelyard`` costs next to nothing.
"""

from __future__ import annotations

from importlib import import_module

__version__ = "0.1.0"

_HOMES = {
    "Library": "steelyard.library",
    "open_library": "steelyard.library",
    "pool": "steelyard.pooling",
    "pool_many": "steelyard.pooling",
}

__all__ = [*_HOMES, "__version__"]


def __getattr__(name: str):
    if name in _HOMES:
        return getattr(import_module(_HOMES[name]), name)
    raise AttributeError(f"module 'steelyard' has no attribute {name!r}")
