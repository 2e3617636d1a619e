// The pointer on the graph: crosshair, pan, box, two fingers, wheel.
import { turnQ } from "./things.js";

export const pointing = {
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
};
