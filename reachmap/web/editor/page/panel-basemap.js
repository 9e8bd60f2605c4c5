// The ledger's third page: what lies beneath the drawing.
import { button, byId, field, fill, made, toggle } from "./dom.js";
import { placeForm } from "./panel-draw.js";
import { findPart } from "./panel-find.js";
import { imagerySeen, showImagery } from "./ground.js";
import { change, fitNow, startPairing } from "./picture.js";
import { lengthWords, placeWords } from "./places.js";
import { subscribe, state } from "./state.js";
import { onGround, centre, showPlace, view } from "./viewport.js";
import { keepBasemap } from "./client.js";

let shownKey = "";

function show() {
  if (!state.basemap) return;
  const page = byId("page-basemap");
  const key = JSON.stringify([state.basemap, state.pairing, Boolean(state.relief), state.units.system]);
  if (key === shownKey) return;
  shownKey = key;
  view.fitting = !page.hidden;
  const inside = page.contains(document.activeElement) ? document.activeElement.dataset.keep : null;
  fill(page, ...content());
  if (inside) page.querySelector(`[data-keep="${inside}"]`)?.focus();
}

function content() {
  const { basemap } = state;
  return [
    made("h2", {}, "Beneath the drawing"),
    made("section", {}, made("h3", {}, "Ground"),
      made("p.small", {}, state.relief ? "Shaded from the ground model in the folder." : "No ground model. Put one into the folder, under any name: it is the best gift a drawing can have."),
      toggle("Grid", basemap.grid, (on) => keepBasemap({ ...basemap, grid: on }))),
    state.imagery ? imageryPart() : null,
    made("section", {}, made("h3", {}, "Place to begin"), placeForm(),
      basemap.start ? made("p.small", {}, `Now ${placeWords(basemap.start)}. `) : null,
      made("div.two", {},
        button("The middle of the map", () => keepBasemap({ ...basemap, start: onGround(centre()) })),
        basemap.start ? button("Go there", () => showPlace(basemap.start, 17)) : null)),
    findPart(),
    picturePart(),
    tilesPart(),
  ];
}

/** The picture from the air that a build lays under the map. */
function imageryPart() {
  const clear = made("input", { type: "range", min: "10", max: "100", step: "5", id: "imagery-seen", "data-keep": "imagery-seen", oninput: (event) => showImagery({ seen: Number(event.target.value) / 100 }) });
  clear.value = Math.round(imagerySeen.seen * 100);
  return made("section", {}, made("h3", {}, "Imagery in the folder"),
    toggle("Show it", imagerySeen.shown, (on) => showImagery({ shown: on })),
    field("How clear", clear));
}

function picturePart() {
  const told = state.basemap.picture;
  const input = made("input.heard", { type: "file", id: "picture-file", tabindex: "-1", accept: ".png,.jpg,.jpeg,.webp", "aria-label": "Picture to draw over" });
  const pick = button(told ? "Another picture" : "Choose a picture", () => input.click(), { "data-keep": "pick" });
  if (!told) {
    return made("section", {}, made("h3", {}, "Your own picture"),
      made("p.small", {}, "A scan of a map, a photo from the air. It stays in your folder."), input, pick);
  }
  const now = fitNow();
  const clear = made("input", { type: "range", min: "10", max: "100", step: "5", id: "picture-seen", "data-keep": "seen", onchange: (event) => change({ seen: Number(event.target.value) / 100 }) });
  clear.value = Math.round(told.seen * 100);
  return made("section", {}, made("h3", {}, "Your own picture"),
    toggle("Show it", told.shown, (on) => change({ shown: on })),
    field("How clear", clear),
    made("p", { id: "fit-words" }, fitWords(now)),
    told.points.length ? made("ol.pairs", {}, ...told.points.map((point, i) => made("li", {},
      made("button.link", { type: "button", onclick: () => showPlace([point[2], point[3]]) }, `Pair ${i + 1}`,
        made("small", {}, now.count > 1 ? ` off by ${(now.off[i]).toFixed(1)} m` : "")),
      button("Take out", () => change({ points: told.points.filter((_, at) => at !== i) }), { "aria-label": `Take pair ${i + 1} out` })))) : null,
    button(told.points.length ? "Add a pair" : "Fit it: add a pair", startPairing, { class: "plate-button is-main", "data-keep": "pair", disabled: Boolean(state.pairing) }),
    told.points.length >= 3 ? toggle("It may also be stretched", told.stretch, (on) => change({ stretch: on })) : null,
    layRow(told),
    made("div.two", {}, input, pick, button("Take it away", () => keepBasemap({ ...state.basemap, picture: null }), { class: "plate-button is-grave" })));
}

function fitWords(now) {
  if (now.count < 2) return "Fit it by two to four pairs: a spot on the picture, and where that spot truly lies.";
  const off = `${now.all.toFixed(1)} m (${lengthWords(now.all, state.units)})`;
  const exact = now.all < 0.05 ? " Two pairs always fit: a third shows how well." : "";
  return `Fitted by ${now.count} pairs, ${now.how}. Off by ${off} on the whole.${now.count === 2 ? exact : ""}`;
}

/** Laying a picture by hand, before there are pairs. */
function layRow(told) {
  if (told.points.length > 1) return null;
  const [lon, lat, wide, turn] = told.place;
  const number = (label, value, keep, unit) => {
    const input = made("input", { type: "text", inputmode: "decimal", "data-keep": label, onchange: () => { const n = Number(input.value); if (Number.isFinite(n)) keep(n); } });
    input.value = String(value);
    return field(label, input, { unit });
  };
  const unit = state.units.distance_m;
  return made("details", {}, made("summary", {}, "Lay it by hand"),
    number("Width on the ground", Math.round(wide / unit), (n) => n > 0 && change({ place: [lon, lat, n * unit, turn] }), state.units.distance),
    number("Turned to the left", turn, (n) => change({ place: [lon, lat, wide, n] }), "degrees"),
    button("Its middle to the middle of the map", () => change({ place: [...onGround(centre()), wide, turn] })));
}

function tilesPart() {
  const { basemap } = state;
  const address = made("input", { type: "url", id: "tiles-address", autocomplete: "off", placeholder: "https://…/{z}/{x}/{y}.png" });
  const credit = made("input", { type: "text", autocomplete: "off" });
  address.value = basemap.tiles;
  credit.value = basemap.credit;
  const wrong = made("p.wrong", { role: "alert" });
  const use = async () => {
    try {
      await keepBasemap({ ...state.basemap, tiles: address.value.trim(), credit: credit.value });
      location.reload(); // the page may ask that one address only after it is loaded anew
    } catch (error) {
      wrong.textContent = error.said;
    }
  };
  return made("section", {}, made("h3", {}, "Your own map tiles"),
    made("p.small", {}, "Only if you have an address you may use. That server then learns where you look; nothing else on this page asks the network."),
    field("Address", address), field("Credit they ask for", credit), wrong,
    button(basemap.tiles ? "Use this instead" : "Use them", use));
}

export function begin() {
  subscribe("basemap facts pairing tab", show);
}
