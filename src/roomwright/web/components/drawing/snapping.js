// Where something that is moved comes to rest: grid, twins, rows, walls, and never outside.
import { isInside, nearestOnEdge } from "./outline.js";
import { FINE_M, GRID_M } from "./steps.js";

const NEAR_M = 0.09; // snaps within this
const FROM_WALL_M = { loudspeaker: 0.15, height: 0.15, subwoofer: 0.3 };

const round = (value, step) => Math.round(value / step) * step;

export const guides = {
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
};

export const snapping = {
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
};
