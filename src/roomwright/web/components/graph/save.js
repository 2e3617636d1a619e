// Files for the user: the graph as SVG or PNG as it is seen, the curves as CSV with all points.
import { CanvasPen, SvgPen } from "./pens.js";
import { drawBase, drawLabels, layout } from "./plot.js";
import { curveColour } from "./palette.js";

const TITLE = 26;

function whole(pen, state, width, height, theme) {
  const lines = wrapped(pen, state.caption, width - 24);
  const place = layout(state, width, height, pen, { top: TITLE + 4, bottom: 6 + 15 * lines.length });
  drawBase(pen, state, place, theme);
  drawLabels(pen, state, place, theme, null);
  drawThings(pen, state, place, theme);
  pen.text(12, 14, state.name, { colour: theme.text, size: 14, bold: true });
  lines.forEach((line, row) => {
    pen.text(12, height - 15 * (lines.length - row) + 4, line, { colour: theme.quiet, size: 11 });
  });
}

function drawThings(pen, state, place, theme) {
  const [frame] = place.frames;
  for (const thing of state.things) {
    const x = frame.x.at(thing.x);
    const y = frame.y.at(thing.y);
    if (x < frame.left || x > frame.right || y < frame.top || y > frame.bottom) continue;
    pen.dot(x, y, 5, curveColour(thing.colour, theme), theme.text);
    const turned = x > (frame.left + frame.right) / 2;
    pen.text(turned ? x - 9 : x + 9, y, thing.label, {
      colour: theme.text, size: 11, anchor: turned ? "end" : "start", halo: theme.ground,
    });
  }
}

function wrapped(pen, words, room) {
  const lines = [];
  for (const word of words.split(/\s+/).filter(Boolean)) {
    const longer = lines.length ? `${lines[lines.length - 1]} ${word}` : word;
    if (lines.length && pen.width(longer, 11) <= room) lines[lines.length - 1] = longer; else lines.push(word);
  }
  return lines;
}

export function svgOf(state, width, height, theme, font) {
  const measuring = new CanvasPen(document.createElement("canvas").getContext("2d"), font);
  const pen = new SvgPen(measuring);
  whole(pen, state, width, height, theme);
  return pen.document(width, height, state.name, state.caption);
}

export function pngOf(state, width, height, theme, font, scale = 2) {
  const canvas = document.createElement("canvas");
  canvas.width = width * scale;
  canvas.height = height * scale;
  const context = canvas.getContext("2d");
  context.scale(scale, scale);
  whole(new CanvasPen(context, font), state, width, height, theme);
  return new Promise((resolve) => canvas.toBlob(resolve, "image/png"));
}

function quoted(words) {
  return `"${String(words).replace(/"/g, '""')}"`;
}

const number = (value) => (Number.isFinite(value) ? String(Number(value.toPrecision(7))) : "");
const headed = (axis) => (axis.unit ? `${axis.label} (${axis.unit})` : axis.label);

// Curves on the same points share one column of x; each further grid starts a new block beside it.
// The first line, a comment, says what was computed how.
export function csvOf(state) {
  const { axes, map } = state;
  const note = quoted(`# ${state.name}; ${state.caption}`);
  if (map) {
    const head = [headed(axes.x), headed(axes.y), `${map.label} (${map.unit})`].map(quoted).join(",");
    const rows = [];
    map.y.forEach((y, k) => map.x.forEach((x, m) => rows.push([x, y, map.value[k * map.x.length + m]].map(number).join(","))));
    return [note, head, ...rows, ""].join("\r\n");
  }
  const blocks = new Map();
  for (const curve of state.curves) blocks.set(curve.x, [...(blocks.get(curve.x) ?? []), curve]);
  const columns = [];
  for (const [x, curves] of blocks) {
    columns.push({ head: headed(axes.x), values: x });
    for (const curve of curves) {
      const axis = curve.panel && axes.lower ? axes.lower : axes.y;
      columns.push({ head: `${curve.label || curve.id}: ${headed(axis)}`, values: curve.y });
    }
  }
  const longest = Math.max(0, ...columns.map((column) => column.values.length));
  const rows = [columns.map((column) => quoted(column.head)).join(",")];
  for (let row = 0; row < longest; row += 1) {
    rows.push(columns.map((column) => (row < column.values.length ? number(column.values[row]) : "")).join(","));
  }
  return [note, ...rows, ""].join("\r\n");
}

export function save(content, type, name) {
  const link = document.createElement("a");
  const address = URL.createObjectURL(content instanceof Blob ? content : new Blob([content], { type }));
  link.href = address;
  link.download = name;
  link.click();
  setTimeout(() => URL.revokeObjectURL(address), 10000);
}
