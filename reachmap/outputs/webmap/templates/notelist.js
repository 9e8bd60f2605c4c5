// The list of notes, the way home, and their marks on the map.

function noteRowOf(note) {
  const row = make("li", "note-row");
  const text = make("span");
  text.append(make("small", "", note.made.slice(0, 16).replace("T", " ") + " "), typed(noteWords(note)));
  const show = makeButton("link", "", () => {
    state.moved = true;
    map.setView([note.latitude, note.longitude], Math.max(map.getZoom(), 18), { animate: false });
  });
  show.append(text);
  const drop = makeButton("plate-button", noteSay.drop, async () => {
    await dropNotes([note.id]);
    drawNotesCard();
    sayOfNotes(fill(noteSay.gone, { note: noteWords(note) }), () => keepNotes([note]));
    byId("notes-said").scrollIntoView({ block: "nearest" });
  });
  drop.setAttribute("aria-label", noteSay.drop + ": " + noteWords(note));
  row.append(show, drop);
  return row;
}

function countWords(notes) {
  if (!notes.length) return noteSay.none;
  return notes.length === 1 ? noteSay.one : fill(noteSay.many, { count: notes.length });
}

// The way to the trip form, where this page is shown by `reachmap view`, which serves it too.
function formLink() {
  const own = ["127.0.0.1", "localhost"].includes(window.location.hostname);
  if (!own || new URLSearchParams(window.location.search).get("form") !== "log") return null;
  const link = make("a", "plate-button", noteSay.form);
  link.href = "../log";
  return link;
}

// The notes of this reach: newest first, and what is done with them.
function noteList() {
  const box = make("div", "note-list");
  const here = notesHere();
  box.append(make("h2", "", countWords(here)));
  const stored = noteStore.kind === "none" ? noteSay.unstored : noteSay.stored;
  if (noteStore.kind === "none") box.append(make("p", "notice notice-margins", stored));
  const list = make("ul", "note-rows");
  [...here].reverse().forEach((note) => list.append(noteRowOf(note)));
  if (here.length) box.append(list, wayHome(here));
  if (noteStore.kind !== "none") box.append(make("p", "small", stored));
  const away = notesAway();
  if (away.length) {
    const back = makeButton("plate-button", noteSay.back, async () => {
      await keepNotes(away.map((note) => ({ ...note, away: "" })));
      drawNotesCard();
    });
    box.append(make("p", "small", fill(noteSay.away, { count: away.length })), back);
  }
  const form = formLink();
  if (form) box.append(make("p"), form);
  return box;
}

function wayHome(here) {
  const box = make("div", "note-home");
  const file = notesFile(here);
  if (canShare(file))
    box.append(
      makeButton("plate-button", noteSay.share, async () => {
        try {
          await navigator.share({ files: [file], title: file.name });
        } catch (refusal) {
          return sayOfNotes(noteSay.unshared, null);
        }
        return carried(file, here);
      }),
    );
  box.append(
    makeButton("plate-button", noteSay.save, () => {
      saveFile(file);
      carried(file, here);
    }),
  );
  if (lastFile && here.some((note) => lastFile.has(note.id))) box.append(putAwayButton(here));
  return box;
}

// A file has left the page: its notes stay until the angler says that they are at home.
function carried(file, here) {
  lastFile = new Set(here.map((note) => note.id));
  drawNotesCard();
  sayOfNotes(fill(noteSay.saved, { file: file.name }), null);
}

// Puts away what the last file held, and no note taken since. What was put away before goes now.
function putAwayButton(here) {
  const mine = here.filter((note) => lastFile.has(note.id));
  return makeButton("plate-button", fill(noteSay.home, { count: mine.length }), async () => {
    const old = notesAway().map((note) => note.id);
    const now = localTime(new Date());
    await keepNotes(mine.map((note) => ({ ...note, away: now })));
    await dropNotes(old);
    lastFile = null;
    drawNotesCard();
  });
}

let notesOpen = false;
function drawNotesCard() {
  drawNoteMarks();
  if (!notesOpen) return;
  const said = byId("notes-said");
  const body = byId("notes-body");
  body.textContent = "";
  body.append(noteForm(), said, noteList());
}

// The place where one stands moves on while the form is open.
function showNotePlace() {
  const where = notesOpen && document.querySelector(".note-where");
  if (where) where.textContent = placeWords();
}

async function openNotesCard(from) {
  if (noteStore.kind !== "none") await readNotes().catch(() => null);
  draft.from = from;
  draft.flow = null;
  const body = make("div");
  body.id = "notes-body";
  const said = make("p", "note-said");
  said.id = "notes-said";
  said.setAttribute("role", "status");
  body.append(said);
  const heading = fillCard(noteSay.title, "", [body, make("p", "small", noteSay.notice)]);
  notesOpen = true;
  state.chosen = null;
  state.run = -1;
  drawNotesCard();
  heading.focus({ preventScroll: true });
  sheet.draw();
}

// The place to begin with: where one stands if that is known, else where one tapped.
function firstPlace() {
  if (state.fix && Date.now() - state.fix.at < STALE_S * 1000) return "stand";
  return state.place ? "tapped" : "";
}

// A circle with the first letter of what was noted, on a canvas of its own above the water.
const NoteMark = L.CircleMarker.extend({
  _updatePath() {
    this._renderer._updateCircle(this);
    const pen = this._renderer._ctx;
    if (!this._renderer._drawing || this._empty()) return;
    sign(pen, this.options.letter, this._point.x, this._point.y, 13, this.options.color);
  },
});
let noteMarks = null;
function drawNoteMarks() {
  if (!noteMarks) return;
  noteMarks.group.clearLayers();
  const day = state.light === "day";
  for (const note of notesHere()) {
    const mark = new NoteMark([note.latitude, note.longitude], {
      renderer: noteMarks.renderer,
      radius: 10,
      weight: 2.5,
      color: day ? "#fffdf6" : "#10181b",
      fillColor: day ? "#5a2a82" : "#d9b8ff",
      fillOpacity: 1,
      letter: noteKindWords(note.kind)[0],
    });
    mark.on("click", (event) => {
      L.DomEvent.stop(event);
      openNotesCard(firstPlace());
    });
    noteMarks.group.addLayer(mark);
  }
  const button = byId("note-button");
  const count = notesHere().length;
  button.querySelector("b").textContent = count || "";
  button.setAttribute("aria-label", noteSay.take + (count ? ", " + countWords(notesHere()) : ""));
}

function startNotes() {
  map.createPane("notes").style.zIndex = 450;
  noteMarks = {
    renderer: L.canvas({ pane: "notes", tolerance: 12 }),
    group: L.layerGroup().addTo(map),
  };
  const button = byId("note-button");
  button.title = noteSay.take;
  button.hidden = false;
  button.addEventListener("click", () => openNotesCard(firstPlace()));
  listen("light", drawNoteMarks);
  listen("flow", () => notesOpen && drawNotesCard());
  listen("fix", showNotePlace);
  listen("card", () => {
    notesOpen = false;
    if (byId("notes-body")) byId("notes-body").remove();
  });
  openNotes().then(drawNotesCard);
  document.addEventListener("visibilitychange", () => {
    if (!document.hidden && noteStore.kind) readNotes().then(drawNotesCard, () => null);
  });
}
