// The one switch between flows: slider, buttons, arrow keys, a reading, and the page's address.

let turn = 0; // counts changes, so that a slow one cannot overtake a later one

// Goes to a flow by its position. `read` says that it was chosen for the reading that stands.
async function setFlow(position, read = false) {
  const started = performance.now();
  const from = state.flow;
  if (!read) state.read = null;
  state.flow = Math.max(0, Math.min(data.flows.length - 1, position));
  const mine = ++turn;
  showFlow();
  await readyWater();
  if (mine !== turn) return;
  tell("flow");
  noteChange(from, state.flow);
  sheet.draw();
  state.lastSwitch = performance.now() - started;
  writeAddress();
  readAhead();
}

function showFlow() {
  const flow = data.flows[state.flow];
  const range = byId("flow-range");
  if (!range) return;
  range.value = state.flow;
  range.setAttribute("aria-valuetext", flow.words);
  byId("flow-now").textContent = flow.words;
  byId("flow-other").textContent = flow.other;
  byId("lower").disabled = state.flow === 0;
  byId("higher").disabled = state.flow === data.flows.length - 1;
  showReadingOfGauge();
}

// While nobody touches anything, the neighbours' rasters are made ready.
const whenIdle = window.requestIdleCallback || ((act) => setTimeout(act, 200));
function readAhead() {
  const here = turn;
  whenIdle(() => {
    if (here !== turn) return;
    for (const next of [state.flow + 1, state.flow - 1])
      if (data.flows[next]) raster(shownQuantity(), next);
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
  range.addEventListener("input", () => setFlow(Number(range.value)));
  byId("lower").addEventListener("click", () => setFlow(state.flow - 1));
  byId("higher").addEventListener("click", () => setFlow(state.flow + 1));
  window.addEventListener("hashchange", () => {
    const read = readingFromAddress();
    if (read && !(state.read && state.read.flow === read.flow)) setFlow(takeAddress(), true);
  });
  document.addEventListener("keydown", arrowKeys);
  startTicks(range);
  startGauge();
  readRecord();
  const asked = takeAddress();
  if (asked >= 0) state.flow = asked;
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
  setFlow(state.flow + step);
}
