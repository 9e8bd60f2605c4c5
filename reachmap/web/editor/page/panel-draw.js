// The ledger's first page: where to go on, what can be drawn, what is drawn.
import { button, byId, fill, made, say, toggle, typed } from "./dom.js";
import { startDraft } from "./draw.js";
import { lookedPiece } from "./drafted.js";
import { openTab } from "./frame.js";
import { steps } from "./guide.js";
import { SHAPE_WORDS, swatch, WORDS } from "./styles.js";
import { draftCard, draftKey, draftSection } from "./panel-drafted.js";
import { showCard } from "./panel-mark.js";
import { broughtCard } from "./panel-nod.js";
import { previewPart, showPart } from "./preview.js";
import { readPlace } from "./places.js";
import { nameOf } from "./shapes.js";
import { allMarks, choose, chosenMark, subscribe, state, publish } from "./state.js";
import { showMark, showPlace, view } from "./viewport.js";
import { keepBasemap } from "./client.js";

let shownKey = "";

function show() {
  const page = byId("page-draw");
  if (!state.units) return;
  const mark = chosenMark();
  const key = JSON.stringify([
    state.chosen, state.corner, state.generation, state.brought ? state.brought.stamp : 0, mark ? 0 : state.marks.length,
    mark ? 0 : guideKey(), draftKey(), document.documentElement.dataset.light,
  ]);
  if (key === shownKey) return;
  shownKey = key;
  const inside = page.contains(document.activeElement) ? document.activeElement.dataset.keep : null;
  if (state.brought) fill(page, broughtCard());
  else if (mark) fill(page, ...showCard(mark));
  else if (lookedPiece()) fill(page, ...draftCard().filter(Boolean));
  else fill(page, guide(), previewPart(), draftSection(), palette(), list());
  showPart();
  if (inside) page.querySelector(`[data-keep="${inside}"]`)?.focus();
}

function allSteps() {
  const marks = allMarks();
  return steps({ ...state, marks, relevant: marks.length > 0 });
}

function guideKey() {
  return allSteps().map((step) => Number(step.done)).join("");
}

function guide() {
  const all = allSteps(), next = all.find((step) => !step.done);
  if (!next) {
    return made("section.guide", {},
      made("p.guide-done", {}, "Your drawing reads well."),
      button("How to build the maps", () => openTab("check"), { class: "plate-button is-main" }));
  }
  const done = all.filter((step) => step.done).length;
  const rows = all.map((step) => made("li.guide-step", { "data-state": step.done ? "done" : step === next ? "next" : "later" },
    made("span.guide-mark", { "aria-hidden": "true" }, step.done ? "✓" : ""),
    made("span.guide-words", {}, made("strong", {}, step.title), step.done ? made("span.heard", {}, " done") : null,
      step === next ? made("span.guide-how", {}, step.words) : null)));
  return made("section.guide", {},
    made("h2", {}, done ? "Go on" : "Begin"),
    made("ol.guide-list", {}, ...rows),
    ...actsOf(next.id));
}

function actsOf(id) {
  const main = { class: "plate-button is-main", "data-keep": "guide" };
  if (id === "place") return [placeForm()];
  if (id === "river") return [button("Draw the river line", () => startDraft("river"), main)];
  if (id === "left" || id === "right") {
    return [made("div.two", {},
      button("As a strip", () => startDraft("banks", { strip: true }), main),
      button("As an outline", () => startDraft("banks")))];
  }
  if (id === "check") return [button("See what is found", () => openTab("check"), main)];
  return [button("Fill in", () => openTab("river"), main)];
}

