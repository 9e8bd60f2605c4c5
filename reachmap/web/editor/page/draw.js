// Drawing a new mark, corner by corner, by mouse, finger or keyboard.
import { button, byId, fill, made, say } from "./dom.js";
import { WORDS } from "./styles.js";
import { pairingBar } from "./picture.js";
import { lengthWords, pathLength, readPlace } from "./places.js";
import { sideProposed } from "./sides.js";
import { snapTo } from "./snap.js";
import { FEWEST, filled, newMark } from "./shapes.js";
import { allMarks, change, choose, subscribe, shownMarks, spec, state, publish } from "./state.js";
import { centre, closeSheet, onGround, onScreen, redraw, view } from "./viewport.js";
import { ask } from "./client.js";

const REACH = { mouse: 12, touch: 22 }, TWICE_PX = 8;

/**
 * All lines one can snap to, on the screen. `without` is the id of a mark left out.
 * A river line runs mid-water: it catches nothing but river lines, and they are caught by nothing else.
 */
export function snapLines(without = null) {
  const found = [], moved = without && state.marks.find((mark) => mark.id === without);
  const layer = moved ? moved.layer : state.draft ? state.draft.layer : "";
  const add = (mark) => {
    if (mark.id === without || (mark.layer === "river") !== (layer === "river")) return;
    mark.paths.forEach((path, at) => found.push({ points: path.map(onScreen), closed: mark.shape === "Polygon", key: { mark, path: at } }));
  };
  shownMarks().forEach(add);
  state.elsewhere.forEach((other) => other.marks.forEach(add));
  if (state.draft && state.draft.path.length > 1) {
    found.push({ points: state.draft.path.slice(0, 1).map(onScreen), closed: false, key: { mark: null, path: 0, draft: true } });
  }
  return found;
}

function reach() {
  return view.touch ? REACH.touch : REACH.mouse;
}

/** What a pixel snaps to, with its place on the ground; null for nothing. */
export function snapped(at, { without = null, free = false } = {}) {
  if (!state.snapping || free) return null;
  const hit = snapTo(at, snapLines(without), reach());
  if (!hit) return null;
  const { mark, path } = hit.key;
  const exact = hit.kind === "corner" && mark ? mark.paths[path][hit.index] : null;
  return { ...hit, place: exact || (hit.key.draft ? state.draft.path[0] : onGround([hit.x, hit.y])) };
}

export async function startDraft(layer, { shape = null, path = [], id = null, strip = false } = {}) {
  if (state.draft) {
    await finish(); // a line begun is not thrown away by beginning another
    if (state.draft) leave();
  }
  const kind = shape || spec(layer).shapes[0];
  state.draft = { id: id || newMark(layer, kind, []).id, layer, shape: kind, path, strip, gone: [] };
  choose(null);
  view.snapped = null;
  publish("draft");
  closeSheet();
  say(`${WORDS[layer].one}. ${WORDS[layer].how}`);
}

/** Put a corner at a pixel; finishes where it comes back to the last or first one. */
export function putAt(at, { free = false } = {}) {
  const { draft } = state;
  if (!draft) return;
  const hit = snapped(at, { free }), first = draft.path.length ? onScreen(draft.path[0]) : null;
  const last = draft.path.length ? onScreen(draft.path[draft.path.length - 1]) : null;
  if (last && draft.shape !== "Point" && Math.hypot(last[0] - at[0], last[1] - at[1]) <= TWICE_PX) {
    finish();
    return;
  }
  const closes = draft.shape === "Polygon" && !draft.strip && draft.path.length >= 3;
  if (closes && Math.hypot(first[0] - at[0], first[1] - at[1]) <= reach()) {
    finish();
    return;
  }
  putPlace(hit ? hit.place : onGround(at));
}

export function putPlace(place) {
  const { draft } = state;
  draft.path = [...draft.path, place];
  draft.gone = [];
  if (draft.shape === "Point") finish();
  else {
    say(`Point ${draft.path.length}`);
    publish("draft", "draft-save");
  }
}

export function takeBack() {
  const { draft } = state;
  if (!draft || !draft.path.length) return;
  draft.gone = [...(draft.gone || []), draft.path[draft.path.length - 1]];
  draft.path = draft.path.slice(0, -1);
  publish("draft", "draft-save");
}

/** Put a point back that was taken back. */
export function putBack() {
  const { draft } = state;
  if (!draft || !draft.gone || !draft.gone.length) return;
  draft.path = [...draft.path, draft.gone[draft.gone.length - 1]];
  draft.gone = draft.gone.slice(0, -1);
  publish("draft", "draft-save");
}

export function leave() {
  if (!state.draft) return;
  state.draft = null;
  view.snapped = null;
  publish("draft", "draft-save");
  say("Left without a mark.");
}

function enough(draft) {
  return Boolean(draft) && draft.path.length >= (draft.strip ? 2 : FEWEST[draft.shape]);
}

