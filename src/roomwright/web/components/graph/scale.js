// From values to pixels and back, ticks, and numbers as they are read.
export class Scale {
  constructor(low, high, log, from, to) {
    Object.assign(this, { low, high, log, from, to });
    this.start = log ? Math.log10(low) : low;
    this.slope = (to - from) / ((log ? Math.log10(high) : high) - this.start);
  }

  at(value) {
    return this.from + ((this.log ? Math.log10(value) : value) - this.start) * this.slope;
  }

  value(pixel) {
    const place = this.start + (pixel - this.from) / this.slope;
    return this.log ? 10 ** place : place;
  }
}

const MINUS = "\u2212";

export function fixed(value, decimals) {
  const text = Math.abs(value).toFixed(decimals);
  return value < 0 && Number(text) !== 0 ? MINUS + text : text;
}

// A value as read at the crosshair: four significant digits in hertz, else the axis' decimals.
export function reading(axis, value, withUnit = true) {
  if (value === null || !Number.isFinite(value)) return "\u2013";
  if (axis.unit === "Hz") {
    const kilo = Math.abs(value) >= 999.95;
    const shown = kilo ? value / 1000 : value;
    const digits = Math.max(0, 3 - Math.floor(Math.log10(Math.max(Math.abs(shown), 1e-3))));
    return fixed(shown, Math.min(digits, 3)) + (withUnit ? (kilo ? " kHz" : " Hz") : "");
  }
  return fixed(value, axis.decimals) + (withUnit && axis.unit ? " " + axis.unit : "");
}

function nice(span, most, turns) {
  const rough = span / Math.max(most, 1);
  if (turns) {
    const step = [15, 30, 45, 90, 180, 360].find((candidate) => candidate >= rough);
    if (step) return step;
  }
  const power = 10 ** Math.floor(Math.log10(rough));
  return power * [1, 2, 5, 10].find((factor) => factor * power >= rough * 0.999);
}

function linearTicks(axis, low, high, most) {
  const step = nice(high - low, most, axis.turns);
  const decimals = Math.max(0, -Math.floor(Math.log10(step) + 1e-9));
  const ticks = [];
  for (let n = Math.ceil(low / step - 1e-9); n * step <= high + step * 1e-9; n += 1) {
    const value = n * step;
    const kilo = axis.unit === "Hz" && Math.abs(value) >= 1000;
    const label = kilo ? String(Number((value / 1000).toPrecision(6))) + "k" : fixed(value, decimals);
    ticks.push({ value, label, major: true });
  }
  return ticks;
}

function hertz(value) {
  return value >= 1000 ? `${Number((value / 1000).toPrecision(6))}k` : String(Number(value.toPrecision(6)));
}

function logTicks(low, high) {
  const ticks = [];
  for (let decade = Math.floor(Math.log10(low)); decade <= Math.ceil(Math.log10(high)); decade += 1) {
    for (let step = 1; step < 10; step += 1) {
      const value = step * 10 ** decade;
      if (value >= low * 0.999999 && value <= high * 1.000001) {
        ticks.push({ value, major: [1, 2, 5].includes(step), label: [1, 2, 5].includes(step) ? hertz(value) : "" });
      }
    }
  }
  return ticks;
}

// Ticks of an axis over what is seen; `most` is how many labels there is room for.
export function ticks(axis, low, high, most) {
  if (!axis.log) return linearTicks(axis, low, high, most);
  const decades = logTicks(low, high);
  return decades.filter((tick) => tick.major).length >= 3 ? decades : linearTicks(axis, low, high, most);
}

// Positions near the wanted ones, in their order, at least `gap` apart between low and high.
export function spread(wanted, gap, low, high) {
  const order = wanted.map((_, index) => index).sort((a, b) => wanted[a] - wanted[b]);
  const room = wanted.length > 1 ? Math.min(gap, (high - low) / (wanted.length - 1)) : gap;
  const groups = [];
  for (const index of order) {
    groups.push({ members: [index], centre: Math.min(Math.max(wanted[index], low), high) });
    while (groups.length > 1) {
      const [upper, lower] = groups.slice(-2);
      const needed = ((upper.members.length + lower.members.length) / 2) * room;
      if (lower.centre - upper.centre >= needed - 1e-9) break;
      const count = upper.members.length + lower.members.length;
      const mean = (upper.centre * upper.members.length + lower.centre * lower.members.length) / count;
      const half = ((count - 1) / 2) * room;
      groups.splice(-2, 2, {
        members: [...upper.members, ...lower.members],
        centre: Math.min(Math.max(mean, low + half), high - half),
      });
    }
  }
  const placed = new Array(wanted.length);
  for (const { members, centre } of groups) {
    members.forEach((index, n) => { placed[index] = centre + (n - (members.length - 1) / 2) * room; });
  }
  return placed;
}
