// How a drawing of the room looks.
const STYLE = `
.rw-plan { --ink: var(--rw-text, #191e1f); --muted: var(--rw-quiet, #4d595b);
  --floor: var(--rw-panel, #fafbfa); --line: var(--rw-line, #c9d0cf); --unit: #0b5a8f;
  --sub: #8a5a00; --seat: #e1e6e5; --mainseat: #cbe3dd; --accent: var(--rw-accent, #14655a);
  --warn: var(--rw-bad, #a12a20); --focus: var(--rw-accent, #14655a); position: relative;
  width: 100%; height: 100%; min-height: 120px; overflow: hidden; color: var(--ink); }
.body--dark .rw-plan { --unit: #7cc0ec; --sub: #e8b455; --seat: #343c41; --mainseat: #24504a; }
.rw-plan svg { position: absolute; inset: 0; display: block; touch-action: none;
  user-select: none; -webkit-user-select: none; }
.rw-plan text { font: 11px/1.2 system-ui, sans-serif; fill: var(--ink); }
.rw-plan .halo { paint-order: stroke; stroke: var(--floor); stroke-width: 3px;
  stroke-linejoin: round; }
.rw-plan .muted { fill: var(--muted); }
.rw-plan .warn { fill: var(--warn); font-weight: 600; }
.rw-plan .item { outline: none; }
.rw-plan .outlining { cursor: crosshair; }
.rw-plan .clear { fill: var(--warn); fill-opacity: .1; stroke: var(--warn); stroke-width: 1.5;
  stroke-dasharray: 6 3; }
.rw-plan .clear.new { stroke-dasharray: none; }
.rw-plan .spot { fill: none; stroke: var(--sub); stroke-width: 1.4; }
.rw-plan .spot.chosen { stroke-width: 2.4; }
.rw-plan .item.movable { cursor: grab; }
.rw-plan .item.dragged { cursor: grabbing; }
.rw-plan .item .ringed { fill: none; stroke: none; }
.rw-plan .item:focus-visible .ringed { stroke: var(--focus); stroke-width: 2.5; }
.rw-plan .item.chosen .ringed { stroke: var(--ink); stroke-width: 1.5; stroke-dasharray: 3 2; }
.rw-plan .item.chosen:focus-visible .ringed { stroke: var(--focus); stroke-dasharray: none; }
`;

export function addStyle() {
  if (document.getElementById("rw-plan-style")) return;
  const style = document.createElement("style");
  style.id = "rw-plan-style";
  style.textContent = STYLE;
  document.head.appendChild(style);
}
