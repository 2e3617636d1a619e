// Levels over the plan, as an image beneath everything.

// Dark to light, even steps of lightness, legible with any colour vision and in greyscale.
const RAMP = [[12, 34, 76], [58, 78, 108], [112, 113, 115], [165, 154, 108], [220, 198, 88],
  [254, 233, 96]];

function rampColour(share) {
  const place = Math.min(Math.max(share, 0), 1) * (RAMP.length - 1);
  const low = Math.min(Math.floor(place), RAMP.length - 2);
  const part = place - low;
  return RAMP[low].map((value, band) => Math.round(value + part * (RAMP[low + 1][band] - value)));
}

export const levelMap = {
  mapImage() {
    if (!this.map) return "";
    const rows = this.map.levels_db, canvas = document.createElement("canvas");
    canvas.height = rows.length;
    canvas.width = rows[0].length;
    const context = canvas.getContext("2d");
    const image = context.createImageData(canvas.width, canvas.height);
    const span = this.map.high_db - this.map.low_db || 1;
    rows.flat().forEach((level, n) => {
      const missing = level === null;
      const colour = missing ? [0, 0, 0] : rampColour((level - this.map.low_db) / span);
      image.data.set([...colour, missing ? 0 : 255], 4 * n);
    });
    context.putImageData(image, 0, 0);
    return canvas.toDataURL();
  },
  mapPlace() {
    const [x, y] = this.at([...this.map.corner_m, 0]);
    return { x, y, width: this.map.size_m[0] * this.scale.perM,
      height: this.map.size_m[1] * this.scale.perM };
  },
};
