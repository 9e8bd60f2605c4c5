// Files dropped on the page, or chosen: tracks and drawings to take in, pictures to draw over.
import { button, byId, fill, made, say, typed } from "./dom.js";
import { openTab } from "./frame.js";
import { SHAPE_WORDS, WORDS } from "./styles.js";
import { middle } from "./places.js";
import { filled, newMark } from "./shapes.js";
import { change, spec, state, publish } from "./state.js";
import { centre, fit, metresPerPixel, onGround, showPlace, showWhole, view } from "./viewport.js";
import { ask, keepBasemap } from "./client.js";

const WORLD_M = 300; // metres a pixel from which the map shows no place in particular
const PICTURE = /\.(png|jpe?g|webp)$/i;
const MANY = { Point: "points", LineString: "lines", Polygon: "outlines" };

export async function bring(files) {
  for (const file of files) {
    try {
      if (PICTURE.test(file.name)) await bringPicture(file);
      else await bringDrawing(file);
    } catch (error) {
      trouble(file.name, error.said || String(error));
    }
  }
}

function trouble(name, words) {
  state.brought = { stamp: performance.now(), name, groups: [], wrong: words };
  publish("brought");
  say(words);
}

async function bringPicture(file) {
  const told = await ask("picture", { body: file, method: "POST" });
  if (metresPerPixel() > WORLD_M) showPlace(onGround(centre()), 16); // nobody has said yet where the river is
  const wide = metresPerPixel() * view.map.getSize().x * 0.7;
  const picture = { ...told, seen: 0.8, shown: true, stretch: false, place: [...onGround(centre()), Math.min(wide, 20000), 0], points: [] };
  await keepBasemap({ ...state.basemap, picture });
  openTab("basemap");
  say("The picture lies in the middle of the map. Fit it by pairs of spots.");
}

async function bringDrawing(file) {
  const told = await ask(`import?name=${encodeURIComponent(file.name)}`, { body: file, method: "POST" });
  offerFound(file.name, told.found);
}

/** Show what was found in a file, to be taken in or left. */
export function offerFound(name, found) {
  const groups = new Map();
  for (const one of found) {
    const key = `${one.shape} ${one.layer}`;
    if (!groups.has(key)) groups.set(key, { shape: one.shape, target: one.layer || "", items: [] });
    groups.get(key).items.push(one);
  }
  state.brought = { stamp: performance.now(), name, groups: [...groups.values()], wrong: "" };
  if (!state.marks.length) showFound(found);
  publish("brought");
}

function showFound(found) {
  const bounds = window.L.latLngBounds(found.flatMap((one) => one.paths.flat().map(([lon, lat]) => [lat, lon])));
  if (bounds.isValid()) fit(bounds, 18);
}

/** Layers that can hold a shape; a line of three corners may stand for an outline. */
export function layersFor(shape, items) {
  const rings = shape === "LineString" && items.every((one) => one.paths[0].length >= 3);
  return state.layers.filter((one) => one.shapes.includes(shape) || (rings && one.shapes.includes("Polygon"))).map((one) => one.name);
}

export function broughtCard() {
  const { brought } = state;
  const rows = brought.groups.map((group) => {
    const select = made("select", { "aria-label": `${group.items.length} ${MANY[group.shape]} become`, onchange: (event) => { group.target = event.target.value; ready(); } },
      made("option", { value: "" }, "leave out"),
      ...layersFor(group.shape, group.items).map((name) => made("option", { value: name }, WORDS[name].many)));
    select.value = group.target;
    const names = group.items.map((one) => one.label).filter(Boolean);
    return made("li.brought-row", {},
      made("p", {}, made("strong", {}, `${group.items.length} ${group.items.length === 1 ? SHAPE_WORDS[group.shape].toLowerCase() : MANY[group.shape]}`),
        names.length ? made("span.small", {}, " ", typed(names.slice(0, 3).join(", ").slice(0, 140)), names.length > 3 ? " and more" : "") : null),
      made("label.field", {}, made("span.field-word", {}, "Take in as"), select));
  });
  const take = button("Take in", takeIn, { class: "plate-button is-main", id: "take-in" });
  const ready = () => { take.disabled = !brought.groups.some((group) => group.target); };
  ready();
  return made("section", {},
    made("h2", {}, "From ", typed(brought.name)),
    brought.wrong ? made("p.wrong", { role: "alert" }, brought.wrong) : made("ul.brought", {}, ...rows),
    made("div.acts", {}, brought.wrong ? null : take,
      brought.groups.length ? button("Begin here, take nothing in", beginHere) : null,
      button(brought.wrong ? "Very well" : "Leave it", close)));
}

function close() {
  state.brought = null;
  publish("brought");
}

async function beginHere() {
  const first = state.brought.groups[0].items[0];
  const start = middle(first.paths);
  close();
  showPlace(start, 17);
  await keepBasemap({ ...state.basemap, start });
}

function takeIn() {
  const marks = state.brought.groups.filter((group) => group.target).flatMap((group) => group.items.map((one) => asMark(one, group)));
  state.brought = null;
  change([...state.marks, ...marks]);
  publish("brought");
  showWhole();
  say(`${marks.length} taken in. Undo takes them out again.`);
}

function asMark(one, group) {
  const layer = spec(group.target);
  const closes = !layer.shapes.includes(group.shape);
  const values = one.layer === group.target ? one.values : layer.fields.some((field) => field.name === "name") ? { name: one.label } : layer.fields.some((field) => field.name === "note") ? { note: one.label } : {};
  return newMark(group.target, closes ? "Polygon" : group.shape, closes ? one.paths.map(opened) : one.paths, filled(layer, values));
}

/** A ring without the corner that comes back to its first. */
function opened(path) {
  const [first, last] = [path[0], path[path.length - 1]];
  return path.length > 3 && first[0] === last[0] && first[1] === last[1] ? path.slice(0, -1) : path;
}

export function begin() {
  const box = byId("drop");
  let depth = 0;
  const hasFiles = (event) => event.dataTransfer && [...event.dataTransfer.types].includes("Files");
  addEventListener("dragenter", (event) => { if (hasFiles(event)) { depth += 1; box.hidden = false; } });
  addEventListener("dragleave", () => { depth = Math.max(0, depth - 1); if (!depth) box.hidden = true; });
  addEventListener("dragover", (event) => { if (hasFiles(event)) event.preventDefault(); });
  addEventListener("drop", (event) => {
    if (!hasFiles(event)) return;
    event.preventDefault();
    depth = 0;
    box.hidden = true;
    bring([...event.dataTransfer.files]);
  });
  document.addEventListener("change", (event) => {
    if (event.target.matches("#bring, #picture-file") && event.target.files.length) bring([...event.target.files]);
  });
  fill(byId("drop"), made("p", {}, "Let go to bring it in"));
}
