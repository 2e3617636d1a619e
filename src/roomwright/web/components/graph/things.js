// Handles and filter points: one shape for both, limits, and what is told to the server.
import { reading, fixed } from "./scale.js";

export function handleThing(handle) {
  return {
    id: handle.id, kind: "handle", label: handle.label, colour: handle.colour, locked: false,
    x: handle.x, y: handle.y, q: null, base: 0,
    freeX: handle.free !== "y", freeY: handle.free !== "x",
    low: [handle.low_x ?? -Infinity, handle.low_y ?? -Infinity],
    high: [handle.high_x ?? Infinity, handle.high_y ?? Infinity],
  };
}

export function pointThing(point) {
  return {
    id: point.id, kind: "point", label: point.label, colour: point.colour, locked: point.locked,
    x: point.frequency_hz, y: point.base_db + point.level_db, q: point.q, base: point.base_db,
    freeX: !point.locked, freeY: !point.locked,
    low: [0, point.base_db + point.low_db], high: [Infinity, point.base_db + point.high_db],
    lowQ: point.low_q, highQ: point.high_q,
  };
}

export function moveThing(thing, x, y) {
  if (thing.freeX) thing.x = Math.min(Math.max(x, thing.low[0]), thing.high[0]);
  if (thing.freeY) thing.y = Math.min(Math.max(y, thing.low[1]), thing.high[1]);
}

export function turnQ(thing, factor) {
  if (thing.q === null || thing.locked) return;
  thing.q = Math.min(Math.max(thing.q * factor, thing.lowQ), thing.highQ);
}

export function describe(thing, axes) {
  const parts = [thing.label, reading(axes.x, thing.x)];
  const value = thing.y - thing.base;
  parts.push(`${thing.kind === "point" && value > 0 ? "+" : ""}${reading({ ...axes.y, decimals: Math.max(axes.y.decimals, 1) }, value)}`);
  if (thing.q !== null) parts.push(`Q ${fixed(thing.q, thing.q < 10 ? 2 : 1)}`);
  if (thing.locked) parts.push("locked");
  return parts.filter(Boolean).join(", ");
}

export function told(thing, number, done) {
  const common = { kind: thing.kind, id: thing.id, number, done };
  return thing.kind === "handle"
    ? { ...common, x: thing.x, y: thing.y }
    : { ...common, frequency_hz: thing.x, level_db: thing.y - thing.base, q: thing.q };
}
