"""How the form looks: calm, labels above boxes, messages below them."""

from __future__ import annotations

from steelyard.charts.look import BRASS, FONT, HAIRLINE, INK, INK_SOFT, PAPER, WARNING

FORM = "sy-entry"
_GROUND = "#f6f8f9"
_FOCUS = "#1d5f8a"
_GOOD = "#1f5c3a"

STYLE = f"""<style>
.jp-OutputArea-output:has(.{FORM}) {{ min-width: 0; }}
/* What stands beside the boxes stays in sight only if nothing around them scrolls by itself. */
.jp-Cell-outputArea:has(.{FORM}), .jp-OutputArea-child:has(.{FORM}),
.jp-OutputArea-output:has(.{FORM}), .jupyter-widgets:has(> .{FORM}) {{
  overflow: visible !important; }}
.{FORM} input, .{FORM} select, .{FORM} textarea, .{FORM} button {{
  scroll-margin: 50px 0; }}
.{FORM} {{ font-family: {FONT}; color: {INK}; background: {_GROUND}; padding: 16px;
  border: 1px solid {HAIRLINE}; border-radius: 6px; overflow: visible; }}
.{FORM} * {{ box-sizing: border-box; }}
.{FORM} .widget-html, .{FORM} .widget-html-content {{ height: auto; line-height: 1.4;
  overflow: visible; min-width: 0; color: {INK}; white-space: normal; }}
.{FORM} .widget-html {{ margin: 0; }}
.{FORM} .widget-html > .widget-label {{ display: none; }}
.{FORM} h2 {{ font-size: 21px; margin: 0 0 2px; line-height: 1.25; color: {INK}; }}
.{FORM} h3 {{ font-size: 16px; margin: 0 0 4px; line-height: 1.3; color: {INK};
  border-top: 3px solid {BRASS}; padding-top: 8px; }}
.{FORM} h4 {{ font-size: 14px; margin: 8px 0 2px; color: {INK}; }}
.{FORM} p {{ margin: 2px 0 6px; font-size: 13px; color: {INK_SOFT}; }}
.{FORM} p.sy-said {{ color: {INK}; font-size: 14px; }}
.sy-columns {{ display: flex; flex-flow: row wrap; gap: 16px; align-items: flex-start;
  overflow: visible; }}
.sy-typed {{ flex: 3 1 520px; min-width: 0; overflow: visible; gap: 12px; }}
.sy-live {{ flex: 2 1 380px; min-width: 0; max-width: 100%; position: sticky; top: 8px;
  max-height: calc(100vh - 140px); overflow: auto; background: {PAPER};
  border: 1px solid {HAIRLINE}; border-radius: 6px; padding: 12px 14px; }}
/* Where both do not fit side by side, what follows stays in sight at the foot of the window. */
.{FORM} {{ container: sy-form / inline-size; }}
@container sy-form (max-width: 915px) {{
  .sy-live {{ flex-basis: 100%; top: auto; bottom: 0; max-height: 36vh; z-index: 2;
    border-top: 3px solid {INK}; }}
  .{FORM} .sy-typed input, .{FORM} .sy-typed select, .{FORM} .sy-typed textarea,
  .{FORM} .sy-typed button {{ scroll-margin-bottom: 40vh; }}
}}
.sy-card {{ background: {PAPER}; border: 1px solid {HAIRLINE}; border-radius: 6px;
  padding: 0 14px 14px; margin: 0; overflow: visible; gap: 8px; }}
.sy-row {{ display: flex; flex-flow: row wrap; gap: 8px 12px; align-items: flex-start;
  overflow: visible; }}
@media (min-width: 700px) {{ .sy-row.sy-one-line {{ flex-wrap: nowrap; }} }}
.sy-one-line > button {{ flex: none; white-space: nowrap; }}
.sy-field {{ overflow: visible; margin: 0; min-width: 0; }}
.{FORM} .sy-box {{ display: flex; flex-flow: column nowrap; align-items: stretch;
  height: auto; width: 100%; margin: 0; overflow: visible; }}
.{FORM} .sy-box > .widget-label {{ display: block; width: auto; height: auto; text-align: left;
  font-size: 12.5px; line-height: 1.35; font-weight: 600; color: {INK}; padding: 0 0 2px;
  margin: 0; overflow: visible; white-space: normal; text-overflow: clip; }}
.{FORM} .sy-box input, .{FORM} .sy-box select, .{FORM} .sy-box textarea {{ width: 100%;
  min-height: 32px; height: auto; font: 14px/1.35 {FONT}; color: {INK}; background-color: {PAPER};
  border: 1px solid #8497a3; border-radius: 4px; padding: 4px 8px; margin: 0; flex: none; }}
.{FORM} .sy-box input:focus, .{FORM} .sy-box select:focus, .{FORM} .sy-box textarea:focus,
.{FORM} button:focus {{ outline: 3px solid {_FOCUS}; outline-offset: 1px; }}
.{FORM} .sy-bad input, .{FORM} .sy-bad select, .{FORM} .sy-bad textarea {{
  border: 2px solid {WARNING}; }}
.{FORM} ::placeholder {{ color: #5c6e79; opacity: 1; }}
.{FORM} .sy-named > .widget-label {{ position: absolute; width: 1px; height: 1px; overflow: hidden;
  clip-path: inset(50%); white-space: nowrap; }}
.sy-message {{ font-size: 12.5px; line-height: 1.35; }}
.sy-message .bad {{ color: {WARNING}; font-weight: 600; }}
.sy-message .needed, .sy-message .doubt {{ color: #6b4408; }}
.sy-message .doubt {{ display: inline-block; border-left: 3px solid {BRASS}; padding-left: 8px;
  margin: 2px 0; }}
.sy-message .hint, .sy-message .read {{ color: {INK_SOFT}; }}
.{FORM} .sy-check {{ width: auto; height: auto; margin: 0; }}
.{FORM} .sy-check label {{ font-size: 13.5px; color: {INK}; width: auto; white-space: normal; }}
.{FORM} button.jupyter-button {{ height: auto; min-height: 32px; width: auto; padding: 4px 14px;
  line-height: 1.4; font: 600 13.5px/1.4 {FONT}; color: {INK}; background: {PAPER};
  border: 1px solid #5c6e79; border-radius: 4px; margin: 0; box-shadow: none; }}
.{FORM} button.jupyter-button:hover {{ background: #e8edf0; }}
.{FORM} button.sy-save {{ background: {INK}; color: {PAPER}; border-color: {INK}; }}
.{FORM} button.sy-save:hover {{ background: #2b4857; }}
.sy-grid {{ display: grid; gap: 6px 10px; align-items: start; overflow: visible; }}
.sy-scroll {{ overflow-x: auto; padding: 3px; margin: 0 -3px; }}
.sy-part {{ overflow: visible; gap: 4px; padding: 6px 0; }}
.sy-part + .sy-part {{ border-top: 1px solid {HAIRLINE}; }}
.{FORM} .sy-field ~ button.jupyter-button, .sy-bar .sy-field ~ .widget-box,
.{FORM} .sy-bar .sy-field ~ .sy-check {{ margin-top: 19px; }}
.sy-head {{ font-size: 13px; font-weight: 600; color: {INK}; padding-top: 6px; }}
.{FORM} button.sy-fold {{ text-align: left; align-self: flex-start; border-color: transparent;
  padding-left: 4px; text-decoration: underline; text-underline-offset: 3px; white-space: normal; }}
.{FORM} button.sy-fold::before {{ content: "▸" / ""; display: inline-block; width: 18px; }}
.{FORM} button.sy-fold.sy-open::before {{ content: "▾" / ""; }}
.sy-card > .sy-field:first-child > button.sy-fold {{ font-size: 16px; margin-top: 8px; }}
.sy-unfolded {{ overflow: visible; gap: 6px; }}
.sy-unfolded > .widget-vbox {{ overflow: visible; gap: 8px; margin: 0; }}
.sy-unfolded .sy-part {{ gap: 8px; }}
.sy-follows {{ font-size: 13.5px; line-height: 1.45; color: {INK}; background: {_GROUND};
  padding: 5px 10px; border-radius: 4px; }}
.sy-follows .how {{ color: {INK_SOFT}; font-size: 12.5px; }}
.sy-concern {{ display: inline-block; width: 36px; height: 9px; margin-right: 7px;
  border: 1px solid {INK}; background: linear-gradient({INK}, {INK}) no-repeat 0 0 / 33% 100%; }}
.sy-concern.sy-some {{ background-size: 67% 100%; }}
.sy-concern.sy-high {{ background-size: 100% 100%; }}
.sy-overruled {{ border-left: 4px solid {BRASS}; padding-left: 10px; overflow: visible; }}
.sy-bar {{ background: {PAPER}; border: 1px solid {HAIRLINE};
  border-radius: 6px; padding: 10px 14px; overflow: visible; gap: 6px; }}
.sy-note {{ border-left: 4px solid {BRASS}; background: {PAPER}; padding: 8px 12px;
  overflow: visible; }}
.sy-live svg {{ display: block; width: 100%; max-width: 430px; height: auto; margin: 4px auto 0; }}
.sy-wide svg {{ display: block; max-width: 100%; height: auto; margin: 12px auto 0;
  background: {PAPER}; }}
.sy-live ul {{ margin: 2px 0 6px; padding-left: 18px; font-size: 13px; line-height: 1.4; }}
.sy-live li {{ margin: 0 0 5px; }}
.sy-live .size {{ font-size: 15px; font-weight: 700; color: {INK}; white-space: normal; }}
.{FORM} .sy-live h4 {{ border-top: 1px solid {HAIRLINE}; padding-top: 6px; }}
.{FORM} .sy-live p + h4 {{ border-top: none; padding-top: 0; }}
.sy-live .told {{ font-size: 13px; line-height: 1.4; color: {INK}; margin: 2px 0 8px; }}
.sy-live .also {{ font-size: 13.5px; font-weight: 600; color: {INK}; }}
.sy-live .earlier {{ margin: 4px 0 0; }}
.sy-live .earlier th, .sy-live .earlier td {{ font-size: 12.5px; padding-top: 0; }}
.sy-live .earlier th {{ white-space: nowrap; }}
.sy-live p.how {{ margin: 0 0 4px; overflow-wrap: anywhere; }}
.sy-live .how {{ color: {INK_SOFT}; font-size: 12.5px; }}
.sy-live .warning {{ color: {WARNING}; font-weight: 600; }}
.sy-live table, .sy-note table {{ border-collapse: collapse; font-size: 13px; margin: 2px 0 6px; }}
.sy-live th, .sy-live td, .sy-note th, .sy-note td {{ text-align: left; vertical-align: top;
  padding: 2px 12px 2px 0; font-weight: 400; color: {INK}; background: {PAPER}; }}
.sy-live th, .sy-note th {{ color: {INK_SOFT}; }}
.sy-saved {{ color: {_GOOD}; font-weight: 600; }}
</style>"""
