// Files dropped on the page, or chosen: tracks and drawings to take in, pictures to draw over.
import { byId, fill, made, say } from "./dom.js";
import { mainLine, sideChannels } from "./draw.js";
import { openTab } from "./frame.js";
import { inOtherUnits, nodItems, proposeRiver } from "./nod.js";
import { middle } from "./places.js";
import { filled, newMark, turnedRound } from "./shapes.js";
import { change, spec, state, publish } from "./state.js";
import { centre, fit, metresPerPixel, onGround, showPlace, showWhole, view } from "./viewport.js";
import { ask, keepBasemap } from "./client.js";

const WORLD_M = 300; // metres a pixel from which the map shows no place in particular
const PICTURE = /\.(png|jpe?g|webp)$/i;

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
  state.brought = { stamp: performance.now(), name, items: [], wrong: words };
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
  const items = nodItems(found);
  proposeRiver(items, drawnRiver());
  state.brought = { stamp: performance.now(), name, items, wrong: "", turn: null, turned: true, otherUnits: false };
  if (!state.marks.length) showFound(found);
  publish("brought");
}

/** The river as it is drawn already: {main, channels}, paths. */
export function drawnRiver() {
  const main = mainLine();
  return { main: main ? main.paths[0] : null, channels: sideChannels() };
}

function showFound(found) {
  const bounds = window.L.latLngBounds(found.flatMap((one) => one.paths.flat().map(([lon, lat]) => [lat, lon])));
  if (bounds.isValid()) fit(bounds, 18);
}

export function closeBrought() {
  state.brought = null;
  publish("brought");
}

export async function beginHere() {
  const first = state.brought.items[0];
  const start = middle(first.paths);
  closeBrought();
  showPlace(start, 17);
  await keepBasemap({ ...state.basemap, start });
}

export function takeIn() {
  const { items, otherUnits, turn, turned } = state.brought;
  const marks = items.filter((one) => one.target).map((one) => takenMark(one, otherUnits))
    .map((mark, at, all) => (turn && turned && all[at].paths === turn.paths ? turnedRound(mark) : mark));
  state.brought = null;
  change([...state.marks, ...marks]);
  publish("brought");
  showWhole();
  say(`${marks.length} taken in. Undo takes them out again.`);
}

function takenMark(item, otherUnits) {
  const layer = spec(item.target), closes = !layer.shapes.includes(item.shape);
  const values = otherUnits ? inOtherUnits(item, state.layers) : item.values;
  return newMark(item.target, closes ? "Polygon" : item.shape, closes ? item.paths.map(opened) : item.paths, filled(layer, values));
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
