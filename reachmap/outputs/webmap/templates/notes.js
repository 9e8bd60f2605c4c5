// Notes taken on the water: the form, the list, and the file that carries them home. The list is in
// the page only while it is open, and marks are drawn on a canvas: a copy of the page that is saved
// and handed on holds no note.

const noteSay = data.say.notes;
const WANTS_PLACE = new Set(["edge", "depth", "hold"]); // evidence: a poor place would mislead
const POOR_M = 15; // a place worse than this is no evidence (our choice, 8 to 25)
const STALE_S = 60; // s after which a place is no longer where one stands (our choice, 20 to 120)
const DEEPEST_M = 60; // as the log's own range
const MOST_WORDS = 2000;

const draft = { kind: "touch", from: "", depth: "", structure: "", photo: "", words: "", flow: null };
let lastFile = null; // notes of the last file that was saved or shared
let redone = null; // what undo does

function noteKindWords(kind) {
  return noteSay.kinds.find((row) => row[0] === kind)[1];
}

// A note in a few words: what, how deep, words.
function noteWords(note) {
  const first = data.ways.depth[0];
  const named = noteSay.structures.find((row) => row[0] === note.structure);
  const what =
    note.kind === "depth"
      ? noteKindWords("depth") + " " + decimals(note.depth / first.size, first.digits) + " " + first.unit
      : note.kind === "hold" && named
        ? named[1][0].toUpperCase() + named[1].slice(1)
        : noteKindWords(note.kind);
  return [what, note.words, note.photo].filter(Boolean).join(" · ");
}

// The place that was chosen for the note: where one stands or where one tapped; null while none is.
function notePlace() {
  if (draft.from === "stand") return state.fix ? state.fix.place : null;
  return draft.from === "tapped" ? state.place : null;
}

// What is wrong with the place where one stands for such a note; nothing where it will do.
function placeFault(kind) {
  if (draft.from !== "stand") return "";
  if (!state.fix) return noteSay.waiting;
  const ago = Math.round((Date.now() - state.fix.at) / 1000);
  if (ago > STALE_S) return fill(noteSay.stale, { ago });
  if (WANTS_PLACE.has(kind) && !(state.fix.accuracy <= POOR_M))
    return fill(noteSay.poor, { far: say("reach", state.fix.accuracy) });
  return "";
}

function placeWords() {
  const fault = placeFault(draft.kind);
  if (fault) return fault;
  const place = notePlace();
  if (!place) return noteSay.nowhere;
  const far = draft.from === "stand" ? fill(noteSay.far, { far: say("reach", state.fix.accuracy) }) : "";
  return [place.lat.toFixed(5) + ", " + place.lng.toFixed(5), far].filter(Boolean).join(" · ");
}

// The river's flow as the page has it: the reading where there is one, else the flow drawn.
function flowOfPage() {
  const read = state.read;
  const value = read && isFinite(read.flow) ? read.flow : flowAtPosition(state.at);
  return { value, words: read ? read.words : flowNow() };
}
// Only a reading typed just now is what the river runs at: a record may be days old, an address too.
function isReadNow() {
  return state.read !== null && state.read.from === "typed";
}

function chipsOf(label, rows, chosen, act) {
  const box = make("div", "chips");
  box.setAttribute("role", "group");
  box.setAttribute("aria-label", label);
  for (const [name, words] of rows) {
    const chip = makeButton("chip", words, () => act(name));
    chip.setAttribute("aria-pressed", String(name === chosen));
    chip.dataset.choice = name;
    box.append(chip);
  }
  return box;
}

function fieldOf(name, label, element) {
  const row = make("label", "field");
  element.id = "note-" + name;
  element.value = draft[name];
  element.addEventListener("input", () => (draft[name] = element.value));
  row.append(make("span", "", label), element);
  return row;
}
function textField(name, label, options = {}) {
  const input = make(options.long ? "textarea" : "input");
  if (!options.long) input.type = "text";
  input.maxLength = MOST_WORDS;
  input.autocomplete = "off";
  Object.assign(input, options.more || {});
  return fieldOf(name, label, input);
}

