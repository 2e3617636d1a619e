// The picture: axes, what is allowed, curves with their labels, crosshair. Draws with any pen.
import { extent, outline, pixelsOf, valueAt } from "./data.js";
import { casing, curveColour, dashOf, mapColours } from "./palette.js";
import { Scale, fixed, reading, spread, ticks } from "./scale.js";

const SIZE = 11;
const ROW = 14;
const LEFT = 52;
const GAP = 12; // between two panels
const SHARE = 0.62; // of the height, for the upper of two panels
const NARROW = 420; // up to this width labels take the room of the values at the crosshair
const PLAIN = { line: 1.4, emphasis: 2.6, faint: 0.8 };

export function yAxis(state, panel) {
  return panel === 1 && state.axes.lower ? state.axes.lower : state.axes.y;
}

// Where everything goes: one frame a panel, with its scales, and the column of labels.
export function layout(state, width, height, pen, { top = 6, bottom = 0 } = {}) {
  const { axes, view } = state;
  const labelled = state.curves.filter((curve) => curve.label && !curve.faint);
  const widest = Math.max(0, ...labelled.map((curve) => pen.width(curve.label, SIZE, curve.emphasis)));
  const values = labelled.length && width > NARROW ? 46 : 0;
  const most = Math.max(90, Math.min(0.3 * width, 260));
  const gutter = state.map ? 66 : labelled.length ? Math.min(widest + values + 30, most) : 20;
  const left = LEFT;
  const right = width - gutter;
  const floor = height - bottom - 32;
  const split = axes.lower ? top + SHARE * (floor - top) : floor;
  const x = new Scale(...view.x, axes.x.log, left, right);
  const frame = (panel, from, to) => ({
    panel, left, right, top: from, bottom: to, x,
    y: new Scale(...view[panel ? "lower" : "y"], yAxis(state, panel).log, to, from),
  });
  const frames = [frame(0, top, axes.lower ? split - GAP / 2 : split)];
  if (axes.lower) frames.push(frame(1, split + GAP / 2, floor));
  return { width, height, left, right, floor, gutter, values, frames };
}

export function drawBase(pen, state, place, theme) {
  pen.box(0, 0, place.width, place.height, { colour: theme.ground });
  const cache = new Map();
  for (const frame of place.frames) {
    if (frame.bottom - frame.top < 8 || frame.right - frame.left < 8) continue;
    drawShades(pen, state, frame, theme);
    if (state.map && frame.panel === 0) drawMap(pen, state, frame, theme);
    drawGrid(pen, state, frame, theme, place);
    pen.clip(frame.left, frame.top, frame.right - frame.left, frame.bottom - frame.top, () => {
      drawBands(pen, state, frame, theme);
      drawCurves(pen, state, frame, theme, cache);
      for (const band of state.bands) if (band.panel === frame.panel && band.label) labelBand(pen, band, frame, theme);
      drawMarks(pen, state, frame, theme);
    });
    drawFrame(pen, frame, theme);
  }
}

function drawFrame(pen, { left, right, top, bottom }, theme) {
  pen.line([left, top, left, bottom, right, bottom, right, top, left, top], { colour: theme.frame });
}

