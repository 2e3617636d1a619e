// The graph desk in the browser. The picture is drawn on two canvases: the curves, redrawn when
// view or data change, and above them the labels' values and the crosshair, redrawn as it moves.
import {
  CanvasPen, DASHES, THEMES, addStyles, csvOf, curveColour, describe, drawBase, drawCursor, drawLabels,
  floats, handleThing, homeView, layout, mapValue, moveThing, panned, pngOf, pointThing, reach,
  reading, save, stepped, svgOf, told, turnQ, unpacked, valueAt, yAxis, zoomed,
} from "roomwright-graph";

const EVERY_MS = 40; // at most one event to the server in this time
const REST_MS = 500; // after the last key the move counts as done
const NEAR_PX = 14;

export default {
  template: `
<div role="group" :aria-label="name">
  <div class="rg-head">
    <div class="rg-tools"><slot><span class="rg-name" :title="name">{{ name }}</span></slot></div>
  </div>
  <div class="rg-plot" ref="plot" tabindex="0" role="application" aria-roledescription="graph" :aria-label="says"
    :class="{ 'rg-dragging': panning }" @pointerdown="press" @pointermove="hover" @pointerup="release" @pointercancel="release"
    @pointerleave="leave" @dblclick="doubled" @keydown="key">
    <canvas ref="base"></canvas>
    <canvas ref="over"></canvas>
    <div class="rg-empty" v-if="empty">{{ empty }}</div>
    <div class="rg-box" v-if="box" :style="{ left: box[0] + 'px', top: box[1] + 'px', width: box[2] + 'px', height: box[3] + 'px' }"></div>
    <button type="button" v-for="thing in things" :key="thing.kind + thing.id" v-show="thing.seen" class="rg-thing"
      :class="['rg-' + thing.kind, { 'rg-locked': thing.locked, 'rg-held': thing.held, 'rg-flip': thing.flip, 'rg-chosen': thing.id === picked }]"
      :style="{ left: thing.px + 'px', top: thing.py + 'px', color: thing.ink }" role="slider" :aria-valuemin="thing.least" :aria-valuemax="thing.most"
      :aria-label="thing.label" :aria-valuenow="thing.value" :aria-valuetext="thing.text" :data-id="thing.id"
      @pointerdown.stop="take($event, thing)" @pointermove="carry($event, thing)" @pointerup.stop="drop($event, thing)"
      @pointercancel="drop($event, thing)" @lostpointercapture="drop($event, thing)" @keydown="nudge($event, thing)" @focus="pick(thing.id)" @dblclick.stop>
      <span class="rg-sign"></span><span class="rg-says">{{ thing.text }}</span>
    </button>
    <div class="rg-values" v-if="open" @pointerdown.stop @wheel.stop @dblclick.stop>
      <table><caption>{{ head }}</caption><tbody>
        <tr v-for="row in rows" :key="row.id" :class="{ 'rg-chosen': row.id === chosen }">
          <td><svg width="26" height="10" aria-hidden="true"><line x1="0" x2="26" y1="5" y2="5" :stroke="row.ink" stroke-width="2" :stroke-dasharray="row.dash" /></svg></td>
          <td><button type="button" class="rg-pick" @click="choose(row.id)" :aria-pressed="row.id === chosen">{{ row.label }}</button></td>
          <td>{{ row.value }}</td>
        </tr></tbody></table>
    </div>
  </div>
  <div class="rg-foot"><span class="rg-caption">{{ caption }}{{ between }}</span><span class="rg-reading">{{ read }}</span>
  <div class="rg-buttons">
    <button type="button" class="rg-tool" :aria-pressed="open" @click="open = !open" title="Values of all curves (V)">Values</button>
    <button type="button" class="rg-tool" :aria-pressed="boxing" @click="boxing = !boxing" title="Drag a box to zoom (Z, or Shift while dragging)">Box</button>
    <button type="button" class="rg-tool" @click="fit" title="Fit the vertical axis to the curves (F)">Fit</button>
    <button type="button" class="rg-tool" @click="reset_view" title="Whole view (Home, or double click)">Reset</button>
    <span class="rg-rule"></span>
    <button type="button" class="rg-tool" v-for="kind in ['svg', 'png', 'csv']" :key="kind" @click="export_as(kind)"
      :aria-label="'Save as ' + kind.toUpperCase()" :title="'Save as ' + kind.toUpperCase()">{{ kind.toUpperCase() }}</button>
  </div></div>
  <div class="rg-heard" aria-live="polite">{{ heard }}</div>
</div>`,

  data() {
    return {
      name: "graph", caption: "", empty: "", read: "", heard: "", says: "", head: "", between: "", rows: [], things: [],
      open: false, boxing: false, panning: false, box: null, chosen: null, picked: null,
    };
  },

  watch: {
    open() { this.tellValues(); },
  },

  created() {
    // Not reactive: arrays of thousands of points and what is drawn from them.
    this.state = {
      axes: null, view: null, curves: [], bands: [], marks: [], shades: [], map: null, things: [],
      chosen: null, near: null, moving: false, name: "graph", caption: "",
    };
    this.hears = new Set();
    this.cursor = null;
    this.pointer = null;
    this.grids = [];
    this.numbers = new Map();
    this.sent = new Map();
    this.fingers = new Map();
    this.due = { base: false, over: false };
  },

  mounted() {
    addStyles();
    this.size = new ResizeObserver(() => this.draw());
    this.size.observe(this.$refs.plot);
    this.page = new MutationObserver(() => this.draw());
    this.page.observe(document.body, { attributes: true, attributeFilter: ["class"] });
    this.$refs.plot.addEventListener("wheel", this.wheel, { passive: false });
    document.fonts.ready.then(() => this.draw());
    this.$emit("ready");
  },

  beforeUnmount() {
    this.size.disconnect();
    this.page.disconnect();
    cancelAnimationFrame(this.frame);
  },

  methods: {
    // From the server.
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

    // Data as they come.
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

    // Drawing.
    theme() {
      const theme = document.body.classList.contains("body--dark") ? THEMES.dark : THEMES.light;
      const ground = getComputedStyle(this.$el).backgroundColor;
      return { ...theme, ground };
    },

    draw(base = true) {
      this.due.base ||= base;
      this.due.over = true;
      if (this.frame) return;
      this.frame = requestAnimationFrame(() => { this.frame = 0; this.paint(); });
    },

    paint() {
      const { plot, base, over } = this.$refs;
      if (!plot || !this.state.axes) return;
      const width = plot.clientWidth;
      const height = plot.clientHeight;
      if (width < 60 || height < 60) return;
      const theme = this.theme();
      if (this.due.base) {
        const pen = this.pen(base, width, height);
        this.place = layout(this.state, width, height, pen);
        drawBase(pen, this.state, this.place, theme);
        this.putThings(theme);
        this.describeGraph();
      }
      const pen = this.pen(over, width, height);
      pen.context.clearRect(0, 0, width, height);
      const cursor = this.cursor;
      drawLabels(pen, this.state, this.place, theme, cursor);
      drawCursor(pen, this.state, this.place, theme, cursor, this.level());
      this.due = { base: false, over: false };
      this.tellValues();
    },

    pen(canvas, width, height) {
      const ratio = window.devicePixelRatio || 1;
      const [wide, tall] = [Math.round(width * ratio), Math.round(height * ratio)];
      if (canvas.width !== wide || canvas.height !== tall) { canvas.width = wide; canvas.height = tall; }
      const context = canvas.getContext("2d");
      this.font ??= getComputedStyle(this.$el).fontFamily;
      context.setTransform(ratio, 0, 0, ratio, 0, 0);
      return new CanvasPen(context, this.font);
    },

    putThings(theme) {
      const [frame] = this.place.frames;
      this.things = this.state.things.map((thing) => {
        const px = frame.x.at(thing.x);
        const py = frame.y.at(thing.y);
        const seen = px >= frame.left - 1 && px <= frame.right + 1;
        return {
          id: thing.id, kind: thing.kind, label: thing.label || thing.id, locked: thing.locked, held: Boolean(thing.held), seen,
          px, py: Math.min(Math.max(py, frame.top), frame.bottom), flip: px > (frame.left + frame.right) / 2,
          ink: curveColour(thing.colour, theme), text: describe(thing, this.state.axes), value: Number((thing.y - thing.base).toFixed(2)),
          least: Number.isFinite(thing.low[1]) ? thing.low[1] - thing.base : frame.y.low,
          most: Number.isFinite(thing.high[1]) ? thing.high[1] - thing.base : frame.y.high,
        };
      });
    },

    describeGraph() {
      const { curves, axes } = this.state;
      this.between = curves.length ? `${this.caption ? "; " : ""}values between points: straight lines${axes.x.log ? ` over log ${axes.x.label}` : ""}` : "";
      this.says = `${this.name}: ${curves.length} curves, ${axes.y.label} over ${axes.x.label}. Arrow keys move the crosshair, plus and minus zoom, Home shows all, V lists the values.`;
    },

    level() {
      if (!this.pointer) return null;
      const frame = this.frameAt(this.pointer[1]);
      return frame ? { panel: frame.panel, value: frame.y.value(this.pointer[1]) } : null;
    },

    frameAt(y) {
      return this.place?.frames.find((frame) => y >= frame.top && y <= frame.bottom) ?? null;
    },

    // Reading.
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

    // Telling the server, at most one event in EVERY_MS, the last one always.
    tell(slot, said, now = false) {
      const waiting = this.sent.get(slot) ?? { at: 0, timer: null };
      this.sent.set(slot, waiting);
      clearTimeout(waiting.timer);
      const wait = now ? 0 : waiting.at + EVERY_MS - performance.now();
      const send = () => { waiting.at = performance.now(); this.$emit(`desk-${said.kind}`, said); };
      if (wait <= 0) send(); else waiting.timer = setTimeout(send, wait);
    },

    tellThing(thing, done) {
      const number = (this.numbers.get(thing.id) ?? 0) + 1;
      this.numbers.set(thing.id, number);
      this.tell(`${thing.kind} ${thing.id}`, told(thing, number, done), done);
      this.draw();
    },

    // Handles and points.
    thing(shown) {
      return this.state.things.find((thing) => thing.kind === shown.kind && thing.id === shown.id);
    },

    take(event, shown) {
      const thing = this.thing(shown);
      this.pick(shown.id);
      event.currentTarget.focus({ preventScroll: true });
      if (!thing || thing.locked || event.button !== 0) return;
      event.currentTarget.setPointerCapture(event.pointerId);
      thing.held = { x: thing.x, y: thing.y, q: thing.q, grip: this.grip(event, shown), moved: false };
      this.draw();
    },

    grip(event, shown) {
      const { left, top } = this.$refs.plot.getBoundingClientRect();
      return [event.clientX - left - shown.px, event.clientY - top - shown.py];
    },

    carry(event, shown) {
      const thing = this.thing(shown);
      if (!thing?.held) return;
      event.stopPropagation();
      const { left, top } = this.$refs.plot.getBoundingClientRect();
      const [frame] = this.place.frames;
      const [gripX, gripY] = thing.held.grip;
      const px = Math.min(Math.max(event.clientX - left - gripX, frame.left), frame.right);
      const py = Math.min(Math.max(event.clientY - top - gripY, frame.top), frame.bottom);
      moveThing(thing, frame.x.value(px), frame.y.value(py));
      thing.held.moved = true;
      this.pointer = null;
      this.cursor = thing.x; // the values of the curves there are what is looked at
      this.tellThing(thing, false);
    },

    drop(event, shown) {
      const thing = this.thing(shown);
      if (!thing?.held) return;
      const { moved } = thing.held;
      thing.held = null;
      if (moved) this.tellThing(thing, true); else this.draw();
    },

    nudge(event, shown) {
      const thing = this.thing(shown);
      if (!thing || event.ctrlKey || event.metaKey) return;
      const { axes } = this.state;
      const fine = event.shiftKey ? 0.2 : 1;
      const wide = axes.x.log ? 2 ** (fine / 24) : null;
      const tall = fine * (axes.y.unit === "dB" ? 0.5 : (axes.y.high - axes.y.low) / 100);
      const step = fine * (axes.x.high - axes.x.low) / 200;
      const aside = (sign) => (wide ? thing.x * wide ** sign : thing.x + sign * step);
      const keys = {
        ArrowLeft: () => moveThing(thing, aside(-1), thing.y), ArrowRight: () => moveThing(thing, aside(1), thing.y),
        ArrowUp: () => moveThing(thing, thing.x, thing.y + tall), ArrowDown: () => moveThing(thing, thing.x, thing.y - tall),
        "[": () => turnQ(thing, 1 / 1.1), "]": () => turnQ(thing, 1.1),
      };
      if (event.key === "Escape" && thing.held) {
        const { x, y, q } = thing.held;
        Object.assign(thing, { x, y, q, held: null });
        this.tellThing(thing, true);
      } else if (event.key === "Delete" && !thing.locked && this.hears.has("remove")) {
        this.$emit("desk-remove", { kind: "remove", id: thing.id });
      } else if (keys[event.key] && !thing.locked) {
        keys[event.key]();
        this.tellThing(thing, false);
        this.rest(thing);
      } else return;
      event.preventDefault();
      event.stopPropagation();
    },

    rest(thing) {
      clearTimeout(thing.resting);
      thing.resting = setTimeout(() => { if (!thing.held) this.tellThing(thing, true); }, REST_MS);
    },

    // Pointer on the graph: crosshair, pan, box, two fingers.
    spot(event) {
      const { left, top } = this.$refs.plot.getBoundingClientRect();
      return [event.clientX - left, event.clientY - top];
    },

    press(event) {
      if (!this.place || event.button > 1) return;
      const [px, py] = this.spot(event);
      if (event.altKey) { this.addAt(px, py); return; }
      this.$refs.plot.setPointerCapture(event.pointerId);
      this.fingers.set(event.pointerId, [px, py]);
      this.start = { px, py, view: structuredClone(this.state.view), box: this.boxing || event.shiftKey, moved: false };
    },

    addAt(px, py) {
      const frame = this.frameAt(py);
      if (!frame || frame.panel || !this.hears.has("add")) return;
      this.$emit("desk-add", { kind: "add", x: frame.x.value(px), y: frame.y.value(py) });
    },

    hover(event) {
      if (!this.place) return;
      const [px, py] = this.spot(event);
      const [frame] = this.place.frames;
      if (this.fingers.size === 2 && this.fingers.has(event.pointerId)) { this.pinch(event.pointerId, px, py); return; }
      const inside = px >= frame.left && px <= frame.right && py >= frame.top && py <= this.place.floor;
      this.pointer = inside ? [px, py] : null;
      if (this.fingers.size === 1 && this.start) this.dragged(px, py);
      else if (inside) this.findNear(px, py);
      this.setCursor(inside ? frame.x.value(px) : null);
    },

    dragged(px, py) {
      const { start } = this;
      if (!start.moved && Math.hypot(px - start.px, py - start.py) < 4) return;
      start.moved = true;
      if (start.box) {
        this.box = [Math.min(px, start.px), Math.min(py, start.py), Math.abs(px - start.px), Math.abs(py - start.py)];
        return;
      }
      this.panning = true;
      this.state.moving = true;
      const [frame] = this.place.frames;
      const onAxisX = start.py > this.place.floor;
      const onAxisY = start.px < frame.left;
      if (!onAxisY) this.moveView("x", start.view.x, (start.px - px) / (frame.right - frame.left));
      const held = this.frameAt(Math.min(Math.max(start.py, frame.top), this.place.floor)) ?? frame;
      if (!onAxisX) this.moveView(held.panel ? "lower" : "y", start.view[held.panel ? "lower" : "y"], (py - start.py) / (held.bottom - held.top));
      this.draw();
    },

    moveView(part, from, share) {
      this.state.view[part] = panned(this.state.axes[part], from, share, part === "x" ? reach(this.state) : null);
    },

    zoomView(part, factor, centre) {
      this.state.view[part] = zoomed(this.state.axes[part], this.state.view[part], factor, centre, part === "x" ? reach(this.state) : null);
    },

    release(event) {
      this.fingers.delete(event.pointerId);
      const { start, box } = this;
      if (!start) return;
      if (box && box[2] > 6 && box[3] > 6) this.zoomBox(box);
      else if (!start.moved && event.type === "pointerup" && this.state.near) this.choose(this.state.near);
      this.start = null;
      this.box = null;
      this.boxing = false;
      this.panning = false;
      this.state.moving = false;
      this.draw();
    },

    zoomBox([left, top, width, height]) {
      const frame = this.frameAt(top + height / 2) ?? this.place.frames[0];
      this.state.view.x = [frame.x.value(Math.max(left, frame.left)), frame.x.value(Math.min(left + width, frame.right))];
      this.state.view[frame.panel ? "lower" : "y"] = [frame.y.value(Math.min(top + height, frame.bottom)), frame.y.value(Math.max(top, frame.top))];
    },

    pinch(id, px, py) {
      const spread = () => {
        const [[ax, ay], [bx, by]] = [...this.fingers.values()];
        return { wide: Math.max(Math.abs(ax - bx), 20), tall: Math.max(Math.abs(ay - by), 20), x: (ax + bx) / 2, y: (ay + by) / 2 };
      };
      const before = spread();
      this.fingers.set(id, [px, py]);
      const after = spread();
      const frame = this.frameAt(before.y) ?? this.place.frames[0];
      this.zoomView("x", before.wide / after.wide, frame.x.value(before.x));
      this.zoomView(frame.panel ? "lower" : "y", before.tall / after.tall, frame.y.value(before.y));
      if (this.start) this.start.moved = true;
      this.draw();
    },

    leave() {
      if (this.fingers.size) return;
      this.pointer = null;
      this.state.near = null;
      this.setCursor(null);
      this.draw();
    },

    doubled(event) {
      if (!event.altKey) this.reset_view();
    },

    wheel(event) {
      if (!this.place || event.target.closest(".rg-values")) return;
      event.preventDefault();
      const factor = Math.exp(Math.max(-60, Math.min(60, event.deltaY || event.deltaX)) / 300);
      const over = event.target.closest(".rg-thing");
      const shown = over && this.things.find((thing) => thing.id === over.dataset.id && thing.kind === "point");
      if (shown) {
        const thing = this.thing(shown);
        turnQ(thing, 1 / factor);
        this.tellThing(thing, false);
        this.rest(thing);
        return;
      }
      const [px, py] = this.spot(event);
      const frame = this.frameAt(py) ?? this.place.frames[0];
      if (event.shiftKey || px < frame.left) this.zoomView(frame.panel ? "lower" : "y", factor, frame.y.value(py));
      else this.zoomView("x", factor, frame.x.value(Math.min(Math.max(px, frame.left), frame.right)));
      this.state.moving = true;
      clearTimeout(this.settle);
      this.settle = setTimeout(() => { this.state.moving = false; this.draw(); }, 150);
      this.setCursor(px >= frame.left && px <= frame.right ? this.place.frames[0].x.value(px) : null);
      this.draw();
    },

    // Vertical limits that hold what is seen of the curves.
    fit() {
      if (!this.state.axes) return;
      const [from, to] = this.state.view.x;
      for (const panel of this.state.axes.lower ? [0, 1] : [0]) {
        let low = Infinity;
        let high = -Infinity;
        for (const curve of this.state.curves) {
          if (curve.panel !== panel) continue;
          for (let index = 0; index < curve.x.length; index += 1) {
            if (curve.x[index] >= from && curve.x[index] <= to && Number.isFinite(curve.y[index])) {
              low = Math.min(low, curve.y[index]);
              high = Math.max(high, curve.y[index]);
            }
          }
        }
        const axis = yAxis(this.state, panel);
        if (low > high || axis.turns) continue;
        const air = 0.06 * (high - low) || 1;
        this.state.view[panel ? "lower" : "y"] = [low - air, high + air];
      }
      this.draw();
    },

    key(event) {
      if (!this.place || event.ctrlKey || event.metaKey || event.target !== this.$refs.plot) return;
      const { axes, view } = this.state;
      const centre = () => this.cursor ?? stepped(axes.x, view.x, view.x[0], 0.5);
      const shift = event.shiftKey;
      const along = (sign) => () => {
        this.setCursor(stepped(axes.x, view.x, centre(), sign * (shift ? 0.05 : 0.005)));
        this.speak();
      };
      const middle = () => (view.y[0] + view.y[1]) / 2;
      const keys = {
        ArrowLeft: along(-1), ArrowRight: along(1),
        ArrowUp: () => this.moveView("y", view.y, 0.1), ArrowDown: () => this.moveView("y", view.y, -0.1),
        PageUp: () => this.moveView("x", view.x, -0.5), PageDown: () => this.moveView("x", view.x, 0.5),
        "+": () => this.zoomView("x", 0.8, centre()), "=": () => this.zoomView("x", 0.8, centre()),
        "-": () => this.zoomView("x", 1.25, centre()),
        ">": () => this.zoomView("y", 0.8, middle()), "<": () => this.zoomView("y", 1.25, middle()),
        Home: () => this.reset_view(), f: () => this.fit(), v: () => { this.open = !this.open; },
        z: () => { this.boxing = !this.boxing; },
        a: () => this.hears.has("add") && this.$emit("desk-add", { kind: "add", x: centre(), y: middle() }),
        Escape: () => { this.open = false; this.boxing = false; this.setCursor(null); },
      };
      if (!keys[event.key]) return;
      keys[event.key]();
      this.draw();
      event.preventDefault();
      event.stopPropagation();
    },

    speak() {
      const read = this.values().slice(0, 6).map(({ curve, text }) => `${curve.label} ${text}`);
      this.heard = `${reading(this.state.axes.x, this.cursor)}: ${read.join("; ")}`;
    },
  },
};
