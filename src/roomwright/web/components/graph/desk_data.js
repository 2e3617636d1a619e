// What the desk is sent: parts, axes, curves, handles; and what it saves.
import { floats, unpacked } from "./data.js";
import { csvOf, pngOf, save, svgOf } from "./save.js";
import { handleThing, pointThing } from "./things.js";
import { homeView } from "./view.js";

export const incoming = {
  set_part(part, value, seen) {
    if (part === "axes") this.setAxes(value);
    else if (part === "name" || part === "caption") { this[part] = value; this.state[part] = value; }
    else if (part === "empty") this.empty = value;
    else if (part === "hears") this.hears = new Set(value);
    else if (part === "handles") this.setThings("handle", value.map(handleThing), seen);
    else if (part === "points") this.setThings("point", value.map(pointThing), seen);
    else if (part === "bands") this.state.bands = value.map((band) => ({ ...band, x: floats(band.x), low: floats(band.low), high: floats(band.high) }));
    else if (part === "map") this.state.map = value && { ...value, x: floats(value.x), y: floats(value.y), value: floats(value.value) };
    else this.state[part] = value;
    this.draw();
  },

  set_curves(packed) {
    this.grids = [];
    this.state.curves = this.received(packed);
    this.draw();
  },

  update_curves(packed) {
    const places = new Map(this.state.curves.map((curve, index) => [curve.id, index]));
    for (const curve of this.received(packed)) {
      if (places.has(curve.id)) this.state.curves[places.get(curve.id)] = curve; else this.state.curves.push(curve);
    }
    this.draw();
  },

  reset_view() {
    if (!this.state.axes) return;
    this.state.view = homeView(this.state.axes);
    this.draw();
  },

  async export_as(kind) {
    const { width, height } = this.$refs.plot.getBoundingClientRect();
    const size = [Math.max(800, Math.round(width)), Math.max(420, Math.round(height + 50))];
    const state = { ...this.state, near: null };
    const file = `${this.name.replace(/[^\p{L}\p{N}]+/gu, "-").replace(/^-|-$/g, "").toLowerCase() || "graph"}.${kind}`;
    if (kind === "svg") save(svgOf(state, ...size, this.theme(), this.font), "image/svg+xml", file);
    else if (kind === "png") save(await pngOf(state, ...size, this.theme(), this.font), "image/png", file);
    else save(csvOf(state), "text/csv", file);
  },

  received(packed) {
    const curves = unpacked(packed);
    const kept = new Map();
    for (const { x } of curves) {
      if (kept.has(x)) continue;
      const same = this.grids.find((grid) => grid.length === x.length && grid.every((value, index) => value === x[index]));
      kept.set(x, same ?? x);
      if (!same) this.grids.push(x);
    }
    return curves.map((curve) => ({ ...curve, x: kept.get(curve.x) }));
  },

  setAxes(axes) {
    const before = this.state.axes;
    const same = (one, other) => JSON.stringify(one) === JSON.stringify(other);
    const home = homeView(axes);
    const keep = (part) => (before && this.state.view && same(before[part], axes[part]) ? this.state.view[part] : home[part]);
    this.state.view = { x: keep("x"), y: keep("y"), lower: keep("lower") };
    this.state.axes = axes;
  },

  setThings(kind, incoming, seen) {
    const before = new Map(this.state.things.filter((thing) => thing.kind === kind).map((thing) => [thing.id, thing]));
    const kept = incoming.map((thing) => {
      const old = before.get(thing.id);
      if (!old) return thing;
      // An answer to an older move must not pull it back from where the user has it by now.
      if (old.held || (seen[thing.id] ?? 0) < (this.numbers.get(thing.id) ?? 0)) {
        return Object.assign(old, { label: thing.label, colour: thing.colour, low: thing.low, high: thing.high });
      }
      return Object.assign(old, thing);
    });
    // The order stays: an element that is moved in the page loses the pointer it has captured.
    const others = this.state.things.filter((thing) => thing.kind !== kind);
    this.state.things = kind === "handle" ? [...kept, ...others] : [...others, ...kept];
  },
};
