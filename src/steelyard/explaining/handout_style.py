"""The look of a handout: one sheet in print, a phone's width on a phone."""

from __future__ import annotations

from steelyard.charts.look import BEAM_50, BRASS, BRASS_PALE, FONT, HAIRLINE, INK, INK_SOFT, PAPER

PAPERS = {"A4": "A4", "Letter": "letter"}
# Letters that fill a sheet at 9 pt, found by printing; less than that leaves room for a picture.
FILL_AT_9_PT = {"A4": 4100, "Letter": 3700}
LARGEST_PT, SMALLEST_PT = 9.4, 6.5
# At this width the smallest letters of the picture are 6.7 pt high.
PICTURE_MM = 120


def print_size(letters: int, *, paper: str, pictured: bool) -> float:
    """Type size in points at which a text of so many letters fills one sheet.

    A sheet holds letters in proportion to 1/size². A picture takes a sixth of the sheet.
    """
    room = FILL_AT_9_PT[paper] * (1.0 if pictured else 1.2)
    fitting = 9.0 * (room / max(letters, 1)) ** 0.5
    return round(min(max(fitting, SMALLEST_PT), LARGEST_PT), 2)


def handout_style(*, colour: str, paper: str, print_pt: float = 8.8) -> str:
    """Style sheet with a letterhead's colour; ``paper`` is ``A4`` or ``Letter``."""
    return f"""
:root {{ color-scheme: light; }}
* {{ box-sizing: border-box; }}
body {{ margin: 0; background: {PAPER}; color: {INK}; font: 16px/1.45 {FONT};
  overflow-wrap: break-word; }}
header, main, footer {{ max-width: 820px; margin: 0 auto; padding: 0 24px; }}
header {{ padding-top: 16px; padding-bottom: 8px; border-bottom: 5px solid {colour};
  display: flex; flex-wrap: wrap; gap: 2px 24px; justify-content: space-between;
  align-items: baseline; }}
header .name {{ font-weight: bold; }}
header .contact {{ color: {INK_SOFT}; font-size: 14px; }}
a {{ color: {BEAM_50}; text-underline-offset: 2px; }}
a:focus-visible, summary:focus-visible {{ outline: 2px solid {BRASS}; outline-offset: 2px; }}
.number {{ color: inherit; text-decoration: underline dotted 1px; }}
h1 {{ font-size: 23px; line-height: 1.25; margin: 18px 0 8px; }}
.sentence {{ font-size: 18px; line-height: 1.4; margin: 8px 0; padding: 10px 14px;
  border-left: 5px solid {colour}; background: {BRASS_PALE}; }}
.invented {{ margin: 12px 0 0; padding: 5px 10px; border: 1px solid {INK_SOFT};
  font-size: 14px; }}
h2 {{ font-size: 15px; line-height: 1.25; margin: 14px 0 2px; break-after: avoid; }}
ul {{ margin: 2px 0 0; padding-left: 1.4em; }}
li {{ margin: 1px 0; }}
.parts {{ columns: 2; column-gap: 28px; }}
.cautions {{ margin-top: 12px; padding: 2px 14px 8px; border: 1px solid {INK_SOFT}; }}
.cautions ul {{ columns: 2; column-gap: 28px; }}
.cautions li {{ break-inside: avoid; }}
figure {{ margin: 10px 0; }}
figure svg {{ display: block; max-width: 100%; height: auto; }}
figure.narrow, figure.paper {{ display: none; }}
.caption {{ color: {INK_SOFT}; font-size: 13px; margin: 8px 0; }}
details {{ margin: 12px 0; }}
summary {{ cursor: pointer; font-weight: bold; width: fit-content; }}
table {{ border-collapse: collapse; width: 100%; font-size: 13px; margin: 8px 0; }}
caption {{ text-align: left; font-weight: bold; padding: 4px 0; }}
th, td {{ text-align: left; vertical-align: top; padding: 4px 10px 4px 0;
  border-top: 1px solid {HAIRLINE}; }}
footer {{ padding-bottom: 30px; }}
@media screen and (max-width: 640px) {{
  header, main, footer {{ padding-left: 14px; padding-right: 14px; }}
  h1 {{ font-size: 20px; }}
  .sentence {{ font-size: 17px; }}
  .parts, .cautions ul {{ columns: 1; }}
  figure.wide {{ display: none; }}
  figure.narrow {{ display: block; }}
  table, caption, tbody, tr, th, td {{ display: block; width: auto; }}
  thead {{ display: none; }}
}}
@page {{ size: {PAPERS[paper]} portrait; margin: 8mm 11mm; }}
@media print {{
  body {{ font-size: {print_pt:g}pt; line-height: 1.28; }}
  header, main, footer {{ max-width: none; padding-left: 0; padding-right: 0; }}
  header {{ padding-top: 0; padding-bottom: 3px; border-bottom-width: 3px; }}
  header .contact {{ font-size: max(0.95em, {SMALLEST_PT}pt); }}
  footer {{ padding-bottom: 0; }}
  details, .on-screen {{ display: none; }}
  h1 {{ font-size: 1.5em; margin: 6px 0 4px; }}
  .sentence {{ font-size: 1.25em; margin: 4px 0; padding: 5px 10px; }}
  .invented {{ margin-top: 5px; padding: 2px 8px; font-size: max(0.9em, {SMALLEST_PT}pt); }}
  h2 {{ font-size: 1.08em; margin: 0; }}
  .parts section {{ break-inside: avoid; padding-bottom: 5px; }}
  ul {{ margin-top: 1px; }}
  li {{ margin: 0; }}
  .number {{ text-decoration: none; }}
  .cautions {{ margin-top: 5px; padding: 0 10px 3px; }}
  .cautions h2 {{ margin-top: 3px; }}
  figure.wide {{ display: none; }}
  figure.paper {{ display: block; margin: 2px 0; }}
  figure svg {{ width: {PICTURE_MM}mm; margin: 0 auto; }}
  .caption {{ font-size: max(0.8em, {SMALLEST_PT}pt); line-height: 1.2; margin: 4px 0 0; }}
}}
"""
