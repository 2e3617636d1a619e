// Plan, side or front view of a room. Dragging happens here; the server is told of throttled
// places and answers with a new view.
import {
  TEMPLATE, addStyle, boxes, boxing, guides, items, labelling, labels, levelMap, moving, placing, scales, scaling,
  sectors, snapping, turning,
} from "roomwright-drawing";

export default {
  template: TEMPLATE,
  props: {
    view: Object, plane: String, name: String, units: String, chosen: String, readout: String,
    map: Object, paths: Array, together: Boolean, outlining: Boolean,
  },
  emits: ["choose", "move", "drop", "webgl", "box"],
  data() {
    return { width: 300, height: 300, drag: null, moved: null, pending: null, guideLines: [],
      outlined: null, lastFocus: "", clip: `rw-plan-${Math.random().toString(36).slice(2)}` };
  },
  mounted() {
    addStyle();
    this.observer = new ResizeObserver(() => this.measure());
    this.observer.observe(this.$el);
    this.measure();
    this.$emit("webgl", { drawn: Boolean(document.createElement("canvas").getContext("webgl2")) });
    this.escape = (event) => { if (event.key === "Escape" && (this.drag || this.outlined)) this.cancel(); };
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
  computed: { ...scales, ...boxes, ...items, ...labels, ...sectors, ...levelMap, ...guides },
  methods: { ...scaling, ...boxing, ...placing, ...labelling, ...turning, ...snapping, ...moving },
};
