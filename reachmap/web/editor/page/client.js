// Talking with the program: every change is kept within half a second, one message at a time.
import { drawingHistory, subscribe, state, takeOver, publish } from "./state.js";

const WAIT_MS = 250, AGAIN_MS = 2000, CHECK_MS = 350, LOOK_MS = 5000;

export const keeping = { now: "kept", words: "", when: null }; // kept, keeping, waiting, stale, refused

let dirty = false, busy = false, timer = null, checkTimer = null;

function show(now, words = "") {
  keeping.now = now;
  keeping.words = words;
  if (now === "kept") keeping.when = new Date();
  publish("keeping");
}

/** Ask the program; throws {status, said, stale} where it refuses, status 0 where it is gone. */
export async function ask(address, { json, body, method = json || body ? "POST" : "GET" } = {}) {
  let answer;
  try {
    answer = await fetch(address, {
      method,
      headers: json ? { "Content-Type": "application/json" } : {},
      body: json ? JSON.stringify(json) : body ?? (method === "POST" ? "{}" : undefined),
      cache: "no-store",
    });
  } catch {
    throw { status: 0, said: "The program does not answer." };
  }
  const told = await answer.json().catch(() => ({}));
  if (!answer.ok) throw { status: answer.status, said: told.said || `The program answered ${answer.status}.`, stale: Boolean(told.stale) };
  return told;
}

function drawing() {
  const { draft } = state;
  return {
    version: state.version,
    marks: state.marks,
    draft: draft && draft.path.length
      ? { id: draft.id, layer: draft.layer, shape: draft.shape, paths: [draft.path], values: {} }
      : null,
  };
}

async function keep() {
  timer = null;
  if (busy || !dirty || keeping.now === "stale") return;
  busy = true;
  dirty = false;
  if (keeping.now === "kept" || keeping.now === "keeping") show("keeping");
  try {
    state.version = (await ask("drawing", { json: drawing() })).version;
    show(dirty ? "keeping" : "kept");
    checkSoon();
  } catch (error) {
    dirty = true;
    failed(error);
  }
  busy = false;
  if (dirty && keeping.now !== "stale") keepSoon(["waiting", "refused"].includes(keeping.now) ? AGAIN_MS : 0);
}

function failed(error) {
  if (error.stale) show("stale", error.said);
  else if (error.status === 0) show("waiting", "The program has stopped or is busy. Start it again; this page tries again by itself.");
  else show("refused", error.said);
}

function keepSoon(wait = WAIT_MS) {
  if (timer) clearTimeout(timer);
  timer = setTimeout(keep, wait);
}

/** One change at a time, whatever it is about. */
async function alone(act) {
  while (busy || (dirty && keeping.now !== "refused")) {
    if (keeping.now === "stale") throw { status: 409, said: keeping.words, stale: true };
    await new Promise((go) => { setTimeout(go, 40); });
  }
  busy = true;
  try {
    const told = await act();
    if (told.version) state.version = told.version;
    show("kept");
    return told;
  } catch (error) {
    if (error.stale) show("stale", error.said);
    throw error;
  } finally {
    busy = false;
    if (dirty) keepSoon(0);
  }
}

/** Keep facts of reach.toml. */
export async function keepFacts(facts) {
  const told = await alone(() => ask("facts", { json: { version: state.version, facts } }));
  const unitsChanged = told.units.system !== state.units.system;
  Object.assign(state, { facts: told.facts, invented: told.invented, layers: told.layers, units: told.units });
  if (told.marks) { // the numbers drawn were converted: steps back would bring the old ones
    state.marks = told.marks;
    state.chosen = null;
    drawingHistory.clear();
  }
  if (unitsChanged) state.generation += 1;
  publish("facts", ...(unitsChanged ? ["marks", "chosen", "view", "units"] : []));
  checkSoon();
}

/** Keep what lies beneath the drawing. */
export async function keepBasemap(basemap) {
  const told = await alone(() => ask("basemap", { json: { version: state.version, basemap } }));
  state.basemap = told.basemap;
  publish("basemap");
}

export function checkSoon() {
  if (checkTimer) clearTimeout(checkTimer);
  checkTimer = setTimeout(check, CHECK_MS);
}

let checking = false;

async function check() {
  checkTimer = null;
  if (checking) { // one look at a time: a large drawing takes seconds
    checkSoon();
    return;
  }
  checking = true;
  try {
    const told = await ask("check");
    Object.assign(state, { faults: told.faults, lines: told.lines, checked: told.version });
    publish("check");
  } catch {
    // the next change, or the next look, tries again
  }
  checking = false;
}

/** Take the newer drawing from the disk. What is drawn here and not kept goes into a file of the folder first. */
export async function loadAgain() {
  const mine = dirty ? state.marks : null;
  const copy = dirty ? JSON.parse(copyOfDrawing()) : null;
  takeOver(await ask("reload", { json: { copy } }), mine);
  dirty = false;
  show("kept");
  checkSoon();
}

async function look() {
  if (document.hidden || busy || dirty || keeping.now === "stale") return;
  try {
    const told = await ask("state");
    if (busy || dirty) return;
    if (told.version !== state.version || told.outside) {
      show("stale", told.outside
        ? "The drawing was changed by another program or page since it was read here."
        : "This drawing was changed in another tab or window.");
    } else if (keeping.now === "waiting") show("kept");
  } catch (error) {
    if (error.status === 0) show("waiting", "The program has stopped. What you see here is kept; start it again to go on.");
  }
}

/** The drawing as GeoJSON for the angler to keep. */
export function copyOfDrawing() {
  const begun = drawing().draft;
  const line = begun && begun.paths[0].length > 1 ? [{ ...begun, shape: "LineString" }] : [];
  const features = [...state.marks, ...line].filter((mark) => mark.shape).map((mark) => ({
    type: "Feature",
    properties: { layer: mark.layer, ...mark.values },
    geometry: {
      type: mark.shape,
      coordinates: mark.shape === "Point" ? mark.paths[0][0]
        : mark.shape === "LineString" ? mark.paths[0]
          : mark.paths.map((ring) => [...ring, ring[0]]),
    },
  }));
  return JSON.stringify({ type: "FeatureCollection", features }, null, 1);
}

export function begin() {
  subscribe("save draft-save", () => {
    dirty = true;
    if (keeping.now !== "stale") {
      if (keeping.now === "kept") show("keeping");
      keepSoon();
    }
  });
  document.addEventListener("visibilitychange", () => {
    if (document.hidden && dirty) keep();
    else look();
  });
  addEventListener("focus", look);
  addEventListener("beforeunload", (event) => {
    if (dirty || busy) {
      keep();
      event.preventDefault();
    }
  });
  setInterval(look, LOOK_MS);
  show("kept");
  checkSoon();
}
