"""A long picture in pieces, so that paper breaks between its rows and never through one."""

from __future__ import annotations

import re
from hashlib import sha256
from itertools import pairwise

# In the picture's own pixels. A page of paper shows about 1,100 of them at full width; pieces are
# short, so that little of a page stays empty where the next piece does not fit.
LONG, PIECE = 900.0, 320.0
_HEAD = re.compile(
    r'<svg\b[^>]*?\bviewBox="0 0 (?P<wide>[\d.]+) (?P<high>[\d.]+)"[^>]*?'
    r'\bdata-cuts="(?P<cuts>[\d.,]+)"[^>]*>(?:<title>[^<]*</title>)?(?:<desc>[^<]*</desc>)?'
)


def paper_pieces(picture: str) -> tuple[str, str]:
    """Pieces of a long picture for paper.

    Parameters
    ----------
    picture : str
        SVG that says with ``data-cuts`` at which heights nothing is written.

    Returns
    -------
    picture, pieces : str
        The picture with an address inside, and the pieces that show it part by part; the picture
        as it was and nothing where it is short or may not be cut.
    """
    head = _HEAD.match(picture)
    if head is None or float(head["high"]) <= LONG:
        return picture, ""
    high = float(head["high"])
    name = f"picture-{sha256(picture.encode()).hexdigest()[:12]}"
    ends = [0.0]
    cuts = [float(cut) for cut in head["cuts"].split(",")]
    for cut, after in pairwise([*cuts, high]):
        if after - ends[-1] > PIECE and cut > ends[-1]:
            ends.append(cut)
    pieces = "".join(
        f'<svg viewBox="0 {top:g} {head["wide"]} {bottom - top:g}" aria-hidden="true">'
        f'<use href="#{name}"/></svg>'
        for top, bottom in pairwise([*ends, high])
    )
    inside = picture[head.end() :].removesuffix("</svg>")
    whole = f'{head[0]}<g id="{name}">{inside}</g></svg>'
    return whole, f'<div class="on-paper">{pieces}</div>'
