// The frame of the page: tabs, day and night, what was kept when, notices, the scale.
import { button, byId, fill, made, say } from "./dom.js";
import { step } from "./keys.js";
import { roundBelow } from "./places.js";
import { subscribe, drawingHistory, state, publish } from "./state.js";
import { metresPerPixel, redraw, showWhole, view } from "./viewport.js";
import { copyOfDrawing, keeping, loadAgain } from "./client.js";

const TABS = ["draw", "river", "basemap", "check"];
const NIGHT = "reachmap-night";

export function openTab(name, { keepSheet = false } = {}) {
  for (const one of TABS) {
    const on = one === name, tab = byId(`tab-${one}`);
    tab.setAttribute("aria-selected", String(on));
    tab.tabIndex = on ? 0 : -1;
    byId(`page-${one}`).hidden = !on;
  }
  view.fitting = name === "basemap";
  if (!keepSheet) document.documentElement.dataset.sheet = "open";
  byId("panel").scrollTop = 0;
  publish("tab");
  redraw();
}

function tabs() {
  const root = document.documentElement;
  for (const name of TABS) {
    const tab = byId(`tab-${name}`);
    tab.addEventListener("click", () => {
      const again = tab.getAttribute("aria-selected") === "true" && root.dataset.sheet === "open";
      openTab(name);
      if (again && matchMedia("(max-width: 560px), (max-width: 1000px) and (orientation: portrait)").matches) root.dataset.sheet = "closed";
    });
    tab.addEventListener("keydown", (event) => {
      const by = { ArrowRight: 1, ArrowLeft: -1 }[event.key];
      if (!by) return;
      const next = TABS[(TABS.indexOf(name) + by + TABS.length) % TABS.length];
      openTab(next);
      byId(`tab-${next}`).focus();
    });
  }
}

function light() {
  const root = document.documentElement, press = byId("night");
  const asked = matchMedia("(prefers-color-scheme: dark)");
  let kept = null;
  try { kept = localStorage.getItem(NIGHT); } catch { /* a browser that keeps nothing */ }
  const put = (night) => {
    if (night) root.dataset.light = "night"; else delete root.dataset.light;
    press.setAttribute("aria-pressed", String(night));
    publish("light");
    redraw();
  };
  put(kept ? kept === "night" : asked.matches);
  asked.addEventListener("change", (event) => { if (!kept) put(event.matches); });
  press.addEventListener("click", () => {
    kept = root.dataset.light === "night" ? "day" : "night";
    try { localStorage.setItem(NIGHT, kept); } catch { /* it then lasts as long as the page */ }
    put(kept === "night");
  });
}

function showKept() {
  const line = byId("kept");
  line.dataset.now = keeping.now;
  const at = keeping.when ? keeping.when.toLocaleTimeString([], { hour: "2-digit", minute: "2-digit" }) : "";
  const words = { kept: `Kept in your folder at ${at}`, keeping: "Keeping", waiting: "Not kept yet", stale: "Not kept", refused: "Not kept" }[keeping.now];
  if (line.textContent !== words) line.textContent = words;
  notices();
}

function notices() {
  const rows = [];
  if (["stale", "waiting", "refused"].includes(keeping.now)) {
    rows.push(made("div.notice.notice-grave", { role: "alert" },
      made("p", {}, keeping.words),
      made("div.acts", {},
        keeping.now === "stale" ? button("Load the newer drawing", () => loadAgain().catch((error) => say(error.said)), { id: "load-again" }) : null,
        button("Save a copy of this", saveCopy, { id: "save-copy" }))));
  }
  if (state.said) {
    rows.push(made("div.notice", { role: "status" }, made("p", {}, state.said),
      button("Very well", () => { state.said = ""; notices(); })));
  }
  const box = byId("notices"), key = `${keeping.now}|${keeping.words}|${state.said}`;
  if (box.dataset.key === key) return;
  box.dataset.key = key;
  fill(box, ...rows);
}

function saveCopy() {
  const link = made("a", { href: URL.createObjectURL(new Blob([copyOfDrawing()], { type: "application/geo+json" })), download: "drawing-copy.geojson" });
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 10000);
}

/** Two bars: the folder's unit of distance, and metres. */
function scale() {
  if (!state.units) return;
  const far = metresPerPixel() > 3000;
  byId("rule-box").hidden = far;
  byId("welcome").hidden = !far || Boolean(state.draft);
  if (far) return;
  const bar = (unit, size) => {
    const length = roundBelow((110 * metresPerPixel()) / size), wide = Math.round((length * size) / metresPerPixel());
    const row = made("div.rule", {}, `${length >= 1 ? length.toLocaleString("en") : length} ${unit}`);
    row.style.width = `${wide}px`;
    return row;
  };
  const north = made("div.north", {}, "N");
  const bars = [bar("m", 1)];
  if (state.units.distance !== "m") bars.unshift(bar(state.units.distance, state.units.distance_m));
  fill(byId("rule-box"), north, made("div.rules", {}, ...bars), credit());
}

function credit() {
  return state.basemap && state.basemap.tiles && state.basemap.credit ? made("div.credit", {}, state.basemap.credit) : null;
}

function steps() {
  const { draft } = state;
  byId("undo").disabled = draft ? !draft.path.length : !drawingHistory.before.length;
  byId("redo").disabled = draft ? !(draft.gone && draft.gone.length) : !drawingHistory.after.length;
}

export function begin() {
  tabs();
  light();
  byId("undo").addEventListener("click", () => step(false));
  byId("redo").addEventListener("click", () => step(true));
  byId("snap").addEventListener("click", (event) => {
    state.snapping = !state.snapping;
    event.currentTarget.setAttribute("aria-pressed", String(state.snapping));
    say(state.snapping ? "Points snap to corners and lines nearby." : "Points go just where you put them.");
  });
  byId("closer").addEventListener("click", () => view.map.zoomIn(1, { animate: false }));
  byId("farther").addEventListener("click", () => view.map.zoomOut(1, { animate: false }));
  byId("whole").addEventListener("click", showWhole);
  view.map.on("move zoom resize", scale);
  subscribe("keeping", showKept);
  subscribe("marks draft chosen", steps);
  subscribe("facts basemap", () => {
    scale();
    if (state.facts) {
      byId("river-name").textContent = state.facts.name || "Your river";
      document.title = `${state.facts.name || "Your river"}: draw`;
    }
  });
}
