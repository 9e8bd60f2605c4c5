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

// The values that are coloured, cell by cell: depth, speed, or nothing where only the grade counts.
function valuesOf(depths, codes, by) {
  const values = new Float32Array(depths.length);
  for (let i = 0; i < values.length; i++)
    values[i] =
      by !== "speed" ? depthOf[depths[i]] : codes[i] <= TOP ? codes[i] * data.tiles.speedStep : NaN;
  return values;
}

// Paints the quads of a block, from the middle of one cell to that of the next, into `pixels`.
function paintQuads(pixels, depths, grades, values, ink) {
  const wide = BLOCK + 2;
  const side = BLOCK * FINE;
  const half = FINE / 2;
  const { by, last, unknown } = ink;
  for (let row = 0; row <= BLOCK; row++) {
    const y0 = Math.max(0, row * FINE - half);
    const y1 = Math.min(side, row * FINE + half);
    for (let column = 0; column <= BLOCK; column++) {
      const at = row * wide + column;
      const cells = [at, at + 1, at + wide, at + wide + 1];
      let water = 0;
      let asks = 0;
      for (const cell of cells) {
        if (depths[cell] === UNKNOWN) asks++;
        else if (isWater(depths[cell])) water++;
      }
      if (!water && !asks) continue;
      const x0 = Math.max(0, column * FINE - half);
      const x1 = Math.min(side, column * FINE + half);
      const even =
        by === "grade" && cells.every((cell) => grades[cell] === grades[at]) ? grades[at] : 0;
      for (let y = y0; y < y1; y++) {
        const down = (y + 0.5 - row * FINE + half) / FINE;
        for (let x = x0; x < x1; x++) {
          const over = (x + 0.5 - column * FINE + half) / FINE;
          let value;
          if (water === 4) {
            const upper = values[at] * (1 - over) + values[at + 1] * over;
            value = upper * (1 - down) + (values[at + wide] * (1 - over) + values[at + wide + 1] * over) * down;
          } else value = valueBetween(depths, values, at, wide, 1 - down, 1 - over);
          if (value !== value) pixels[y * side + x] = unknown;
          else if (value > 0)
            pixels[y * side + x] =
              by === "grade"
                ? ink.grades[even || gradeBetween(grades, at, wide, 1 - down, 1 - over)]
                : ink.values[Math.min(last, (value * STEPS_A_UNIT) | 0)];
        }
      }
    }
  }
}

// One block as a picture; null where it is all dry.
function smoothBlock(number, top, left) {
  const place = number + "/" + top + "/" + left;
  const ink = inks();
  const key = ready.key + ink.by + state.light;
  const held = blocks.get(place) || { key: "", canvas: null, shown: null };
  blocks.delete(place); // to the end of the line: the first in it is the first to go
  blocks.set(place, held);
  if (blocks.size > BLOCKS_KEPT) blocks.delete(blocks.keys().next().value);
  if (held.key === key) return held.shown;
  const depths = squareCodes(ready.field, "depth", number, top, left, BLOCK);
  held.key = key;
  held.shown = null;
  if (!depths.some((code) => code === UNKNOWN || isWater(code))) return null;
  const codes =
    ink.by === "speed" || ink.by === "grade"
      ? squareCodes(ready.field, ink.by, number, top, left, BLOCK)
      : depths;
  const side = BLOCK * FINE;
  const image = new ImageData(side, side);
  const values = valuesOf(depths, codes, ink.by);
  paintQuads(new Uint32Array(image.data.buffer), depths, codes, values, ink);
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
      if (x > view.width || y > view.height || x + side < 0 || y + side < 0) continue;
      const block = smoothBlock(number, top, left);
      if (block) pen.drawImage(block, x, y, side, side);
    }
  }
}
