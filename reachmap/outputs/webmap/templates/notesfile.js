// Notes as the file that `reachmap log DIR --import` takes: the log's own CSV (RFC 4180), in SI.

const NOTE_COLUMNS =
  "uid when flow_m3_s flow_from run touches minutes photo note longitude latitude seen".split(" ");
const SEEN_AS = { edge: "edge", depth: "sounding", hold: "hold" };

// Whether a spreadsheet may take a text for a formula; the same rule as `_is_formula` of csv_cells.py.
const STARTS = new Set("=+-@\t\r\n");
const BLANK_SIGN = /^[\p{Cc}\p{Cf}\p{Zl}\p{Zp}\p{Zs}]$/u;
function isFormula(text) {
  for (const sign of text.replace(/^'+/, "")) {
    if (STARTS.has(sign) || STARTS.has(sign.normalize("NFKC"))) return true;
    if (!BLANK_SIGN.test(sign)) return false;
  }
  return false;
}

function csvCell(value) {
  if (value === null || value === undefined) return "";
  if (typeof value === "number") return String(value);
  const text = isFormula(value) ? "'" + value : value;
  return /[",\r\n]/.test(text) ? '"' + text.replace(/"/g, '""') + '"' : text;
}

// The words of a note as the log keeps them, how well its place is known among them.
function noteText(note) {
  const far = note.accuracy === null ? "" : tr("good_to", { far: Math.ceil(note.accuracy) });
  return [note.words, far].filter(Boolean).join(" · ");
}

function seenOf(note) {
  const kind = SEEN_AS[note.kind];
  if (!kind) return "";
  const words = note.kind === "hold" ? [note.structure, note.words].filter(Boolean).join(": ") : note.words;
  const value = note.kind === "depth" ? note.depth : null;
  return JSON.stringify([
    { kind, longitude: note.longitude, latitude: note.latitude, value, note: words },
  ]);
}

function noteRow(note) {
  const touch = note.kind === "touch";
  return {
    uid: note.id,
    when: note.made,
    flow_m3_s: note.flow,
    flow_from: note.flow === null ? "" : "typed",
    run: touch ? note.run : "",
    touches: touch ? 1 : 0,
    minutes: touch ? null : 0, // a note is no fishing: it counts as none
    photo: note.photo,
    note: noteText(note),
    longitude: note.longitude,
    latitude: note.latitude,
    seen: seenOf(note),
  };
}

function notesCsv(notes) {
  const rows = notes.map((note) => {
    const row = noteRow(note);
    return NOTE_COLUMNS.map((name) => csvCell(row[name])).join(",");
  });
  return [NOTE_COLUMNS.join(","), ...rows, ""].join("\r\n");
}

function notesFile(notes) {
  const name = "notes-" + localTime(new Date()).slice(0, 16).replace(/[-:]/g, "") + ".csv";
  return new File([notesCsv(notes)], name, { type: "text/csv" });
}

function canShare(file) {
  return Boolean(navigator.canShare && navigator.canShare({ files: [file] }));
}

// Saves a file where the browser saves what it loads.
function saveFile(file) {
  const link = make("a");
  link.href = URL.createObjectURL(file);
  link.download = file.name;
  document.body.append(link);
  link.click();
  link.remove();
  setTimeout(() => URL.revokeObjectURL(link.href), 60000);
}

// A time of this device's clock with its offset, ISO 8601.
function localTime(at) {
  const two = (number) => String(Math.floor(Math.abs(number))).padStart(2, "0");
  const offset = -at.getTimezoneOffset();
  const day = [at.getFullYear(), two(at.getMonth() + 1), two(at.getDate())].join("-");
  const hour = [at.getHours(), at.getMinutes(), at.getSeconds()].map(two).join(":");
  return day + "T" + hour + (offset < 0 ? "-" : "+") + two(offset / 60) + ":" + two(offset % 60);
}
