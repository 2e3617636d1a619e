"""Colours, type and spacing of every page, in a dark and a light version."""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from typing import Final

from nicegui import ui

from roomwright.web.ready import hold_until_ready

#: Read by every part through `var(--rw-...)`: surfaces, lines, text, one accent, three tones for
#: what is wrong or doubtful. Text on its surface has a contrast of 4.5 or more, shapes 3 or more.
_DARK: Final = """
  --rw-ground: #121517; --rw-panel: #1a1e21; --rw-raised: #242a2e; --rw-line: #3a4247;
  --rw-edge: #7d878d; --rw-text: #e6e9ea; --rw-quiet: #a9b3b8; --rw-accent: #7cc7b5;
  --rw-on-accent: #0d1614; --rw-good: #8fc98a; --rw-doubt: #e2b062; --rw-bad: #f2938a;
"""
_LIGHT: Final = """
  --rw-ground: #eef0ef; --rw-panel: #fafbfa; --rw-raised: #ffffff; --rw-line: #c9d0cf;
  --rw-edge: #717c7c; --rw-text: #191e1f; --rw-quiet: #4d595b; --rw-accent: #14655a;
  --rw-on-accent: #ffffff; --rw-good: #2c6a2a; --rw-doubt: #7c4f00; --rw-bad: #a12a20;
"""

