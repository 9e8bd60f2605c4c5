// The keyboard: on the map a sight in the middle stands for the pointer.
import { byId, say } from "./dom.js";
import { finish, leave, putAt, putBack, snapped, takeBack } from "./draw.js";
import { lookAt, lookedPiece } from "./drafted.js";
import { chooseAt, deleteChosen } from "./edit.js";
import { pairAt, stopPairing } from "./picture.js";
import { moveCorner, replaced } from "./shapes.js";
import { change, choose, chosenMark, redo, state, publish, undo } from "./state.js";
import { centre, onGround, redraw, view } from "./viewport.js";

const STEP = 48, SMALL = 4;
const ARROWS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };

function pan([dx, dy], small) {
  const step = small ? SMALL : STEP;
  view.map.panBy([dx * step, dy * step], { animate: false });
  view.pointer = centre();
  view.snapped = state.draft || state.held ? snapped(centre(), { without: state.held ? state.chosen : null }) : null;
  if (state.held) carry();
  redraw();
}

/** The carried corner follows the sight. */
function carry() {
  const mark = chosenMark(), place = view.snapped ? view.snapped.place : onGround(centre());
  state.marks = replaced(state.marks, moveCorner(mark, state.corner.path, state.corner.index, place));
}

let before = null;

function takeUp() {
  if (!chosenMark()) return;
  if (!state.corner) stepCorner(0);
  before = state.marks;
  state.held = true;
  say("Corner taken up. Arrow keys carry it, Enter puts it down, Escape puts it back.");
  redraw();
}

function putDown(keep) {
  const now = state.marks;
  state.held = false;
  view.snapped = null;
  state.marks = before;
  if (keep) change(now);
  publish("marks", "chosen");
  say(keep ? "Corner put down." : "Corner put back.");
}

function stepCorner(by) {
  const mark = chosenMark();
  if (!mark || !mark.paths.length) return;
  const all = mark.paths.flatMap((path, at) => path.map((_, index) => ({ path: at, index })));
  const now = state.corner ? all.findIndex((one) => one.path === state.corner.path && one.index === state.corner.index) : by > 0 ? -1 : 0;
  const next = all[(now + by + all.length) % all.length];
  choose(mark.id, next);
  const [lon, lat] = mark.paths[next.path][next.index];
  view.map.setView([lat, lon], view.map.getZoom(), { animate: false });
  say(`Corner ${all.indexOf(next) + 1} of ${all.length}`);
}

function entered() {
  if (state.held) putDown(true);
  else if (state.pairing) pairAt(centre());
  else if (state.draft) putAt(centre());
  else {
    chooseAt(centre());
    if (!state.chosen && !lookedPiece()) say("Nothing lies at the sight.");
  }
}

function escaped() {
  if (state.held) putDown(false);
  else if (state.pairing) stopPairing();
  else if (state.draft) leave();
  else {
    choose(null);
    lookAt(null);
  }
}

const ON_MAP = {
  Enter: entered, " ": entered, Escape: escaped, Backspace: () => (state.draft ? takeBack() : undefined),
  Delete: () => (state.draft ? takeBack() : deleteChosen()),
  f: () => finish(), n: () => stepCorner(1), b: () => stepCorner(-1), g: takeUp,
  "+": () => view.map.zoomIn(1, { animate: false }), "=": () => view.map.zoomIn(1, { animate: false }),
  "-": () => view.map.zoomOut(1, { animate: false }),
};

function pressed(event) {
  const typing = event.target.closest("input:not([type=radio]):not([type=checkbox]):not([type=range]), textarea, select");
  if ((event.ctrlKey || event.metaKey) && !event.altKey && /^[zy]$/i.test(event.key) && !typing) {
    event.preventDefault();
    step(event.key.toLowerCase() === "y" || event.shiftKey);
    return;
  }
  if (event.key === "Escape" && !typing && event.target.id !== "map") escaped();
  if (event.target.id !== "map" || event.ctrlKey || event.metaKey || event.altKey) return;
  const arrow = ARROWS[event.key], act = ON_MAP[event.key.length === 1 ? event.key.toLowerCase() : event.key];
  if (!arrow && !act) return;
  event.preventDefault();
  if (arrow) pan(arrow, event.shiftKey);
  else act();
}

/** One step back or on: points of the mark being drawn first. */
export function step(forward) {
  if (state.held) return;
  if (state.draft) {
    (forward ? putBack : takeBack)();
    return;
  }
  (forward ? redo : undo)();
}

export function begin() {
  document.addEventListener("keydown", pressed);
  const map = byId("map");
  const sight = (on) => { document.documentElement.dataset.sight = on ? "yes" : "no"; };
  let byKeys = false; // the sight and the map's outline are for those who come by keyboard
  document.addEventListener("pointerdown", () => { byKeys = false; sight(false); }, { capture: true });
  document.addEventListener("keydown", (event) => { byKeys = true; if (event.target === map) sight(true); }, { capture: true });
  map.addEventListener("focus", () => sight(byKeys));
  map.addEventListener("blur", () => sight(false));
}
