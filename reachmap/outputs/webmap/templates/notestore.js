// Where notes are kept on the phone: in the browser's database, else in its small store, else only
// as long as the page is open. A note counts as kept when the browser says that it is on the disk.

const NOTES_BASE = "reachmap-notes";
const SLOW_BASE = 4000; // ms: a database that has not answered by then is taken for none
const noteStore = {
  kind: "", // base, small or none, once it is open
  base: null,
  notes: [], // of this reach, the oldest first; those put away among them
};

function openedBase() {
  return new Promise((done, failed) => {
    setTimeout(() => failed(new Error("no answer")), SLOW_BASE);
    const asked = indexedDB.open(NOTES_BASE, 1);
    asked.onupgradeneeded = () => {
      const store = asked.result.createObjectStore("notes", { keyPath: "id" });
      store.createIndex("reach", "reach");
    };
    asked.onsuccess = () => done(asked.result);
    asked.onerror = asked.onblocked = () => failed(asked.error);
  });
}

// Runs one transaction; done when it is on the disk.
function inBase(mode, act) {
  return new Promise((done, failed) => {
    const turned = noteStore.base.transaction("notes", mode, { durability: "strict" });
    const asked = act(turned.objectStore("notes"));
    turned.oncomplete = () => done(asked && asked.result);
    turned.onerror = turned.onabort = () => failed(turned.error);
  });
}

function smallKey() {
  return NOTES_BASE + ":" + data.reach;
}
function readSmall() {
  return JSON.parse(window.localStorage.getItem(smallKey()) || "[]");
}

async function openNotes() {
  try {
    noteStore.base = await openedBase();
    noteStore.kind = "base";
    await readNotes();
    return;
  } catch (fault) {
    noteStore.base = null;
  }
  try {
    window.localStorage.setItem(NOTES_BASE + "-try", "1");
    window.localStorage.removeItem(NOTES_BASE + "-try");
    noteStore.kind = "small";
    await readNotes();
  } catch (fault) {
    noteStore.kind = "none";
  }
}

// Reads what is kept anew: another page of this reach may have added to it.
async function readNotes() {
  let found = noteStore.notes;
  if (noteStore.kind === "base")
    found = await inBase("readonly", (store) => store.index("reach").getAll(data.reach));
  if (noteStore.kind === "small") found = readSmall();
  noteStore.notes = found.sort((a, b) => a.at - b.at);
}

// Keeps notes, each in the place of the one with its id.
async function keepNotes(notes) {
  if (noteStore.kind === "base")
    await inBase("readwrite", (store) => notes.forEach((note) => store.put(note)));
  const ids = new Set(notes.map((note) => note.id));
  const merged = (list) => [...list.filter((note) => !ids.has(note.id)), ...notes];
  if (noteStore.kind === "small")
    window.localStorage.setItem(smallKey(), JSON.stringify(merged(readSmall())));
  if (noteStore.kind === "none") noteStore.notes = merged(noteStore.notes);
  await readNotes();
  if (noteStore.kind === "base" && navigator.storage && navigator.storage.persist)
    navigator.storage.persist().catch(() => false); // asks that the browser does not clear it
}

async function dropNotes(ids) {
  const gone = new Set(ids);
  if (noteStore.kind === "base")
    await inBase("readwrite", (store) => ids.forEach((id) => store.delete(id)));
  const left = (list) => list.filter((note) => !gone.has(note.id));
  if (noteStore.kind === "small")
    window.localStorage.setItem(smallKey(), JSON.stringify(left(readSmall())));
  if (noteStore.kind === "none") noteStore.notes = left(noteStore.notes);
  await readNotes();
}

// Notes that are not yet carried home.
function notesHere() {
  return noteStore.notes.filter((note) => !note.away);
}
function notesAway() {
  return noteStore.notes.filter((note) => note.away);
}
