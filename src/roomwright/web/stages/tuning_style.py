"""How the tuning screen is laid out."""

from __future__ import annotations

from typing import Final

STYLE: Final = """
.rw-tune { position: absolute; inset: 0; display: grid;
  grid-template-columns: 384px minmax(0, 1fr); }
.rw-tune > aside { overflow-y: auto; border-right: 1px solid var(--rw-line);
  background: var(--rw-panel); padding: 4px 0 12px; min-height: 0; }
.rw-tune > section { display: flex; flex-direction: column; min-width: 0; min-height: 0; }
.rw-tune-head { display: flex; align-items: center; gap: 6px 12px; flex-wrap: wrap;
  padding: 6px 10px; border-bottom: 1px solid var(--rw-line); }
.rw-tune-head .q-field { min-width: 84px; }
.rw-tune-says { display: flex; gap: 2px 14px; padding: 3px 10px; flex-wrap: wrap; font-size: 12px;
  align-items: center; border-bottom: 1px solid var(--rw-line); min-height: 28px; }
.rw-tune-desk { flex: 1 1 0; min-height: 0; }
.rw-section { border-bottom: 1px solid var(--rw-line); }
.rw-section .q-item { padding: 4px 10px; min-height: 32px; font-weight: 600; }
.rw-section .q-item__section--side { padding-right: 4px; min-width: 0; }
.rw-section-body { display: flex; flex-direction: column; gap: 8px; padding: 2px 12px 12px; }
.rw-section-rows { display: flex; flex-direction: column; gap: 8px; }
.rw-section-rows:empty { display: none; }
.rw-row > .rw-section-rows { flex-direction: row; align-items: center; }
.rw-section-body .rw-row { gap: 6px; }
.rw-part { font-size: 13px; font-weight: 600; margin: 6px 0 0; line-height: 1.3; }
.rw-end { width: 62px; white-space: nowrap; }
.rw-section-body > .q-btn, .rw-section-rows > .q-btn { align-self: flex-start; }
.rw-section .q-btn { padding: 2px 8px; }
.rw-rows { display: grid; gap: 3px 8px; align-items: center; }
.rw-rows-2 { grid-template-columns: minmax(0, 1fr) auto; }
.rw-rows-3 { grid-template-columns: auto auto 1fr; justify-items: start; }
.rw-rows-5 { grid-template-columns: minmax(58px, 1fr) auto auto auto 28px; }
.rw-two { display: grid; grid-template-columns: minmax(0, 1fr) minmax(0, 1fr); gap: 14px; }
.rw-tone { display: grid; grid-template-columns: minmax(0, 1fr) auto; gap: 0 6px;
  align-items: center; }
.rw-tone .q-slider { grid-column: 1 / 3; padding: 0 8px; }
.rw-value .q-field__control { min-height: 28px !important; height: 28px !important;
  padding: 0 7px !important; }
.rw-value .q-field__native { text-align: right; padding: 0 !important; min-height: 26px; }
.rw-value .q-field__suffix { padding: 0 0 0 4px; line-height: 28px; color: var(--rw-quiet); }
.rw-value .q-field__marginal { height: 28px !important; }
.rw-value .q-field__bottom { position: absolute; top: 30px; right: 0; width: 220px; z-index: 6;
  padding: 4px 8px !important; background: var(--rw-raised); border: 1px solid var(--rw-bad);
  border-radius: 4px; line-height: 1.3; }
.rw-value .q-field__messages { line-height: 1.3; }
.rw-tune .q-field--outlined.q-select .q-field__control { min-height: 30px; height: 30px;
  padding: 0 8px; }
.rw-tune .q-select .q-field__native, .rw-tune .q-select .q-field__marginal { min-height: 28px;
  height: 28px; padding: 0; }
.rw-tune .q-btn-toggle { border: 1px solid var(--rw-line); border-radius: 4px; }
.rw-tune .q-btn-toggle .q-btn { min-height: 26px; padding: 0 9px; font-size: 12px; }
.rw-rows-5 .q-btn { padding: 2px 4px; }
.rw-found { margin: 0; padding: 0 0 0 16px; }
.rw-found li { margin-bottom: 4px; }
@media (max-width: 1100px) {
  .rw-tune { grid-template-columns: minmax(0, 1fr);
    grid-template-rows: minmax(0, 1.9fr) minmax(0, 1fr); }
  .rw-tune > section { order: -1; }
  .rw-tune > aside { border-right: 0; border-top: 1px solid var(--rw-line); columns: 330px;
    column-gap: 0; }
  .rw-section { break-inside: avoid; }
}
"""
