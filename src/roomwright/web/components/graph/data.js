// Curves as they arrive, and what is read from them.
export function floats(text) {
  const raw = atob(text);
  const bytes = new Uint8Array(raw.length);
  for (let index = 0; index < raw.length; index += 1) bytes[index] = raw.charCodeAt(index);
  return new Float32Array(bytes.buffer);
}

export function unpacked(packed) {
  const grids = packed.grids.map(floats);
  return packed.curves.map((curve) => ({ ...curve, x: grids[curve.x], y: floats(curve.y) }));
}

// Index of the last x not above `value`, -1 before the first.
export function below(x, value) {
  let low = -1;
  let high = x.length;
  while (high - low > 1) {
    const middle = (low + high) >> 1;
    if (x[middle] <= value) low = middle; else high = middle;
  }
  return low;
}

// Value of a curve at x, on the straight line between its points (over log x on a log axis);
// null where it has none. Across a turn of phase the nearer point counts.
export function valueAt(curve, x, xAxis, yAxis) {
  const { x: grid, y } = curve;
  const last = grid.length - 1;
  if (last < 0) return null;
  const near = 1e-6 * Math.abs(x);
  if (x < grid[0] - near || x > grid[last] + near) return null;
  const index = Math.min(Math.max(below(grid, x), 0), last);
  if (index === last || grid[index] === x) return Number.isFinite(y[index]) ? y[index] : null;
  const share = xAxis.log && grid[index] > 0
    ? Math.log(x / grid[index]) / Math.log(grid[index + 1] / grid[index])
    : (x - grid[index]) / (grid[index + 1] - grid[index]);
  const held = Math.min(Math.max(share, 0), 1);
  if (yAxis.turns && Math.abs(y[index + 1] - y[index]) > (yAxis.high - yAxis.low) / 2) {
    return held < 0.5 ? y[index] : y[index + 1];
  }
  const value = y[index] + held * (y[index + 1] - y[index]);
  return Number.isFinite(value) ? value : null;
}

// Pixels of every point of a grid, computed once for all curves on it.
export function pixelsOf(grid, scale, cache) {
  let pixels = cache.get(grid);
  if (!pixels) {
    pixels = new Float64Array(grid.length);
    for (let index = 0; index < grid.length; index += 1) pixels[index] = scale.at(grid[index]);
    cache.set(grid, pixels);
  }
  return pixels;
}

// Points to draw of a curve as [x, y, x, y, ...] in pixels, NaN for a gap. Where many points share
// a column of pixels only the first, highest, lowest and last of them are kept: the same picture.
export function outline(curve, pixels, yScale, axis, left, right) {
  const { x, y } = curve;
  const points = [];
  const half = axis.turns ? (axis.high - axis.low) / 2 : Infinity;
  let first = 0;
  while (first < x.length - 1 && !(pixels[first + 1] >= left)) first += 1;
  let last = x.length - 1;
  while (last > 0 && !(pixels[last - 1] <= right)) last -= 1;
  const dense = last - first > 3 * (right - left);
  let column = null;
  let before = NaN;
  const flush = () => {
    if (column === null) return;
    const { at, from, low, high, to } = column;
    points.push(at, from);
    if (high !== from) points.push(at, high);
    if (low !== high) points.push(at, low);
    if (to !== low) points.push(at, to);
    column = null;
  };
  for (let index = first; index <= last; index += 1) {
    const value = y[index];
    if (!Number.isFinite(value) || !Number.isFinite(pixels[index])) {
      flush();
      points.push(NaN, NaN);
    } else {
      if (Math.abs(value - before) > half) { flush(); points.push(NaN, NaN); }
      const down = yScale.at(value);
      if (!dense) {
        points.push(pixels[index], down);
      } else {
        const at = Math.round(pixels[index]);
        if (column !== null && column.at !== at) flush();
        if (column === null) column = { at, from: down, low: down, high: down, to: down };
        column.low = Math.max(column.low, down);
        column.high = Math.min(column.high, down);
        column.to = down;
      }
    }
    before = value;
  }
  flush();
  return points;
}

// Limits of the finite values of curves, or null.
export function extent(arrays) {
  let low = Infinity;
  let high = -Infinity;
  for (const array of arrays) {
    for (const value of array) {
      if (Number.isFinite(value)) { if (value < low) low = value; if (value > high) high = value; }
    }
  }
  return low <= high ? [low, high] : null;
}