/** Make the draft a mark. */
export async function finish() {
  const { draft } = state;
  if (!enough(draft)) return;
  const old = state.marks.find((mark) => mark.id === draft.id);
  let mark;
  if (old) mark = { ...old, paths: [draft.path, ...old.paths.slice(1)] };
  else if (draft.strip) mark = await stripMark(draft);
  else mark = { ...newMark(draft.layer, draft.shape, [draft.path]), id: draft.id };
  if (!mark || state.draft !== draft) return;
  if (!old) mark = { ...mark, values: filled(spec(draft.layer), begun(mark)) };
  state.draft = null;
  view.snapped = null;
  change(old ? state.marks.map((one) => (one.id === mark.id ? mark : one)) : [...state.marks, mark]);
  publish("draft");
  const again = draft.shape === "Point";
  choose(mark.id);
  document.documentElement.dataset.sheet = "open";
  say(`${WORDS[draft.layer].one} drawn.${again ? "" : " Its fields are in the ledger."}`);
}

async function stripMark(draft) {
  const width = byId("strip-width").value;
  try {
    const main = mainLine();
    const told = await ask("buffer", { json: { path: draft.path, width, beside: main ? main.paths[0] : null } });
    return { ...newMark("banks", "Polygon", told.paths), id: draft.id };
  } catch (error) {
    byId("strip-said").textContent = error.said;
    return null;
  }
}

export function mainLine() {
  const lines = allMarks().filter((mark) => mark.layer === "river" && mark.paths.length);
  return lines.find((mark) => mark.values.part !== "side") || null;
}

export function sideChannels() {
  const main = mainLine();
  return allMarks().filter((mark) => mark.layer === "river" && mark.paths.length && mark !== main).map((mark) => mark.paths[0]);
}

/** What can be told of a new mark from where it lies and from the one before it. */
export function begun(mark) {
  const before = [...state.marks].reverse().find((one) => one.layer === mark.layer);
  const main = mainLine();
  if (mark.layer === "banks") {
    return { side: main ? sideProposed(main.paths[0], sideChannels(), mark.paths).side : "" };
  }
  if (mark.layer === "river") return { part: main ? "side" : "main", name: "" };
  if (["soundings", "speeds", "edges", "levels", "structure"].includes(mark.layer) && before) return { flow: before.values.flow };
  return {};
}

let typing = false;

/** The bar on the map while something is drawn. */
function showBar() {
  const bar = byId("bar"), { draft } = state;
  bar.hidden = !draft && !state.pairing;
  document.documentElement.dataset.drawing = bar.hidden ? "no" : "yes";
  if (state.pairing) fill(bar, ...pairingBar());
  if (!draft) return;
  const count = draft.path.length ? `${draft.path.length} ${draft.path.length === 1 ? "point" : "points"}` : "";
  const long = draft.path.length > 1 ? `, ${lengthWords(pathLength(draft.path), state.units)}` : "";
  const how = draft.strip ? "Tap along the water's edge; the strip lies on the land side." : WORDS[draft.layer].how;
  const end = draft.path.length < 2 ? "" : draft.shape === "Polygon" && !draft.strip ? " Back to the first point closes it." : " The last point once more finishes it.";
  const focused = document.activeElement && bar.contains(document.activeElement) ? document.activeElement.dataset.act : null;
  const act = (words, does, name, more = {}) => button(words, does, { "data-act": name, ...more });
  const width = byId("strip-width") ? byId("strip-width").value : state.units.system === "us" ? "100" : "30";
  fill(bar,
    made("p.bar-how", {}, made("strong", {}, draft.strip ? "Bank strip" : WORDS[draft.layer].one), " ", how, end, made("span.bar-count", {}, ` ${count}${long}`)),
    draft.strip ? made("label.bar-width", {}, "Wide ", made("input", { id: "strip-width", type: "text", inputmode: "decimal", value: width }), ` ${state.units.length}`) : null,
    draft.strip ? made("p.wrong", { id: "strip-said", role: "status" }) : null,
    made("div.bar-acts", {},
      act("Put a point", () => putAt(centre()), "put", { class: "plate-button at-sight" }),
      act("Take back", takeBack, "back", { disabled: !draft.path.length }),
      act("Finish", finish, "finish", { disabled: !enough(draft), class: "plate-button is-main" }),
      act("Leave", leave, "leave"),
      act("Type a point", typePoint, "type", { "aria-expanded": String(typing), "aria-controls": "typed-row" })),
    typing ? placeRow() : null);
  if (focused) bar.querySelector(`[data-act="${focused}"]`)?.focus();
}

function placeRow() {
  const input = made("input", { type: "text", id: "typed-place", "aria-label": "Latitude, longitude of a point", placeholder: "latitude, longitude" });
  const put = () => {
    const place = readPlace(input.value);
    if (!place) { input.setAttribute("aria-invalid", "true"); return; }
    putPlace(place);
    if (state.draft) requestAnimationFrame(() => byId("typed-place")?.focus());
  };
  input.addEventListener("keydown", (event) => { if (event.key === "Enter") put(); });
  return made("div.field-row", { id: "typed-row" }, input, button("Put", put));
}

function typePoint() {
  typing = !typing;
  showBar();
  if (typing) byId("typed-place").focus();
}

export function begin() {
  subscribe("draft pairing", () => { showBar(); redraw(); });
}
