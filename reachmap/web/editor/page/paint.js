// Painting the drawing on its canvas: grid and picture below, marks, then what is in hand.
import { coverFill, drawLetter, lookOf } from "./styles.js";
import { chosenMark, shownMarks, state } from "./state.js";
import { paintGround } from "./ground.js";
import { lookedPiece } from "./drafted.js";
import { paintBrought, paintDrafted } from "./paint-drafted.js";
import { paintPreview } from "./preview.js";
import { metresPerPixel, onScreen } from "./viewport.js";

const FAR_M = 0.9; // metres a pixel from which points are dots without their numbers
const LOWEST_FIRST = ["banks", "runs", "edges", "river", "trees", "rocks", "structure", "soundings", "speeds", "levels", "access", "hazards"];

export function paint(view) {
  const { pen } = view;
  pen.save();
  paintGround(view);
  paintPreview(pen);
  for (const other of state.elsewhere) paintMarks(pen, other.marks, 0.55);
  paintDrafted(pen);
  paintMarks(pen, shownMarks(), 1);
  paintBrought(pen);
  const chosen = chosenMark() || lookedPiece();
  if (chosen && !state.draft) paintChosen(pen, chosen);
  if (state.draft) paintDraft(view);
  if (view.snapped) paintSnap(pen, view.snapped);
  pen.restore();
}

function paintMarks(pen, marks, strength) {
  pen.globalAlpha = strength;
  for (const layer of LOWEST_FIRST) {
    for (const mark of marks) if (mark.layer === layer && mark.paths.length) paintMark(pen, mark);
  }
  pen.globalAlpha = 1;
}

function trace(pen, mark) {
  pen.beginPath();
  for (const path of mark.paths) {
    path.map(onScreen).forEach(([x, y], i) => (i ? pen.lineTo(x, y) : pen.moveTo(x, y)));
    if (mark.shape === "Polygon") pen.closePath();
  }
}

function paintMark(pen, mark) {
  const look = lookOf(mark.layer), far = metresPerPixel() > FAR_M;
  if (mark.shape === "Point") {
    const [x, y] = onScreen(mark.paths[0][0]), grave = mark.layer === "hazards" || mark.layer === "access";
    drawLetter(pen, x, y, far ? { ...look, letter: grave ? look.letter : "" } : look, far ? (grave ? 8 : 4.5) : mark.layer === "hazards" ? 11 : 9);
    if (!far) paintValue(pen, mark, x, y, look);
    return;
  }
  const strength = pen.globalAlpha, thin = far && mark.layer !== "river" ? 0.6 : 1;
  trace(pen, mark);
  if (mark.shape === "Polygon") {
    pen.fillStyle = look.fill ? coverFill(mark.values.cover) : look.ink;
    pen.globalAlpha = strength * (look.fill ? 0.5 : look.veil || 0.1);
    pen.fill("evenodd");
    pen.globalAlpha = strength;
  }
  pen.lineJoin = "round";
  pen.setLineDash([]);
  pen.strokeStyle = look.casing; pen.lineWidth = (look.width || 2) * thin + 2.5; pen.globalAlpha = strength * 0.7; pen.stroke();
  pen.globalAlpha = strength;
  pen.setLineDash(look.dash || []);
  pen.strokeStyle = look.ink; pen.lineWidth = (look.width || 2) * thin; pen.stroke();
  pen.setLineDash([]);
  if (look.arrows) paintArrows(pen, mark.paths[0].map(onScreen), look);
  if (look.named && mark.values.name) paintName(pen, mark, look);
}

/** Chevrons along a line, pointing the way it was drawn. */
function paintArrows(pen, points, look) {
  let run = 45;
  pen.lineWidth = 2.2; pen.strokeStyle = look.ink;
  for (let i = 1; i < points.length; i += 1) {
    const [ax, ay] = points[i - 1], [bx, by] = points[i], length = Math.hypot(bx - ax, by - ay);
    if (!length) continue;
    const ux = (bx - ax) / length, uy = (by - ay) / length;
    for (let at = run; at < length; at += 90) {
      const x = ax + ux * at, y = ay + uy * at;
      pen.beginPath();
      pen.moveTo(x - 8 * ux + 6 * uy, y - 8 * uy - 6 * ux);
      pen.lineTo(x, y);
      pen.lineTo(x - 8 * ux - 6 * uy, y - 8 * uy + 6 * ux);
      pen.strokeStyle = look.casing; pen.lineWidth = 5; pen.stroke();
      pen.strokeStyle = look.ink; pen.lineWidth = 2.4; pen.stroke();
    }
    run = run - length > 0 ? run - length : 90 - ((length - run) % 90);
  }
}

function words(pen, text, x, y, look, weight = 600) {
  pen.font = `${weight} 14px "Iowan Old Style", Palatino, "DejaVu Serif", serif`;
  pen.textAlign = "center"; pen.textBaseline = "middle";
  pen.lineWidth = 4; pen.lineJoin = "round"; pen.strokeStyle = look.casing;
  const short = text.length > 40 ? `${text.slice(0, 39)}…` : text;
  pen.strokeText(short, x, y);
  pen.fillStyle = look.ink;
  pen.fillText(short, x, y);
}

