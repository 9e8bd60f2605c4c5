// The reading of the gauge: typed, from the end of the record, or from the page's address. The map
// goes to the flow drawn for it and says which one that is.

const gauge = data.gauge;
const flowUnit = gauge.units[0];

// Fills the names in braces of a sentence.
function fill(sentence, values) {
  return sentence.replace(/\{(\w+)\}/g, (found, name) => (name in values ? values[name] : found));
}

// A number as a person writes it: 1,943 or 1 943 are thousands, 55,2 has a decimal comma. Where the
// locale has a decimal comma 1,943 is under two, and 1.943 thousands if it parts them by points.
const SIGNS = Object.fromEntries(
  new Intl.NumberFormat(data.locale).formatToParts(12345.6).map((part) => [part.type, part.value]),
);
function numberIn(text) {
  let bare = text.replace(/[\s'’]/g, "");
  if (SIGNS.decimal === ",") {
    if (SIGNS.group === "." && /^[1-9]\d{0,2}(\.\d{3})+(,\d+)?$/.test(bare)) bare = bare.replace(/\./g, "");
    bare = bare.replace(",", ".");
  } else if (/^\d{1,3}(,\d{3})+(\.\d+)?$/.test(bare)) bare = bare.replace(/,/g, "");
  else if (/^\d+,\d+$/.test(bare)) bare = bare.replace(",", ".");
  return /^(\d+\.?\d*|\.\d+)$/.test(bare) ? Number(bare) : NaN;
}

// Units as people write them, the longest first.
const UNIT_WORDS = [
  [/(ft3\/?s|cu ?ft\/s|cfs)$/i, "cfs"],
  [/(m3\/?s|m³\/s|cumecs?|cms)$/i, "m³/s"],
  [/(ft|feet|foot)$/i, "ft"],
  [/(m|metres?|meters?)$/i, "m"],
];

// A reading as typed: { flow, words, text }; flow is NaN outside the rating, null for no number.
function readingIn(text, unit) {
  let bare = text.trim();
  const named = UNIT_WORDS.find(([words]) => words.test(bare));
  if (named) {
    bare = bare.replace(named[0], "").trim();
    unit = gauge.units.find((one) => one.name === named[1]);
  }
  const value = unit ? numberIn(bare) : NaN;
  if (!(value >= 0) || (unit.of === "flow" && value === 0)) return null;
  const flow = unit.of === "flow" ? value * unit.size : flowAtHeight(value * unit.size);
  const number = value >= 1000 ? decimals(value, 0) : value.toLocaleString(data.locale);
  const also = unit === flowUnit || !isFinite(flow) ? "" : " (" + flowWords(flow) + ")";
  return { flow, unit, number: bare, words: number + " " + unit.name + also };
}

// Three figures at most, as below 100.
function threeFigures(value) {
  return value.toLocaleString(data.locale, { maximumSignificantDigits: 3, useGrouping: false });
}

// A flow in a unit, as the rest of the page writes it.
function flowIn(flow, unit) {
  const value = flow / unit.size;
  const number = value >= 100 ? decimals(value, 0) : threeFigures(value);
  return number + " " + unit.name;
}
function flowWords(flow) {
  return flowIn(flow, flowUnit);
}
// In m3/s beside feet; a metric page shows no feet.
function otherWords(flow) {
  return data.flows[0].other ? flowIn(flow, gauge.units[1]) : "";
}

// The flow at a height of the gauge by its rating [m], NaN outside it. Between two rows of the table
// the logarithm of the flow is taken as straight.
function flowAtHeight(height) {
  if (!gauge.table) return NaN;
  const { first, step, flows } = gauge.table;
  const at = (height - first) / step;
  const row = Math.min(Math.floor(at + 1e-9), flows.length - 2);
  const share = at - row;
  if (row < 0 || share > 1 + 1e-9 || flows[row] === null || flows[row + 1] === null) return NaN;
  return flows[row] * (flows[row + 1] / flows[row]) ** share;
}

// Where a reading lies among the flows drawn, and whether beyond them by more than a gauge can tell.
function drawnFor(flow) {
  const flows = data.flows.map((one) => one.value);
  const last = flows.length - 1;
  const slack = Math.log1p(gauge.near);
  if (Math.log(flows[0] / flow) > slack) return { position: 0, told: "below" };
  if (Math.log(flow / flows[last]) > slack) return { position: last, told: "above" };
  return { position: positionOf(flow), told: "same" };
}

// Whether the reading lies where nothing was drawn.
function isBeyond() {
  return state.read !== null && (state.read.told === "above" || state.read.told === "below");
}

// How much higher and wider the water is at the flow whose cards are shown than at the one drawn,
// straight in ln Q; empty where the shapes are of a lower one.
function higherThanDrawn() {
  const { low, high, share } = mixOf(state.at);
  const [under, over] = [data.flows[low], data.flows[high]];
  if (state.flow !== high || over.rise === null || under.rise === null) return "";
  const rise = data.ways.depth[0];
  const edge = data.ways.distance[0];
  const parts = {
    rise: decimals(((1 - share) * (over.rise - under.rise)) / rise.size, rise.digits) + " " + rise.unit,
    edge: decimals(((1 - share) * (over.edge - under.edge)) / edge.size, edge.digits) + " " + edge.unit,
  };
  if (Number(parts.rise.split(" ")[0]) === 0) return "";
  return fill(data.say.reading[Number(parts.edge.split(" ")[0]) > 0 ? "higher" : "level"], parts);
}

// Between which flows the water is mixed, and whose list and cards are shown.
function betweenWords() {
  const { low, high } = mixOf(state.at);
  const say = data.say.reading;
  const names = { low: data.flows[low].words, high: data.flows[high].words, cards: data.flows[state.flow].words };
  return fill(say.between, names) + higherThanDrawn() + ".";
}

// What the page says of the reading, or that there is none.
function readingWords() {
  const say = data.say.reading;
  const read = state.read;
  const told = [];
  if (!read) told.push(say.none);
  else {
    const beyond = { read: read.words, low: data.flows[0].words, high: data.flows[data.flows.length - 1].words };
    if (read.from === "record") {
      const { day, trend } = gauge.last;
      told.push(fill(say.record, { day, trend, read: flowWords(gauge.last.flow) }));
    }
    if (isBeyond()) told.push(fill(say[read.told], beyond));
    else if (read.from !== "record") told.push(fill(say.same, beyond));
  }
  if (isBetween() && !isBeyond()) told.push(betweenWords());
  return told.join(" ");
}

function showReadingOfGauge() {
  const told = byId("gauge-told");
  if (!told) return;
  told.textContent = readingWords();
  told.classList.toggle("is-stern", isBeyond());
  told.classList.toggle("is-between", isBetween());
  const typing = document.activeElement === byId("gauge-reads");
  if (!typing && !state.read) byId("gauge-reads").value = inField(flowAtPosition(state.at));
}

// A flow as a number for the field, in the unit chosen; nothing for a height.
function inField(flow) {
  const unit = gauge.units[Number(byId("gauge-unit").value)];
  if (unit.of !== "flow") return "";
  const value = flow / unit.size;
  return value >= 100 ? String(Math.round(value)) : threeFigures(value);
}

// Takes a reading and returns its position among the flows. `from` is typed, record or address.
function takeReading(read, from) {
  Object.assign(read, drawnFor(read.flow), { from });
  state.read = read;
  return read.position;
}

// Says of a reading that could not be taken what is wrong with it; the map stays where it is.
function refuse(read) {
  const told = byId("gauge-told");
  const example = inField(data.flows[state.flow].value) || "4.2";
  const say = data.say.reading;
  told.textContent = read ? fill(say.unrated, { read: read.words }) : fill(say.no_number, { example });
  told.classList.add("is-stern");
}

function typedReading() {
  const unit = gauge.units[Number(byId("gauge-unit").value)];
  const read = readingIn(byId("gauge-reads").value, unit);
  byId("gauge-reads").setAttribute("aria-invalid", String(!read || !isFinite(read.flow)));
  if (!read || !isFinite(read.flow)) return refuse(read);
  byId("gauge-unit").value = String(gauge.units.indexOf(read.unit));
  byId("gauge-reads").value = read.number;
  byId("gauge-reads").blur(); // the keyboard of a phone goes, the list comes into sight
  return setFlow(takeReading(read, "typed"), true);
}

function startGauge() {
  const form = byId("gauge");
  if (!form) return;
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    typedReading();
  });
  byId("gauge-reads").addEventListener("focus", (event) => event.target.select());
  byId("gauge-unit").addEventListener("change", () => {
    byId("gauge-reads").value = "";
    byId("gauge-reads").focus();
  });
}

// What the record ends with, where the page's address names no flow.
function readRecord() {
  if (!gauge.last || data.flows.length < 2) return;
  const words = flowWords(gauge.last.flow);
  const read = { flow: gauge.last.flow, unit: flowUnit, words, number: inField(gauge.last.flow) };
  placeAt(takeReading(read, "record"));
  byId("gauge-reads").value = read.number;
}
