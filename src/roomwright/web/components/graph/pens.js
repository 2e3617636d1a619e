// Two pens that draw the same picture: on a canvas, and as SVG text.
export class CanvasPen {
  constructor(context, font) {
    this.context = context;
    this.font = font;
  }

  clip(x, y, width, height, draw) {
    this.context.save();
    this.context.beginPath();
    this.context.rect(x, y, width, height);
    this.context.clip();
    draw();
    this.context.restore();
  }

  line(points, { colour, width = 1, dash = [], alpha = 1 }) {
    const { context } = this;
    context.globalAlpha = alpha;
    context.strokeStyle = colour;
    context.lineWidth = width;
    context.lineJoin = "bevel"; // mitres on thousands of points cost time and overshoot
    context.setLineDash(dash);
    context.beginPath();
    let down = false;
    for (let index = 0; index < points.length; index += 2) {
      const x = points[index];
      if (x !== x) down = false;
      else if (down) context.lineTo(x, points[index + 1]);
      else { context.moveTo(x, points[index + 1]); down = true; }
    }
    context.stroke();
    context.setLineDash([]);
    context.globalAlpha = 1;
  }

  area(points, { colour, alpha = 1 }) {
    const { context } = this;
    context.globalAlpha = alpha;
    context.fillStyle = colour;
    context.beginPath();
    for (let index = 0; index < points.length; index += 2) context.lineTo(points[index], points[index + 1]);
    context.fill();
    context.globalAlpha = 1;
  }

  box(x, y, width, height, { colour, alpha = 1 }) {
    this.context.globalAlpha = alpha;
    this.context.fillStyle = colour;
    this.context.fillRect(x, y, width, height);
    this.context.globalAlpha = 1;
  }

  dot(x, y, radius, colour, edge) {
    const { context } = this;
    context.beginPath();
    context.arc(x, y, radius, 0, 2 * Math.PI);
    context.fillStyle = colour;
    context.fill();
    if (edge) { context.strokeStyle = edge; context.lineWidth = 1; context.stroke(); }
  }

  // `halo`: a line of that colour around the letters, where they stand on curves.
  text(x, y, words, { colour, size = 11, anchor = "start", bold = false, turned = false, halo = null }) {
    const { context } = this;
    context.save();
    context.font = `${bold ? "600 " : ""}${size}px ${this.font}`;
    context.fillStyle = colour;
    context.textAlign = { start: "left", middle: "center", end: "right" }[anchor];
    context.textBaseline = "middle";
    context.translate(x, y);
    if (turned) context.rotate(-Math.PI / 2);
    if (halo) {
      context.strokeStyle = halo;
      context.lineWidth = 3;
      context.lineJoin = "round";
      context.strokeText(words, 0, 0);
    }
    context.fillText(words, 0, 0);
    context.restore();
  }

  width(words, size = 11, bold = false) {
    this.context.font = `${bold ? "600 " : ""}${size}px ${this.font}`;
    return this.context.measureText(words).width;
  }

  image(canvas, x, y, width, height) {
    this.context.imageSmoothingEnabled = false;
    this.context.drawImage(canvas, x, y, width, height);
  }
}

function escaped(words) {
  return String(words).replace(/[&<>"']/g, (sign) => `&#${sign.charCodeAt(0)};`);
}

const short = (value) => String(Math.round(value * 100) / 100);

export class SvgPen {
  constructor(measuring) {
    this.parts = [];
    this.clips = 0;
    this.measuring = measuring; // a canvas pen: text widths come from it
  }

  clip(x, y, width, height, draw) {
    this.clips += 1;
    const name = `clip${this.clips}`;
    this.parts.push(
      `<clipPath id="${name}"><rect x="${short(x)}" y="${short(y)}" width="${short(width)}" height="${short(height)}"/></clipPath>`,
      `<g clip-path="url(#${name})">`,
    );
    draw();
    this.parts.push("</g>");
  }

  line(points, { colour, width = 1, dash = [], alpha = 1 }) {
    const steps = [];
    let down = false;
    for (let index = 0; index < points.length; index += 2) {
      if (Number.isNaN(points[index])) down = false;
      else {
        steps.push(`${down ? "L" : "M"}${short(points[index])} ${short(points[index + 1])}`);
        down = true;
      }
    }
    const dashes = dash.length ? ` stroke-dasharray="${dash.join(" ")}"` : "";
    this.parts.push(
      `<path d="${steps.join("")}" fill="none" stroke="${colour}" stroke-width="${width}" stroke-opacity="${alpha}" stroke-linejoin="round"${dashes}/>`,
    );
  }

  area(points, { colour, alpha = 1 }) {
    const pairs = [];
    for (let index = 0; index < points.length; index += 2) pairs.push(`${short(points[index])},${short(points[index + 1])}`);
    this.parts.push(`<polygon points="${pairs.join(" ")}" fill="${colour}" fill-opacity="${alpha}"/>`);
  }

  box(x, y, width, height, { colour, alpha = 1 }) {
    this.parts.push(
      `<rect x="${short(x)}" y="${short(y)}" width="${short(width)}" height="${short(height)}" fill="${colour}" fill-opacity="${alpha}"/>`,
    );
  }

  dot(x, y, radius, colour, edge) {
    this.parts.push(`<circle cx="${short(x)}" cy="${short(y)}" r="${radius}" fill="${colour}"${edge ? ` stroke="${edge}"` : ""}/>`);
  }

  text(x, y, words, { colour, size = 11, anchor = "start", bold = false, turned = false, halo = null }) {
    const around = halo ? ` stroke="${halo}" stroke-width="3" paint-order="stroke" stroke-linejoin="round"` : "";
    const turn = turned ? ` transform="rotate(-90 ${short(x)} ${short(y)})"` : "";
    this.parts.push(
      `<text x="${short(x)}" y="${short(y)}" dy="0.35em" fill="${colour}" font-size="${size}" text-anchor="${anchor}"${bold ? ' font-weight="600"' : ""}${around}${turn}>${escaped(words)}</text>`,
    );
  }

  width(words, size = 11, bold = false) {
    return this.measuring.width(words, size, bold);
  }

  image(canvas, x, y, width, height) {
    this.parts.push(
      `<image href="${canvas.toDataURL("image/png")}" x="${short(x)}" y="${short(y)}" width="${short(width)}" height="${short(height)}" preserveAspectRatio="none"/>`,
    );
  }

  document(width, height, title, description) {
    return `<svg xmlns="http://www.w3.org/2000/svg" width="${width}" height="${height}" viewBox="0 0 ${width} ${height}" role="img" font-family="${escaped(this.measuring.font)}"><title>${escaped(title)}</title><desc>${escaped(description)}</desc>${this.parts.join("\n")}</svg>\n`;
  }
}
