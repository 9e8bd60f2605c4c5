// The one switch between flows: slider, buttons, arrow keys, chips, and the page's address.

let turn = 0; // counts changes, so that a slow one cannot overtake a later one

async function setFlow(position) {
  const started = performance.now();
  state.flow = Math.max(0, Math.min(data.flows.length - 1, position));
  const mine = ++turn;
  showFlow();
  await readyWater();
  if (mine !== turn) return;
  sheet.draw();
  state.lastSwitch = performance.now() - started;
  tell("flow");
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
  document.querySelectorAll(".chip[data-flow]").forEach((chip) => {
    chip.setAttribute("aria-pressed", String(Number(chip.dataset.flow) === state.flow));
  });
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

// #flow=2400cfs names a flow by its label; a bare number takes the nearest flow.
function flowFromAddress() {
  const found = /[#&]flow=([^&]+)/.exec(window.location.hash);
  if (!found) return -1;
  const asked = decodeURIComponent(found[1]);
  const exact = data.flows.findIndex((flow) => flow.label === asked);
  const number = parseFloat(asked);
  if (exact >= 0 || !(number > 0)) return exact;
  const gap = (flow) => Math.abs(Math.log(parseFloat(flow.label) / number));
  return data.flows.reduce((best, flow, i) => (gap(flow) < gap(data.flows[best]) ? i : best), 0);
}

function writeAddress() {
  if (data.flows.length < 2) return;
  const wanted = "#flow=" + encodeURIComponent(data.flows[state.flow].label);
  if (window.location.hash !== wanted) window.history.replaceState(null, "", wanted);
}

function startFlow() {
  const range = byId("flow-range");
  if (range) {
    range.style.setProperty("--tick", 100 / Math.max(1, data.flows.length - 1) + "%");
    range.addEventListener("input", () => setFlow(Number(range.value)));
    byId("lower").addEventListener("click", () => setFlow(state.flow - 1));
    byId("higher").addEventListener("click", () => setFlow(state.flow + 1));
    document.querySelectorAll(".chip[data-flow]").forEach((chip) => {
      chip.addEventListener("click", () => setFlow(Number(chip.dataset.flow)));
    });
    window.addEventListener("hashchange", () => {
      const asked = flowFromAddress();
      if (asked >= 0 && asked !== state.flow) setFlow(asked);
    });
    document.addEventListener("keydown", arrowKeys);
  }
  const asked = flowFromAddress();
  if (asked >= 0) state.flow = asked;
}

// Left and right change the flow, unless the keys have work of their own where the focus is.
function arrowKeys(event) {
  const step = { ArrowLeft: -1, ArrowRight: 1 }[event.key];
  if (!step || event.altKey || event.ctrlKey || event.metaKey) return;
  if (event.target.closest("input, .folium-map, .table-box, [role=tablist]")) return;
  event.preventDefault();
  setFlow(state.flow + step);
}
