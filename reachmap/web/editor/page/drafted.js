// The draft made from terrain: what waits, what was looked at, and what becomes of it.
// Nothing here is in the drawing before it is accepted; undo lets it wait again.
import { say } from "./dom.js";
import { filled, newMark } from "./shapes.js";
import { change, choose, publish, spec, state, subscribe } from "./state.js";
import { metresPerPixel, onScreen, view } from "./viewport.js";
import { ask, keeping } from "./client.js";

const TELL_MS = 600, NEAR_M = 2; // metres a pixel at which a piece in view counts as looked at

export const draft = { looked: null, seen: new Set(), lines: [], said: "", dropped: 0, making: false, lastDrop: null };
const acceptedAs = new Map(); // id of a mark -> the drafted piece that it was
const untold = new Map(); // key -> state that the folder does not know yet

let timer = null;

export function pieces(layer) {
  return state.drafted.filter((one) => !layer || one.layer === layer);
}

export function lookedPiece() {
  return state.drafted.find((one) => one.id === draft.looked) || null;
}

/** Show a piece's card; null for none. */
export function lookAt(id) {
  draft.looked = id;
  if (id) {
    if (state.chosen) choose(null);
    draft.seen.add(id);
  }
  publish("drafted");
}

function tell(key, what) {
  untold.set(key, what);
  if (timer) clearTimeout(timer);
  timer = setTimeout(send, TELL_MS);
}

/** Tell the folder what was decided: after the drawing is kept, so that nothing is lost between. */
async function send() {
  timer = null;
  if (keeping.now !== "kept") {
    timer = setTimeout(send, TELL_MS);
    return;
  }
  const states = Object.fromEntries(untold);
  try {
    await ask("draft", { json: { states } });
    for (const [key, what] of Object.entries(states)) if (untold.get(key) === what) untold.delete(key);
  } catch {
    timer = setTimeout(send, 4 * TELL_MS);
    return;
  }
  if (untold.size) timer = setTimeout(send, TELL_MS);
}

/** The mark that a piece becomes. */
function markOf(piece) {
  const mark = { ...newMark(piece.layer, piece.shape, piece.paths), values: filled(spec(piece.layer), piece.values) };
  acceptedAs.set(mark.id, piece);
  return mark;
}

function gone(piece) {
  state.drafted = state.drafted.filter((one) => one !== piece);
  if (draft.looked === piece.id) draft.looked = null;
}

/** Take pieces into the drawing, as one step that can be undone. */
export function accept(taken) {
  if (!taken.length) return;
  const marks = taken.map(markOf);
  for (const piece of taken) {
    gone(piece);
    tell(piece.id, "accepted");
  }
  change([...state.marks, ...marks]);
  publish("drafted");
  say(taken.length === 1 ? "Accepted. Undo takes it back." : `${taken.length} accepted. Undo takes them back.`);
}

/** Take a piece into the drawing because its corner is being moved; the hand that moves it ends the step. */
export function acceptMoved(piece) {
  const mark = markOf(piece);
  gone(piece);
  tell(piece.id, "accepted");
  state.marks = [...state.marks, mark];
  choose(mark.id);
  publish("drafted");
  say("Moved, and so accepted.");
  return mark;
}

export function drop(piece) {
  gone(piece);
  draft.dropped += 1;
  draft.lastDrop = piece;
  tell(piece.id, "dropped");
  publish("drafted");
  say("Dropped. It will not be drafted again.");
}

export function takeBackDrop() {
  const piece = draft.lastDrop;
  if (!piece) return;
  draft.lastDrop = null;
  draft.dropped -= 1;
  state.drafted = [...state.drafted, piece];
  tell(piece.id, "open");
  lookAt(piece.id);
}

export function setValue(piece, name, text) {
  const changed = { ...piece, values: { ...piece.values, [name]: text } };
  state.drafted = state.drafted.map((one) => (one === piece ? changed : one));
  publish("drafted");
}

/** What undo and redo did to accepted pieces. */
function settle() {
  const drawn = new Set(state.marks.map((mark) => mark.id));
  let changed = false;
  for (const [id, piece] of acceptedAs) {
    const waits = state.drafted.some((one) => one.id === piece.id);
    if (drawn.has(id) && waits) {
      state.drafted = state.drafted.filter((one) => one.id !== piece.id);
      tell(piece.id, "accepted");
      changed = true;
    } else if (!drawn.has(id) && !waits) {
      state.drafted = [...state.drafted, piece];
      tell(piece.id, "open");
      changed = true;
    }
  }
  if (changed) publish("drafted");
}

/** Pieces whose middle is in view, near enough, count as looked at. */
function lookAround() {
  if (!state.drafted.length || metresPerPixel() > NEAR_M) return;
  const { x, y } = view.map.getSize(), before = draft.seen.size;
  for (const piece of state.drafted) {
    if (draft.seen.has(piece.id)) continue;
    const path = piece.paths[0], [px, py] = onScreen(path[Math.floor(path.length / 2)]);
    if (px >= 0 && py >= 0 && px <= x && py <= y) draft.seen.add(piece.id);
  }
  if (draft.seen.size !== before) publish("drafted");
}

export function unseen(layer) {
  return pieces(layer).filter((one) => !draft.seen.has(one.id));
}

function takeOver(told) {
  state.drafted = told.drafted.filter((one) => !["accepted", "dropped"].includes(untold.get(one.id)));
  draft.dropped = told.dropped;
  draft.said = told.draft_said;
  draft.looked = null;
  publish("drafted");
}

/** Draft the river anew; `at` is a place on it, null for the largest. */
export async function makeDraft(at = null) {
  if (draft.making) return;
  draft.making = true;
  draft.said = "";
  publish("drafted");
  try {
    const told = await ask("draft/make", { json: { at } });
    takeOver(told);
    draft.lines = told.lines;
    draft.seen.clear();
    say(told.lines[1] || "");
  } catch (error) {
    draft.said = error.said;
  }
  draft.making = false;
  publish("drafted", "view");
}

export async function showDropped() {
  try {
    takeOver(await ask("draft/again", { json: {} }));
  } catch (error) {
    draft.said = error.said;
    publish("drafted");
  }
}

export async function begin() {
  subscribe("marks", settle);
  subscribe("chosen", () => { if (state.chosen && draft.looked) lookAt(null); });
  view.map.on("moveend zoomend", lookAround);
  subscribe("drafted", lookAround);
  subscribe("units", fetchDraft);
  await fetchDraft();
}

async function fetchDraft() {
  try {
    takeOver(await ask("draft"));
  } catch (error) {
    draft.said = error.said;
  }
}
