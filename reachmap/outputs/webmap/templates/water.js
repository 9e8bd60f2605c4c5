// How the water is coloured: by depth or speed, plain, or by wading grade. Tiles of bytes become
// pictures here.

// Colours of a quantity by day or night, and the value at which each begins.
function ramp(quantity) {
  const told = data.ramps[quantity];
  return { bounds: told.bounds, signs: told.signs, unit: told.unit, colours: told[state.light] };
}

function rgb(colour) {
  const value = parseInt(colour.slice(1), 16);
  return [value >> 16, (value >> 8) & 255, value & 255];
}

// What colours the water: the grades where they are shown, else what was chosen.
function colouredBy() {
  return state.on.has("no") ? "grade" : state.water;
}

// Which bytes that takes.
function neededBytes() {
  const by = colouredBy();
  return by === "plain" ? ["depth"] : ["depth", by];
}

// A colour as the four bytes of a pixel, and back.
function pixelOf(colour, alpha = 255) {
  const bytes = new Uint8ClampedArray([...rgb(colour), alpha]);
  return new Uint32Array(bytes.buffer)[0];
}
function hexOf(pixel) {
  const bytes = new Uint8Array(Uint32Array.of(pixel).buffer);
  return "#" + [...bytes.subarray(0, 3)].map((value) => value.toString(16).padStart(2, "0")).join("");
}

// Pixels by value: `steps` entries a metre or a metre a second.
const STEPS_A_UNIT = 100;
function valuePixels(quantity) {
  const { bounds, colours } = ramp(quantity);
  const pixels = colours.map((colour) => pixelOf(colour));
  const most = Math.ceil(bounds[bounds.length - 1] * STEPS_A_UNIT) + 1;
  return Uint32Array.from({ length: most + 1 }, (_, i) => {
    let step = bounds.length - 1;
    while (step > 0 && i / STEPS_A_UNIT < bounds[step] - 1e-9) step--;
    return pixels[step];
  });
}

// All pixels of a way to colour: by value, by grade, and for unknown water; made once for each.
const tables = new Map();
function inks() {
  const by = colouredBy();
  const key = by + state.light;
  if (tables.has(key)) return tables.get(key);
  const plain = pixelOf(data.plain[state.light]);
  const values = by === "speed" || by === "depth" ? valuePixels(by) : Uint32Array.of(plain);
  const unknown = pixelOf(tone(styles.get("unknown_water")).fill);
  const grades = ["easy", "careful", "no", "unknown"].map((kind) =>
    pixelOf(tone(styles.get(kind)).fill),
  );
  const found = { by, values, unknown, grades: Uint32Array.of(0, ...grades), last: values.length - 1 };
  found.drying = values.map((pixel) => pixelOf(driesColour(hexOf(pixel))));
  found.drowns = pixelOf(drownsColour(), DROWNS_ALPHA);
  found.code = new Uint32Array(256);
  found.dries = new Uint32Array(256);
  for (let i = 1; i < 256; i++) {
    if (by === "grade") found.code[i] = found.grades[Math.min(i, 4)];
    else if (i === UNKNOWN) found.code[i] = found.dries[i] = unknown;
    else if (i < OFF_MAP && (by === "speed" || i > GROUND)) {
      const value = by === "speed" ? i * data.tiles.speedStep : depthOf[i];
      const at = Math.min(found.last, Math.floor(value * STEPS_A_UNIT + 1e-6));
      found.code[i] = values[at];
      found.dries[i] = found.drying[at];
    }
  }
  tables.set(key, found);
  return found;
}

// The field that is drawn, once its bytes are there.
const ready = { key: "", field: null };
async function readyWater() {
  const needed = neededBytes();
  const key = keyAt(state.at);
  if (ready.field && ready.key === key && needed.every((name) => ready.field.bytes[name])) return;
  const at = state.at;
  const field = fieldAhead(key, needed) || (await fieldAt(at, needed));
  if (at === state.at) Object.assign(ready, { key, field });
}

// One tile of a field as a picture, thinned to every `skip`th cell when far away; null where it is
// all dry. Of grades the worst of the cells is taken.
function picture(field, number, skip, tinted) {
  const by = colouredBy();
  const key = field.key + by + state.light + "/" + skip + "/" + (tinted ? besideKey() : "") + "/" + number;
  const held = pictures.get(key);
  if (held !== undefined) return held;
  const side = tileCells / skip;
  const image = new ImageData(side, side);
  const pixels = new Uint32Array(image.data.buffer);
  const { code: table, dries, drowns } = inks();
  const codes = field.codes(by === "plain" ? "depth" : by, number);
  const [down, up] = ["down", "up"].map((side) => {
    const other = tinted ? beside(side) : null;
    return other ? other.codes("depth", number) : null;
  });
  let any = 0;
  if (skip === 1 && !down && !up) {
    for (let i = 0; i < tileBytes; i++) any |= pixels[i] = table[codes[i]];
  } else {
    for (let row = 0, at = 0; row < tileCells; row += skip) {
      for (let column = 0; column < tileCells; column += skip) {
        const cell = row * tileCells + column;
        const code = by === "grade" && skip > 1 ? worstOf(codes, row, column, skip) : codes[cell];
        let pixel = table[code];
        if (down && pixel && down[cell] <= GROUND) pixel = dries[code];
        else if (up && code <= GROUND && isWater(up[cell])) pixel = drowns;
        any |= pixels[at++] = pixel;
      }
    }
  }
  return pictures.keep(key, any ? image : null);
}

function worstOf(codes, row, column, skip) {
  let worst = 0;
  for (let y = row; y < row + skip; y++)
    for (let x = column; x < column + skip; x++) worst = Math.max(worst, codes[y * tileCells + x]);
  return worst;
}

// Whether a square touches a box [px].
function inBox(box, left, top, side) {
  return left <= box[2] && top <= box[3] && left + side >= box[0] && top + side >= box[1];
}

// The tiles in view, with their place on the canvas.
function tilesInView(view) {
  const side = data.tiles.side * view.k;
  const found = [];
  data.tiles.at.forEach(([x, y], number) => {
    const left = view.x + x * view.k;
    const top = view.y - y * view.k;
    if (inBox(view.box, left, top, side)) found.push({ number, left, top, side });
  });
  return found;
}

// How many cells are drawn as one, by how large a cell is on the screen [px].
function skipAt(cell) {
  return cell >= 0.6 ? 1 : cell >= 0.3 ? 2 : cell >= 0.15 ? 4 : 8;
}

const TINTS_FROM = 1.5; // px of the screen a cell, below which what dries or drowns is too thin to see

// Paints all tiles in view. `view` turns file coordinates into px of the canvas.
function paintWater(pen, view) {
  if (!ready.field) return;
  if (!neededBytes().every((name) => ready.field.bytes[name])) {
    readyWater().then(() => sheet.draw()); // another way to colour was chosen
    return;
  }
  const cell = ((data.tiles.side * view.k) / tileCells) * view.ratio;
  const smooth = cell >= SMOOTH_FROM;
  pen.imageSmoothingEnabled = smooth || cell <= 3;
  for (const { number, left, top, side } of tilesInView(view)) {
    if (smooth) paintSmooth(pen, view, number, left, top, side);
    else {
      const tile = picture(ready.field, number, skipAt(cell), cell >= TINTS_FROM);
      if (tile) pen.drawImage(tile, left, top, side + 0.4, side + 0.4);
    }
  }
  pen.imageSmoothingEnabled = cell <= 3; // patterns laid over the water keep their lines
}
