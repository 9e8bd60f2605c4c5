// What the page knows, what is shown just now, and small tools that every part uses.

const data = JSON.parse(document.getElementById("reach-data").textContent);
const map = window[data.map];
const root = document.documentElement;
const live = document.getElementById("live"); // indeterminate while this script runs: still.css

// A copy saved while the page was open holds the state of then.
live.indeterminate = false;
root.classList.remove("printing");
delete root.dataset.reach;
const MADE_ANEW = ".print-key, .too-old, .curves-key, .run-curves, .whom";
document.querySelectorAll(MADE_ANEW).forEach((old) => old.remove());
document.querySelectorAll("#switches, #presets").forEach((box) => (box.textContent = ""));
const styles = new Map(data.legend.styles.map((style) => [style.kind, style]));

const state = {
  flow: data.start, // position in data.flows of the flow whose list, cards and shapes are shown
  at: data.start, // the same for the water: between two flows it is mixed of both (mix.js)
  water: "depth", // depth, speed or plain
  light: "day", // day or night
  on: new Set(), // kinds that are drawn
  chosen: null, // the feature whose card is open
  run: -1, // the run whose card is open
  moved: false, // whether somebody moved the map
  place: null, // where depth and speed were read
  read: null, // the reading of the gauge, if the map is at the flow drawn for one
  old: -1, // where the water was before, as long as its edge is shown
  oldField: null, // its field
  said: "", // what the last change of the flow did, in words
  turned: false, // whether the map lies with downstream up
  turn: 0, // by how much [radians, clockwise]
  fix: null, // where one stands: { place, accuracy [m], at [ms] }
  busy: false, // whether a change of the flow is on its way to the screen
  lit: -1, // the run that list and map light
  limitNames: [], // px of the canvas where the limit's figure stands
  covered: 0, // px of the map's lower part that the sheet of a phone hides
  pinBoxes: [], // px of the map that numbers and their names take
};

// Parts tell each other what changed: "flow", "layers", "light", "water".
const ears = {};
function listen(name, act) {
  (ears[name] = ears[name] || []).push(act);
}
function tell(name) {
  (ears[name] || []).forEach((act) => act());
}

function byId(id) {
  return document.getElementById(id);
}

// An element with class and text. Text never becomes mark-up: textContent only.
function make(tag, className, text) {
  const element = document.createElement(tag);
  if (className) element.className = className;
  if (text !== undefined && text !== null) element.textContent = text;
  return element;
}

// Text that a person typed: kept apart, so that its writing direction stays its own.
function typed(text) {
  return make("bdi", "", text);
}

function makeButton(className, text, act) {
  const button = make("button", className, text);
  button.type = "button";
  button.addEventListener("click", act);
  return button;
}

// A number with so many decimals, with the signs of the folder's locale.
const writers = {};
function decimals(value, digits) {
  writers[digits] ??= new Intl.NumberFormat(data.locale, {
    minimumFractionDigits: digits,
    maximumFractionDigits: digits,
  });
  return writers[digits].format(value);
}

// The ways a number is written, the second in brackets.
function inWays(quantity, write) {
  return data.ways[quantity].map((way, at) => (at ? "(" + write(way) + ")" : write(way))).join(" ");
}

// Words of the page in its language, the names in braces filled in; the messages come with the data.
function tr(name, values) {
  return fill(data.say.page[name], values || {});
}

// A number in the angler's units, feet with metres behind them; nothing known is said so.
function say(quantity, value) {
  if (value === null || value === undefined) return tr("unknown");
  return inWays(quantity, (way) => decimals(value / way.size, way.digits) + " " + way.unit);
}

function isPhone() {
  return window.matchMedia("(max-width: 560px), (max-width: 1000px) and (orientation: portrait)").matches;
}

// File coordinates to places on the globe.
function latLng(x, y) {
  const point = L.point(data.origin[0] + x * data.unit, data.origin[1] + y * data.unit);
  return L.Projection.SphericalMercator.unproject(point);
}
function filePoint(place) {
  const point = L.Projection.SphericalMercator.project(place);
  return { x: (point.x - data.origin[0]) / data.unit, y: (point.y - data.origin[1]) / data.unit };
}
