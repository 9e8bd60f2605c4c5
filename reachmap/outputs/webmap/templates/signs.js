// Which signs and labels are drawn at a distance, and how large.

// Ground metres in one px up to which each thing is drawn; beyond, the map would only be busy.
const SHOWN_UP_TO = {
  station: 1.8,
  swing: 0.9,
  room: 0.9,
  tight: 0.9,
  blocked: 0.9,
  look: 0.9,
  sounding: 4,
  note: 8,
  river: 60,
  own_run: 4,
  found_run: 4,
  hazard: 12,
  access: 12,
  ask: 12,
  trip: 6,
  edge_band: 3,
};
const PATTERNS_UP_TO = 4;
const FROM_BYTES = new Set(["edge", "easy", "careful", "no"]); // drawn cell by cell, not as shapes

// Ground metres in one px up to which codes and names are written.
const CODES_UP_TO = 1.6;
const NAMES_UP_TO = 2.4;

// Signs are drawn smaller the farther one is, so that the river stays in sight.
function signSize(view) {
  return view.metres > 5 ? 0.5 : view.metres > 2.2 ? 0.68 : 1;
}

// Places to stand that are shown: the chosen one, then those with more room, none on another.
const RANKS = { room: 0, tight: 1, look: 2, blocked: 3 };
const SIGN_APART = 28; // px between signs, and between casts drawn
const FAN_APART = 84;
function spaced(stations, view, apart) {
  const kept = [];
  const order = [...stations].sort(
    (a, b) => (b === state.chosen) - (a === state.chosen) || RANKS[a.mark] - RANKS[b.mark],
  );
  for (const one of order) {
    if (kept.every((other) => Math.hypot(one.x - other.x, one.y - other.y) * view.k >= apart))
      kept.push(one);
  }
  return new Set(kept);
}

// Rings the path that stands so that it is seen on any water.
function inkHalo(pen) {
  pen.setLineDash([]);
  for (const [colour, width] of [
    [state.light === "day" ? "#fffdf6" : "#0b1214", 7],
    [state.light === "day" ? "#b3460a" : "#ffc46b", 3.5],
  ]) {
    pen.strokeStyle = colour;
    pen.lineWidth = width;
    pen.stroke();
  }
}

// Whether a kind is a stretch one fishes through: a run, found or drawn, and not a piece of water.
function isStretch(kind) {
  return kind === "found_run" || kind === "own_run";
}

// Whether a feature is the water one fishes of its run at the flow shown.
function isFished(feature) {
  const code = feature.run < 0 ? "" : runs[feature.run].at[state.flow].fished;
  return code !== "" && feature.label.split(" ")[0] === code;
}

// Whether an outline would only be a speck: the cells themselves are drawn as unknown below it.
const CRUMB = 9; // px
function isCrumb(feature, view) {
  if (feature.kind !== "unknown" || colouredBy() !== "grade") return false;
  const [left, top, right, bottom] = feature.box;
  return Math.max(right - left, bottom - top) * view.k < CRUMB;
}

// Whether a thing is drawn quietly: from afar, while the list has other runs than its own. Its own
// card or the list's light brings it back.
const QUIET_FROM = 1.1; // ground metres in one px
function isQuiet(feature, view) {
  if (view.metres < QUIET_FROM || state.preset !== "fish") return false;
  const kind = feature.style.kind;
  if (!isStretch(kind) && !WORTH_FISHING.has(kind)) return false;
  if (feature.run >= 0 && (feature.run === state.run || feature.run === state.lit)) return false;
  const picks = picksNow();
  return picks.length > 0 && !(picks.includes(feature.run) && (isStretch(kind) || isFished(feature)));
}
const WORTH_FISHING = new Set("inside_bend seam tailout soft_edge even_run structure".split(" "));

// What is written beside a feature at this distance, or nothing.
function labelOf(feature, view, x, y) {
  const { kind, shape } = feature.style;
  const tones = tone(feature.style);
  const write = (text, size, weight, dy = 0, bold = 600) => ({
    text,
    x,
    y: y + dy,
    size,
    weight,
    font: bold + " " + size + "px " + WRITING,
    ink: tones.ink,
    casing: tones.casing,
  });
  if (isStretch(kind)) {
    if (feature.run >= 0 && runs[feature.run].at[state.flow].pick) return null; // its number says it
    return view.metres <= NAMES_UP_TO && feature.label ? write(feature.label, 15, 1000, 0, 500) : null;
  }
  if (kind === "hazard") return view.metres <= 1 ? write(feature.mark, 13, 500, 22) : null;
  if (kind === "access") return view.metres <= 0.6 ? write(feature.mark, 13, 300, 20) : null;
  if (kind === "ask") return view.metres <= 3 ? write(feature.label, 13, 400, 21) : null;
  if (kind === "side_channel" || kind === "bar")
    return view.metres <= 1.2 && feature.label ? write(feature.label, 13, 150, 0, 500) : null;
  if (view.metres > CODES_UP_TO || !feature.label || kind === "river") return null;
  if (kind === "sounding") return write(feature.label, 12, 100, 13, 500);
  if (shape === "mark") return view.metres <= 0.5 ? write(feature.label, 12, 50, 18, 500) : null;
  return write(feature.label + (feature.faded ? "?" : ""), 15, 200 + feature.weight);
}
