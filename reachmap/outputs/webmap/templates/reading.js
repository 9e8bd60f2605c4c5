// What is under the finger: depth and speed here, how sure, and what lies here. The place stays
// when the flow changes, so that one can watch a rock drown.

let plate = null;
const SURE_KEPT = 8;
const sureBytes = new Map(); // by flow, or one for all; the last few are kept
async function sureOf(flow) {
  const at = Math.min(flow, data.sure.length - 1);
  if (!sureBytes.has(at)) {
    sureBytes.set(at, await inflate(data.sure[at]));
    if (sureBytes.size > SURE_KEPT) sureBytes.delete(sureBytes.keys().next().value);
  }
  return sureBytes.get(at) || inflate(data.sure[at]);
}

function headline(reading) {
  if (reading.what === "dry") return tr("dry", { flow: flowNow() });
  if (reading.what === "off") return tr("outside");
  if (reading.what === "unknown") return tr("unknown_water");
  return tr("deep", { depth: sayDepth(reading.depth) });
}

// How sure a place is where the water is: a class, words for the depth's doubt where it is told, and
// how much deeper it could be [m], null where nobody worked it out. Between two flows the less sure.
async function sureAt(place) {
  const { low, high } = mixOf(state.at);
  const codes = [];
  for (const flow of new Set([low, high])) {
    const code = codeAt(await sureOf(flow), place, data.tiles.sureCells);
    if (code !== OFF_MAP) codes.push(code);
  }
  if (!codes.length) return ["", "", null];
  const classes = codes.map((code) => code % 4);
  const doubt = Math.max(...codes.map((code) => code >> 2));
  const least = classes.includes(0) ? 0 : Math.min(...classes);
  const more = doubt ? (data.doubtSteps[doubt - 1] ?? Infinity) : null;
  return [data.sureWords[least] || "", data.doubtWords[doubt] || "", more];
}

// The depth to reckon with here: what it is, what it could be, and to take that; empty where nobody
// worked out how far it may be off.
function takenWords(reading, more) {
  if (more === null) return "";
  const say = data.say.taken;
  const [depth, most] = [reading.depth, reading.depth + more].map(firstOfDepth);
  return fill(isFinite(more) ? say.could : say.much, { depth, most });
}

// The grade here, which limit decides at the depth to take, and whose rule it is.
function gradeLine(reading, more) {
  const say = data.say.taken;
  const grade = ["", "easy", "careful", "no", "unknown"][reading.grade] || "unknown";
  const line = make("p", "reading-grade is-" + grade);
  line.append(make("strong", "", say[grade]));
  const taken = reading.depth + (more || 0);
  const why = grade === "no" || grade === "careful" ? whyGraded(taken, reading.speed, grade) : "";
  if (why) line.append(" " + why);
  if (limits) line.append(" ", make("small", "", fill(say.by, { by: limits.by })));
  return line;
}

// A depth rounded up, in one unit; in all that are shown.
function depthIn(value, way) {
  const ten = 10 ** way.digits;
  return decimals(Math.ceil((value / way.size) * ten - 1e-6) / ten, way.digits) + " " + way.unit;
}
function firstOfDepth(value) {
  return depthIn(value, data.ways.depth[0]);
}
function sayDepth(value) {
  return inWays("depth", (way) => depthIn(value, way));
}

// Which limit the water here goes beyond, with the depth that is taken.
function whyGraded(depth, speed, grade) {
  if (!limits) return "";
  const over = [
    depth > limits.depth && "depth",
    speed !== null && speed > limits.speed && "speed",
    speed !== null && depth * speed > limits.product && "product",
  ].find(Boolean);
  if (over) return fill(data.say.taken[over], { limit: limits.words[over] });
  return grade === "no" ? data.say.taken.chance : "";
}

async function readHere(place) {
  state.place = place;
  const at = state.at;
  const field = await fieldAt(at, ["speed", "grade"]);
  const sure = await sureAt(place);
  if (state.place !== place || state.at !== at) return;
  const reading = readingFrom(field, place);
  showReading(reading, sure, place);
  sheet.draw();
}

