// What a change of flow did: which runs are new on the list, which are gone, who moved; and for
// three seconds the old edge of the water, dashed. Where motion is not wanted nothing comes and goes.

const SHOWN_MS = 3000;
const LEAST_MOVE = 1.4; // metres: less is no news
let fading = 0;

function lessMotion() {
  return window.matchMedia("(prefers-reduced-motion: reduce)").matches;
}

// The numbered runs of a flow, in their order.
function picksAt(flow) {
  return runs
    .map((run, i) => i)
    .filter((i) => runs[i].at[flow].pick > 0)
    .sort((a, b) => runs[a].at[flow].pick - runs[b].at[flow].pick);
}

// How far the best water of a run moved towards its bank [m]; 0 where that cannot be told.
function movedIn(run, from, to) {
  const [a, b] = [run.at[from], run.at[to]];
  const same = a.bank === b.bank && a.water === b.water && (a.bank === "left" || a.bank === "right");
  if (!same || a.off === null || b.off === null || a.off * b.off <= 0) return 0;
  return Math.abs(b.off) - Math.abs(a.off);
}

function changeWords(from, to) {
  const text = data.say.change;
  const [before, now] = [picksAt(from), picksAt(to)];
  const told = [];
  const fresh = now.filter((i) => !before.includes(i)).length;
  const gone = before.filter((i) => !now.includes(i)).length;
  if (fresh) told.push(fill(text.new, { count: fresh }));
  if (gone) told.push(fill(text.gone, { count: gone }));
  const moves = now
    .filter((i) => before.includes(i))
    .map((i) => ({ run: runs[i].name, metres: movedIn(runs[i], from, to) }))
    .filter((move) => Math.abs(move.metres) >= LEAST_MOVE)
    .sort((a, b) => Math.abs(b.metres) - Math.abs(a.metres));
  if (moves.length) {
    const { run, metres } = moves[0];
    const far = firstUnit(say("distance", Math.abs(metres)));
    told.push(fill(metres > 0 ? text.in : text.out, { run, far }));
  }
  if (!told.length && now.length) told.push(text.same);
  return told.length ? fill(text.at, { at: data.flows[to].words, told: told.join(", ") }) : "";
}

// Called once the new water is there, with what was shown before: { at, flow, field }. Returns what
// says in words what changed, for when the water is on the screen.
function noteChange(before) {
  if (!before.field || before.at === state.at) return () => {}; // the page has just been opened
  const since = state.old >= 0 ? state.old : before.at; // several steps at a go are one change
  const field = state.old >= 0 ? state.oldField : before.field;
  const from = shapesFor(since);
  keepEdge(since, field);
  return () => {
    const silent = isBeyond() || from === state.flow;
    state.said = silent ? "" : changeWords(from, state.flow);
  };
}

// Keeps the edge of the water before for a while.
function keepEdge(since, field) {
  clearTimeout(fading);
  state.old = lessMotion() || since === state.at || !field ? -1 : since;
  state.oldField = state.old < 0 ? null : field;
  if (state.old < 0) return;
  fading = setTimeout(() => {
    state.old = -1;
    state.oldField = null;
    sheet.draw();
  }, SHOWN_MS);
}

// On a jump the water before goes over into the new one within a quarter of a second: what was drawn
// stays above and fades. Nothing moves where that is not wanted.
function blend(before) {
  if (!lessMotion() && before.at !== state.at && before.field) sheet.turnOver();
}

// The edge of the water before, dashed.
function drawOldEdge(pen, view) {
  if (!(state.old >= 0)) return;
  const px = 1 / view.k;
  const paths = edgePaths(state.oldField, view);
  pen.lineJoin = "round";
  for (const [colour, width, dash] of [
    [state.light === "day" ? "#fffdf6" : "#0b1214", 5, []],
    [state.light === "day" ? "#b3460a" : "#ffc46b", 2.6, [7, 5]],
  ]) {
    pen.strokeStyle = colour;
    pen.lineWidth = width * px;
    pen.setLineDash(dash.map((length) => length * px));
    for (const path of paths) pen.stroke(path);
  }
  pen.setLineDash([]);
}