function paintName(pen, mark, look) {
  const points = mark.paths[0].map(onScreen);
  const x = points.reduce((sum, p) => sum + p[0], 0) / points.length;
  words(pen, mark.values.name, x, points.reduce((sum, p) => sum + p[1], 0) / points.length, look);
}

function paintValue(pen, mark, x, y, look) {
  const value = { soundings: mark.values.depth, speeds: mark.values.speed, levels: mark.values.level }[mark.layer];
  if (value) words(pen, value, x, y - 19, look, 500);
}

/** A chosen mark: a glow, its corners, and a smaller dot where a corner can be put in. */
function paintChosen(pen, mark) {
  const focus = getComputedStyle(document.documentElement).getPropertyValue("--focus").trim();
  const look = lookOf(mark.layer);
  if (mark.shape === "Point") {
    const [x, y] = onScreen(mark.paths[0][0]);
    ring(pen, x, y, 16, focus);
    return;
  }
  trace(pen, mark);
  pen.strokeStyle = focus; pen.lineWidth = 2; pen.setLineDash([]); pen.stroke();
  const corners = handles(mark), size = cornerSize(corners.filter((one) => !one.between));
  for (const { x, y, between } of corners) {
    pen.beginPath();
    pen.arc(x, y, between ? 4.5 : size, 0, 2 * Math.PI);
    pen.fillStyle = between ? look.casing : focus;
    pen.strokeStyle = between ? focus : look.casing;
    pen.lineWidth = size < 4 ? 1 : 2; pen.fill(); pen.stroke();
  }
  if (state.corner) {
    const at = mark.paths[state.corner.path]?.[state.corner.index];
    if (at) ring(pen, ...onScreen(at), state.held ? 18 : 13, focus);
  }
}

/** Corners close together are drawn small, so that the line stays to be seen. */
function cornerSize(corners) {
  let gaps = 0;
  for (let i = 1; i < corners.length; i += 1) gaps += Math.hypot(corners[i].x - corners[i - 1].x, corners[i].y - corners[i - 1].y);
  return Math.max(2.5, Math.min(7, gaps / Math.max(1, corners.length - 1) / 3));
}

/** Corners and middles of a mark on the screen; middles only where there is room for them. */
export function handles(mark) {
  const found = [];
  mark.paths.forEach((path, at) => {
    const points = path.map(onScreen), count = points.length;
    points.forEach(([x, y], index) => found.push({ x, y, path: at, index, between: false }));
    const last = mark.shape === "Polygon" ? count : count - 1;
    for (let i = 0; i < last; i += 1) {
      const [ax, ay] = points[i], [bx, by] = points[(i + 1) % count];
      if (Math.hypot(bx - ax, by - ay) > 36) found.push({ x: (ax + bx) / 2, y: (ay + by) / 2, path: at, index: i + 1, between: true });
    }
  });
  return found;
}

function ring(pen, x, y, size, colour) {
  pen.beginPath();
  pen.arc(x, y, size, 0, 2 * Math.PI);
  pen.strokeStyle = colour; pen.lineWidth = 3; pen.setLineDash([]); pen.stroke();
}

/** The mark being drawn, with a line on to the pointer. */
function paintDraft(view) {
  const { pen } = view, { draft } = state, look = lookOf(draft.layer);
  const points = draft.path.map(onScreen);
  const next = view.snapped ? [view.snapped.x, view.snapped.y] : view.pointer;
  pen.beginPath();
  points.forEach(([x, y], i) => (i ? pen.lineTo(x, y) : pen.moveTo(x, y)));
  pen.lineJoin = "round"; pen.setLineDash([]);
  pen.strokeStyle = look.casing; pen.lineWidth = 6; pen.stroke();
  pen.strokeStyle = look.ink; pen.lineWidth = 3; pen.stroke();
  if (next && points.length && draft.shape !== "Point") {
    pen.beginPath();
    pen.moveTo(...points[points.length - 1]);
    pen.lineTo(...next);
    if (draft.shape === "Polygon" && !draft.strip && points.length > 1) pen.lineTo(...points[0]);
    pen.setLineDash([5, 5]); pen.lineWidth = 2; pen.stroke();
  }
  pen.setLineDash([]);
  points.forEach(([x, y], i) => {
    pen.beginPath();
    pen.arc(x, y, i === 0 || i === points.length - 1 ? 6 : 4, 0, 2 * Math.PI);
    pen.fillStyle = look.ink; pen.strokeStyle = look.casing; pen.lineWidth = 2; pen.fill(); pen.stroke();
  });
}

function paintSnap(pen, { x, y, kind }) {
  const focus = getComputedStyle(document.documentElement).getPropertyValue("--focus").trim();
  ring(pen, x, y, kind === "corner" ? 11 : 8, focus);
}
