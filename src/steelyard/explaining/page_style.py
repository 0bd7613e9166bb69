"""The look of a page, of one cloth with the charts."""

from __future__ import annotations

from steelyard.charts.look import (
    BEAM_50,
    BRASS,
    BRASS_EDGE,
    BRASS_PALE,
    FONT,
    HAIRLINE,
    INK,
    INK_SOFT,
    PAPER,
    WARNING,
)

PHONE_PX = 700

STYLE = f"""
:root {{ color-scheme: light; }}
* {{ box-sizing: border-box; }}
body {{ margin: 0; background: {PAPER}; color: {INK}; font: 16px/1.5 {FONT};
  overflow-wrap: break-word; }}
header, main, footer {{ max-width: 914px; margin: 0 auto; padding: 0 24px; }}
header {{ padding-top: 14px; padding-bottom: 10px; border-bottom: 3px solid {BRASS_EDGE};
  display: flex; flex-wrap: wrap; gap: 4px 24px; justify-content: space-between; }}
header .name {{ font-weight: bold; letter-spacing: 0.02em; }}
a {{ color: {BEAM_50}; text-underline-offset: 2px; }}
a:hover, a:focus {{ color: {BRASS}; }}
a:focus-visible, summary:focus-visible {{ outline: 2px solid {BRASS}; outline-offset: 2px; }}
h1 {{ font-size: 28px; line-height: 1.2; margin: 28px 0 10px; }}
h2 {{ font-size: 20px; line-height: 1.3; margin: 44px 0 6px; padding-top: 10px;
  border-top: 1px solid {HAIRLINE}; }}
p {{ max-width: 70ch; margin: 8px 0; }}
ul {{ padding-left: 22px; }}
li {{ margin: 4px 0; }}
code {{ font: 0.88em/1.45 ui-monospace, Menlo, Consolas, "Liberation Mono", monospace; }}
pre {{ white-space: pre-wrap; margin: 8px 0; }}
.invented {{ max-width: none; margin: 18px 0 0; padding: 8px 12px; background: {BRASS_PALE};
  border-left: 4px solid {BRASS_EDGE}; }}
.failed {{ margin: 14px 0; padding: 10px 12px; border-left: 4px solid {WARNING}; }}
.failed strong {{ color: {WARNING}; }}
details {{ margin: 6px 0 2px; font-size: 13px; color: {INK_SOFT}; }}
details.folded {{ font-size: inherit; color: inherit; }}
summary {{ cursor: pointer; width: fit-content; }}
details pre {{ padding: 8px 12px; border: 1px solid {HAIRLINE}; color: {INK}; }}
table {{ border-collapse: collapse; width: 100%; margin: 14px 0 6px; }}
caption {{ text-align: left; font-weight: bold; padding: 4px 0 8px; font-size: 17px;
  line-height: 1.35; }}
th, td {{ text-align: left; vertical-align: top; padding: 6px 16px 6px 0;
  border-top: 1px solid {HAIRLINE}; }}
.steelyard-rows th {{ width: 11.5em; color: {INK_SOFT}; font-weight: normal; }}
.steelyard-table {{ font-size: 14px; line-height: 1.4; }}
.steelyard-table thead th {{ color: {INK_SOFT}; font-weight: normal; border-top: 0; }}
.steelyard-table td {{ padding-right: 12px; }}
.steelyard-table td:first-child {{ min-width: 9em; }}
.steelyard-table td:first-child:not(:last-child) .line:first-child {{ font-weight: bold; }}
.steelyard-table td:nth-child(2) {{ min-width: 7.5em; }}
.steelyard-table td:last-child {{ min-width: 6.5em; }}
figure {{ margin: 14px -12px; }}
figure svg, figure img {{ display: block; max-width: 100%; height: auto; }}
.narrow, .on-paper {{ display: none; }}
.answers {{ list-style: none; padding: 0; }}
.answers > li {{ border-top: 1px solid {HAIRLINE}; padding: 16px 0; margin: 0; }}
.answers h2 {{ border: 0; margin: 0 0 6px; padding: 0; font-size: 18px; }}
.answers h2 a {{ text-decoration-thickness: 1px; }}
.answers dl {{ margin: 8px 0 0; display: grid; grid-template-columns: 7em 1fr; gap: 3px 12px; }}
.answers dt {{ color: {INK_SOFT}; }}
.answers dd {{ margin: 0; max-width: 80ch; }}
footer {{ margin-top: 56px; padding-top: 14px; padding-bottom: 40px;
  border-top: 3px solid {BRASS_EDGE}; font-size: 14px; }}
footer h2 {{ font-size: 15px; border: 0; margin: 0; padding: 0; }}
@media screen and (max-width: {PHONE_PX}px) {{
  header, main, footer {{ padding-left: 14px; padding-right: 14px; }}
  h1 {{ font-size: 23px; }}
  .answers dl {{ display: block; }}
  .answers dt {{ font-size: 14px; margin-top: 6px; }}
  h2 {{ margin-top: 34px; }}
  .wide.paired {{ display: none; }}
  .narrow {{ display: block; }}
  table, caption, tbody, tr, th, td {{ display: block; width: auto; }}
  thead {{ display: none; }}
  .steelyard-rows th {{ width: auto; padding: 8px 0 0; font-size: 14px; }}
  .steelyard-rows td {{ border-top: 0; padding: 0 0 6px; }}
  .steelyard-table tr {{ border-top: 2px solid {HAIRLINE}; padding: 8px 0; }}
  .steelyard-table td {{ border: 0; padding: 2px 0; }}
  .steelyard-table td:nth-child(n) {{ min-width: 0; }}
  .steelyard-table td:empty {{ display: none; }}
  .steelyard-table td:not(:first-child) .line {{ display: inline; }}
  .steelyard-table .line + .line::before {{ content: "; "; }}
  .steelyard-table td:first-child .line::before {{ content: none; }}
  .steelyard-table td:not(:first-child)::before {{ content: attr(data-column); display: block;
    color: {INK_SOFT}; font-size: 13px; margin-top: 4px; }}
}}
.contents {{ margin: 18px 0 0; color: {INK_SOFT}; }}
.contents ul {{ display: inline; list-style: none; padding: 0; }}
.contents li {{ display: inline-block; margin: 0 14px 0 0; }}
@page {{ margin: 14mm 13mm; }}
@media print {{
  body {{ font-size: 10.5pt; }}
  header, main, footer {{ max-width: none; padding-left: 0; padding-right: 0; }}
  header a, details:not(.folded), .contents {{ display: none; }}
  details.folded::details-content {{ content-visibility: visible; display: block; }}
  h1, h2, h2 + p, caption {{ break-after: avoid; }}
  h2 {{ margin-top: 18px; }}
  tr, figure, .answers > li {{ break-inside: avoid; }}
  thead {{ display: table-header-group; }}
  .steelyard-table {{ font-size: 8.5pt; }}
  figure {{ margin: 8px 0; }}
  figure svg {{ max-height: 225mm; }}
  .long {{ height: 0; margin: 0; overflow: hidden; }}
  .on-paper {{ display: block; margin: 8px 0; }}
  .on-paper svg {{ display: block; width: 100%; height: auto; break-inside: avoid; }}
  footer {{ margin-top: 18px; break-inside: avoid; }}
}}
"""