function noteForm() {
  const form = make("form", "note-form");
  form.noValidate = true;
  const redraw = (name) => {
    drawNotesCard();
    const chip = document.querySelector('.note-form [data-choice="' + name + '"]');
    if (chip) chip.focus({ preventScroll: true });
  };
  const choose = (kind) => {
    draft.kind = kind;
    redraw(kind);
  };
  form.append(chipsOf(noteSay.what, noteSay.kinds, draft.kind, choose));
  form.append(make("p", "small", noteSay.kinds.find((row) => row[0] === draft.kind)[2]));
  if (draft.kind === "depth") {
    const label = fill(noteSay.depth, { unit: data.ways.depth[0].unit });
    form.append(textField("depth", label, { more: { inputMode: "decimal" } }));
  }
  if (draft.kind === "hold") {
    const list = make("select");
    for (const [name, words] of noteSay.structures) list.append(new Option(words, name));
    draft.structure = draft.structure || noteSay.structures[0][0];
    form.append(fieldOf("structure", noteSay.structure, list));
  }
  const rows = ["stand", ...(state.place ? ["tapped"] : [])].map((name) => [name, noteSay[name]]);
  const from = (name) => {
    draft.from = name;
    if (name === "stand") wantPlace();
    redraw(name);
  };
  form.append(chipsOf(noteSay.where, rows, draft.from, from));
  const where = make("p", "note-where", placeWords());
  where.setAttribute("role", "status");
  form.append(where, flowBox(), wordsFold());
  const keep = make("button", "plate-button note-keep", noteSay.keep);
  keep.type = "submit";
  form.append(keep);
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    takeNote();
  });
  return form;
}

// Words and a photo's name: folded, but for a note of words alone.
function wordsFold() {
  const fold = make("details", "more");
  fold.append(make("summary", "", noteSay.more));
  fold.append(textField("words", noteSay.words, { long: true }), textField("photo", noteSay.photo));
  fold.open = draft.kind === "words" || Boolean(draft.words || draft.photo);
  return fold;
}

function flowBox() {
  const label = make("label", "note-flow");
  const box = make("input");
  box.type = "checkbox";
  box.id = "note-flow";
  box.checked = draft.flow === null ? isReadNow() : draft.flow;
  box.addEventListener("change", () => (draft.flow = box.checked));
  const words = make("span", "", fill(noteSay.flow, { flow: flowOfPage().words }));
  words.append(make("small", "", noteSay.flow_why));
  label.append(box, words);
  return label;
}

// What is wrong with the note as it stands; nothing where it can be kept.
function noteFault() {
  const first = data.ways.depth[0];
  if (draft.kind === "depth") {
    const depth = numberIn(draft.depth) * first.size;
    if (!(depth >= 0 && depth < DEEPEST_M))
      return fill(noteSay.depth_wrong, { unit: first.unit, most: Math.floor(DEEPEST_M / first.size) });
  }
  if (draft.kind === "words" && !draft.words.trim() && !draft.photo.trim()) return noteSay.words_wrong;
  return placeFault(draft.kind) || (notePlace() ? "" : noteSay.nowhere);
}

// An id that no other note has, on this phone or another.
function newNoteId() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  return "page-" + [...bytes].map((one) => one.toString(16).padStart(2, "0")).join("");
}

function noteOfDraft() {
  const place = notePlace();
  const running = draft.flow === null ? isReadNow() : draft.flow;
  const run = runAt(place);
  return {
    id: newNoteId(),
    reach: data.reach,
    made: localTime(new Date()),
    at: Date.now(),
    kind: draft.kind,
    latitude: Number(place.lat.toFixed(7)),
    longitude: Number(place.lng.toFixed(7)),
    accuracy: draft.from === "stand" ? state.fix.accuracy : null,
    depth: draft.kind === "depth" ? numberIn(draft.depth) * data.ways.depth[0].size : null,
    structure: draft.kind === "hold" ? draft.structure : "",
    photo: draft.photo.trim(),
    words: draft.words.trim(),
    run: run < 0 ? "" : runs[run].name,
    flow: running ? Number(flowOfPage().value.toPrecision(6)) : null,
    away: "",
  };
}

async function takeNote() {
  const fault = noteFault();
  if (fault) return sayOfNotes(fault, null, true);
  const note = noteOfDraft();
  try {
    await keepNotes([note]);
  } catch (refusal) {
    return sayOfNotes(noteSay.lost, null, true);
  }
  Object.assign(draft, { depth: "", photo: "", words: "" });
  const told = noteStore.kind === "none" ? noteSay.held : noteSay.kept;
  drawNotesCard();
  sayOfNotes(fill(told, { note: noteWords(note) }), () => dropNotes([note.id]));
  byId("notes-said").scrollIntoView({ block: "nearest" });
  return note;
}

// Says what was done, with a way back where there is one.
function sayOfNotes(words, undo, stern = false) {
  const box = byId("notes-said");
  box.textContent = "";
  box.classList.toggle("is-stern", stern);
  box.append(make("span", "", words));
  redone = undo;
  if (!undo) return;
  box.append(
    makeButton("plate-button", noteSay.undo, async () => {
      if (redone) await redone();
      redone = null;
      drawNotesCard();
      byId("notes-said").textContent = "";
    }),
  );
}
