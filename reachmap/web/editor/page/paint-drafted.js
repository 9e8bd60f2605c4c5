// Painting what is drafted: dashed and thin, with a question mark, so that it is never taken for drawn.
import { inside, nearestOnLine } from "./snap.js";
import { coverFill, drawLetter, lookOf } from "./styles.js";
import { draft } from "./drafted.js";
import { state } from "./state.js";
import { metresPerPixel, onScreen, view } from "./viewport.js";

const ORDER = ["banks", "edges", "river", "levels"];

function trace(pen, piece) {
  pen.beginPath();
  for (const path of piece.paths) {
    path.map(onScreen).forEach(([x, y], i) => (i ? pen.lineTo(x, y) : pen.moveTo(x, y)));
    if (piece.shape === "Polygon") pen.closePath();
  }
}

export function paintDrafted(pen) {
  for (const layer of ORDER) {
    for (const piece of state.drafted) if (piece.layer === layer && !state.hidden.has(layer)) paintPiece(pen, piece);
  }
}

/** Things of a dropped file, before they are taken in. */
export function paintBrought(pen) {
  for (const one of state.brought ? state.brought.items : []) {
    paintPiece(pen, { id: "", layer: one.target || "runs", shape: one.shape, paths: one.paths, values: one.values || {} });
  }
}

function paintPiece(pen, piece) {
  const look = lookOf(piece.layer), looked = piece.id === draft.looked;
  if (piece.shape === "Point") {
    const [x, y] = onScreen(piece.paths[0][0]);
    pen.globalAlpha = 0.9;
    drawLetter(pen, x, y, { ...look, ink: look.casing, casing: look.ink, letter: "?" }, metresPerPixel() > 0.9 ? 6 : 9);
    pen.globalAlpha = 1;
    return;
  }
  trace(pen, piece);
  if (piece.shape === "Polygon" && look.fill) {
    pen.globalAlpha = looked ? 0.5 : 0.28;
    pen.fillStyle = coverFill(piece.values.cover);
    pen.fill("evenodd");
    pen.globalAlpha = 1;
  }
  pen.lineJoin = "round";
  pen.setLineDash([]);
  pen.strokeStyle = look.casing; pen.lineWidth = 4; pen.globalAlpha = 0.6; pen.stroke();
  pen.globalAlpha = 1;
  pen.setLineDash([2, 5]);
  pen.lineCap = "round";
  pen.strokeStyle = look.ink; pen.lineWidth = looked ? 3 : 2; pen.stroke();
  pen.lineCap = "butt";
  pen.setLineDash([]);
}

/** The topmost drafted piece at a pixel. */
export function draftedAt(at) {
  const reach = view.touch ? 22 : 10, shown = state.drafted.filter((one) => !state.hidden.has(one.layer));
  for (const layer of [...ORDER].reverse()) {
    for (const piece of shown) {
      if (piece.layer !== layer) continue;
      if (piece.shape === "Point") {
        const [x, y] = onScreen(piece.paths[0][0]);
        if (Math.hypot(x - at[0], y - at[1]) <= reach + 4) return piece;
      } else {
        const lines = piece.paths.map((path) => ({ points: path.map(onScreen), closed: piece.shape === "Polygon", key: null }));
        if (layer !== "banks" && nearestOnLine(at, lines, reach)) return piece;
      }
    }
  }
  return shown.find((one) => one.layer === "banks" && inside(at, one.paths[0].map(onScreen))) || null;
}
