"""Digests of the source cells of the shipped notebooks that no template makes."""

from __future__ import annotations

# By file name: SHA-256 of kinds of cells and sources, as `workbook.cells_digest` gives it. A test
# holds them against the files.
SHIPPED_CELLS = {
    "00-start-here.ipynb": ("c53dd197173a97bfed7e26fb1fa788a0caa290275cff3b730583e762791e5505"),
    "01-enter-a-study.ipynb": ("ef65f58ff765ae6df72450b9506d8145b764f037eb083ae3b701a5c8d055da20"),
    "02-read-a-study.ipynb": ("1ec74acf3bf6406ff8a055cf7252aa64644b33adb40c412907ad4cb7fc76ef78"),
    "03-weigh-a-question.ipynb": (
        "dc2010eb3dff2a8c452ecb8c3efddd3018c527fc679689462f3c991a2e042cb6"
    ),
    "04-explain-to-a-client.ipynb": (
        "ac31f1706f572d27eea78ccbadb36e211cb4c9c535d10c4a584a55ec7d7d4d15"
    ),
}