function showReading(reading, sure, place) {
  const open = plate && plate.querySelector("details") && plate.querySelector("details").open;
  if (!plate) {
    plate = make("div", "on-map reading");
    plate.setAttribute("role", "region");
    plate.setAttribute("aria-label", tr("reading"));
    L.DomEvent.disableClickPropagation(plate);
    L.DomEvent.disableScrollPropagation(plate);
    map.getContainer().append(plate);
  }
  plate.textContent = "";
  const top = make("div", "reading-top");
  const now = make("p", "reading-now", headline(reading));
  now.setAttribute("aria-live", "polite");
  const wet = reading.what === "wet";
  const take = wet ? takenWords(reading, sure[2]) : "";
  if (take) now.append(make("span", "reading-take", take));
  else if (wet) now.append(make("br"));
  if (wet) now.append(reading.speed === null ? tr("no_speed") : say("speed", reading.speed));
  const told = [
    flowNow(),
    wet ? sure[1] : "",
    wet ? sure[0] : "",
    place.lat.toFixed(5) + ", " + place.lng.toFixed(5),
  ];
  now.append(make("small", "", told.filter(Boolean).join(" · ")));
  const close = makeButton("plate-button", "×", closeReading);
  close.setAttribute("aria-label", tr("close"));
  top.append(now, close);
  plate.append(top);
  plate.append(makeButton("plate-button", noteSay.here, () => openNotesCard("tapped")));
  const here = sheet.under(place).slice(0, 5);
  if (here.length) plate.append(linksHere(here, wet));
  if (wet) plate.append(gradeLine(reading, sure[2]));
  if (data.flows.length > 1 && reading.what !== "off") plate.append(everyFlow(place, open));
}

// The links to what lies here; the line of the grade has told that of wading water already.
function linksHere(list, graded) {
  const links = make("ul", "links");
  for (const feature of list) {
    const link = makeButton("link", "", () => openFeature(feature));
    const zone = graded && WADING.has(feature.kind);
    link.append(zone ? data.say.taken.zone : typed(featureName(feature)));
    if (feature.faded && feature.kind !== "unknown_water")
      link.append(make("small", "", " " + tr("guess")));
    links.append(make("li"));
    links.lastChild.append(link);
  }
  return links;
}

// Depth and speed here at every flow, read only when asked for.
function everyFlow(place, open) {
  const box = make("details");
  box.append(make("summary", "", tr("every_flow")));
  const table = make("table");
  box.append(table);
  const fill = async () => {
    if (!box.open || table.rows.length) return;
    for (let flow = 0; flow < data.flows.length; flow++) {
      const row = table.insertRow();
      row.className = flow === state.flow ? "is-now" : "";
      row.append(make("th", "", data.flows[flow].words), make("td"), make("td"));
      const [depth, speed] = await Promise.all([
        raster("depth", flow),
        raster("speed", flow),
      ]);
      const field = new Field(flow, { depth: [depth, depth], speed: [speed, speed] });
      const reading = readingFrom(field, place);
      const words = { dry: "dry", unknown: "unknown", off: "unknown" }[reading.what];
      row.cells[1].textContent = words || sayDepth(reading.depth);
      row.cells[2].textContent = words ? "" : say("speed", reading.speed);
    }
  };
  box.addEventListener("toggle", fill);
  box.open = Boolean(open);
  if (open) fill();
  return box;
}

function closeReading() {
  if (plate) plate.remove();
  plate = null;
  state.place = null;
  sheet.draw();
}

function startReading() {
  map.on("click", (event) => {
    if (isPhone()) openSheet(false);
    readHere(event.latlng);
  });
  const box = map.getContainer();
  const aim = make("div", "on-map aim");
  aim.innerHTML =
    '<svg viewBox="0 0 34 34" aria-hidden="true"><circle cx="17" cy="17" r="10" fill="none" stroke="#fffdf6" stroke-width="5"/><circle cx="17" cy="17" r="10" fill="none" stroke="#b3460a" stroke-width="2.5"/><path d="M17 1v10M17 23v10M1 17h10M23 17h10" stroke="#b3460a" stroke-width="2.5"/></svg>';
  box.append(aim);
  box.setAttribute("role", "application");
  box.setAttribute("aria-label", tr("map"));
  // The aim shows only while the map is steered by keys.
  box.addEventListener("pointerdown", () => box.classList.remove("steered"));
  box.addEventListener("blur", () => box.classList.remove("steered"));
  box.addEventListener("keydown", (event) => {
    if (event.target === box) box.classList.add("steered");
    if (event.target === box && event.key === "Enter") readHere(map.getCenter());
    if (event.key === "Escape" && plate) {
      closeReading();
      box.focus();
    }
  });
}

listen("flow", () => {
  if (state.place) readHere(state.place);
});
listen("layers", () => {
  if (state.place) readHere(state.place);
});
