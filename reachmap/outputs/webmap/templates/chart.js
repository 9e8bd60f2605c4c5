// What makes the water a chart: contours, the angler's own limit as the one heavy line, ground that
// dries or drowns at the next flow named on the staff, depths as figures close to, and its key.

const limits = data.limits; // of the person graded for, or null
const THIN_LINE = { width: 0.9, alpha: 0.5 };
const FIGURES_UP_TO = 0.22; // ground metres in one px up to which depths are written
const FIGURES_APART = 84; // px
const NAMED_FROM = 150; // px of the limit's line that carry its figure
const NAMES_APART = 260;

function isChart() {
  return colouredBy() === "depth" || colouredBy() === "plain";
}

// The flows named on the staff next to where the water is: { down, up }, -1 for none.
function flowsBeside() {
  const own = data.flows.map((flow, i) => (flow.own ? i : -1)).filter((i) => i >= 0);
  const up = own.find((i) => i > state.at + 1e-3);
  return { down: own.filter((i) => i < state.at - 1e-3).pop() ?? -1, up: up ?? -1 };
}

// Their water, as far as it is there; it is fetched while nobody touches anything.
const besides = { down: null, up: null, sure: null, flow: -1 };
async function readyBesides() {
  const wanted = flowsBeside();
  let fresh = false;
  for (const side of ["down", "up"]) {
    const has = besides[side] ? besides[side].at : -1;
    if (has === wanted[side]) continue;
    besides[side] = wanted[side] < 0 ? null : await fieldAt(wanted[side], []);
    fresh = true;
  }
  if (besides.flow !== state.flow) {
    const flow = state.flow;
    besides.sure = await sureOf(flow);
    besides.flow = flow;
    fresh = true;
  }
  showKey();
  if (fresh) sheet.draw();
}

// The field of one side, if it is the one that counts now.
function beside(side) {
  const wanted = flowsBeside()[side];
  return isChart() && besides[side] && besides[side].at === wanted ? besides[side] : null;
}

function besideKey() {
  const [down, up] = [beside("down"), beside("up")];
  return (down ? down.key : "") + ":" + (up ? up.key : "");
}

// A colour drawn towards another.
function towards(colour, other, share) {
  const [a, b] = [rgb(colour), rgb(other)];
  const mixed = a.map((value, i) => Math.round(value + share * (b[i] - value)));
  return "#" + mixed.map((value) => value.toString(16).padStart(2, "0")).join("");
}
function driesColour(colour) {
  return state.light === "day" ? towards(colour, "#d3a9dd", 0.62) : towards(colour, "#7a4f86", 0.62);
}
function drownsColour() {
  return state.light === "day" ? "#7db4e6" : "#4d7fae";
}
const DROWNS_ALPHA = 105;

// Levels that are drawn as thin lines, and the limit's; none where something else colours the water.
function thinLevels() {
  const depth = limits ? limits.depth : -1;
  return ramp("depth").bounds.slice(1).filter((level) => Math.abs(level - depth) > 0.02);
}

// The levels of all lines in this view, rising; the first is the edge.
function levelsDrawn(view) {
  if (!isChart()) return [0];
  const near = (data.tiles.side * view.k * view.ratio) / tileCells >= SMOOTH_FROM;
  // from afar the limit's line would hide what it divides
  const depths = [...(near ? thinLevels() : []), ...(limits && view.metres <= CODES_UP_TO ? [limits.depth] : [])];
  return [0, ...depths.sort((a, b) => a - b)];
}

function drawContours(pen, view) {
  state.limitNames = [];
  if (!ready.field || !isChart()) return;
  const levels = levelsDrawn(view);
  if (levels.length < 2) return;
  const heavy = limits ? levels.indexOf(limits.depth) : -1;
  const [ink, casing] = state.light === "day" ? ["#12303c", "#fffdf6"] : ["#cfe0e2", "#0b1214"];
  const found = tilesInView(view).map(({ number }) => chartLines(ready.field, number, levels, lineStep(view)));
  pen.setLineDash([]);
  pen.lineJoin = pen.lineCap = "round";
  const stroke = (which, colour, width, alpha) => {
    pen.strokeStyle = colour;
    pen.globalAlpha = alpha;
    pen.lineWidth = width / view.k;
    found.forEach((lines) => which(lines).forEach(({ path }) => pen.stroke(path)));
    pen.globalAlpha = 1;
  };
  stroke((lines) => lines.filter((_, i) => i > 0 && i !== heavy), ink, THIN_LINE.width, THIN_LINE.alpha);
  if (heavy < 0) return;
  stroke((lines) => [lines[heavy]], casing, 5, 0.85);
  stroke((lines) => [lines[heavy]], ink, 2.8, 1);
  state.limitNames = limitNames(found.map((lines) => lines[heavy].lines), view);
}

