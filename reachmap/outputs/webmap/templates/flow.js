// The one switch between flows: slider, buttons, arrow keys, a reading, and the page's address.

let turn = 0; // counts changes, so that a slow one cannot overtake a later one

// The flow drawn whose list and shapes stand for a position: one as near as a gauge can tell, else
// the higher neighbour, where the water is deeper and quicker.
function shapesFor(at) {
  const nearest = Math.round(at);
  const gap = Math.abs(Math.log(flowAtPosition(at) / data.flows[nearest].value));
  return gap <= Math.log1p(gauge.near) ? nearest : Math.ceil(at);
}

// Puts the page at a position among the flows; it may lie between two of them.
function placeAt(position) {
  state.at = Math.max(0, Math.min(data.flows.length - 1, position));
  if (!isBetween()) state.at = Math.round(state.at);
  state.flow = shapesFor(state.at);
}

// Goes to a position. `read` says that it was chosen for the reading that stands.
async function setFlow(position, read = false) {
  const started = performance.now();
  const before = { at: drawn.at, flow: drawn.flow, field: ready.field };
  if (!read) state.read = null;
  placeAt(position);
  const mine = ++turn;
  state.busy = true;
  showFlow();
  await readyWater();
  if (mine !== turn) return;
  Object.assign(drawn, { at: state.at, flow: state.flow });
  blend(before);
  const sayChange = noteChange(before);
  sheet.drawSeen();
  await frameShown(); // the water first; words, list and cards in the frame after it
  state.lastSwitch = performance.now() - started;
  if (mine !== turn) return;
  sayChange();
  byId("said").textContent = state.said;
  tell("flow");
  writeAddress();
  readAhead();
  state.busy = false;
}

// Once what was drawn is on the screen; soon, where the page is in no window that shows frames.
function frameShown() {
  return new Promise((done) => {
    const channel = new MessageChannel();
    channel.port1.onmessage = done;
    requestAnimationFrame(() => channel.port2.postMessage(0));
    setTimeout(done, 100);
  });
}

// Where the water is; behind `state` while the staff is dragged.
const drawn = { at: data.start, flow: data.start };

// One flow drawn up or down; from between two, to the one on that side.
function stepFlow(up) {
  setFlow(up ? Math.floor(state.at) + 1 : Math.ceil(state.at) - 1);
}

// While the staff is dragged the water follows at once; list and cards when it rests.
const REST_MS = 160;
let resting = 0;
let dragging = false;
function rest(after) {
  clearTimeout(resting);
  resting = setTimeout(async () => {
    resting = 0;
    await setFlow(state.at);
    followRoom();
  }, after);
}
function dragTo(position) {
  state.read = null;
  state.busy = true;
  const nearest = Math.round(position);
  placeAt(Math.abs(position - nearest) < 0.08 ? nearest : position);
  turn++;
  showFlow();
  rest(REST_MS);
  if (dragging) return;
  dragging = true;
  requestAnimationFrame(async () => {
    dragging = false;
    await readyWater();
    if (ready.field.at === state.at) sheet.drawSeen();
  });
}

function showFlow() {
  const range = byId("flow-range");
  if (!range) return;
  const words = flowNow();
  if (Number(range.value) !== state.at) range.value = state.at;
  range.setAttribute("aria-valuetext", words);
  byId("flow-now").textContent = words;
  byId("flow-other").textContent = isBetween() ? otherWords(flowAtPosition(state.at)) : data.flows[state.flow].other;
  byId("lower").disabled = state.at <= 0;
  byId("higher").disabled = state.at >= data.flows.length - 1;
  showReadingOfGauge();
}

// While nobody touches anything, the rest of the canvas is drawn and the neighbours' water is made ready.
const whenIdle = window.requestIdleCallback || ((act) => setTimeout(act, 200));
function readAhead() {
  const here = turn;
  whenIdle(() => {
    if (here !== turn) return;
    sheet.draw();
    readyBesides();
    makeAhead(here);
  });
}

