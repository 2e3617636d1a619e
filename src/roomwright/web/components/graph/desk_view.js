// What part of the axes the desk shows: moved, zoomed, fitted, by keys as well.
import { reach, yAxis } from "./plot.js";
import { panned, stepped, zoomed } from "./view.js";

export const viewing = {
  moveView(part, from, share) {
    this.state.view[part] = panned(this.state.axes[part], from, share, part === "x" ? reach(this.state) : null);
  },

  zoomView(part, factor, centre) {
    this.state.view[part] = zoomed(this.state.axes[part], this.state.view[part], factor, centre, part === "x" ? reach(this.state) : null);
  },

  // Vertical limits that hold what is seen of the curves.
  fit() {
    if (!this.state.axes) return;
    const [from, to] = this.state.view.x;
    for (const panel of this.state.axes.lower ? [0, 1] : [0]) {
      let low = Infinity;
      let high = -Infinity;
      for (const curve of this.state.curves) {
        if (curve.panel !== panel) continue;
        for (let index = 0; index < curve.x.length; index += 1) {
          if (curve.x[index] >= from && curve.x[index] <= to && Number.isFinite(curve.y[index])) {
            low = Math.min(low, curve.y[index]);
            high = Math.max(high, curve.y[index]);
          }
        }
      }
      const axis = yAxis(this.state, panel);
      if (low > high || axis.turns) continue;
      const air = 0.06 * (high - low) || 1;
      this.state.view[panel ? "lower" : "y"] = [low - air, high + air];
    }
    this.draw();
  },

  key(event) {
    if (!this.place || event.ctrlKey || event.metaKey || event.target !== this.$refs.plot) return;
    const { axes, view } = this.state;
    const centre = () => this.cursor ?? stepped(axes.x, view.x, view.x[0], 0.5);
    const shift = event.shiftKey;
    const along = (sign) => () => {
      this.setCursor(stepped(axes.x, view.x, centre(), sign * (shift ? 0.05 : 0.005)));
      this.speak();
    };
    const middle = () => (view.y[0] + view.y[1]) / 2;
    const keys = {
      ArrowLeft: along(-1), ArrowRight: along(1),
      ArrowUp: () => this.moveView("y", view.y, 0.1), ArrowDown: () => this.moveView("y", view.y, -0.1),
      PageUp: () => this.moveView("x", view.x, -0.5), PageDown: () => this.moveView("x", view.x, 0.5),
      "+": () => this.zoomView("x", 0.8, centre()), "=": () => this.zoomView("x", 0.8, centre()),
      "-": () => this.zoomView("x", 1.25, centre()),
      ">": () => this.zoomView("y", 0.8, middle()), "<": () => this.zoomView("y", 1.25, middle()),
      Home: () => this.reset_view(), f: () => this.fit(), v: () => { this.open = !this.open; },
      z: () => { this.boxing = !this.boxing; },
      a: () => this.hears.has("add") && this.$emit("desk-add", { kind: "add", x: centre(), y: middle() }),
      Escape: () => { this.open = false; this.boxing = false; this.setCursor(null); },
    };
    if (!keys[event.key]) return;
    keys[event.key]();
    this.draw();
    event.preventDefault();
    event.stopPropagation();
  },
};