function drawGrid(pen, state, frame, theme, place) {
  const { axes } = state;
  const axis = yAxis(state, frame.panel);
  const lowest = frame === place.frames[place.frames.length - 1];
  const across = ticks(axes.x, frame.x.low, frame.x.high, (frame.right - frame.left) / 70);
  const over = state.map && frame.panel === 0;
  let free = -Infinity;
  for (const tick of across) {
    const x = frame.x.at(tick.value);
    if (!over) pen.line([x, frame.top, x, frame.bottom], { colour: tick.major ? theme.grid : theme.fine });
    const half = pen.width(tick.label, SIZE) / 2;
    if (lowest && tick.label && x - half > free && x + half < frame.right + 22) {
      pen.text(x, frame.bottom + 10, tick.label, { colour: theme.text, size: SIZE, anchor: "middle" });
      free = x + half + 6;
    }
  }
  for (const tick of ticks(axis, frame.y.low, frame.y.high, (frame.bottom - frame.top) / 28)) {
    const y = frame.y.at(tick.value);
    if (!over) pen.line([frame.left, y, frame.right, y], { colour: theme.grid });
    if (tick.label) pen.text(frame.left - 9, y, tick.label, { colour: theme.text, size: SIZE, anchor: "end" });
  }
  const whole = axis.unit ? `${axis.label}, ${axis.unit}` : axis.label;
  const unit = pen.width(whole, SIZE) < frame.bottom - frame.top ? whole : axis.unit;
  pen.text(9, (frame.top + frame.bottom) / 2, unit, { colour: theme.quiet, size: SIZE, anchor: "middle", turned: true });
  if (lowest) {
    const words = axes.x.unit ? `${axes.x.label}, ${axes.x.unit}` : axes.x.label;
    pen.text((frame.left + frame.right) / 2, frame.bottom + 24, words, { colour: theme.quiet, size: SIZE, anchor: "middle" });
  }
}

function drawShades(pen, state, frame, theme) {
  for (const shade of state.shades) {
    const from = Math.max(frame.x.at(Math.max(shade.low, frame.x.low)), frame.left);
    const to = Math.min(frame.x.at(Math.min(shade.high, frame.x.high)), frame.right);
    if (!(to > from)) continue;
    pen.box(from, frame.top, to - from, frame.bottom - frame.top, { colour: theme.shade, alpha: 0.13 });
    for (let x = from + 4; x < to; x += 9) { // stripes: it must not be told by tone alone
      pen.line([x, frame.bottom, x, frame.bottom - 5], { colour: theme.shade, alpha: 0.7 });
    }
    const wide = pen.width(shade.label, SIZE);
    if (frame.panel === 0 && wide < to - from - 6) {
      pen.text((from + to) / 2, frame.bottom - 13, shade.label, { colour: theme.quiet, size: SIZE, anchor: "middle" });
    } else if (frame.panel === 0 && to - from > ROW && wide < frame.bottom - frame.top - 20) {
      pen.text((from + to) / 2, frame.bottom - 12 - wide / 2, shade.label, { colour: theme.quiet, size: SIZE, anchor: "middle", turned: true });
    }
  }
}

function drawMarks(pen, state, frame, theme) {
  const rows = [];
  const shown = state.marks.filter((mark) => mark.x >= frame.x.low && mark.x <= frame.x.high);
  for (const mark of [...shown].sort((a, b) => a.x - b.x)) {
    const x = frame.x.at(mark.x);
    pen.line([x, frame.top, x, frame.bottom], { colour: theme.quiet, dash: [4, 3] });
    if (frame.panel !== 0) continue;
    const wide = pen.width(mark.label, SIZE) + 8;
    const start = x + wide > frame.right ? x - wide : x;
    let row = rows.findIndex((end) => end <= start);
    if (row < 0) row = rows.push(0) - 1;
    rows[row] = start + wide;
    pen.text(start + 4, frame.top + 9 + row * ROW, mark.label, { colour: theme.quiet, size: SIZE, halo: theme.ground });
  }
}

function drawBands(pen, state, frame, theme) {
  for (const band of state.bands) {
    if (band.panel !== frame.panel) continue;
    const there = [];
    const back = [];
    const high = [];
    const low = [];
    for (let index = 0; index < band.x.length; index += 1) {
      if (!Number.isFinite(band.low[index]) || !Number.isFinite(band.high[index])) { high.push(NaN, NaN); low.push(NaN, NaN); continue; }
      const x = frame.x.at(band.x[index]);
      const upper = frame.y.at(band.high[index]);
      const lower = frame.y.at(band.low[index]);
      there.push(x, upper);
      back.unshift(x, lower);
      high.push(x, upper);
      low.push(x, lower);
    }
    const colour = band.colour ? curveColour(band.colour, theme) : theme.band;
    pen.area([...there, ...back], { colour, alpha: 0.13 });
    pen.line(high, { colour, alpha: 0.75, dash: [2, 2] });
    pen.line(low, { colour, alpha: 0.75, dash: [2, 2] });
  }
}

