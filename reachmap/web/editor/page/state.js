// What the page knows, and who wants to subscribe of a change.
import { History } from "./history.js";

export const state = {
  version: 0, marks: [], elsewhere: [], drafted: [], layers: [], units: null, facts: null, invented: [],
  basemap: null, relief: null, imagery: null, folder: "", said: "",
  chosen: null, // id of the chosen mark
  corner: null, // {path, index} of the chosen corner
  held: false, // the chosen corner is carried by the keyboard
  draft: null, // {id, layer, shape, path, strip}: the mark being drawn
  pairing: null, // fitting the picture: {spot: [u, v] | null}
  snapping: true,
  hidden: new Set(), // names of layers that are not shown just now; they are kept all the same
  faults: [], lines: [], checked: 0,
  brought: null, // things found in a dropped file, waiting to be taken in
  generation: 0, // grows when the drawing is changed by other means than the open form
};

export const drawingHistory = new History();
const hearers = new Map();

/** Call `act` when something of `kind` changed: marks, draft, chosen, check, facts, beneath, view. */
export function subscribe(kinds, act) {
  for (const kind of kinds.split(" ")) {
    if (!hearers.has(kind)) hearers.set(kind, new Set());
    hearers.get(kind).add(act);
  }
}

let due = null;

/** Tell of changes: once a frame, whatever came together. */
export function publish(...kinds) {
  if (!due) {
    due = new Set();
    requestAnimationFrame(() => {
      const now = due;
      due = null;
      const acts = new Set();
      for (const kind of now) for (const act of hearers.get(kind) || []) acts.add(act);
      for (const act of acts) act(now);
    });
  }
  for (const kind of kinds) due.add(kind);
}

export function spec(layer) {
  return state.layers.find((one) => one.name === layer);
}

/** Every mark there is, those of other files too. */
export function allMarks() {
  return [...state.marks, ...state.elsewhere.flatMap((other) => other.marks)];
}

/** The drawing as far as it is shown. */
export function shownMarks() {
  return state.hidden.size ? state.marks.filter((mark) => !state.hidden.has(mark.layer) || mark.id === state.chosen) : state.marks;
}

export function chosenMark() {
  return state.marks.find((mark) => mark.id === state.chosen) || null;
}

/** Change the drawing by one step that can be undone. */
export function change(marks, { redraw = true } = {}) {
  drawingHistory.add(state.marks);
  state.marks = marks;
  if (redraw) state.generation += 1;
  publish("marks", "save");
}

export function choose(id, corner = null) {
  state.chosen = id;
  state.corner = corner;
  state.held = false;
  publish("chosen");
}

export function undo() {
  stepTo(drawingHistory.back(state.marks));
}

export function redo() {
  stepTo(drawingHistory.on(state.marks));
}

function stepTo(marks) {
  if (!marks) return;
  state.marks = marks;
  state.generation += 1;
  if (!marks.some((mark) => mark.id === state.chosen)) choose(null);
  state.corner = null;
  publish("marks", "save", "chosen");
}

/** Take over what the server sent; undo brings back `mine`, the marks that were drawn here. */
export function takeOver(told, mine = null) {
  for (const key of ["version", "marks", "elsewhere", "layers", "units", "facts", "invented", "basemap", "relief", "imagery", "folder", "said"]) {
    if (key in told) state[key] = told[key];
  }
  state.draft = told.draft
    ? { id: told.draft.id, layer: told.draft.layer, shape: told.draft.shape, path: told.draft.paths[0] || [] }
    : null;
  state.chosen = null;
  state.corner = null;
  state.generation += 1;
  drawingHistory.clear();
  if (mine) drawingHistory.add(mine);
  publish("marks", "chosen", "facts", "basemap", "draft", "view");
}
