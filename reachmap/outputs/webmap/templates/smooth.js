// Close to, the water is drawn between the middles of its cells: areas of depth or speed with smooth
// borders, an edge without steps. What a tap reads is the cell's own value.

const BLOCK = 64; // cells a side that are drawn in one go
const FINE = 4; // px of the picture for one cell
const BLOCKS_KEPT = 240;
const SMOOTH_FROM = 4; // px of the screen a cell, below which steps are too small to see
const UNKNOWN_FROM = 0.25; // share of unknown water about a place from which it is unknown
const WET_FROM = 0.5;

const blocks = new Map();
const tileAt = new Map(); // number of the tile at a place in the grid of tiles

function tileKey(across, down) {
  return across + "," + down;
}

// Places of the tiles in their grid; made once.
function startTiles() {
  if (tileAt.size || !data.tiles.at.length) return;
  const { side, at } = data.tiles;
  const [x0, y0] = at[0];
  at.forEach(([x, y], number) => {
    tileAt.set(tileKey(Math.round((x - x0) / side), Math.round((y0 - y) / side)), number);
  });
}

// The codes of a block and of one cell around it; what lies on no tile is dry.
function blockCodes(number, top, left) {
  const { side, at } = data.tiles;
  const across = Math.round((at[number][0] - at[0][0]) / side);
  const down = Math.round((at[0][1] - at[number][1]) / side);
  const wide = BLOCK + 2;
  const codes = new Uint8Array(wide * wide);
  for (let row = 0; row < wide; row++) {
    const y = top + row - 1;
    const tileRow = Math.floor(y / tileCells);
    for (let column = 0; column < wide; column++) {
      const x = left + column - 1;
      const tileColumn = Math.floor(x / tileCells);
      const tile =
        tileRow || tileColumn ? tileAt.get(tileKey(across + tileColumn, down + tileRow)) : number;
      if (tile === undefined) continue;
      const line = y - tileRow * tileCells;
      codes[row * wide + column] =
        ready.bytes[tile * tileBytes + line * tileCells + (x - tileColumn * tileCells)];
    }
  }
  return codes;
}

// Shares of the cell above and below (or left and right) at each px within a cell.
const SHARES = Array.from({ length: FINE }, (_, k) => {
  const off = (k + 0.5) / FINE - 0.5;
  return off < 0 ? { first: 0, share: -off } : { first: 1, share: 1 - off };
});

// The code at a px from four cells: unknown where enough of them is, dry where most is.
function mixedCode(codes, at, wide, upper, left) {
  let wet = 0;
  let unknown = 0;
  let sum = 0;
  for (let k = 0; k < 4; k++) {
    const code = codes[at + (k >> 1) * wide + (k & 1)];
    const share = (k >> 1 ? 1 - upper : upper) * (k & 1 ? 1 - left : left);
    if (code === UNKNOWN) unknown += share;
    else if (code !== DRY && code !== OFF_MAP) {
      wet += share;
      sum += share * code;
    }
  }
  if (unknown >= UNKNOWN_FROM) return UNKNOWN;
  if (wet < WET_FROM) return DRY;
  return Math.max(1, Math.min(OFF_MAP - 1, Math.round(sum / wet)));
}

// One block as a picture; null where it is all dry.
function smoothBlock(number, top, left) {
  const key = ready.key + state.water + state.light + "/" + number + "/" + top + "/" + left;
  if (blocks.has(key)) return blocks.get(key);
  const codes = blockCodes(number, top, left);
  let canvas = null;
  if (codes.some((code) => code !== DRY && code !== OFF_MAP)) {
    const wide = BLOCK + 2;
    const side = BLOCK * FINE;
    const image = new ImageData(side, side);
    const pixels = new Uint32Array(image.data.buffer);
    const table = colourTable();
    for (let y = 0, to = 0; y < side; y++) {
      const down = SHARES[y % FINE];
      const row = Math.floor(y / FINE) + down.first;
      for (let x = 0; x < side; x++) {
        const over = SHARES[x % FINE];
        const at = row * wide + Math.floor(x / FINE) + over.first;
        pixels[to++] = table[mixedCode(codes, at, wide, down.share, over.share)];
      }
    }
    canvas = document.createElement("canvas");
    canvas.width = canvas.height = side;
    canvas.getContext("2d").putImageData(image, 0, 0);
  }
  blocks.set(key, canvas);
  if (blocks.size > BLOCKS_KEPT) blocks.delete(blocks.keys().next().value);
  return canvas;
}

// Paints the blocks of a tile that are in view.
function paintSmooth(pen, view, number, tileLeft, tileTop, tileSide) {
  startTiles();
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