// The band's name stands under its lower edge, in the middle of what is seen of it: at the left
// the lines begin, and handles stand on them.
function labelBand(pen, band, frame, theme) {
  const seen = [...band.x.keys()].filter((index) => {
    const x = frame.x.at(band.x[index]);
    return x >= frame.left + 6 && x <= frame.right && Number.isFinite(band.high[index]);
  });
  if (!seen.length) return;
  const at = seen[Math.floor(seen.length / 2)];
  const half = pen.width(band.label, SIZE) / 2;
  const x = Math.min(Math.max(frame.x.at(band.x[at]), frame.left + half + 6), frame.right - half - 6);
  const y = Math.min(Math.max(frame.y.at(band.low[at]) + 9, frame.top + 9), frame.bottom - 9);
  pen.text(x, y, band.label, { colour: theme.quiet, size: SIZE, anchor: "middle", halo: theme.ground });
}

function drawCurves(pen, state, frame, theme, cache) {
  const weight = (curve) => (isChosen(state, curve) ? 3 : curve.emphasis ? 2 : curve.faint ? 0 : 1);
  const order = state.curves.filter((curve) => curve.panel === frame.panel).sort((a, b) => weight(a) - weight(b));
  const axis = yAxis(state, frame.panel);
  const crowded = order.length > 24;
  // Lines of one pixel draw eight times as fast as wider ones: they keep many curves moving.
  const thin = state.moving ? 1 / (window.devicePixelRatio || 1) : 1;
  for (const curve of order) {
    const points = outline(curve, pixelsOf(curve.x, frame.x, cache), frame.y, axis, frame.left, frame.right);
    const chosen = isChosen(state, curve);
    const width = chosen || curve.emphasis ? PLAIN.emphasis : curve.faint ? PLAIN.faint : crowded ? thin : PLAIN.line;
    const edge = casing(curve.colour, theme);
    if (edge && !curve.faint && !(crowded && state.moving)) pen.line(points, { colour: edge, width: width + 1.4 });
    pen.line(points, { colour: curveColour(curve.colour, theme), width, dash: state.moving && crowded ? [] : dashOf(curve.dash), alpha: curve.faint ? 0.5 : 1 });
  }
}

export function isChosen(state, curve) {
  return state.chosen === curve.id || state.near === curve.id;
}

// The curves that get a label of their own, and how many do not.
export function labelled(state, frame) {
  const wanted = state.curves
    .filter((curve) => curve.panel === frame.panel && curve.label && !curve.faint && endOf(curve, frame) !== null)
    .sort((a, b) => Number(isChosen(state, b)) - Number(isChosen(state, a)) || Number(b.emphasis) - Number(a.emphasis));
  const room = Math.max(1, Math.floor((frame.bottom - frame.top) / ROW));
  return wanted.length <= room ? [wanted, 0] : [wanted.slice(0, room - 1), wanted.length - room + 1];
}

function endOf(curve, frame) {
  for (let index = curve.x.length - 1; index >= 0; index -= 1) {
    const x = frame.x.at(curve.x[index]);
    if (x < frame.left) return null;
    if (x <= frame.right + 0.5 && Number.isFinite(curve.y[index])) return [x, frame.y.at(curve.y[index])];
  }
  return null;
}