/** A place to begin for those who have nothing to draw over. */
export function placeForm() {
  const input = made("input", { type: "text", id: "start-place", "data-keep": "start-place", placeholder: "like 46.2, -141.3", autocomplete: "off" });
  const wrong = made("span.wrong", { role: "alert" });
  const go = async () => {
    const place = readPlace(input.value);
    if (!place) { wrong.textContent = "Type latitude, then longitude, in degrees."; return; }
    wrong.textContent = "";
    showPlace(place, 17);
    await keepBasemap({ ...state.basemap, start: place });
    say("There. The grid counts from this place.");
  };
  input.addEventListener("keydown", (event) => { if (event.key === "Enter") go(); });
  return made("div.place-form", {},
    made("label.field", {}, made("span.field-word", {}, "Latitude, longitude of a spot on the river"),
      made("span.field-row", {}, input, button("Go there", go, { class: "plate-button is-main" }))),
    wrong,
    made("p.small", {}, "Or drop a GPX, KML, KMZ or GeoJSON file, or a picture of a map, on this page. A ground model goes into the folder, under any name."));
}

function palette() {
  const rows = state.layers.map((spec) => {
    const words = WORDS[spec.name], count = state.marks.filter((mark) => mark.layer === spec.name).length;
    const ways = spec.name === "banks"
      ? [["Strip", { strip: true }], ["Outline", {}]]
      : spec.shapes.map((shape) => [spec.shapes.length > 1 ? SHAPE_WORDS[shape] : "Draw", { shape }]);
    return made("li.layer-row", {},
      swatch(spec.name),
      made("span.layer-words", {}, made("strong", {}, words.many), made("span.small", {}, count ? `${count} drawn` : spec.meaning)),
      made("span.layer-acts", {}, ...ways.map(([way, options]) => button(way, () => startDraft(spec.name, options),
        { "aria-label": `${way}: ${words.one}`, "data-layer": spec.name, "data-way": way, "data-keep": `${spec.name}-${way}` }))));
  });
  const input = made("input.heard", { type: "file", id: "bring", tabindex: "-1", accept: ".gpx,.kml,.kmz,.geojson,.json,.zip,.png,.jpg,.jpeg,.webp", "aria-label": "File to bring in" });
  return made("section", {}, made("h2", {}, "Draw"), made("ul.layer-rows", {}, ...rows),
    made("div.bring", {}, input, button("Bring in a file", () => input.click(), { "data-keep": "bring" }),
      made("p.small", {}, "GPX, KML, KMZ, GeoJSON, a shapefile packed as ZIP, or a picture to draw over.")));
}

function list() {
  if (!allMarks().length) return null;
  const groups = state.layers.filter((spec) => state.marks.some((mark) => mark.layer === spec.name)).map((spec) => {
    const marks = state.marks.filter((mark) => mark.layer === spec.name);
    return made("details.marks", { open: marks.length <= 4 },
      made("summary", {}, `${WORDS[spec.name].many} (${marks.length})${state.hidden.has(spec.name) ? ", hidden" : ""}`),
      toggle(`Show ${WORDS[spec.name].many.toLowerCase()} on the map`, !state.hidden.has(spec.name), (on) => hide(spec.name, !on)),
      made("ul", {}, ...marks.map((mark) => made("li", {}, made("button.link", { type: "button", "data-mark": mark.id, onclick: () => { choose(mark.id); showMark(mark); } },
        typed(nameOf(mark, state.marks, WORDS[mark.layer].one)), detail(mark))))));
  });
  const others = state.elsewhere.map((other) => made("p.small", {}, typed(other.file), ": a file of its own, shown pale, and never changed here. To go on with it here, drop that file on this page, take it in, then move it out of the folder."));
  return made("section", {}, made("h2", {}, "Drawn so far"), ...groups, ...others);
}

function hide(layer, hidden) {
  if (hidden) state.hidden.add(layer);
  else state.hidden.delete(layer);
  state.generation += 1;
  publish("marks");
}

function detail(mark) {
  const words = [mark.values.side, mark.values.cover, mark.values.kind, mark.values.depth && `${mark.values.depth} deep`, mark.values.flow && `at ${mark.values.flow}`]
    .filter(Boolean).join(", ");
  return made("small", {}, words ? ` ${words}` : "", mark.paths.length ? "" : " (nothing is drawn)");
}

export function begin() {
  subscribe("marks chosen check facts basemap brought light drafted", show);
  subscribe("chosen", () => { if (state.chosen || state.brought) openTab("draw", { keepSheet: true }); });
  subscribe("brought", () => openTab("draw"));
  view.show = show;
}
