// Boxes to keep clear of subwoofers, the one being drawn, and the places that are left.

const LEAST_PX = 6;

export const boxes = {
  drawnBoxes() {
    const moved = new Map(this.view.items.map((item) => [item.id, this.place(item)]));
    return (this.view.boxes || []).map((box) => {
      const middle = [0, 1].map((axis) => (box.from_m[axis] + box.to_m[axis]) / 2);
      const at = moved.get(`clear ${box.name}`) || middle;
      const by = [0, 1].map((axis) => at[axis] - middle[axis]);
      const corner = (number, place) => {
        const dragged = this.override && this.override.id === `corner ${number} ${box.name}`;
        return dragged ? this.override.place : [place[0] + by[0], place[1] + by[1]];
      };
      const [x1, y1] = corner(1, box.from_m), [x2, y2] = corner(2, box.to_m);
      return { name: box.name, ...this.rectangle([x1, y1, box.low_m], [x2, y2, box.high_m]) };
    });
  },
  drawnSpots() {
    return (this.view.spots || []).map((spot, n) => {
      const [x, y] = this.at(spot.position_m);
      return { key: n, x, y, chosen: spot.chosen };
    });
  },
  newBox() { return this.outlined ? this.rectangle(this.outlined.from, this.outlined.to) : null; },
};

export const boxing = {
  rectangle(from, to) {
    const [x1, y1] = this.at(from), [x2, y2] = this.at(to);
    return { x: Math.min(x1, x2), y: Math.min(y1, y2), width: Math.abs(x2 - x1),
      height: Math.abs(y2 - y1) };
  },
  floorPressed(event) {
    this.choose("");
    if (!this.outlining || event.button) return;
    const place = this.floorPlace(event);
    this.outlined = { from: place, to: place };
    this.$refs.svg.setPointerCapture(event.pointerId);
    event.preventDefault();
  },
  floorPlace(event) {
    const box = this.$refs.svg.getBoundingClientRect();
    return this.held(this.fromPixels(event.clientX - box.left, event.clientY - box.top, [0, 0, 0]));
  },
  outlineMoves(event) { this.outlined = { ...this.outlined, to: this.floorPlace(event) }; },
  outlineDone() {
    const { from, to } = this.outlined, { width, height } = this.newBox;
    this.outlined = null;
    if (Math.min(width, height) < LEAST_PX) return;
    this.$emit("box", { x1: from[0], y1: from[1], x2: to[0], y2: to[1] });
  },
};
