"""The command ``steelyard``."""

from steelyard.cli.root import main

__all__ = ["main"]
