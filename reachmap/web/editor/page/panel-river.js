// The ledger's second page: the few facts of reach.toml that a drawing needs.
import { byId, choice, field, fill, made, typed } from "./dom.js";
import { mainLine } from "./draw.js";
import { lengthWords, pathLength } from "./places.js";
import { subscribe, state } from "./state.js";
import { keepFacts } from "./client.js";

let shownKey = "";

function show() {
  if (!state.units) return;
  const page = byId("page-river"), main = mainLine();
  const key = JSON.stringify([state.facts, state.invented, state.units.system, main ? main.paths : 0]);
  if (key !== shownKey && !page.contains(document.activeElement)) {
    shownKey = key;
    fill(page, ...content());
  }
  showFaults();
  showFall();
}

function content() {
  if (!state.facts) {
    return [made("h2", {}, "River facts"), made("p.wrong", {}, "reach.toml is not valid TOML. Mend it in a text editor; the page Check says where.")];
  }
  const { units } = state;
  return [
    made("h2", {}, "River facts"),
    made("p.small", {}, "Kept in reach.toml; its other lines stay as they are."),
    state.invented.length ? made("p.notice", {}, "Some of these are the examples a new folder begins with: put your own river's in their place.") : null,
    factField("name", "Name, as it stands on maps"),
    choice("Plain numbers are in", "fact-units", [["us", "feet, feet per second, cubic feet per second"], ["metric", "metres, metres per second, cubic metres per second"]],
      state.facts.units, (word) => put("units", word, byId("fault-units"))),
    made("p.small", {}, "Change it at any time: numbers drawn are converted; numbers of reach.toml, your kit among them, get their unit behind them."),
    made("div", { id: "fault-units", class: "fact-fault", role: "status" }),
    factField("traced_flow", "Flow you traced the banks at", { unit: units.flow, hint: "What the river ran when its edges lay where you drew the banks' inner sides." }),
    made("fieldset.choice", {}, made("legend", {}, "How steep it is: one of the two"),
      factField("slope", "Slope", { hint: "Fall over length, like 0.002." }),
      factField("fall", "Fall over the whole line", { unit: units.length, hint: "From a contour map: height at its head less height at its foot." }),
      made("p.small", { id: "fall-words", role: "status" })),
    state.relief ? made("p.small", {}, "With a ground model in the folder neither is needed.") : null,
    factField("flows", "Flows to map", { unit: units.flow, hint: "From low to high, with commas between: 800, 1200, 1800" }),
  ];
}

function factField(name, label, more = {}) {
  const said = made("div.fact-fault", { id: `fault-${name}`, role: "status" });
  const input = made("input", {
    type: "text", name, autocomplete: "off", maxlength: "4000", id: `fact-${name}`,
    ...(["name", "flows"].includes(name) ? {} : { inputmode: "decimal" }),
    onchange: (event) => put(name, event.target.value, said),
    onblur: () => requestAnimationFrame(show),
  });
  input.value = state.facts[name];
  return made("div", {}, field(label, input, more), said);
}

async function put(name, text, said) {
  try {
    await keepFacts({ [name]: text });
    said.dataset.own = "";
  } catch (error) {
    said.dataset.own = error.said;
    shownKey = "";
  }
  showFaults();
}

function showFaults() {
  for (const name of ["name", "units", "traced_flow", "slope", "fall", "flows"]) {
    const box = byId(`fault-${name}`);
    if (!box) continue;
    const told = state.faults.filter((fault) => fault.fact === name && !(name === "slope" && state.facts.fall));
    const empty = state.facts && !state.facts[name];
    box.replaceChildren(...[
      box.dataset.own ? made("p.wrong", {}, box.dataset.own) : null,
      ...told.map((fault) => made(empty ? "p.todo" : "p.wrong", {}, typed(empty ? fault.fix : `${fault.found}. ${fault.fix}`), ".")),
    ].filter(Boolean));
  }
}

function showFall() {
  const box = byId("fall-words"), main = mainLine();
  if (!box || !main) return;
  const long = pathLength(main.paths[0]), fall = Number.parseFloat(state.facts.fall), slope = Number.parseFloat(state.facts.slope);
  const line = `Your river line is ${lengthWords(long, state.units)} long.`;
  if (fall > 0 && /^[\d.]+$/.test(state.facts.fall)) box.textContent = `${line} That fall makes a slope of ${(fall * state.units.length_m / long).toPrecision(3)}.`;
  else if (slope > 0) box.textContent = `${line} At that slope it falls ${(slope * long / state.units.length_m).toPrecision(3)} ${state.units.length}.`;
  else box.textContent = line;
}

export function begin() {
  subscribe("facts marks check", show);
  subscribe("units", () => { // the fields show other units at once, though one of them is in hand
    const page = byId("page-river");
    if (page.contains(document.activeElement)) document.activeElement.blur();
    show();
    page.querySelector("input[name=fact-units]:checked")?.focus();
  });
}
