// Plan, side or front view of a room. Dragging happens here; the server is told of throttled
// places and answers with a new view.

const GRID_M = 0.05;
const FINE_M = 0.01;
const NEAR_M = 0.09; // snaps within this
const FROM_WALL_M = { loudspeaker: 0.15, height: 0.15, subwoofer: 0.3 };
const RING_M = [1.15, 0.87, 0.6];
const KEY_PAUSE_MS = 450;
const PENDING_MS = 4000;
const AXES = { plan: [0, 1], side: [1, 2], front: [0, 2] };

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
.rw-plan .item.movable { cursor: grab; }
.rw-plan .item.dragged { cursor: grabbing; }
.rw-plan .item .ringed { fill: none; stroke: none; }
.rw-plan .item:focus-visible .ringed { stroke: var(--focus); stroke-width: 2.5; }
.rw-plan .item.chosen .ringed { stroke: var(--ink); stroke-width: 1.5; stroke-dasharray: 3 2; }
.rw-plan .item.chosen:focus-visible .ringed { stroke: var(--focus); stroke-dasharray: none; }
`;

function addStyle() {
  if (document.getElementById("rw-plan-style")) return;
  const style = document.createElement("style");
  style.id = "rw-plan-style";
  style.textContent = STYLE;
  document.head.appendChild(style);
}

// Dark to light, even steps of lightness, legible with any colour vision and in greyscale.
const RAMP = [[12, 34, 76], [58, 78, 108], [112, 113, 115], [165, 154, 108], [220, 198, 88],
  [254, 233, 96]];

function rampColour(share) {
  const place = Math.min(Math.max(share, 0), 1) * (RAMP.length - 1);
  const low = Math.min(Math.floor(place), RAMP.length - 2);
  const part = place - low;
  return RAMP[low].map((value, band) => Math.round(value + part * (RAMP[low + 1][band] - value)));
}

function nearestOnEdge(point, a, b) {
  const [ex, ey] = [b[0] - a[0], b[1] - a[1]];
  const along = ((point[0] - a[0]) * ex + (point[1] - a[1]) * ey) / (ex * ex + ey * ey);
  const held = Math.min(Math.max(along, 0), 1);
  return [a[0] + held * ex, a[1] + held * ey];
}

function isInside(point, outline) {
  let inside = false;
  for (let i = 0, j = outline.length - 1; i < outline.length; j = i++) {
    const [xi, yi] = outline[i], [xj, yj] = outline[j];
    if (yi > point[1] !== yj > point[1]
        && point[0] < ((xj - xi) * (point[1] - yi)) / (yj - yi) + xi) inside = !inside;
  }
  return inside;
}

const round = (value, step) => Math.round(value / step) * step;
const tidy = (value) => Math.round(value * 1000) / 1000;

export default {
  template: `