// Labels at the right end of their curves, moved apart, with a line to the end and, when the
// crosshair stands at `cursor`, the value there.
export function drawLabels(pen, state, place, theme, cursor) {
  for (const frame of place.frames) {
    if (state.map && frame.panel === 0) { drawMapKey(pen, state, frame, theme, place); continue; }
    const [shown, more] = labelled(state, frame);
    if (!shown.length) continue;
    const ends = shown.map((curve) => endOf(curve, frame));
    const floor = frame.bottom - 6 - (more ? ROW : 0);
    const rows = spread(ends.map(([, y]) => Math.min(Math.max(y, frame.top), frame.bottom)), ROW, frame.top + 6, floor);
    const room = place.gutter - 30 - place.values;
    shown.forEach((curve, index) => {
      const [x, y] = ends[index];
      const colour = curveColour(curve.colour, theme);
      const row = rows[index];
      const to = Math.min(Math.max(y, frame.top), frame.bottom);
      pen.line([Math.max(x, frame.left), to, frame.right, to, frame.right + 6, row, frame.right + 22, row], {
        colour, width: isChosen(state, curve) || curve.emphasis ? 2 : 1, dash: x < frame.right - 3 ? [1, 2] : [],
      });
      const strong = isChosen(state, curve) || curve.emphasis;
      pen.box(frame.right + 7, row - 5, 16, 10, { colour: theme.ground });
      pen.line([frame.right + 5, row, frame.right + 24, row], { colour, width: strong ? 2.4 : 1.6, dash: dashOf(curve.dash).map((part) => part * 0.7) });
      pen.text(frame.right + 27, row, cut(pen, curve.label, room, strong), { colour: theme.text, size: SIZE, bold: strong });
      if (cursor !== null && place.values) {
        const axis = yAxis(state, frame.panel);
        const value = valueAt(curve, cursor, state.axes.x, axis);
        pen.text(place.width - 3, row, reading(axis, value, false), { colour: theme.text, size: SIZE, anchor: "end", bold: strong });
      }
    });
    if (more) pen.text(place.width - 3, frame.bottom - 6, `${more} more: Values`, { colour: theme.quiet, size: SIZE, anchor: "end" });
  }
}

function cut(pen, words, room, bold) {
  if (pen.width(words, SIZE, bold) <= room) return words;
  let kept = words;
  while (kept.length > 1 && pen.width(`${kept}\u2026`, SIZE, bold) > room) kept = kept.slice(0, -1);
  return `${kept.trimEnd()}\u2026`;
}

// The crosshair: a line through all panels, its x on top, a dot on every curve.
export function drawCursor(pen, state, place, theme, cursor, level) {
  if (cursor === null || cursor < place.frames[0].x.low || cursor > place.frames[0].x.high) return;
  const x = place.frames[0].x.at(cursor);
  const last = place.frames[place.frames.length - 1];
  pen.line([x, place.frames[0].top, x, last.bottom], { colour: theme.cursor, alpha: 0.8 });
  const words = reading(state.axes.x, cursor);
  const half = pen.width(words, SIZE, true) / 2 + 5;
  const middle = Math.min(Math.max(x, place.left + half), place.right - half);
  pen.box(middle - half, last.bottom + 1, 2 * half, 17, { colour: theme.cursor });
  pen.text(middle, last.bottom + 10, words, { colour: theme.ground, size: SIZE, anchor: "middle", bold: true });
  for (const frame of place.frames) {
    pen.clip(frame.left, frame.top, frame.right - frame.left, frame.bottom - frame.top, () => {
      for (const curve of state.curves) {
        if (curve.panel !== frame.panel || curve.faint) continue;
        const value = valueAt(curve, cursor, state.axes.x, yAxis(state, frame.panel));
        if (value !== null) pen.dot(x, frame.y.at(value), isChosen(state, curve) ? 4.5 : 3, curveColour(curve.colour, theme), theme.ground);
      }
    });
    if (level !== null && level.panel === frame.panel) {
      const y = frame.y.at(level.value);
      pen.line([frame.left, y, frame.right, y], { colour: theme.cursor, alpha: 0.45, dash: [3, 3] });
      const read = reading(yAxis(state, frame.panel), level.value, false);
      const wide = pen.width(read, SIZE, true) + 8;
      pen.box(frame.left - wide, y - 8, wide, 16, { colour: theme.cursor });
      pen.text(frame.left - 4, y, read, { colour: theme.ground, size: SIZE, anchor: "end", bold: true });
    }
  }
}

