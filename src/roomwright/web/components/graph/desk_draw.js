// The desk's two canvases, and where its handles and filter points stand on them.
import { THEMES, curveColour } from "./palette.js";
import { CanvasPen } from "./pens.js";
import { drawBase, drawCursor, drawLabels, layout } from "./plot.js";
import { describe } from "./things.js";

export const drawing = {
  theme() {
    const theme = document.body.classList.contains("body--dark") ? THEMES.dark : THEMES.light;
    const ground = getComputedStyle(this.$el).backgroundColor;
    return { ...theme, ground };
  },

  draw(base = true) {
    this.due.base ||= base;
    this.due.over = true;
    if (this.frame) return;
    this.frame = requestAnimationFrame(() => { this.frame = 0; this.paint(); });
  },

  paint() {
    const { plot, base, over } = this.$refs;
    if (!plot || !this.state.axes) return;
    const width = plot.clientWidth;
    const height = plot.clientHeight;
    if (width < 60 || height < 60) return;
    const theme = this.theme();
    if (this.due.base) {
      const pen = this.pen(base, width, height);
      this.place = layout(this.state, width, height, pen);
      drawBase(pen, this.state, this.place, theme);
      this.putThings(theme);
      this.describeGraph();
    }
    const pen = this.pen(over, width, height);
    pen.context.clearRect(0, 0, width, height);
    const cursor = this.cursor;
    drawLabels(pen, this.state, this.place, theme, cursor);
    drawCursor(pen, this.state, this.place, theme, cursor, this.level());
    this.due = { base: false, over: false };
    this.tellValues();
  },

  pen(canvas, width, height) {
    const ratio = window.devicePixelRatio || 1;
    const [wide, tall] = [Math.round(width * ratio), Math.round(height * ratio)];
    if (canvas.width !== wide || canvas.height !== tall) { canvas.width = wide; canvas.height = tall; }
    const context = canvas.getContext("2d");
    this.font ??= getComputedStyle(this.$el).fontFamily;
    context.setTransform(ratio, 0, 0, ratio, 0, 0);
    return new CanvasPen(context, this.font);
  },

  putThings(theme) {
    const [frame] = this.place.frames;
    this.things = this.state.things.map((thing) => {
      const px = frame.x.at(thing.x);
      const py = frame.y.at(thing.y);
      const seen = px >= frame.left - 1 && px <= frame.right + 1;
      return {
        id: thing.id, kind: thing.kind, label: thing.label || thing.id, locked: thing.locked, held: Boolean(thing.held), seen,
        px, py: Math.min(Math.max(py, frame.top), frame.bottom), flip: px > (frame.left + frame.right) / 2,
        ink: curveColour(thing.colour, theme), text: describe(thing, this.state.axes), value: Number((thing.y - thing.base).toFixed(2)),
        least: Number.isFinite(thing.low[1]) ? thing.low[1] - thing.base : frame.y.low,
        most: Number.isFinite(thing.high[1]) ? thing.high[1] - thing.base : frame.y.high,
      };
    });
  },

  describeGraph() {
    const { curves, axes } = this.state;
    this.between = curves.length ? `${this.caption ? "; " : ""}values between points: straight lines${axes.x.log ? ` over log ${axes.x.label}` : ""}` : "";
    this.says = `${this.name}: ${curves.length} curves, ${axes.y.label} over ${axes.x.label}. Arrow keys move the crosshair, plus and minus zoom, Home shows all, V lists the values.`;
  },

  level() {
    if (!this.pointer) return null;
    const frame = this.frameAt(this.pointer[1]);
    return frame ? { panel: frame.panel, value: frame.y.value(this.pointer[1]) } : null;
  },

  frameAt(y) {
    return this.place?.frames.find((frame) => y >= frame.top && y <= frame.bottom) ?? null;
  },
};
