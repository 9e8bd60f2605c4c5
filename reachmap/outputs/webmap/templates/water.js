// Depth and speed: one byte a cell, cut into square tiles, coloured here so that the same bytes can
// be read under the finger.

const DRY = 0,
  OFF_MAP = 254,
  UNKNOWN = 255;
const tileCells = data.tiles.cells;
const tileBytes = tileCells * tileCells;

// Colours of a quantity by day or night, and the code at which each begins.
function ramp(quantity) {
  const told = data.ramps[quantity];
  return { bounds: told.bounds, signs: told.signs, unit: told.unit, colours: told[state.light] };
}

function rgb(colour) {
  const value = parseInt(colour.slice(1), 16);
  return [value >> 16, (value >> 8) & 255, value & 255];
}

// 256 colours as the four bytes of a pixel; dry and off-map stay clear.
const tables = new Map();
function colourTable() {
  const key = state.water + state.light;
  if (tables.has(key)) return tables.get(key);
  const pixels = new Uint8ClampedArray(1024);
  const plain = state.water === "plain";
  const { bounds, colours } = ramp(plain ? "depth" : state.water);
  for (let code = 1; code < 256; code++) {
    if (code === OFF_MAP) continue;
    const value = code * data.tiles.step[plain ? "depth" : state.water];
    let step = bounds.length - 1;
    while (step > 0 && value < bounds[step]) step--;
    const colour =
      code === UNKNOWN
        ? tone(styles.get("unknown_water")).fill
        : plain
          ? data.plain[state.light]
          : colours[step];
    pixels.set([...rgb(colour), 255], 4 * code);
  }
  const table = new Uint32Array(pixels.buffer);
  tables.set(key, table);
  return table;
}

// Bytes of one quantity at one flow; the last few are kept.
const KEPT = 6;
const rasters = new Map();
async function raster(quantity, flow) {
  const key = quantity + flow;
  if (!rasters.has(key)) rasters.set(key, inflate(data.rasters[quantity][flow]));
  const promise = rasters.get(key);
  rasters.delete(key); // to the end of the line: the first in it is the first to go
  rasters.set(key, promise);
  while (rasters.size > KEPT) rasters.delete(rasters.keys().next().value);
  return promise;
}

// The raster that colours the water now, once it is there.
const ready = { key: "", bytes: null };
function shownQuantity() {
  return state.water === "plain" ? "depth" : state.water;
}
async function readyWater() {
  const key = shownQuantity() + state.flow;
  if (ready.key === key) return;
  const bytes = await raster(shownQuantity(), state.flow);
  if (key === shownQuantity() + state.flow) Object.assign(ready, { key, bytes });
}

// One tile as a picture, thinned to every `skip`th cell when far away; null where it is all dry.
const pictures = new Map();
const PICTURES_KEPT = 320;
function picture(number, skip) {
  const key = ready.key + state.water + state.light + "/" + number + "/" + skip;
  if (pictures.has(key)) return pictures.get(key);
  const side = tileCells / skip;
  const image = new ImageData(side, side);
  const pixels = new Uint32Array(image.data.buffer);
  const table = colourTable();
  const from = number * tileBytes;
  let any = 0;
  for (let row = 0, at = 0; row < tileCells; row += skip) {
    const line = from + row * tileCells;
    for (let column = 0; column < tileCells; column += skip)
      any |= pixels[at++] = table[ready.bytes[line + column]];
  }
  let canvas = null;
  if (any) {
    canvas = document.createElement("canvas");
    canvas.width = canvas.height = side;
    canvas.getContext("2d").putImageData(image, 0, 0);
  }
  pictures.set(key, canvas);
  if (pictures.size > PICTURES_KEPT) pictures.delete(pictures.keys().next().value);
  return canvas;
}

// Paints all tiles in view. `view` turns file coordinates into px of the canvas.
function paintWater(pen, view) {
  if (!ready.bytes) return;
  const side = data.tiles.side * view.k;
  const cell = (side / tileCells) * view.ratio;
  const skip = cell >= 0.6 ? 1 : cell >= 0.3 ? 2 : cell >= 0.15 ? 4 : 8;
  const smooth = cell >= SMOOTH_FROM;
  pen.imageSmoothingEnabled = smooth || cell <= 3;
  data.tiles.at.forEach(([x, y], number) => {
    const left = view.x + x * view.k;
    const top = view.y - y * view.k;
    if (left > view.width || top > view.height || left + side < 0 || top + side < 0) return;
    if (smooth) return paintSmooth(pen, view, number, left, top, side);
    const tile = picture(number, skip);
    if (tile) pen.drawImage(tile, left, top, side + 0.4, side + 0.4);
  });
  pen.imageSmoothingEnabled = cell <= 3; // patterns laid over the water keep their lines
}

// What a raster holds at a place: its code, OFF_MAP beyond its outline, DRY on tiles left out.
function codeAt(bytes, place, cells = tileCells) {
  const { x, y } = filePoint(place);
  const side = data.tiles.side;
  for (let i = 0; i < data.tiles.at.length; i++) {
    const across = (x - data.tiles.at[i][0]) / side;
    const down = (data.tiles.at[i][1] - y) / side;
    if (across < 0 || across >= 1 || down < 0 || down >= 1) continue;
    return bytes[
      i * cells * cells + Math.floor(down * cells) * cells + Math.floor(across * cells)
    ];
  }
  return insideOutline(x, y) ? DRY : OFF_MAP;
}

// Whether a point lies in the four-cornered outline of the raster.
function insideOutline(x, y) {
  const corners = data.tiles.outline;
  let inside = false;
  for (let i = 0, j = corners.length - 2; i < corners.length; j = i, i += 2) {
    const above = corners[i + 1] > y !== corners[j + 1] > y;
    if (
      above &&
      x <
        ((corners[j] - corners[i]) * (y - corners[i + 1])) / (corners[j + 1] - corners[i + 1]) +
          corners[i]
    )
      inside = !inside;
  }
  return inside;
}

// Reads depth and speed at a place: { what: "wet" | "dry" | "unknown" | "off", depth, speed }.
function readingFrom(depths, speeds, place) {
  const depth = codeAt(depths, place);
  if (depth === DRY) return { what: "dry" };
  if (depth === OFF_MAP) return { what: "off" };
  if (depth === UNKNOWN) return { what: "unknown" };
  const speed = codeAt(speeds, place);
  return {
    what: "wet",
    depth: depth * data.tiles.step.depth,
    speed:
      speed === UNKNOWN || speed === DRY || speed === OFF_MAP
        ? null
        : speed * data.tiles.step.speed,
  };
}