_STYLE: Final = (
    f"""
body {{ {_LIGHT} }}
body.body--dark {{ {_DARK} }}
"""
    """
body {
  --q-primary: var(--rw-accent) !important; --q-secondary: var(--rw-accent) !important;
  --q-accent: var(--rw-accent) !important; --q-positive: var(--rw-good) !important;
  --q-negative: var(--rw-bad) !important; --q-warning: var(--rw-doubt) !important;
  --q-dark: var(--rw-panel) !important; --q-dark-page: var(--rw-ground) !important;
  --nicegui-default-padding: 0; --nicegui-default-gap: 0.5rem;
  background: var(--rw-ground); color: var(--rw-text);
  font: 13px/1.4 "Source Sans 3", "Noto Sans", "Segoe UI", system-ui, sans-serif;
  font-variant-numeric: tabular-nums;
}
.nicegui-content { padding: 0; }
#q-loading-bar { display: none; }
.rw-narrow .q-field__bottom { position: absolute; top: 100%; left: 0; width: 220px; z-index: 6;
  padding: 4px 8px; background: var(--rw-raised); border: 1px solid var(--rw-bad);
  border-radius: 4px; }
.rw-narrow .q-field__messages { line-height: 1.3; }
.rw-quiet { color: var(--rw-quiet); }
.rw-good { color: var(--rw-good); } .rw-doubt { color: var(--rw-doubt); }
.rw-bad { color: var(--rw-bad); }
a, .nicegui-link { color: var(--rw-accent); }
.rw-panel { background: var(--rw-panel); border: 1px solid var(--rw-line); border-radius: 4px;
  padding: 10px 12px; }
.rw-row { display: flex; align-items: center; gap: 8px; flex-wrap: wrap; }
.rw-column { display: flex; flex-direction: column; gap: 8px; }
.rw-title { font-size: 15px; font-weight: 600; line-height: 1.3; margin: 0; }
.rw-small { font-size: 12px; }
.rw-number { font-variant-numeric: tabular-nums; text-align: right; }
:focus-visible { outline: 2px solid var(--rw-accent); outline-offset: 1px; }
.q-focusable:focus-visible, .q-btn:focus-visible { outline: 2px solid var(--rw-accent); }
.q-btn { text-transform: none; font-weight: 500; letter-spacing: 0; min-height: 28px;
  font-size: 13px; }
.q-btn .q-icon { font-size: 18px; }
.q-btn--dense:has(.block) { padding: 1px 9px; }
.q-btn > .q-focus-helper { display: none; }
.q-btn--outline:hover, .q-btn--flat:hover { background: var(--rw-raised) !important; }
.q-dialog .q-btn--outline .q-btn__content { background: var(--rw-raised); }
.q-btn.bg-primary:hover { filter: brightness(1.08); }
.q-btn.text-primary { color: var(--rw-accent) !important; }
.q-btn.bg-primary .q-btn__content { color: var(--rw-on-accent); }
.q-field { font-size: 13px; }
.q-field--dense .q-field__label { color: var(--rw-quiet); }
.q-field__native, .q-field__input, .q-select__dropdown-icon { color: var(--rw-text) !important; }
.q-field--outlined .q-field__control:before { border-color: var(--rw-edge) !important; }
.q-menu, .q-dialog .q-card { background: var(--rw-raised); color: var(--rw-text);
  border: 1px solid var(--rw-line); box-shadow: 0 4px 16px #0006; }
.q-dialog .q-card { padding: 16px; }
.q-item { min-height: 30px; padding: 4px 12px; }
.q-table__card, .q-table { background: var(--rw-panel); color: var(--rw-text); }
.q-tooltip { background: var(--rw-text); color: var(--rw-ground); font-size: 12px; }
.q-notification.rw-note { background: var(--rw-raised); color: var(--rw-text);
  border: 1px solid var(--rw-edge); border-left: 4px solid var(--rw-accent); max-width: 640px; }

.rw-frame { display: grid; grid-template: 44px auto minmax(0, 1fr) / 204px minmax(0, 1fr);
  grid-template-areas: "top top" "trouble trouble" "way stage"; width: 100vw; height: 100dvh;
  overflow: hidden; }
.rw-top { grid-area: top; display: flex; align-items: center; gap: 4px; padding: 0 10px;
  background: var(--rw-panel); border-bottom: 1px solid var(--rw-line); white-space: nowrap; }
.rw-back { display: flex; text-decoration: none; padding: 4px; }
.rw-top .rw-title { overflow: hidden; text-overflow: ellipsis; min-width: 60px;
  max-width: 280px; }
.rw-space { flex: 1 1 auto; min-width: 0; }
.rw-trouble { grid-area: trouble; display: flex; align-items: center; gap: 12px;
  padding: 6px 12px; color: var(--rw-bad); background: var(--rw-raised);
  border-bottom: 2px solid var(--rw-bad); }
.rw-way { grid-area: way; overflow-y: auto; background: var(--rw-panel);
  border-right: 1px solid var(--rw-line); padding: 6px 0; }
.rw-way ol { list-style: none; margin: 0; padding: 0; }
.rw-step { display: grid; grid-template-columns: 18px 1fr auto; column-gap: 4px; width: 100%;
  padding: 7px 10px 8px 9px; border: 0; border-left: 3px solid transparent; background: none;
  color: var(--rw-text); font: inherit; text-align: left; cursor: pointer; align-items: baseline; }
.rw-step:hover { background: var(--rw-raised); }
.rw-step:focus-visible { outline-offset: -2px; }
.rw-step[aria-current] { background: var(--rw-raised); border-left-color: var(--rw-accent); }
.rw-step b { font-weight: 600; text-transform: capitalize; }
.rw-step .rw-shape { font-size: 11px; }
.rw-step .rw-state { font-size: 12px; }
.rw-step .rw-key { font-size: 11px; line-height: 1.4; color: var(--rw-quiet); }
.rw-step .rw-says { grid-column: 2 / 4; font-size: 12px; line-height: 1.3;
  color: var(--rw-quiet); overflow-wrap: anywhere; }
.rw-stage { grid-area: stage; min-width: 0; min-height: 0; overflow: auto; position: relative; }
.rw-screen { padding: 12px; min-height: 100%; display: flex; flex-direction: column; gap: 10px; }
.rw-desk { height: 100%; overflow: hidden; background: var(--rw-panel); }
.rw-task { display: flex; align-items: center; gap: 8px; min-width: 0; }
.rw-task .q-linear-progress { width: 120px; color: var(--rw-accent); flex: none; }
.rw-task .rw-doing { overflow: hidden; text-overflow: ellipsis; max-width: 300px; }
.rw-home { max-width: 1180px; margin: 0 auto; padding: 28px 24px; display: flex;
  flex-direction: column; gap: 18px; width: 100%; }
.rw-keys { display: grid; grid-template-columns: auto 1fr; gap: 6px 16px; }
.rw-keys kbd { font: inherit; border: 1px solid var(--rw-edge); border-radius: 3px;
  padding: 0 6px; }
@media (max-width: 1100px) {
  .rw-frame { grid-template-columns: 132px minmax(0, 1fr); }
  .rw-step { grid-template-columns: 18px 1fr; }
  .rw-step .rw-state { grid-column: 2; grid-row: 2; }
  .rw-step .rw-says { display: none; }
}
@media (max-width: 640px) { .rw-top .rw-wide { display: none; } }
@media (pointer: coarse) {
  .q-btn, .q-btn--dense { min-height: 36px; }
  .rw-step { padding-top: 11px; padding-bottom: 12px; }
  .rw-link, .rw-verdicts button { min-height: 32px; }
  .rw-takes button { width: 28px !important; height: 28px !important; }
  .rg-tool { min-height: 36px; min-width: 36px; }
}
@media (prefers-reduced-motion: reduce) { * { transition: none !important; } }
"""
)


def dress(*, dark: bool | None, first: Callable[[], Awaitable[None]] | None = None) -> ui.dark_mode:
    """Give the page being built its look; returns the switch between dark and light.

    None is what the browser prefers. The page is inert until it is connected and `first` is done.
    """
    ui.add_css(_STYLE)
    hold_until_ready(first)
    ui.query("html").props("lang=en")
    return ui.dark_mode(value=dark)