<div class="rw-plan" :data-plane="plane">
  <svg ref="svg" :width="width" :height="height" role="group" :aria-label="name"
       @pointermove="pointerMoves" @pointerup="pointerLeaves" @pointercancel="cancel"
       @pointerdown.self="choose('')">
    <clipPath :id="clip"><polygon :points="outlinePoints"/></clipPath>
    <polygon :points="outlinePoints" fill="var(--floor)" @pointerdown="choose('')"/>
    <image v-if="mapImage && plane === 'plan'" :href="mapImage" v-bind="mapPlace"
           preserveAspectRatio="none" pointer-events="none"/>
    <line v-if="plane !== 'side'" v-bind="centreLine" stroke="var(--line)"
          stroke-dasharray="1 5" pointer-events="none"/>
    <polygon :points="outlinePoints" fill="none" stroke="var(--ink)" stroke-width="2"
             stroke-linejoin="miter" pointer-events="none"/>
    <g v-if="plane === 'plan'" pointer-events="none">
      <path v-if="wedge" :d="wedge" :clip-path="'url(#' + clip + ')'" fill="var(--accent)" fill-opacity=".14"
            stroke="var(--accent)" stroke-opacity=".55"/>
      <g v-for="arc in arcs" :key="arc.id">
        <path :d="arc.path" fill="none" stroke="var(--accent)" stroke-width="5"
              :stroke-opacity="arc.chosen ? 1 : .38"/>
        <path v-if="arc.within" :d="arc.dot" fill="var(--accent)" stroke="var(--floor)"/>
        <path v-else :d="arc.dot" fill="var(--warn)" stroke="var(--floor)"/>
      </g>
      <line v-if="ray" v-bind="ray" stroke="var(--ink)" stroke-width="1.2"
            stroke-dasharray="5 3"/>
    </g>
    <g v-else pointer-events="none">
      <line v-for="span in spans" :key="span.id" v-bind="span.line" stroke="var(--accent)"
            :stroke-width="span.chosen ? 9 : 5" :stroke-opacity="span.chosen ? .5 : .22"
            stroke-linecap="round"/>
    </g>
    <g v-for="(path, i) in drawnPaths" :key="'path' + i" pointer-events="none">
      <polyline :points="path.points" fill="none" stroke="var(--unit)"
                :stroke-width="path.faint ? 1.6 : 2.6" :stroke-dasharray="path.faint ? '7 3' : ''"/>
    </g>
    <line v-for="(guide, i) in guides" :key="'guide' + i" v-bind="guide" stroke="var(--focus)"
          stroke-width="1" stroke-dasharray="4 3" pointer-events="none"/>
    <g v-for="item in drawn" :key="item.kind + item.id" :class="item.classes"
       :transform="item.move" :tabindex="item.id === tabStop ? 0 : -1" role="button"
       :aria-pressed="item.id === chosen" :aria-label="item.says" :data-id="item.id"
       @pointerdown="grab($event, item)" @keydown="keyed($event, item)" @focus="focused(item)">
      <title>{{ item.says }}</title>
      <circle r="15" fill="transparent"/>
      <g v-if="item.kind === 'seat'">
        <path v-if="plane === 'plan'" :d="seatShape(item)" stroke="var(--muted)"
              :fill="item.main ? 'var(--mainseat)' : 'var(--seat)'"
              :stroke-width="item.main ? 2 : 1"/>
        <g v-else><line x1="0" y1="0" x2="0" :y2="item.toFloor" stroke="var(--line)"/>
          <circle r="5" :fill="item.main ? 'var(--mainseat)' : 'var(--seat)'"
                  stroke="var(--muted)" :stroke-width="item.main ? 2 : 1"/></g>
        <circle v-if="item.main" r="2.4" fill="var(--ink)"/>
      </g>
      <g v-else-if="item.kind === 'subwoofer'">
        <rect x="-7" y="-7" width="14" height="14" rx="1.5" fill="var(--floor)"
              stroke="var(--sub)" stroke-width="2"/>
        <circle r="3.6" fill="var(--sub)"/></g>
      <g v-else-if="item.kind === 'station'">
        <path v-if="item.mark === 'doubt'" d="M0-7 6.5 5H-6.5Z" fill="var(--floor)"
              stroke="var(--warn)" stroke-width="2"/>
        <circle v-else r="5.5" :fill="item.mark === 'done' ? 'var(--accent)' : 'var(--floor)'"
                stroke="var(--accent)" stroke-width="2"
                :stroke-dasharray="item.mark === 'missing' ? '3 2' : ''"/>
        <path v-if="item.mark === 'done'" d="M-2.6 0-.6 2.2 2.8-2" fill="none"
              stroke="var(--floor)" stroke-width="1.5"/></g>
      <g v-else :transform="'rotate(' + item.turn + ')'">
        <path d="M-6-5H1L7-8V8L1 5H-6Z" stroke="var(--unit)" stroke-width="1.8"
              stroke-linejoin="round"
              :fill="item.kind === 'height' ? 'var(--floor)' : 'var(--unit)'"/></g>
      <circle class="ringed" :r="item.kind === 'seat' && plane === 'plan' ? seatHalf + 4 : 13"/>
      <path v-if="item.mark === 'out'" d="M9-17 16-5H2Z" fill="var(--warn)"
            stroke="var(--floor)" stroke-width="1.5"/>
    </g>
    <g pointer-events="none" aria-hidden="true">
      <text v-for="text in texts" :key="text.key" :x="text.x" :y="text.y" text-anchor="middle"
            :class="['halo', text.kind]" :font-weight="text.bold ? 650 : 400">{{ text.says }}</text>
      <text v-if="plane === 'plan'" :x="middle" :y="top - 7" text-anchor="middle"
            class="muted">front wall</text>
      <text v-if="plane === 'side'" :x="left - 14" :y="(top + bottom) / 2" text-anchor="middle"
            class="muted" :transform="'rotate(-90 ' + (left - 14) + ' ' + (top + bottom) / 2 + ')'"
            >front wall</text>
      <g :transform="'translate(' + left + ' ' + (height - 25) + ')'">
        <path :d="'M0-4V4M0 0H' + bar + 'M' + bar + '-4V4'" stroke="var(--muted)" fill="none"/>
        <text :x="bar + 6" y="4" class="muted">{{ units === 'ft' ? '3 ft' : '1 m' }}</text></g>
      <text v-if="readout" :x="width / 2" :y="height - 7" text-anchor="middle">{{ readout }}</text>
    </g>
  </svg>
