// Reading the desk: the crosshair, the values under it, the curve next to it.
import { valueAt } from "./data.js";
import { DASHES, curveColour } from "./palette.js";
import { mapValue, yAxis } from "./plot.js";
import { reading } from "./scale.js";

const NEAR_PX = 14;

export const readingOff = {
  values() {
    const { axes, curves } = this.state;
    return curves.map((curve) => {
      const axis = yAxis(this.state, curve.panel);
      const value = this.cursor === null ? null : valueAt(curve, this.cursor, axes.x, axis);
      return { curve, text: value === null ? "\u2013" : reading(axis, value) };
    });
  },

  tellValues() {
    const { axes, map } = this.state;
    if (!axes) return;
    const theme = this.theme();
    const at = this.cursor === null ? null : reading(axes.x, this.cursor);
    if (map && this.pointer && at) {
      const y = this.place.frames[0].y.value(this.pointer[1]);
      const value = mapValue(map, this.cursor, y);
      this.read = value === null ? "" : `${at}, ${reading(axes.y, y)}: ${reading({ unit: map.unit, decimals: 1 }, value)}`;
    } else {
      this.read = "";
    }
    if (!this.open) return;
    this.head = at ? `at ${at}` : "move over the graph to read";
    this.rows = this.values().map(({ curve, text }) => ({
      id: curve.id, label: curve.label || curve.id, ink: curveColour(curve.colour, theme), dash: DASHES[curve.dash % DASHES.length].join(" "), value: text,
    }));
  },

  setCursor(x) {
    this.cursor = x;
    this.draw(false);
    if (this.hears.has("cursor")) this.tell("cursor", { kind: "cursor", x }, x === null);
  },

  // The curve next to the pointer stands out.
  findNear(px, py) {
    const frame = this.frameAt(py);
    let best = null;
    let least = NEAR_PX;
    if (frame && this.cursor !== null) {
      for (const curve of this.state.curves) {
        if (curve.panel !== frame.panel || curve.faint) continue;
        const value = valueAt(curve, this.cursor, this.state.axes.x, yAxis(this.state, frame.panel));
        const away = value === null ? Infinity : Math.abs(frame.y.at(value) - py);
        if (away < least) { least = away; best = curve.id; }
      }
    }
    if (best !== this.state.near) {
      this.state.near = best;
      this.draw(this.state.curves.length > 1);
    }
  },

  choose(id) {
    this.chosen = this.chosen === id ? null : id;
    this.state.chosen = this.chosen;
    this.draw();
    if (this.hears.has("select")) this.$emit("desk-select", { kind: "select", id });
  },

  pick(id) {
    if (this.picked === id) return;
    this.picked = id;
    if (this.hears.has("select")) this.$emit("desk-select", { kind: "select", id });
  },

  speak() {
    const read = this.values().slice(0, 6).map(({ curve, text }) => `${curve.label} ${text}`);
    this.heard = `${reading(this.state.axes.x, this.cursor)}: ${read.join("; ")}`;
  },
};
