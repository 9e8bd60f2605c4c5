// Marks and how they change: pure. A mark is never changed in place; each act returns a new one.

import { flatAbout } from "./places.js";

export const FEWEST = { Point: 1, LineString: 2, Polygon: 3 };

let made = 0;

/** A new mark; ids of the page begin with "new-" and differ from one load to the next. */
export function newMark(layer, shape, paths, values = {}) {
  made += 1;
  const id = `new-${Date.now().toString(36)}-${made.toString(36)}`;
  return { id, layer, shape, paths, values };
}

/** Every field of a layer as text: what is given, else its default. */
export function filled(spec, values = {}) {
  const full = {};
  for (const field of spec.fields) full[field.name] = values[field.name] ?? field.default;
  return full;
}

export function moveCorner(mark, path, index, place) {
  return withPath(mark, path, mark.paths[path].map((corner, i) => (i === index ? place : corner)));
}

export function insertCorner(mark, path, index, place) {
  const corners = mark.paths[path];
  return withPath(mark, path, [...corners.slice(0, index), place, ...corners.slice(index)]);
}

/** Without one corner; null where too few would be left. */
export function removeCorner(mark, path, index) {
  const left = mark.paths[path].filter((_, i) => i !== index);
  if (left.length >= FEWEST[mark.shape]) return withPath(mark, path, left);
  return path > 0 ? { ...mark, paths: mark.paths.filter((_, i) => i !== path) } : null;
}

export function turnedRound(mark) {
  return { ...mark, paths: mark.paths.map((path) => [...path].reverse()) };
}

/** With every path thinned: no corner left out lies farther than `far` metres from the line. */
export function thinned(mark, far) {
  const least = FEWEST[mark.shape];
  return { ...mark, paths: mark.paths.map((path) => {
    const thin = thinnedPath(mark.shape === "Polygon" ? [...path, path[0]] : path, far);
    const kept = mark.shape === "Polygon" ? thin.slice(0, -1) : thin;
    return kept.length >= least ? kept : path;
  }) };
}

/** A line with fewer corners: Douglas and Peucker 1973. */
export function thinnedPath(path, far) {
  const { flat } = flatAbout(path[0]), points = path.map(flat), keep = new Set([0, path.length - 1]);
  const spans = [[0, path.length - 1]];
  while (spans.length) {
    const [from, to] = spans.pop();
    let worst = far, at = -1;
    for (let i = from + 1; i < to; i += 1) {
      const gap = offLine(points[i], points[from], points[to]);
      if (gap > worst) { worst = gap; at = i; }
    }
    if (at > 0) {
      keep.add(at);
      spans.push([from, at], [at, to]);
    }
  }
  return path.filter((_, i) => keep.has(i));
}

function offLine([x, y], [ax, ay], [bx, by]) {
  const ux = bx - ax, uy = by - ay, square = ux * ux + uy * uy;
  const t = square ? Math.max(0, Math.min(1, ((x - ax) * ux + (y - ay) * uy) / square)) : 0;
  return Math.hypot(x - ax - t * ux, y - ay - t * uy);
}

export function withValue(mark, name, text) {
  return { ...mark, values: { ...mark.values, [name]: text } };
}

export function replaced(marks, mark) {
  return marks.map((one) => (one.id === mark.id ? mark : one));
}

export function without(marks, id) {
  return marks.filter((one) => one.id !== id);
}

function withPath(mark, path, corners) {
  return { ...mark, paths: mark.paths.map((one, i) => (i === path ? corners : one)) };
}

/** Paths as the segments they show: outlines come back to where they began. */
export function closedPath(mark, path) {
  return mark.shape === "Polygon" ? [...path, path[0]] : path;
}

/** A mark in a few words: its own name, else its layer's word and number. */
export function nameOf(mark, marks, word) {
  const own = mark.values.name || (["hazards", "access", "structure"].includes(mark.layer) && mark.values.note) || "";
  if (own.trim()) return own;
  const number = marks.filter((one) => one.layer === mark.layer).findIndex((one) => one.id === mark.id) + 1;
  return `${word} ${number}`;
}
