// Handles and filter points: dragged, moved by keys, told to the server.
import { moveThing, told, turnQ } from "./things.js";

const EVERY_MS = 40; // at most one event to the server in this time
const REST_MS = 500; // after the last key the move counts as done

export const handling = {
  // At most one event in EVERY_MS, the last one always.
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
};
