"""Digests of the source cells of the shipped notebooks that no template makes."""

from __future__ import annotations

# By file name: SHA-256 of kinds of cells and sources, as `workbook.cells_digest` gives it. A test
# holds them against the files.
SHIPPED_CELLS = {
    "00-start-here.ipynb": ("293d93e45176923d06f56ee767a667ff4bb32cf483b8f91e9e2a81db733331a2"),
    "01-enter-a-study.ipynb": ("50219e7f4dd0d0ae7957f3973ca87b40a2dc181ba25e59ef94f5eb3ae4dbc5a1"),
    "02-read-a-study.ipynb": ("44120ac218261979c84add43fbbb5845a181b387635f352cebf020328f799989"),
    "03-weigh-a-question.ipynb": (
        "dc2010eb3dff2a8c452ecb8c3efddd3018c527fc679689462f3c991a2e042cb6"
    ),
    "04-explain-to-a-client.ipynb": (
        "bb7262627831fa68c6abd8cd34aea284efad8546ed2a3cbad8f3fcf0f930bd07"
    ),
}
