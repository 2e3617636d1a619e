// What stands in the room: where it is drawn, in which order, and what is said of it.

export const items = {
  override() { return this.drag || this.pending; },
  drawn() {
    const floor = this.at([0, 0, 0])[1];
    const items = this.view.items.map((item) => {
      const place = this.place(item), [x, y] = this.at(place);
      const aim = item.aim_m ? this.at(item.aim_m) : [x, y + 1];
      const isDragged = this.drag && this.drag.id === item.id && this.drag.kind === item.kind;
      return { ...item, place, x, y, move: `translate(${x} ${y})`, toFloor: floor - y,
        turn: (Math.atan2(aim[1] - y, aim[0] - x) * 180) / Math.PI,
        says: [item.label, this.kindWord(item), item.note, item.badge === item.mark ? "" : item.badge]
          .filter(Boolean).join(", "),
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
  drawnPaths() {
    return (this.paths || []).map((path) => {
      const points = path.points_m.map((point) => this.at(point));
      const [x, y] = points[Math.floor((points.length - 1) / 2)] || [0, 0];
      const corner = points.length > 2 ? points[1] : [x, y];
      return { points: points.map((point) => point.join(",")).join(" "), faint: path.faint,
        label: path.label, x: corner[0], y: corner[1] };
    });
  },
};

export const placing = {
  place(item) {
    const over = this.override;
    return over && over.id === item.id && over.kind === item.kind ? over.place
      : item.position_m;
  },
  kindWord(item) {
    return { loudspeaker: "loudspeaker", height: "height loudspeaker", seat: "seat",
      subwoofer: "subwoofer", station: "station", clear: "box to keep clear",
      corner: "corner of a box to keep clear" }[item.kind];
  },
  seatShape() {
    const h = this.seatHalf;
    return `M${-h} ${-0.55 * h}Q${-h} ${-h} ${-0.55 * h} ${-h}H${0.55 * h}Q${h} ${-h} ${h} `
      + `${-0.55 * h}V${0.9 * h}H${-h}Z`;
  },
};
