// Colours and line styles. Curves: Okabe and Ito, Color Universal Design (2008), in the order of
// PALETTE in graph_parts.py. The first is black on a light page and near-white on a dark one.
const CURVES = ["#000000", "#0072B2", "#D55E00", "#009E73", "#E69F00", "#CC79A7", "#56B4E9", "#F0E442"];
const BLACK_ON_DARK = "#ECECEC";
const BLUE_ON_DARK = "#3D9BD6"; // the same hue, lighter: 0072B2 has less than 4:1 there
const YELLOW = 7;

export const DASHES = [[], [7, 4], [2, 3], [8, 3, 2, 3], [14, 4], [8, 3, 2, 3, 2, 3]];

export const THEMES = {
  light: {
    dark: false, ground: "#ffffff", text: "#1d2329", quiet: "#56606a", frame: "#8a949d",
    grid: "#e4e8eb", fine: "#f2f4f5", shade: "#6b7680", band: "#56606a", cursor: "#1d2329",
  },
  dark: {
    dark: true, ground: "#14181c", text: "#e3e7ea", quiet: "#9ca7b0", frame: "#59646e",
    grid: "#2b3238", fine: "#1e2429", shade: "#a4afb8", band: "#a4afb8", cursor: "#e3e7ea",
  },
};

export function curveColour(index, theme) {
  const at = ((index % CURVES.length) + CURVES.length) % CURVES.length;
  if (theme.dark && at === 0) return BLACK_ON_DARK;
  if (theme.dark && at === 1) return BLUE_ON_DARK;
  return CURVES[at];
}

// Yellow on white is too pale to follow: it gets a darker line behind it.
export function casing(index, theme) {
  return !theme.dark && index % CURVES.length === YELLOW ? "#b5a600" : null;
}

export function dashOf(index) {
  return DASHES[((index % DASHES.length) + DASHES.length) % DASHES.length];
}

// One hue, lightness rising (dark page) or falling (light page) with level.
export function mapColours(theme, count = 256) {
  const stops = theme.dark
    ? [[20, 24, 28], [22, 62, 96], [32, 124, 176], [126, 190, 226], [244, 249, 252]]
    : [[255, 255, 255], [190, 218, 236], [90, 160, 206], [18, 92, 146], [6, 30, 52]];
  return Array.from({ length: count }, (_, index) => {
    const place = (index / (count - 1)) * (stops.length - 1);
    const below = Math.min(Math.floor(place), stops.length - 2);
    return stops[below].map((from, k) => Math.round(from + (stops[below + 1][k] - from) * (place - below)));
  });
}
