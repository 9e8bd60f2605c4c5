// Lines of the chart: the water's edge, depths, and the depth that the angler's own limit stands at.
// They are drawn between the middles of the cells, where the level meets the bed or a depth is
// reached, and joined so that they can be dashed and named.

const LINE_CELLS = tileCells + 2; // with one cell around the tile
// Which grid edges hold a crossing, and the two lines that meet there; wiped after each use.
const meets = new Int32Array(4 * LINE_CELLS * LINE_CELLS).fill(-1);

// Class of each code against some rising levels [m]: how many of them it is above. 255: no line is
// drawn beside it.
function bandsOf(levels) {
  return Uint8Array.from({ length: 256 }, (_, code) =>
    code === UNKNOWN ? 255 : levels.filter((level) => edgeValue(code) > level).length,
  );
}

// Lines through one tile at a level, in cells from its upper left corner, joined. `step` leaves out
// cells when far away.
function linesThrough(codes, bands, level, index, step, from) {
  const ends = []; // crossings of each piece, two by two
  const places = new Map(); // crossing: its place
  const wide = LINE_CELLS;
  const cross = (row, column, upright) => {
    const id = 2 * (row * wide + column) + upright;
    if (!places.has(id)) {
      const near = edgeValue(codes[row * wide + column]);
      const far = edgeValue(codes[(row + (upright ? step : 0)) * wide + column + (upright ? 0 : step)]);
      const share = step * ((level - near) / (far - near));
      places.set(id, upright ? [column, row + share] : [column + share, row]);
    }
    return id;
  };
  for (let row = from[0]; row + step < wide; row += step) {
    for (let column = from[1]; column + step < wide; column += step) {
      const at = row * wide + column;
      const [a, b] = [bands[codes[at]], bands[codes[at + step]]];
      const [c, d] = [bands[codes[at + step * wide]], bands[codes[at + step * wide + step]]];
      if (a === b && b === c && c === d) continue;
      if (a === 255 || b === 255 || c === 255 || d === 255) continue;
      const shape = (a > index) | ((b > index) << 1) | ((d > index) << 2) | ((c > index) << 3);
      if (!shape || shape === 15) continue;
      const sides = [];
      if ((shape & 1) !== ((shape >> 1) & 1)) sides.push(cross(row, column, 0));
      if (((shape >> 1) & 1) !== ((shape >> 2) & 1)) sides.push(cross(row, column + step, 1));
      if (((shape >> 2) & 1) !== ((shape >> 3) & 1)) sides.push(cross(row + step, column, 0));
      if (((shape >> 3) & 1) !== (shape & 1)) sides.push(cross(row, column, 1));
      // two corners across from each other: the deep ones hang together, as water does
      if (sides.length === 4 && shape === 5) ends.push(sides[0], sides[1], sides[2], sides[3]);
      else if (sides.length === 4) ends.push(sides[3], sides[0], sides[1], sides[2]);
      else ends.push(sides[0], sides[1]);
    }
  }
  return joined(ends, places);
}

// Pieces joined end to end into lines.
function joined(ends, places) {
  const count = ends.length / 2;
  for (let i = 0; i < ends.length; i++) {
    const slot = 2 * ends[i];
    meets[meets[slot] < 0 ? slot : slot + 1] = i >> 1;
  }
  const used = new Uint8Array(count);
  const follow = (piece, id, line) => {
    for (;;) {
      line.push(places.get(id));
      const [one, other] = [meets[2 * id], meets[2 * id + 1]];
      const next = one === piece ? other : one;
      if (next < 0 || used[next]) return;
      used[next] = 1;
      piece = next;
      id = ends[2 * piece] === id ? ends[2 * piece + 1] : ends[2 * piece];
    }
  };
  const lines = [];
  for (let i = 0; i < count; i++) {
    if (used[i]) continue;
    used[i] = 1;
    const back = [];
    const line = [];
    follow(i, ends[2 * i], back);
    follow(i, ends[2 * i + 1], line);
    lines.push([...back.reverse(), ...line]);
  }
  for (const id of ends) meets[2 * id] = meets[2 * id + 1] = -1;
  return lines;
}

// Lines of one tile at some levels, as paths in file coordinates: one a level.
function tileLines(field, number, levels, step) {
  const codes = squareCodes(field, "depth", number, 0, 0, tileCells);
  const bands = bandsOf(levels);
  const cell = data.tiles.side / tileCells;
  const [x0, y0] = data.tiles.at[number];
  // what lies between this tile and the one before it is drawn by that one, if it is there
  const from = [tileBeside(number, 0, -1) === undefined ? 0 : 1, tileBeside(number, -1, 0) === undefined ? 0 : 1];
  return levels.map((level, index) => {
    const lines = linesThrough(codes, bands, level, index, step, from);
    const placed = lines.map((line) =>
      line.map(([x, y]) => [x0 + (x - 0.5) * cell, y0 - (y - 0.5) * cell]),
    );
    return { path: smoothPath(placed), lines: placed };
  });
}

// A path through the middles of the pieces, so that it has no corners.
function smoothPath(lines) {
  const path = new Path2D();
  for (const line of lines) {
    const last = line.length - 1;
    const shut = last > 2 && line[0][0] === line[last][0] && line[0][1] === line[last][1];
    const middle = (i) => [(line[i][0] + line[i + 1][0]) / 2, (line[i][1] + line[i + 1][1]) / 2];
    const start = shut ? middle(0) : line[0];
    path.moveTo(start[0], start[1]);
    for (let i = 1; i < last; i++) path.quadraticCurveTo(line[i][0], line[i][1], ...middle(i));
    if (shut) path.quadraticCurveTo(line[0][0], line[0][1], start[0], start[1]);
    else path.lineTo(line[last][0], line[last][1]);
  }
  return path;
}

// The lines of the field that is drawn and of its neighbours, those of all tiles; the oldest go first.
const LINES_KEPT = Math.max(120, 4 * data.tiles.at.length);
const drawnLines = new Map();
function chartLines(field, number, levels, step) {
  const key = field.key + "/" + number + "/" + step + "/" + levels.join(",");
  const lines = toEnd(drawnLines, key, drawnLines.get(key) || tileLines(field, number, levels, step));
  if (drawnLines.size > LINES_KEPT) drawnLines.delete(drawnLines.keys().next().value);
  return lines;
}

// The water's edge as one path a tile in view. That of the water drawn is found with its other lines.
function edgePaths(field, view) {
  const step = lineStep(view);
  const levels = field === ready.field ? levelsDrawn(view) : [0];
  return tilesInView(view).map(({ number }) => chartLines(field, number, levels, step)[0].path);
}

// Cells that a line leaves out: none where they can be seen.
function lineStep(view) {
  return skipAt(((data.tiles.side * view.k) / tileCells) * view.ratio);
}

// Draws the edge; `inked` sets the pen for each of its strokes.
function drawEdge(pen, view) {
  if (!ready.field || !state.on.has("edge")) return;
  const style = styles.get("edge");
  const far = view.metres > PATTERNS_UP_TO;
  pen.lineJoin = pen.lineCap = "round";
  pen.setLineDash([]);
  pen.strokeStyle = tone(style).ink;
  pen.lineWidth = (far ? 0.6 : 1) * style.width / view.k;
  for (const path of edgePaths(ready.field, view)) pen.stroke(path);
}
