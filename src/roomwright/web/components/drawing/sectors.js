// Allowed angles and heights, seen from the chosen seat.

const RING_M = [1.15, 0.87, 0.6];

export const sectors = {
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
};

export const turning = {
  around(azimuth_deg, radius) {
    const [x, y] = this.at(this.view.seat_m), angle = (azimuth_deg * Math.PI) / 180;
    return [x - radius * Math.sin(angle), y - radius * Math.cos(angle)];
  },
  arc(low, high, radius) {
    if (high - low >= 360) [low, high] = [-179.9, 179.9];
    const [x1, y1] = this.around(high, radius), [x2, y2] = this.around(low, radius);
    return `M${x1} ${y1}A${radius} ${radius} 0 ${high - low > 180 ? 1 : 0} 1 ${x2} ${y2}`;
  },
};
