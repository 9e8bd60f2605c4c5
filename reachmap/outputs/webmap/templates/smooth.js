// Close to, the water is drawn between the middles of its cells: areas with smooth borders, and the
// edge where the level meets the bed. What a tap reads is the cell's own value.

const BLOCK = 64; // cells a side that are drawn in one go
const FINE = 4; // px of the picture for one cell
const BLOCKS_KEPT = 160;
const SMOOTH_FROM = 4; // px of the screen a cell, below which steps are too small to see
const STRICT_FROM = 0.25; // share of the worse about a place from which it is that
const STEEP = -0.2; // metres: dry ground counts as no higher above the water, so that a bank that
// stands up out of it does not push the edge far into the water

const blocks = new Map();
const tileAt = new Map(); // number of the tile at a place in the grid of tiles

// Places of the tiles in their grid; made once.
function startTiles() {
  if (tileAt.size || !data.tiles.at.length) return;
  data.tiles.at.forEach((_, number) => tileAt.set(tilePlace(number).join(","), number));
}

function tilePlace(number) {
  const { side, at } = data.tiles;
  return [Math.round((at[number][0] - at[0][0]) / side), Math.round((at[0][1] - at[number][1]) / side)];
}

// The tile that lies so many tiles across and down from another; undefined for none.
function tileBeside(number, across, down) {
  startTiles();
  if (!across && !down) return number;
  const [column, row] = tilePlace(number);
  return tileAt.get(column + across + "," + (row + down));
}

// The codes of a square of cells and of one cell around it; what lies on no tile is dry.
function squareCodes(field, quantity, number, top, left, size) {
  const wide = size + 2;
  const codes = new Uint8Array(wide * wide);
  for (const down of [-1, 0, 1]) {
    for (const across of [-1, 0, 1]) {
      const first = [top - 1 - down * tileCells, left - 1 - across * tileCells];
      const [y0, y1] = [Math.max(0, first[0]), Math.min(tileCells, first[0] + wide)];
      const [x0, x1] = [Math.max(0, first[1]), Math.min(tileCells, first[1] + wide)];
      if (y0 >= y1 || x0 >= x1) continue;
      const tile = tileBeside(number, across, down);
      if (tile === undefined) continue;
      const bytes = field.codes(quantity, tile);
      for (let y = y0; y < y1; y++)
        codes.set(
          bytes.subarray(y * tileCells + x0, y * tileCells + x1),
          (y - first[0]) * wide + x0 - first[1],
        );
    }
  }
  return codes;
}

// Height of a code above or below the water's level, for where the edge runs.
function edgeValue(code) {
  return code >= OFF_MAP ? STEEP : Math.max(STEEP, depthOf[code]);
}

// What stands at a place between four cells: NaN unknown, 0 dry, else the value of the wet ones. Dry
// ground does not thin what is wet; the edge is where the level meets the bed.
function valueBetween(depths, values, at, wide, upper, left) {
  let wet = 0;
  let unknown = 0;
  let sum = 0;
  let over = 0;
  for (let k = 0; k < 4; k++) {
    const cell = at + (k >> 1) * wide + (k & 1);
    const share = (k >> 1 ? 1 - upper : upper) * (k & 1 ? 1 - left : left);
    const code = depths[cell];
    if (code === UNKNOWN) {
      unknown += share;
      continue;
    }
    over += share * edgeValue(code);
    if (!isWater(code)) continue;
    wet += share;
    sum += share * values[cell];
  }
  if (unknown >= STRICT_FROM) return NaN;
  return over > 0 && wet > 0 ? sum / wet : 0;
}

// The grade between four cells: the worst that a quarter of the water about it has. So no outline
// reaches beyond the cells of its own grade on the easy side, however smooth it is.
function gradeBetween(grades, at, wide, upper, left) {
  let wet = 0;
  let worse = 0;
  const shares = [0, 0, 0, 0, 0];
  for (let k = 0; k < 4; k++) {
    const share = (k >> 1 ? 1 - upper : upper) * (k & 1 ? 1 - left : left);
    const grade = grades[at + (k >> 1) * wide + (k & 1)];
    if (!grade) continue;
    wet += share;
    shares[grade] += share;
  }
  for (let grade = 4; grade > 1; grade--) {
    worse += shares[grade];
    if (worse >= STRICT_FROM * wet) return grade;
  }
  return 1;
}

// The values that are coloured, cell by cell: speed where it is given, else depth. NaN: not known.
function valuesOf(depths, speeds) {
  const values = new Float32Array(depths.length);
  for (let i = 0; i < values.length; i++)
    values[i] = !speeds ? depthOf[depths[i]] : speeds[i] <= TOP ? speeds[i] * data.tiles.speedStep : NaN;
  return values;
}