</div>`,
  props: {
    view: Object, plane: String, name: String, units: String, chosen: String, readout: String,
    map: Object, paths: Array, together: Boolean,
  },
  emits: ["choose", "move", "drop", "webgl"],
  data() {
    return { width: 300, height: 300, drag: null, moved: null, pending: null, guideLines: [],
      lastFocus: "", clip: `rw-plan-${Math.random().toString(36).slice(2)}` };
  },
  mounted() {
    addStyle();
    this.observer = new ResizeObserver(() => this.measure());
    this.observer.observe(this.$el);
    this.measure();
    this.$emit("webgl", { drawn: Boolean(document.createElement("canvas").getContext("webgl2")) });
    this.escape = (event) => { if (event.key === "Escape" && this.drag) this.cancel(); };
    window.addEventListener("keydown", this.escape);
  },
  unmounted() {
    this.observer.disconnect();
    window.removeEventListener("keydown", this.escape);
    clearTimeout(this.keyTimer);
    clearTimeout(this.pendingTimer);
  },
  beforeUpdate() {
    const focused = document.activeElement;
    this.focusedId = this.$el.contains(focused) ? focused.dataset.id : null;
  },
  updated() {
    // Items are put in another order when one is chosen, and a moved element loses its focus.
    if (this.focusedId && !this.$el.contains(document.activeElement)) this.focusOn(this.focusedId);
  },
  watch: {
    view() { if (!this.drag && !this.keyTimer) this.pending = null; },
  },
  computed: {
    axes() { return AXES[this.plane]; },
    bounds() {
      const xs = this.view.outline_m.map((c) => c[0]), ys = this.view.outline_m.map((c) => c[1]);
      const low = [Math.min(...xs), Math.min(...ys), 0];
      const high = [Math.max(...xs), Math.max(...ys), this.view.height_m];
      return { low, high };
    },
    scale() {
      const [a, b] = this.axes, { low, high } = this.bounds;
      const across = high[a] - low[a], down = high[b] - low[b];
      const margin = { x: this.plane === "plan" ? 16 : 30, top: 24, bottom: 40 };
      const perM = Math.max(1, Math.min((this.width - 2 * margin.x) / across,
        (this.height - margin.top - margin.bottom) / down));
      const left = (this.width - across * perM) / 2;
      const top = margin.top
        + (this.height - margin.top - margin.bottom - down * perM) / 2;
      return { perM, left, top, across, down };
    },
    left() { return this.scale.left; },
    top() { return this.scale.top; },
    bottom() { return this.top + this.scale.down * this.scale.perM; },
    middle() { return this.left + (this.scale.across * this.scale.perM) / 2; },
    bar() { return (this.units === "ft" ? 0.9144 : 1) * this.scale.perM; },
    seatHalf() { return Math.max(7, 0.26 * this.scale.perM); },
    centre() { return (this.bounds.low[0] + this.bounds.high[0]) / 2; },
    centreLine() {
      const { low, high } = this.bounds;
      const [x1, y1] = this.at([this.centre, low[1], low[2]]);
      const [x2, y2] = this.at([this.centre, high[1], high[2]]);
      return { x1, y1, x2, y2 };
    },
    outline() {
      const { low, high } = this.bounds, [a, b] = this.axes;
      const corners = this.plane === "plan" ? this.view.outline_m
        : [[low[a], low[b]], [high[a], low[b]], [high[a], high[b]], [low[a], high[b]]];
      return corners.map((corner) => {
        const point = [0, 0, 0];
        [point[a], point[b]] = corner;
        return this.at(point);
      });
    },
    outlinePoints() { return this.outline.map((corner) => corner.join(",")).join(" "); },
    override() { return this.drag || this.pending; },
    drawn() {
      const floor = this.at([0, 0, 0])[1];
      const items = this.view.items.map((item) => {
        const place = this.place(item), [x, y] = this.at(place);
        const aim = item.aim_m ? this.at(item.aim_m) : [x, y + 1];
        const isDragged = this.drag && this.drag.id === item.id && this.drag.kind === item.kind;
        return { ...item, place, x, y, move: `translate(${x} ${y})`, toFloor: floor - y,
          turn: (Math.atan2(aim[1] - y, aim[0] - x) * 180) / Math.PI,
          says: [item.label, this.kindWord(item), item.note, item.badge].filter(Boolean)
            .join(", "),
          classes: { item: true, movable: item.movable, chosen: item.id === this.chosen,
            dragged: isDragged } };
      });
      const away = [0, 1, 2].find((axis) => !this.axes.includes(axis));
      const nearer = this.plane === "plan" ? 1 : -1;
      const rank = (item) => (item.id === this.chosen ? 2 : item.kind === "seat" ? 0 : 1);
      return items.sort((p, q) => rank(p) - rank(q)
        || nearer * (p.place[away] - q.place[away]));
    },
    tabStop() {
      const ids = this.view.items.map((item) => item.id);
      if (ids.includes(this.chosen)) return this.chosen;
      return ids.includes(this.lastFocus) ? this.lastFocus : ids[0] || "";
    },
    texts() {
      const taken = this.drawn.map((item) => this.boxOf(item.x, item.y,
        item.kind === "seat" && this.plane === "plan" ? this.seatHalf : 8));
      for (const { x, y, mark } of this.drawn) {
        if (mark === "out") taken.push([x + 2, y - 17, x + 16, y - 5]);
      }
      if (this.plane === "plan") {
        taken.push([this.middle - 30, this.top - 18, this.middle + 30, this.top - 4]);
      }
      const groups = new Map();
      for (const item of this.drawn) {
        if (item.kind === "seat" && !this.namesSeat(item)) continue;
        const key = `${Math.round(item.x / 5)}:${Math.round(item.y / 5)}:${item.kind === "seat"}`;
        if (!groups.has(key)) groups.set(key, []);
        groups.get(key).push(item);
      }
      const texts = [];
      for (const [key, items] of groups) {
        const first = items.find((item) => item.id === this.chosen) || items[0];
        const labels = items.map((item) => item.label);
        const more = labels.length > 2 ? ` +${labels.length - 1}` : "";
        const says = labels.length > 2 ? first.label + more : labels.join(" / ");
        const warned = items.find((item) => item.mark === "out");
        const lines = [[says, first.main || first.id === this.chosen ? "bold" : ""]];
        if (warned) {
          const isChosen = warned.id === this.chosen;
          lines.push([isChosen ? warned.note : "out of range", "warn"]);
        }
        if (first.badge) lines.push([first.badge, "muted"]);
        const longest = Math.max(...lines.map(([line]) => line.length));
        const spot = this.freeSpot(first, 3 + 3 * longest, 6.5 * lines.length, taken);
        taken.push(spot);
        lines.forEach(([line, kind], n) => texts.push({ key: key + n, says: line, kind,
          x: (spot[0] + spot[2]) / 2, y: spot[1] + 10.5 + 13 * n, bold: kind === "bold" }));
      }
      for (const path of this.drawnPaths) {
        if (!path.label) continue;
        const spot = this.freeSpot({ x: path.x, y: path.y }, 3 + 3 * path.label.length, 6.5, taken);
        taken.push(spot);
        texts.push({ key: path.label + path.x, says: path.label, kind: "muted",
          x: (spot[0] + spot[2]) / 2, y: spot[1] + 10.5 });
      }
      return texts;
    },
    arcs() {
      if (!this.view.seat_m) return [];
      return this.view.sectors.map((sector) => {
        const [low, high] = sector.azimuth_range_deg;
        const radius = RING_M[sector.ring] * this.scale.perM;
        const spare = Math.max(0, 1.6 - (high - low) / 2);
        const [x, y] = this.around(sector.azimuth_deg, radius);
        const dot = sector.within ? `M${x - 4} ${y}a4 4 0 1 0 8 0a4 4 0 1 0-8 0Z`
          : `M${x} ${y - 6}L${x + 6} ${y + 5}H${x - 6}Z`;
        return { id: sector.id, within: sector.within, dot, chosen: sector.id === this.chosen,
          path: this.arc(low - spare, high + spare, radius) };
      });
    },
    chosenSector() {
      return this.view.sectors.find((sector) => sector.id === this.chosen);
    },
    wedge() {
      if (!this.chosenSector || !this.view.seat_m) return "";
      const [low, high] = this.chosenSector.azimuth_range_deg;
      if (high - low > 350) return "";
      const item = this.view.items.find((one) => one.id === this.chosen);
      const reach = item ? this.flatDistance(this.place(item), this.view.seat_m) + 0.35 : 2;
      const spare = Math.max(0, 1 - (high - low) / 2);
      const [x, y] = this.at(this.view.seat_m);
      return `M${x} ${y}L${this.arc(low - spare, high + spare, reach * this.scale.perM).slice(1)}Z`;
    },
    ray() {
      const item = this.view.items.find((one) => one.id === this.chosen);
      if (!item || !this.view.seat_m || !this.chosenSector) return null;
      const [x1, y1] = this.at(this.view.seat_m), [x2, y2] = this.at(this.place(item));
      return { x1, y1, x2, y2 };
    },
    spans() {
      if (this.plane !== "side") return [];
      const places = new Map(this.view.items.map((item) => [item.id, this.place(item)]));
      return this.view.sectors.filter((sector) => places.has(sector.id)).map((sector) => {
        const place = places.get(sector.id);
        const [x1, y1] = this.at([place[0], place[1], sector.heights_m[0]]);
        const [x2, y2] = this.at([place[0], place[1], sector.heights_m[1] + 1e-4]);
        return { id: sector.id, chosen: sector.id === this.chosen, line: { x1, y1, x2, y2 } };
      });
    },
    drawnPaths() {
      return (this.paths || []).map((path) => {
        const points = path.points_m.map((point) => this.at(point));
        const [x, y] = points[Math.floor((points.length - 1) / 2)] || [0, 0];
        const corner = points.length > 2 ? points[1] : [x, y];
        return { points: points.map((point) => point.join(",")).join(" "), faint: path.faint,
          label: path.label, x: corner[0], y: corner[1] };
      });
    },
    mapImage() {
      if (!this.map) return "";
      const rows = this.map.levels_db, canvas = document.createElement("canvas");
      canvas.height = rows.length;
      canvas.width = rows[0].length;
      const context = canvas.getContext("2d");
      const image = context.createImageData(canvas.width, canvas.height);
      const span = this.map.high_db - this.map.low_db || 1;
      rows.flat().forEach((level, n) => {
        const missing = level === null;
        const colour = missing ? [0, 0, 0] : rampColour((level - this.map.low_db) / span);
        image.data.set([...colour, missing ? 0 : 255], 4 * n);
      });
      context.putImageData(image, 0, 0);
      return canvas.toDataURL();
    },
    mapPlace() {
      const [x, y] = this.at([...this.map.corner_m, 0]);
      return { x, y, width: this.map.size_m[0] * this.scale.perM,
        height: this.map.size_m[1] * this.scale.perM };
    },
    guides() {
      const { low, high } = this.bounds;
      return this.guideLines.filter(({ axis }) => this.axes.includes(axis))
        .map(({ axis, value }) => {
          const from = [...low], to = [...high];
          from[axis] = to[axis] = value;
          const [x1, y1] = this.at(from), [x2, y2] = this.at(to);
          return { x1, y1, x2, y2 };
        });
    },
  },
  methods: {
    measure() {
      const box = this.$el.getBoundingClientRect();
      if (box.width && box.height) [this.width, this.height] = [box.width, box.height];
    },
    at(point) {
      const [a, b] = this.axes, { low, high } = this.bounds, { perM, left, top } = this.scale;
      const down = this.plane === "plan" ? point[b] - low[b] : high[b] - point[b];
      return [left + (point[a] - low[a]) * perM, top + down * perM];
    },
    fromPixels(x, y, place) {
      const [a, b] = this.axes, { low, high } = this.bounds, { perM, left, top } = this.scale;
      const point = [...place];
      point[a] = low[a] + (x - left) / perM;
      point[b] = this.plane === "plan" ? low[b] + (y - top) / perM : high[b] - (y - top) / perM;
      return point;
    },
    place(item) {
      const over = this.override;
      return over && over.id === item.id && over.kind === item.kind ? over.place
        : item.position_m;
    },
    kindWord(item) {
      return { loudspeaker: "loudspeaker", height: "height loudspeaker", seat: "seat",
        subwoofer: "subwoofer", station: "station" }[item.kind];
    },
    flatDistance(p, q) { return Math.hypot(p[0] - q[0], p[1] - q[1]); },
    around(azimuth_deg, radius) {
      const [x, y] = this.at(this.view.seat_m), angle = (azimuth_deg * Math.PI) / 180;
      return [x - radius * Math.sin(angle), y - radius * Math.cos(angle)];
    },
    arc(low, high, radius) {
      if (high - low >= 360) [low, high] = [-179.9, 179.9];
      const [x1, y1] = this.around(high, radius), [x2, y2] = this.around(low, radius);
      return `M${x1} ${y1}A${radius} ${radius} 0 ${high - low > 180 ? 1 : 0} 1 ${x2} ${y2}`;
    },
    seatShape() {
      const h = this.seatHalf;
      return `M${-h} ${-0.55 * h}Q${-h} ${-h} ${-0.55 * h} ${-h}H${0.55 * h}Q${h} ${-h} ${h} `
        + `${-0.55 * h}V${0.9 * h}H${-h}Z`;
    },
    namesSeat(item) {
      if (this.plane !== "plan") return false;
      return this.scale.perM > 44 || item.main || item.id === this.chosen;
    },
    boxOf(x, y, half) { return [x - half, y - half, x + half, y + half]; },
    freeSpot(item, halfWidth, halfHeight, taken) {
      let best = null, least = Infinity;
      const reach = item.kind === "seat" && this.plane === "plan" ? 0 : 10;
      if (item.kind === "seat" && this.plane === "plan") {
        const y = item.y + this.seatHalf + halfHeight;
        return [item.x - halfWidth, y - halfHeight, item.x + halfWidth, y + halfHeight];
      }
      for (const ring of [1, 1.9, 2.9]) {
        for (let turn = 0; turn < 12; turn++) {
          const angle = Math.PI / 2 + (Math.PI / 6) * Math.ceil(turn / 2) * (turn % 2 ? 1 : -1);
          const x = item.x + Math.cos(angle) * (reach * ring + halfWidth);
          const y = item.y + Math.sin(angle) * (reach * ring + halfHeight);
          const box = [x - halfWidth, y - halfHeight, x + halfWidth, y + halfHeight];
          const outside = Math.max(0, 2 - box[0]) + Math.max(0, box[2] - this.width + 2)
            + Math.max(0, 2 - box[1]) + Math.max(0, box[3] - this.height + 20);
          const inside = [[0, 1], [2, 1], [0, 3], [2, 3]]
            .filter(([i, j]) => isInside([box[i], box[j]], this.outline)).length;
          let cost = 40 * outside + 6 * ring + turn + (inside % 4 ? 90 : inside ? 0 : 12);
          for (const other of taken) {
            const across = Math.min(box[2], other[2]) - Math.max(box[0], other[0]);
            const down = Math.min(box[3], other[3]) - Math.max(box[1], other[1]);
            if (across > 0 && down > 0) cost += across * down;
          }
          if (cost < least) [best, least] = [box, cost];
        }
      }
      return best;
    },
    choose(id) { if (id !== this.chosen) this.$emit("choose", { id }); },
    focused(item) { this.lastFocus = item.id; },
    grab(event, item) {
      if (event.button) return;
      event.currentTarget.focus({ preventScroll: true });
      this.wasChosen = item.id === this.chosen;
      this.choose(item.id);
      if (!item.movable) return;
      const box = this.$refs.svg.getBoundingClientRect();
      this.start = { x: event.clientX, y: event.clientY,
        dx: event.clientX - box.left - item.x, dy: event.clientY - box.top - item.y,
        place: [...item.place] };
      this.drag = { id: item.id, kind: item.kind, twin: item.twin, place: [...item.place] };
      this.moved = false;
      this.$refs.svg.setPointerCapture(event.pointerId);
      event.preventDefault();
    },
    pointerMoves(event) {
      if (!this.drag) return;
      const far = Math.hypot(event.clientX - this.start.x, event.clientY - this.start.y);
      if (!this.moved && far < 3) return;
      this.moved = true;
      const box = this.$refs.svg.getBoundingClientRect();
      const wanted = this.fromPixels(event.clientX - box.left - this.start.dx,
        event.clientY - box.top - this.start.dy, this.drag.place);
      const place = this.snapped(wanted, this.drag, event.altKey);
      this.drag = { ...this.drag, place };
      this.tell("move", this.drag);
    },
    pointerLeaves(event) {
      if (!this.drag) return;
      const dropped = this.drag;
      this.drag = null;
      this.guideLines = [];
      if (this.moved) this.dropped(dropped);
      else if (this.wasChosen) this.chooseBeneath(event, dropped.id);
    },
    chooseBeneath(event, id) {
      const found = document.elementsFromPoint(event.clientX, event.clientY)
        .map((element) => element.closest(".item"))
        .filter((item) => item && this.$el.contains(item)).map((item) => item.dataset.id);
      const ids = [...new Set(found)];
      if (ids.length > 1) this.choose(ids[(ids.indexOf(id) + 1) % ids.length]);
    },
    dropped(item) {
      this.pending = item;
      clearTimeout(this.pendingTimer);
      this.pendingTimer = setTimeout(() => { this.pending = null; }, PENDING_MS);
      this.tell("drop", item);
    },
    cancel() {
      const dragged = this.drag;
      this.drag = null;
      this.guideLines = [];
      if (dragged && this.moved) this.tell("drop", { ...dragged, place: this.start.place });
    },
    tell(event, { id, kind, place }) {
      const [x, y, z] = place.map(tidy);
      this.$emit(event, { id, kind, x, y, z });
    },
    snapped(wanted, item, free) {
      const place = [...wanted], guides = [];
      for (const axis of this.axes) place[axis] = round(place[axis], free ? FINE_M : GRID_M);
      if (!free) {
        for (const { axis, value } of this.targets(item)) {
          if (this.axes.includes(axis) && Math.abs(wanted[axis] - value) < NEAR_M) {
            place[axis] = value;
            guides.push({ axis, value });
          }
        }
        if (this.plane === "plan") this.toWalls(place, item);
      }
      this.guideLines = guides;
      return this.held(place);
    },
    targets(item) {
      const found = [{ axis: 0, value: this.centre }];
      const twin = this.view.items.find((one) => one.id === item.twin);
      if (twin && !this.together) {
        found.push({ axis: 0, value: 2 * this.centre - twin.position_m[0] });
        found.push({ axis: 1, value: twin.position_m[1] }, { axis: 2, value: twin.position_m[2] });
      }
      if (item.kind === "seat") {
        for (const other of this.view.items) {
          if (other.kind === "seat" && other.id !== item.id) {
            found.push({ axis: 1, value: other.position_m[1] });
          }
        }
      } else if (this.view.seat_m) {
        found.push({ axis: 2, value: this.view.seat_m[2] });
      }
      const gap = FROM_WALL_M[item.kind];
      if (gap) {
        found.push({ axis: 2, value: this.view.height_m - gap });
        if (this.plane !== "plan") {
          const { low, high } = this.bounds;
          for (const axis of [0, 1]) {
            found.push({ axis, value: low[axis] + gap }, { axis, value: high[axis] - gap });
          }
        }
      }
      return found;
    },
    toWalls(place, item) {
      const gap = FROM_WALL_M[item.kind], outline = this.view.outline_m;
      if (!gap) return;
      outline.forEach((a, n) => {
        const foot = nearestOnEdge(place, a, outline[(n + 1) % outline.length]);
        const apart = this.flatDistance(place, foot);
        if (apart < 1e-6 || Math.abs(apart - gap) > NEAR_M || !isInside(place, outline)) return;
        for (const axis of [0, 1]) {
          place[axis] = foot[axis] + ((place[axis] - foot[axis]) / apart) * gap;
        }
      });
    },
    held(place) {
      const outline = this.view.outline_m;
      place[2] = Math.min(Math.max(place[2], 0), this.view.height_m);
      if (isInside(place, outline)) return place;
      let best = place, least = Infinity;
      outline.forEach((a, n) => {
        const foot = nearestOnEdge(place, a, outline[(n + 1) % outline.length]);
        const apart = this.flatDistance(place, foot);
        if (apart < least) [best, least] = [[foot[0], foot[1], place[2]], apart];
      });
      return best;
    },
    keyed(event, item) {
      if (event.key === "Enter" || event.key === " ") {
        event.preventDefault();
        this.choose(item.id);
        return;
      }
      const [a, b] = this.axes, step = event.shiftKey ? FINE_M : GRID_M;
      const down = this.plane === "plan" ? 1 : -1;
      const steps = { ArrowLeft: [a, -step], ArrowRight: [a, step], ArrowUp: [b, -down * step],
        ArrowDown: [b, down * step], PageUp: [2, step], PageDown: [2, -step] }[event.key];
      if (!steps || event.ctrlKey || event.metaKey) return;
      event.preventDefault();
      if (event.altKey) return this.stepFocus(event.key === "ArrowRight"
        || event.key === "ArrowDown" ? 1 : -1, item);
      if (!item.movable) return;
      this.choose(item.id);
      const place = [...item.place];
      place[steps[0]] += steps[1];
      this.pending = { id: item.id, kind: item.kind, place: this.held(place) };
      this.tell("move", this.pending);
      clearTimeout(this.keyTimer);
      this.keyTimer = setTimeout(() => {
        this.keyTimer = null;
        this.dropped(this.pending);
      }, KEY_PAUSE_MS);
    },
    stepFocus(step, item) {
      const items = this.view.items, from = items.findIndex((one) => one.id === item.id);
      const next = items[(from + step + items.length) % items.length];
      this.focusOn(next.id);
    },
    focusOn(id) {
      const item = this.$el.querySelector(`[data-id="${CSS.escape(id)}"]`);
      if (item) item.focus({ preventScroll: true });
    },
  },
};