// Where the limit's figure stands on its line: on long pieces, in what the map shows, well apart.
function limitNames(tiles, view) {
  const kept = [];
  const seen = sheet.seen();
  const cell = (data.tiles.side / tileCells) * view.k;
  const stride = Math.max(1, Math.round(NAMED_FROM / 4 / cell));
  for (const line of tiles.flat()) {
    if (line.length * cell * 0.7 < NAMED_FROM) continue;
    for (let i = stride; i < line.length - 1; i += stride) {
      const [x, y] = [view.x + line[i][0] * view.k, view.y - line[i][1] * view.k];
      const shown = x > seen[0] + 30 && x < seen[2] - 30 && y > seen[1] + 20 && y < seen[3] - 20;
      if (shown && kept.every((one) => Math.hypot(one[0] - x, one[1] - y) > NAMES_APART)) kept.push([x, y]);
    }
  }
  return kept;
}

function chartWriting(text, x, y, size, weight, bold) {
  const [ink, casing] = state.light === "day" ? ["#12303c", "#fffdf6"] : ["#e9dfc9", "#0b1214"];
  return { text, x, y, size, weight, ink, casing, font: bold + " " + size + "px " + WRITING, fixed: true };
}

// Figures of the chart for this view: the limit's, and depths close to, rounded up.
function chartLabels(view) {
  if (!ready.field || !isChart()) return [];
  const labels = limits
    ? (state.limitNames || []).map(([x, y]) => chartWriting(limits.words.depth, x, y, 14, 900, 700))
    : [];
  if (view.metres > FIGURES_UP_TO || besides.flow !== state.flow) return labels;
  const cell = (data.tiles.side * view.k) / tileCells;
  const step = Math.max(1, Math.round(FIGURES_APART / cell));
  for (const { number, left, top } of tilesInView(view)) {
    const codes = ready.field.codes("depth", number);
    for (let row = step >> 1; row < tileCells; row += step) {
      for (let column = step >> 1; column < tileCells; column += step) {
        const [x, y] = [left + (column + 0.5) * cell, top + (row + 0.5) * cell];
        const code = codes[row * tileCells + column];
        if (!isWater(code) || isGuess(number, row, column) || x < view.box[0] || y < view.box[1] || x > view.box[2] || y > view.box[3]) continue;
        labels.push(chartWriting(firstOfDepth(depthOf[code]).split(" ")[0], x, y, 12, 40, 500));
      }
    }
  }
  return labels;
}

// Whether the depth of a cell is a guess: no figure is written there.
function isGuess(number, row, column) {
  const side = data.tiles.sureCells;
  return besides.sure[number * side * side + (row >> 1) * side + (column >> 1)] % 4 === 1;
}

// The key below the tints: the limit's line and the two tints, where they are drawn.
let chartKey = null;
function showKey() {
  if (!chartKey) return;
  chartKey.textContent = "";
  if (!isChart()) return;
  const say = data.say.chart;
  const row = (className, words) => {
    const line = make("div", "chart-row");
    line.append(make("i", className), make("span", "", words));
    chartKey.append(line);
    return line;
  };
  if (limits) row("key-limit", fill(say.limit, { depth: limits.words.depth }));
  const [down, up] = [beside("down"), beside("up")];
  if (down)
    row("key-dries", fill(say.dries, { flow: data.flows[down.at].words })).firstChild.style.background =
      driesColour(ramp("depth").colours[1]);
  if (up)
    row("key-drowns", fill(say.drowns, { flow: data.flows[up.at].words })).firstChild.style.background =
      drownsColour();
}

for (const name of ["flow", "layers", "light", "water"]) listen(name, showKey);
