// Between the room's metres and the drawing's pixels.

const AXES = { plan: [0, 1], side: [1, 2], front: [0, 2] };

export const scales = {
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
};

export const scaling = {
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
  flatDistance(p, q) { return Math.hypot(p[0] - q[0], p[1] - q[1]); },
};
