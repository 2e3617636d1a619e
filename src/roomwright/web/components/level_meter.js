// A sound level in large figures, and third octaves with peak hold on a canvas.

const STYLE = `
.rw-meter { display: flex; flex-direction: column; gap: 6px; min-width: 0; }
.rw-meter .now { display: flex; align-items: baseline; gap: 10px; flex-wrap: wrap; }
.rw-meter .figure { font-size: 64px; line-height: 1; font-weight: 600; min-width: 2.6em;
  text-align: right; }
.rw-meter .name { font-size: 18px; color: var(--rw-quiet); white-space: nowrap; }
.rw-meter dl { display: flex; flex-wrap: wrap; gap: 2px 18px; margin: 0; font-size: 14px; }
.rw-meter dl div { display: flex; gap: 6px; }
.rw-meter dt { color: var(--rw-quiet); } .rw-meter dd { margin: 0; min-width: 3.2em; }
.rw-meter .clipped { color: var(--rw-bad); font-weight: 600; font-size: 15px; }
.rw-meter canvas { width: 100%; height: 158px; display: block; border: 1px solid var(--rw-line);
  border-radius: 4px; }
`;

const LABELS = [[31.5, "31"], [63, "63"], [125, "125"], [250, "250"], [500, "500"], [1000, "1k"],
  [2000, "2k"], [4000, "4k"], [8000, "8k"], [16000, "16k"]];
const LEFT = 34, BOTTOM = 18, TOP = 6, RIGHT = 6, TICK_DB = 20;

function addStyle() {
  if (document.getElementById("rw-meter-style")) return;
  const style = document.createElement("style");
  style.id = "rw-meter-style";
  style.textContent = STYLE;
  document.head.appendChild(style);
}

export default {
  template: `
    <div class="rw-meter" role="group" :aria-label="label">
      <div class="now">
        <span class="figure">{{ figure }}</span><span class="name">{{ unit }}</span>
        <span v-if="clipped" class="clipped">▲ clipped</span>
      </div>
      <dl><div v-for="pair in more" :key="pair[0]"><dt>{{ pair[0] }}</dt><dd>{{ pair[1] }}</dd></div></dl>
      <canvas ref="canvas" role="img" :aria-label="spectrum"></canvas>
    </div>`,
  props: { label: String },
  data: () => ({ figure: "–", unit: "the meter is off", more: [], clipped: false,
    spectrum: "third-octave spectrum, nothing to show" }),
  mounted() {
    addStyle();
    this.updates = 0;
    this.shown = null;
    this.resized = new ResizeObserver(() => this.draw());
    this.resized.observe(this.$refs.canvas);
    this.draw();
  },
  unmounted() { this.resized.disconnect(); },
  methods: {
    show(reading) {
      this.updates += 1;
      this.$el.dataset.updates = this.updates;
      this.shown = reading;
      if (!reading) {
        Object.assign(this, { figure: "–", unit: "the meter is off", more: [], clipped: false,
          spectrum: "third-octave spectrum, nothing to show" });
      } else {
        this.figure = reading.figure;
        this.unit = reading.unit;
        this.more = reading.more;
        this.clipped = reading.clipped;
        this.spectrum = reading.spectrum;
      }
      this.draw();
    },
    draw() {
      const canvas = this.$refs.canvas;
      if (!canvas) return;
      const ratio = window.devicePixelRatio || 1;
      const width = canvas.clientWidth, height = canvas.clientHeight;
      if (canvas.width !== Math.round(width * ratio)) canvas.width = Math.round(width * ratio);
      if (canvas.height !== Math.round(height * ratio)) canvas.height = Math.round(height * ratio);
      const colours = getComputedStyle(canvas);
      const colour = (name) => colours.getPropertyValue(`--rw-${name}`);
      const pen = canvas.getContext("2d");
      pen.setTransform(ratio, 0, 0, ratio, 0, 0);
      pen.clearRect(0, 0, width, height);
      if (!this.shown || !this.shown.mid_hz.length) return;
      const { mid_hz: mids, bands_db: bands, peaks_db: peaks, low_db: low, high_db: high } = this.shown;
      const x = (band) => LEFT + ((width - LEFT - RIGHT) * band) / mids.length;
      const y = (db) => TOP + (height - TOP - BOTTOM)
        * (1 - (Math.min(Math.max(db, low), high) - low) / (high - low));
      pen.font = "11px " + colours.fontFamily;
      pen.fillStyle = colour("quiet");
      pen.strokeStyle = colour("line");
      pen.textAlign = "right";
      pen.textBaseline = "middle";
      for (let db = low; db <= high; db += TICK_DB) {
        pen.beginPath();
        pen.moveTo(LEFT, Math.round(y(db)) + 0.5);
        pen.lineTo(width - RIGHT, Math.round(y(db)) + 0.5);
        pen.stroke();
        pen.fillText(String(db), LEFT - 5, Math.min(Math.max(y(db), 7), height - BOTTOM - 3));
      }
      pen.textAlign = "center";
      pen.textBaseline = "alphabetic";
      for (const [hz, text] of LABELS) {
        const band = mids.findIndex((mid) => Math.abs(Math.log2(mid / hz)) < 0.1);
        if (band >= 0) pen.fillText(text, (x(band) + x(band + 1)) / 2, height - 4);
      }
      for (let band = 0; band < mids.length; band += 1) {
        const left = x(band) + 1, wide = x(band + 1) - x(band) - 2;
        if (bands[band] !== null) {
          pen.fillStyle = colour("accent");
          pen.fillRect(left, y(bands[band]), wide, height - BOTTOM - y(bands[band]));
        }
        if (peaks[band] !== null) {
          pen.fillStyle = colour("text");
          pen.fillRect(left, y(peaks[band]) - 1, wide, 2);
        }
      }
    },
  },
};
