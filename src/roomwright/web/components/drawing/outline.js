// Points and outlines seen from above.

export function nearestOnEdge(point, a, b) {
  const [ex, ey] = [b[0] - a[0], b[1] - a[1]];
  const along = ((point[0] - a[0]) * ex + (point[1] - a[1]) * ey) / (ex * ex + ey * ey);
  const held = Math.min(Math.max(along, 0), 1);
  return [a[0] + held * ex, a[1] + held * ey];
}

export function isInside(point, outline) {
  let inside = false;
  for (let i = 0, j = outline.length - 1; i < outline.length; j = i++) {
    const [xi, yi] = outline[i], [xj, yj] = outline[j];
    if (yi > point[1] !== yj > point[1]
        && point[0] < ((xj - xi) * (point[1] - yi)) / (yj - yi) + xi) inside = !inside;
  }
  return inside;
}
