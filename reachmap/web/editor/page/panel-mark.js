// The card of a chosen mark: its fields with their units, its corners, what can be done with it.
import { button, choice, field, made, say, typed } from "./dom.js";
import { mainLine, sideChannels, startDraft } from "./draw.js";
import { deleteChosen } from "./edit.js";
import { FIELD_WORDS, swatch, WORDS } from "./styles.js";
import { lengthWords, pathLength, placeWords, readPlace } from "./places.js";
import { closedPath, moveCorner, nameOf, replaced, thinned, turnedRound, withValue } from "./shapes.js";
import { sideProposed } from "./sides.js";
import { change, choose, chosenMark, subscribe, spec, state } from "./state.js";
import { showMark } from "./viewport.js";

const MANY = 40; // corners from which thinning is offered

export function showCard(mark) {
  const layer = spec(mark.layer), words = WORDS[mark.layer];
  return [
    made("div.card-head", {}, swatch(mark.layer),
      made("h2", {}, typed(nameOf(mark, state.marks, words.one))),
      button("Done", () => choose(null), { "data-keep": "done" })),
    made("p.card-under", {}, under(mark)),
    made("div", { id: "card-faults" }, ...faultsOf(mark)),
    ...layer.fields.map((one) => fieldOf(mark, one)),
    state.corner && mark.shape !== "Point" ? cornerRow(mark) : null,
    mark.shape === "Point" && mark.paths.length ? pointRow(mark) : null,
    made("div.acts", {},
      mark.shape === "LineString" ? button("Turn round", () => act(turnedRound)) : null,
      mark.shape === "LineString" ? button("Go on from its end", () => startDraft(mark.layer, { shape: mark.shape, path: mark.paths[0], id: mark.id })) : null,
      mark.paths.length && mark.paths[0].length > MANY ? button(`Thin to 1 ${state.units.distance}`, () => act((now) => thinned(now, state.units.distance_m)),
        { title: "Leaves out corners nearer to the line than that" }) : null,
      mark.shape === "Point" ? button(`Another ${words.one.toLowerCase()}`, () => startDraft(mark.layer, { shape: mark.shape })) : null,
      mark.paths.length ? button("Show it", () => showMark(mark)) : null,
      button(state.corner && mark.shape !== "Point" ? "Take the corner out" : "Take it out", deleteChosen, { class: "plate-button is-grave" })),
    mark.shape !== "Point" && mark.paths.length
      ? made("p.small", {}, "Drag a corner to move it, a small dot between two to put one in. Tap a corner to choose it.") : null,
  ].filter(Boolean);
}

function under(mark) {
  if (mark.shape === "Point" || !mark.paths.length) return spec(mark.layer).meaning;
  const long = lengthWords(pathLength(closedPath(mark, mark.paths[0])), state.units);
  return `${mark.shape === "Polygon" ? `${long} round` : `${long} long`}, ${mark.paths[0].length} corners. ${spec(mark.layer).meaning}`;
}

function act(turn) {
  const mark = chosenMark();
  if (!mark) return;
  change(replaced(state.marks, turn(mark)));
  say("Done. Undo brings it back.");
}

function put(name, text) {
  const mark = chosenMark();
  if (!mark || mark.values[name] === text) return;
  change(replaced(state.marks, withValue(mark, name, text)), { redraw: false });
}

function fieldOf(mark, one) {
  const label = FIELD_WORDS[one.name] || one.name, now = mark.values[one.name] || "";
  if (one.words.length) {
    const known = one.words.some(([word]) => word === now);
    const box = choice(label + (one.required ? "" : ""), `field-${one.name}`, one.words, now, (word) => put(one.name, word));
    if (mark.layer === "banks") box.append(...bankProposals(mark, one.name, now));
    if (now && !known) box.append(made("p.wrong", {}, "It says ", typed(now), ", which is none of these."));
    return box;
  }
  const long = !one.number && ["note"].includes(one.name);
  const input = made(long ? "textarea" : "input", {
    ...(long ? { rows: "3" } : { type: "text" }), name: one.name, autocomplete: "off", maxlength: "20000",
    ...(one.number ? { inputmode: "decimal" } : {}), onchange: (event) => put(one.name, event.target.value),
  });
  input.value = now;
  return field(label, input, { unit: one.unit, hint: one.meaning });
}

/** What a bank's side and cover may be: said beside the choice, taken only by a tap. */
function bankProposals(mark, name, now) {
  if (name === "cover" && !now) {
    const last = [...state.marks].reverse().find((one) => one.layer === "banks" && one.id !== mark.id && one.values.cover);
    if (!last) return [];
    return [made("p.small", {}, `The last bank was ${last.values.cover}. `, button(`Here too: ${last.values.cover}`, () => putAnew("cover", last.values.cover), { "data-keep": "cover-too" }))];
  }
  const main = mainLine();
  if (name !== "side" || !main || !mark.paths.length) return [];
  const by = sideProposed(main.paths[0], sideChannels(), mark.paths), share = Math.round(by.share * 100);
  if (!by.side) return now ? [] : [made("p.small", {}, "It lies on both sides of the river line: say which bank it is.")];
  if (by.side === now) return [made("p.small", {}, `By where it lies: ${share} % of its outline.`)];
  return [made(now && by.side !== "island" ? "p.wrong" : "p.small", {}, `By where it lies it is ${by.side}: ${share} % of its outline. `,
    button(`Make it ${by.side}`, () => putAnew("side", by.side), { "data-keep": "side-by-place" }))];
}

function putAnew(name, text) {
  change(replaced(state.marks, withValue(chosenMark(), name, text)));
  say(`${FIELD_WORDS[name]}: ${text}`);
}

function cornerRow(mark) {
  const { path, index } = state.corner, at = mark.paths[path]?.[index];
  if (!at) return null;
  return placeRow(`Corner ${index + 1}: latitude, longitude`, at, (place) => act((now) => moveCorner(now, path, index, place)));
}

function pointRow(mark) {
  return placeRow("Latitude, longitude", mark.paths[0][0], (place) => act((now) => moveCorner(now, 0, 0, place)));
}

function placeRow(label, at, keep) {
  const input = made("input", {
    type: "text", autocomplete: "off", "data-keep": "corner-place", name: "corner-place",
    onchange: () => {
      const place = readPlace(input.value);
      input.setAttribute("aria-invalid", place ? "false" : "true");
      if (place) keep(place);
    },
  });
  input.value = placeWords(at);
  return field(label, input);
}

function faultsOf(mark) {
  return state.faults.filter((fault) => fault.mark === mark.id)
    .map((fault) => made("p.fault-here", {}, made("strong", {}, typed(fault.found)), ". ", typed(fault.fix)));
}

export function begin() {
  subscribe("check", () => {
    const box = document.getElementById("card-faults"), mark = chosenMark();
    if (box && mark) box.replaceChildren(...faultsOf(mark));
  });
}
