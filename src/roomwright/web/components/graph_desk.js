// The graph desk in the browser. The picture is drawn on two canvases: the curves, redrawn when
// view or data change, and above them the labels' values and the crosshair, redrawn as it moves.
import { TEMPLATE, addStyles, drawing, handling, incoming, pointing, readingOff, viewing } from "roomwright-graph";

export default {
  template: TEMPLATE,

  data() {
    return {
      name: "graph", caption: "", empty: "", read: "", heard: "", says: "", head: "", between: "", rows: [], things: [],
      open: false, boxing: false, panning: false, box: null, chosen: null, picked: null,
    };
  },

  watch: {
    open() { this.tellValues(); },
  },

  created() {
    // Not reactive: arrays of thousands of points and what is drawn from them.
    this.state = {
      axes: null, view: null, curves: [], bands: [], marks: [], shades: [], map: null, things: [],
      chosen: null, near: null, moving: false, name: "graph", caption: "",
    };
    this.hears = new Set();
    this.cursor = null;
    this.pointer = null;
    this.grids = [];
    this.numbers = new Map();
    this.sent = new Map();
    this.fingers = new Map();
    this.due = { base: false, over: false };
  },

  mounted() {
    addStyles();
    this.size = new ResizeObserver(() => this.draw());
    this.size.observe(this.$refs.plot);
    this.page = new MutationObserver(() => this.draw());
    this.page.observe(document.body, { attributes: true, attributeFilter: ["class"] });
    this.$refs.plot.addEventListener("wheel", this.wheel, { passive: false });
    document.fonts.ready.then(() => this.draw());
    this.$emit("ready");
  },

  beforeUnmount() {
    this.size.disconnect();
    this.page.disconnect();
    cancelAnimationFrame(this.frame);
  },

  methods: { ...incoming, ...drawing, ...readingOff, ...handling, ...pointing, ...viewing },
};
