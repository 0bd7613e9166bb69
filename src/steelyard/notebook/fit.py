"""Pictures no wider than the cell they stand in."""

from __future__ import annotations

# JupyterLab shows a saved picture at its own width and lets the reader scroll for the rest; in a
# narrow window the numbers on the right of a forest plot would be out of sight.
PICTURES_FIT = "<style>.jp-RenderedSVG img { max-width: 100%; height: auto; }</style>"
