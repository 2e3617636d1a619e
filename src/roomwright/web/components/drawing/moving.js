// Choosing and moving things by pointer and keys, and telling the server.
import { FINE_M, GRID_M } from "./steps.js";

const KEY_PAUSE_MS = 450;
const PENDING_MS = 4000;

const tidy = (value) => Math.round(value * 1000) / 1000;

export const moving = {
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
    if (this.outlined) return this.outlineMoves(event);
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
    if (this.outlined) return this.outlineDone();
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
    this.outlined = null;
    const dragged = this.drag;
    this.drag = null;
    this.guideLines = [];
    if (dragged && this.moved) this.tell("drop", { ...dragged, place: this.start.place });
  },
  tell(event, { id, kind, place }) {
    const [x, y, z] = place.map(tidy);
    this.$emit(event, { id, kind, x, y, z });
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
};