// How many of the four cells from `at` on are water, and how many unknown, in one number: 16 a
// water, 1 an unknown.
function wetness(depths, at, wide) {
  let found = 0;
  for (let k = 0; k < 4; k++) {
    const code = depths[at + (k >> 1) * wide + (k & 1)];
    found += code === UNKNOWN ? 1 : isWater(code) ? 16 : 0;
  }
  return found;
}
const ALL_WET = 64;
const ONES = new Float32Array((BLOCK + 2) ** 2).fill(1); // where only wet or dry counts

// Paints the quads of a block, from the middle of one cell to that of the next, into `pixels`.
// `layers` has the codes of depth, of the grade, of the flow below and the flow above, null for none.
function paintQuads(pixels, layers, values, ink) {
  const { depths, grades, down, up } = layers;
  const wide = BLOCK + 2;
  const side = BLOCK * FINE;
  const half = FINE / 2;
  for (let row = 0; row <= BLOCK; row++) {
    const y0 = Math.max(0, row * FINE - half);
    const y1 = Math.min(side, row * FINE + half);
    for (let column = 0; column <= BLOCK; column++) {
      const at = row * wide + column;
      const wet = wetness(depths, at, wide);
      const rises = up && wet < ALL_WET && wetness(up, at, wide) >= 16;
      if (!wet && !rises) continue;
      const falls = down && wet >= 16 && wetness(down, at, wide) < ALL_WET;
      const x0 = Math.max(0, column * FINE - half);
      const x1 = Math.min(side, column * FINE + half);
      const [a, b, c, d] = [values[at], values[at + 1], values[at + wide], values[at + wide + 1]];
      for (let y = y0; y < y1; y++) {
        const low = (y + 0.5 - row * FINE + half) / FINE;
        for (let x = x0; x < x1; x++) {
          const right = (x + 0.5 - column * FINE + half) / FINE;
          const value =
            wet === ALL_WET
              ? (a + (b - a) * right) * (1 - low) + (c + (d - c) * right) * low
              : valueBetween(depths, values, at, wide, 1 - low, 1 - right);
          let pixel = 0;
          if (value !== value) pixel = ink.unknown;
          else if (value > 0 && grades)
            pixel = ink.grades[gradeBetween(grades, at, wide, 1 - low, 1 - right)];
          else if (value > 0) {
            const dry = falls && valueBetween(down, ONES, at, wide, 1 - low, 1 - right) === 0;
            pixel = (dry ? ink.drying : ink.values)[Math.min(ink.last, (value * STEPS_A_UNIT) | 0)];
          } else if (rises && valueBetween(up, ONES, at, wide, 1 - low, 1 - right) > 0)
            pixel = ink.drowns;
          pixels[y * side + x] = pixel;
        }
      }
    }
  }
}

// One block as a picture; null where it is all dry.
function smoothBlock(number, top, left) {
  const place = number + "/" + top + "/" + left;
  const ink = inks();
  const key = ready.key + ink.by + state.light + besideKey();
  const held = blocks.get(place) || { key: "", canvas: null, shown: null };
  blocks.delete(place); // to the end of the line: the first in it is the first to go
  blocks.set(place, held);
  if (blocks.size > BLOCKS_KEPT) blocks.delete(blocks.keys().next().value);
  if (held.key === key) return held.shown;
  const square = (field, quantity) => squareCodes(field, quantity, number, top, left, BLOCK);
  const [down, up] = [beside("down"), beside("up")];
  const layers = {
    depths: square(ready.field, "depth"),
    grades: ink.by === "grade" ? square(ready.field, "grade") : null,
    down: down ? square(down, "depth") : null,
    up: up ? square(up, "depth") : null,
  };
  held.key = key;
  held.shown = null;
  const shows = (code) => code === UNKNOWN || isWater(code);
  if (!layers.depths.some(shows) && !(up && layers.up.some(isWater))) return null;
  const speeds = ink.by === "speed" ? square(ready.field, "speed") : null;
  const side = BLOCK * FINE;
  const image = new ImageData(side, side);
  paintQuads(new Uint32Array(image.data.buffer), layers, valuesOf(layers.depths, speeds), ink);
  held.canvas = held.canvas || document.createElement("canvas");
  held.canvas.width = held.canvas.height = side;
  held.canvas.getContext("2d").putImageData(image, 0, 0);
  return (held.shown = held.canvas);
}

// Paints the blocks of a tile that are in view.
function paintSmooth(pen, view, number, tileLeft, tileTop, tileSide) {
  const side = (tileSide * BLOCK) / tileCells;
  for (let top = 0; top < tileCells; top += BLOCK) {
    for (let left = 0; left < tileCells; left += BLOCK) {
      const x = tileLeft + (left / BLOCK) * side;
      const y = tileTop + (top / BLOCK) * side;
      const block = inBox(view.box, x, y, side) ? smoothBlock(number, top, left) : null;
      if (block) pen.drawImage(block, x, y, side, side);
    }
  }
}
