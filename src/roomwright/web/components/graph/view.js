// What part of the axes is seen: zoom, pan, and their limits.
const place = (axis, value) => (axis.log ? Math.log10(value) : value);
const back = (axis, value) => (axis.log ? 10 ** value : value);

export function homeView({ x, y, lower }) {
  return {
    x: [x.low, x.high],
    y: [y.low, y.high],
    lower: lower ? [lower.low, lower.high] : [0, 1],
  };
}

// A range made `factor` times as wide about `centre`, kept within `limits` if there are any.
export function zoomed(axis, [low, high], factor, centre, limits = null) {
  const middle = place(axis, centre);
  const from = middle + (place(axis, low) - middle) * factor;
  const to = middle + (place(axis, high) - middle) * factor;
  const least = axis.log ? 0.01 : (axis.high - axis.low) / 4000;
  if (to - from < least) return [low, high];
  return within(axis, from, to, limits);
}

// A range moved by `share` of its width.
export function panned(axis, [low, high], share, limits = null) {
  const step = share * (place(axis, high) - place(axis, low));
  return within(axis, place(axis, low) + step, place(axis, high) + step, limits);
}

function within(axis, from, to, limits) {
  if (!limits) return [back(axis, from), back(axis, to)];
  const [low, high] = limits.map((limit) => place(axis, limit));
  const wide = Math.min(to - from, high - low);
  const start = Math.min(Math.max(from, low), high - wide);
  return [back(axis, start), back(axis, start + wide)];
}

// x moved by `share` of what is seen.
export function stepped(axis, [low, high], value, share) {
  const step = share * (place(axis, high) - place(axis, low));
  return Math.min(Math.max(back(axis, place(axis, value) + step), low), high);
}