// Levels of a map at the resolution of the screen; the canvas is kept until view or map change.
function drawMap(pen, state, frame, theme) {
  const width = Math.max(1, Math.round(frame.right - frame.left));
  const height = Math.max(1, Math.round(frame.bottom - frame.top));
  const { map } = state;
  const canvas = document.createElement("canvas");
  canvas.width = width;
  canvas.height = height;
  const context = canvas.getContext("2d");
  const pixels = context.createImageData(width, height);
  const colours = mapColours(theme);
  const columns = Array.from({ length: width }, (_, n) => nearest(map.x, frame.x.value(frame.left + n + 0.5)));
  for (let row = 0; row < height; row += 1) {
    const k = nearest(map.y, frame.y.value(frame.top + row + 0.5));
    for (let column = 0; column < width; column += 1) {
      const at = 4 * (row * width + column);
      const value = k < 0 || columns[column] < 0 ? NaN : map.value[k * map.x.length + columns[column]];
      if (Number.isNaN(value)) continue;
      const share = Math.min(Math.max((value - map.low) / (map.high - map.low), 0), 1);
      const [red, green, blue] = colours[Math.round(255 * share)];
      pixels.data[at] = red;
      pixels.data[at + 1] = green;
      pixels.data[at + 2] = blue;
      pixels.data[at + 3] = 255;
    }
  }
  context.putImageData(pixels, 0, 0);
  pen.image(canvas, frame.left, frame.top, width, height);
}

function nearest(grid, value) {
  if (!(value >= grid[0]) || !(value <= grid[grid.length - 1])) return -1;
  let low = 0;
  let high = grid.length - 1;
  while (high - low > 1) {
    const middle = (low + high) >> 1;
    if (grid[middle] <= value) low = middle; else high = middle;
  }
  return value - grid[low] <= grid[high] - value ? low : high;
}

export function mapValue(map, x, y) {
  const column = nearest(map.x, x);
  const row = nearest(map.y, y);
  const value = column < 0 || row < 0 ? NaN : map.value[row * map.x.length + column];
  return Number.isFinite(value) ? value : null;
}

function drawMapKey(pen, state, frame, theme, place) {
  const { map } = state;
  const colours = mapColours(theme);
  const left = place.right + 12;
  const tall = frame.bottom - frame.top - 40;
  const bars = 64;
  for (let n = 0; n < bars; n += 1) {
    const [red, green, blue] = colours[Math.round((255 * n) / (bars - 1))];
    pen.box(left, frame.top + 20 + tall * (1 - (n + 1) / bars), 12, tall / bars + 0.5, { colour: `rgb(${red},${green},${blue})` });
  }
  pen.line([left, frame.top + 20, left + 12, frame.top + 20, left + 12, frame.top + 20 + tall, left, frame.top + 20 + tall, left, frame.top + 20], { colour: theme.frame });
  pen.text(left - 4, frame.top + 8, map.unit, { colour: theme.quiet, size: SIZE });
  for (let n = 0; n <= 4; n += 1) {
    const y = frame.top + 20 + tall * (1 - n / 4);
    pen.text(left + 17, y, fixed(map.low + ((map.high - map.low) * n) / 4, 0), { colour: theme.text, size: SIZE });
  }
}

// What the view may reach: the axes, and all data with some air.
export function reach(state) {
  const { axes } = state;
  const xs = extent(state.curves.map((curve) => [curve.x[0], curve.x[curve.x.length - 1]]));
  const low = xs ? Math.min(axes.x.low, xs[0]) : axes.x.low;
  const high = xs ? Math.max(axes.x.high, xs[1]) : axes.x.high;
  return [axes.x.log ? Math.max(low, axes.x.low / 4) : low, high];
}
