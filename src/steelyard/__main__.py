"""``python -m steelyard`` is the command ``steelyard``."""

from steelyard.cli import main

main()
