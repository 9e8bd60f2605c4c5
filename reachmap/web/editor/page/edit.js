// Choosing marks and changing their corners, by mouse and finger.
import { say } from "./dom.js";
import { acceptMoved, lookAt, lookedPiece } from "./drafted.js";
import { putAt, snapped } from "./draw.js";
import { handles } from "./paint.js";
import { draftedAt } from "./paint-drafted.js";
import { pairAt } from "./picture.js";
import { insertCorner, moveCorner, removeCorner, replaced, without } from "./shapes.js";
import { change, choose, chosenMark, drawingHistory, shownMarks, state, publish } from "./state.js";
import { inside, nearestOnLine } from "./snap.js";
import { onGround, onScreen, redraw, view } from "./viewport.js";

const GRAB = { mouse: 11, touch: 24 };
const TOP_FIRST = ["hazards", "access", "levels", "speeds", "soundings", "structure", "rocks", "trees", "river", "edges", "runs", "banks"];

function pixel(event) {
  const box = view.map.getContainer().getBoundingClientRect();
  return [event.clientX - box.left, event.clientY - box.top];
}

function grabbed(at) {
  const mark = chosenMark() || lookedPiece();
  if (!mark || state.draft || state.pairing) return null;
  const reach = view.touch ? GRAB.touch : GRAB.mouse;
  let best = null, far = reach;
  for (const handle of handles(mark)) {
    const gap = Math.hypot(handle.x - at[0], handle.y - at[1]) + (handle.between ? 3 : 0);
    if (gap < far) { far = gap; best = handle; }
  }
  return best;
}

/** The topmost mark at a pixel. */
export function markAt(at) {
  const reach = view.touch ? 22 : 10;
  for (const layer of TOP_FIRST) {
    for (const mark of [...shownMarks()].reverse()) {
      if (mark.layer !== layer || !mark.paths.length) continue;
      const lines = mark.paths.map((path) => ({ points: path.map(onScreen), closed: mark.shape === "Polygon", key: null }));
      if (mark.shape === "Point") {
        const [x, y] = lines[0].points[0];
        if (Math.hypot(x - at[0], y - at[1]) <= reach + 4) return mark;
      } else if (nearestOnLine(at, lines, reach)) return mark;
    }
  }
  return [...shownMarks()].reverse().find((mark) => mark.shape === "Polygon" && inside(at, mark.paths[0].map(onScreen))) || null;
}

/** Choose what lies at a pixel: a corner of the chosen mark first. */
export function chooseAt(at) {
  const handle = grabbed(at);
  if (handle && !handle.between && chosenMark() && chosenMark().shape !== "Point") {
    choose(state.chosen, { path: handle.path, index: handle.index });
    return;
  }
  const mark = markAt(at);
  const piece = mark ? null : draftedAt(at);
  choose(mark ? mark.id : null);
  lookAt(piece ? piece.id : null);
  if (mark || piece) document.documentElement.dataset.sheet = "open";
}

export function deleteChosen() {
  const mark = chosenMark();
  if (!mark) return;
  if (state.corner && mark.shape !== "Point") {
    const left = removeCorner(mark, state.corner.path, state.corner.index);
    if (left) {
      change(replaced(state.marks, left));
      choose(mark.id);
      say("Corner taken out.");
      return;
    }
  }
  change(without(state.marks, mark.id));
  choose(null);
  say("Mark taken out. Undo brings it back.");
}

let drag = null;

function down(event) {
  if (event.target.closest(".on-map") || event.button > 0 || !event.isPrimary) return;
  view.touch = event.pointerType === "touch";
  const at = pixel(event), handle = grabbed(at);
  if (!handle) return;
  const mark = chosenMark() || lookedPiece();
  drag = { handle, before: state.marks, mark, drafted: !chosenMark(), moved: false, from: at, id: event.pointerId };
  view.map.dragging.disable();
}

function move(event) {
  if (event.pointerType === "touch" && !drag) return;
  const at = pixel(event);
  view.pointer = at;
  if (drag && event.pointerId === drag.id) {
    dragTo(at, event.altKey);
    return;
  }
  if (!state.draft) return;
  view.snapped = snapped(at, { free: event.altKey });
  redraw();
}

function dragTo(at, free) {
  if (!drag.moved && Math.hypot(at[0] - drag.from[0], at[1] - drag.from[1]) < 4) return;
  const { handle } = drag;
  if (drag.drafted) { // a hand that moves it accepts it
    drag.mark = acceptMoved(drag.mark);
    drag.drafted = false;
  }
  view.snapped = snapped(at, { without: drag.mark.id, free });
  const place = view.snapped ? view.snapped.place : onGround(at);
  if (!drag.moved && handle.between) drag.mark = insertCorner(drag.mark, handle.path, handle.index, place);
  else drag.mark = moveCorner(drag.mark, handle.path, handle.index, place);
  drag.moved = true;
  state.marks = replaced(state.marks, drag.mark);
  state.corner = { path: handle.path, index: handle.index };
  redraw();
}

function up(event) {
  if (!drag || event.pointerId !== drag.id) return;
  const done = drag;
  drag = null;
  view.snapped = null;
  view.map.dragging.enable();
  if (!done.moved) return;
  drawingHistory.add(done.before);
  state.generation += 1;
  view.quiet = performance.now();
  publish("marks", "save", "chosen");
}

function tapped(event) {
  if (view.quiet && performance.now() - view.quiet < 250) return;
  const at = [event.containerPoint.x, event.containerPoint.y];
  if (state.pairing) pairAt(at);
  else if (state.draft) putAt(at, { free: event.originalEvent.altKey });
  else chooseAt(at);
}

export function begin() {
  const box = view.map.getContainer();
  box.addEventListener("pointerdown", down, { capture: true });
  addEventListener("pointermove", move);
  addEventListener("pointerup", up);
  addEventListener("pointercancel", up);
  box.addEventListener("pointerleave", () => { view.pointer = null; view.snapped = null; redraw(); });
  view.map.on("click", tapped);
}
