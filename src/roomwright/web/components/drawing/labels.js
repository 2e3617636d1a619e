// Names beside things: each where it covers least.
import { isInside } from "./outline.js";

export const labels = {
  texts() {
    const taken = this.drawn.map((item) => this.boxOf(item.x, item.y,
      item.kind === "seat" && this.plane === "plan" ? this.seatHalf : 8));
    for (const { x, y, mark } of this.drawn) {
      if (mark === "out") taken.push([x + 2, y - 17, x + 16, y - 5]);
    }
    if (this.plane === "plan") {
      taken.push([this.middle - 30, this.top - 18, this.middle + 30, this.top - 4]);
    } else {
      const half = (this.top + this.bottom) / 2;
      taken.push([this.left - 26, half - 34, this.left - 6, half + 34]);
    }
    const groups = new Map();
    for (const item of this.drawn) {
      if (item.kind === "corner" || (item.kind === "seat" && !this.namesSeat(item))) continue;
      if (!this.namesUnit(item)) continue;
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
};

export const labelling = {
  namesSeat(item) {
    if (this.plane !== "plan") return false;
    return this.scale.perM > 44 || item.main || item.id === this.chosen;
  },
  // Where a small plan is about the stations, the rest is named on hover and in the table.
  namesUnit(item) {
    if (this.plane !== "plan" || item.kind === "station" || this.scale.perM > 44) return true;
    return item.id === this.chosen || !this.view.items.some(({ kind }) => kind === "station");
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
};
