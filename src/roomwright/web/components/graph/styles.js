const STYLES = `
.roomwright-graph { display: flex; flex-direction: column; width: 100%; height: 100%; min-height: 200px; min-width: 0;
  color: var(--rw-text, #1d2329); background: var(--rw-panel, #ffffff); font-size: 12px; line-height: 1.35; }
.body--dark .roomwright-graph { color: var(--rw-text, #e3e7ea); background: var(--rw-panel, #14181c); }
.roomwright-graph .rg-head { display: flex; align-items: center; gap: 4px; padding: 2px 6px 0 8px; min-height: 28px; flex-wrap: wrap; }
.roomwright-graph .rg-tools { flex: 1 1 auto; min-width: 0; display: flex; align-items: center; flex-wrap: wrap; gap: 0 10px; }
.roomwright-graph .rg-tools .q-field { font-size: 12px; }
.roomwright-graph .rg-tools .q-field__control, .roomwright-graph .rg-tools .q-field__native, .roomwright-graph .rg-tools .q-field__marginal { min-height: 28px; height: 28px; padding: 0; }
.roomwright-graph .rg-tools .q-field__native span { white-space: nowrap; }
.roomwright-graph .rg-name { font-weight: 600; flex: 1 1 auto; min-width: 0; overflow: hidden; text-overflow: ellipsis; white-space: nowrap; }
.roomwright-graph .rg-tool { font: inherit; color: inherit; background: transparent; border: 1px solid transparent; border-radius: 4px;
  padding: 1px 6px; min-height: 24px; min-width: 24px; cursor: pointer; }
.roomwright-graph .rg-tool:hover { border-color: currentColor; }
.roomwright-graph .rg-tool[aria-pressed="true"] { border-color: currentColor; font-weight: 600; text-decoration: underline; }
.roomwright-graph .rg-rule { width: 1px; height: 16px; background: currentColor; opacity: 0.3; margin: 0 3px; }
.roomwright-graph .rg-plot { position: relative; flex: 1 1 0; min-height: 120px; overflow: hidden; touch-action: none; cursor: crosshair; outline: none; }
.roomwright-graph .rg-plot.rg-dragging { cursor: grabbing; }
.roomwright-graph .rg-plot:focus-visible { box-shadow: inset 0 0 0 2px #0072B2; }
.body--dark .roomwright-graph .rg-plot:focus-visible { box-shadow: inset 0 0 0 2px #56B4E9; }
.roomwright-graph canvas { position: absolute; inset: 0; width: 100%; height: 100%; pointer-events: none; }
.roomwright-graph .rg-thing { position: absolute; width: 28px; height: 28px; margin: -14px 0 0 -14px; padding: 0; border: 0; background: none;
  cursor: grab; touch-action: none; display: grid; place-items: center; border-radius: 50%; outline: none; color: inherit; }
.roomwright-graph .rg-thing:focus-visible { box-shadow: 0 0 0 2px #0072B2; }
.body--dark .roomwright-graph .rg-thing:focus-visible { box-shadow: 0 0 0 2px #56B4E9; }
.roomwright-graph .rg-thing.rg-held { cursor: grabbing; }
.roomwright-graph .rg-thing.rg-locked { cursor: default; }
.roomwright-graph .rg-sign { width: 13px; height: 13px; border: 2px solid currentColor; box-sizing: border-box; background: var(--rw-panel, #ffffff); }
.body--dark .roomwright-graph .rg-sign { background: var(--rw-panel, #14181c); }
.roomwright-graph .rg-handle .rg-sign { transform: rotate(45deg); }
.roomwright-graph .rg-point .rg-sign { border-radius: 50%; }
.roomwright-graph .rg-locked .rg-sign { border-radius: 0; border-style: double; border-width: 3px; }
.roomwright-graph .rg-thing:hover .rg-sign, .roomwright-graph .rg-held .rg-sign, .roomwright-graph .rg-chosen .rg-sign { background: currentColor; }
.roomwright-graph .rg-says { position: absolute; top: -3px; left: 26px; white-space: nowrap; padding: 1px 6px; border-radius: 3px;
  background: #1d2329; color: #ffffff; pointer-events: none; display: none; z-index: 3; }
.body--dark .roomwright-graph .rg-says { background: #e3e7ea; color: #14181c; }
.roomwright-graph .rg-flip .rg-says { left: auto; right: 26px; }
.roomwright-graph .rg-thing:hover .rg-says, .roomwright-graph .rg-thing:focus-visible .rg-says, .roomwright-graph .rg-held .rg-says { display: block; }
.roomwright-graph .rg-box { position: absolute; border: 1px dashed currentColor; background: rgba(127, 140, 150, 0.2); pointer-events: none; }
.roomwright-graph .rg-values { position: absolute; top: 4px; right: 4px; max-height: calc(100% - 44px); max-width: 62%; overflow: auto; background: var(--rw-panel, #ffffff);
  border: 1px solid #8a949d; border-radius: 4px; padding: 4px 0; z-index: 4; cursor: default; touch-action: pan-y; }
.body--dark .roomwright-graph .rg-values { background: var(--rw-raised, #1a2025); border-color: #59646e; }
.roomwright-graph .rg-values table { border-collapse: collapse; }
.roomwright-graph .rg-values caption { text-align: left; padding: 0 8px 3px; font-weight: 600; }
.roomwright-graph .rg-values td { padding: 1px 8px; white-space: nowrap; }
.roomwright-graph .rg-values td:last-child { text-align: right; font-variant-numeric: tabular-nums; }
.roomwright-graph .rg-values tr.rg-chosen { font-weight: 600; }
.roomwright-graph .rg-pick { font: inherit; color: inherit; background: none; border: 0; padding: 2px 0; cursor: pointer; text-align: left; min-height: 24px; }
.roomwright-graph .rg-values svg { display: block; }
.roomwright-graph .rg-empty { position: absolute; inset: 0; display: grid; place-items: center; padding: 16px 60px; text-align: center; pointer-events: none; font-size: 13px; background: color-mix(in srgb, var(--rw-panel, #808080) 55%, transparent); }
.roomwright-graph .rg-foot { display: flex; flex-wrap: wrap; gap: 2px 12px; padding: 0 6px 3px 8px; min-height: 26px; color: var(--rw-quiet, #56606a); align-items: center; }
.body--dark .roomwright-graph .rg-foot { color: var(--rw-quiet, #9ca7b0); }
.roomwright-graph .rg-buttons { flex: 0 0 auto; margin-left: auto; display: flex; align-items: center; gap: 2px; color: var(--rw-text, inherit); }
.roomwright-graph .rg-caption { flex: 1 1 240px; min-width: 0; font-size: 11px; line-height: 1.25; }
.roomwright-graph .rg-reading { flex: 0 0 auto; font-variant-numeric: tabular-nums; }
.q-menu [role="option"][aria-selected="true"]::after { content: "\\2713"; margin-left: auto; padding-left: 12px; align-self: center; }
.roomwright-graph .rg-heard { position: absolute; width: 1px; height: 1px; overflow: hidden; clip-path: inset(50%); }
`;

export function addStyles() {
  if (document.getElementById("roomwright-graph-styles")) return;
  const sheet = document.createElement("style");
  sheet.id = "roomwright-graph-styles";
  sheet.textContent = STYLES;
  document.head.append(sheet);
}