// #flow=2400cfs or ?flow=4.2ft in the address is a reading; a bare number has the folder's unit.
function readingFromAddress() {
  for (const part of [window.location.hash, window.location.search]) {
    const found = /[#?&]flow=([^&#]+)/.exec(part);
    if (!found) continue;
    let asked = found[1];
    try {
      asked = decodeURIComponent(asked);
    } catch (fault) {
      // taken as it is
    }
    const exact = data.flows.find((flow) => flow.label === asked);
    if (exact) return { flow: exact.value, unit: flowUnit, words: exact.words, number: "" };
    const read = readingIn(asked, flowUnit);
    if (read && isFinite(read.flow)) return read;
  }
  return null;
}

function takeAddress() {
  const read = readingFromAddress();
  if (!read) return -1;
  const at = takeReading(read, "address");
  byId("gauge-unit").value = String(gauge.units.indexOf(read.unit));
  byId("gauge-reads").value = read.number || inField(read.flow);
  return at;
}

function addressOf() {
  const read = state.read;
  if (!read && isBetween()) return flowNow().replace(/[,\s]/g, "").replace("³", "3").replace("/", "");
  if (!read || read.from === "record" || !read.number) return data.flows[state.flow].label;
  return read.number.replace(/[,\s]/g, "") + read.unit.name.replace("³", "3").replace("/", "");
}

function writeAddress() {
  if (data.flows.length < 2) return;
  const wanted = "#flow=" + encodeURIComponent(addressOf());
  if (window.location.hash !== wanted) window.history.replaceState(null, "", wanted);
}

function startFlow() {
  const range = byId("flow-range");
  if (!range) return;
  range.addEventListener("input", () => dragTo(Number(range.value)));
  range.addEventListener("change", () => {
    rest(0);
  });
  range.addEventListener("keydown", staffKeys);
  byId("lower").addEventListener("click", () => stepFlow(false));
  byId("higher").addEventListener("click", () => stepFlow(true));
  window.addEventListener("hashchange", () => {
    const read = readingFromAddress();
    if (read && !(state.read && state.read.flow === read.flow)) setFlow(takeAddress(), true);
  });
  document.addEventListener("keydown", arrowKeys);
  startTicks(range);
  startGauge();
  readRecord();
  const asked = takeAddress();
  if (asked >= 0) placeAt(asked);
}

// The flows the angler asked for, marked and named along the staff; the steps between have no mark.
const THUMB = 26; // px, as in layout.css
function startTicks(range) {
  const last = Math.max(1, data.flows.length - 1);
  const own = data.flows.map((flow, i) => [flow, i]).filter(([flow]) => flow.own);
  const place = (i) => "calc(" + THUMB / 2 + "px + " + i / last + " * (100% - " + THUMB + "px))";
  range.style.setProperty(
    "--ticks",
    own
      .map(([, i]) => "linear-gradient(var(--ink), var(--ink)) " + place(i) + " 0 / 1px 100% no-repeat")
      .join(", "),
  );
  const box = byId("ticks");
  box.textContent = "";
  const names = own.map(([flow, i]) => {
    const name = make("span", "", flow.words.split(" ")[0]);
    name.style.left = place(i);
    box.append(name);
    return name;
  });
  // the ends first; a name that would run into another is left out
  const fit = () => {
    names.forEach((name) => (name.hidden = false));
    const kept = [];
    for (const name of [names[0], names[names.length - 1], ...names.slice(1, -1)]) {
      const at = name.getBoundingClientRect();
      const clash = kept.some((other) => at.left < other.right + 5 && at.right > other.left - 5);
      name.hidden = clash;
      if (!clash) kept.push(at);
    }
  };
  requestAnimationFrame(fit);
  window.addEventListener("resize", fit);
}

// Left and right change the flow, unless the keys have work of their own where the focus is.
function arrowKeys(event) {
  const step = { ArrowLeft: -1, ArrowRight: 1 }[event.key];
  if (!step || event.altKey || event.ctrlKey || event.metaKey) return;
  if (event.target.closest("input, select, .folium-map, .ledger, [role=tablist]")) return;
  event.preventDefault();
  stepFlow(step > 0);
}

// On the staff itself the keys go from one flow drawn to the next, as the buttons do.
function staffKeys(event) {
  const last = data.flows.length - 1;
  const act = {
    ArrowRight: () => stepFlow(true),
    ArrowUp: () => stepFlow(true),
    ArrowLeft: () => stepFlow(false),
    ArrowDown: () => stepFlow(false),
    PageUp: () => setFlow(Math.min(last, Math.floor(state.at) + 3)),
    PageDown: () => setFlow(Math.max(0, Math.ceil(state.at) - 3)),
    Home: () => setFlow(0),
    End: () => setFlow(last),
  }[event.key];
  if (!act || event.altKey || event.ctrlKey || event.metaKey) return;
  event.preventDefault();
  act();
}
