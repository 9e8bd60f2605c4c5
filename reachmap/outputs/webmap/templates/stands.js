// A place to stand that was chosen: its layers switch on, its own cast alone is drawn, the room behind
// carries its number, and one goes to the next place of the run by a button or by a swipe over the
// card; the map follows.

const CAST_ABOUT = 22; // metres about the place that are brought into sight
const SWIPE = { along: 60, across: 40 }; // px: at least along, at most across

// The places to stand of a run at the flow shown, down the river.
function standsOf(run) {
  return (featuresNow().get("station") || [])
    .filter((one) => one.run === run && one.card >= 0)
    .map((one) => ({ one, along: (byRiver(latLng(one.x, one.y)) || { along: 0 }).along }))
    .sort((a, b) => a.along - b.along)
    .map(({ one }) => one);
}

function chosenStand() {
  return state.chosen && state.chosen.kind === "station" ? state.chosen : null;
}

// Opens the place so many steps down the run from another, if there is one.
function stepStand(from, step) {
  const all = standsOf(from.run);
  const next = all[all.indexOf(from) + step];
  if (next) openFeature(next);
}

// Switches on what is drawn about a place to stand, and brings it into sight.
function showStand(stand) {
  for (const kind of ["station", ...AROUND]) state.on.add(kind);
  tell("layers");
  showPlace(stand, CAST_ABOUT);
}

// Buttons to the next places of the run; nothing where there is one alone.
function standSteps(stand) {
  const all = standsOf(stand.run);
  if (all.length < 2) return [];
  const at = all.indexOf(stand);
  const box = make("div", "stand-steps");
  const say = data.say.stand;
  const up = makeButton("plate-button", say.up, () => stepStand(stand, -1));
  const down = makeButton("plate-button", say.down, () => stepStand(stand, 1));
  up.disabled = at <= 0;
  down.disabled = at < 0 || at >= all.length - 1;
  box.append(up, make("span", "", fill(say.of, { at: at + 1, count: all.length })), down);
  return [box];
}

// The number of the room behind a chosen place, written on its wedge.
function roomLabels(view) {
  const stand = chosenStand();
  if (!stand) return [];
  const row = cards[stand.card].rows.find(([name]) => name === data.say.stand.room);
  return features
    .filter((one) => one.stand === stand && one.kind !== "swing" && state.on.has(one.kind))
    .slice(0, row ? 1 : 0)
    .map(({ box }) => {
      const [x, y] = [(box[0] + box[2]) / 2, (box[1] + box[3]) / 2];
      return chartWriting(firstUnit(row[1]), view.x + x * view.k, view.y - y * view.k, 15, 950, 700);
    });
}

function startStands() {
  const page = byId("page-card");
  let from = null;
  page.addEventListener("touchstart", (event) => {
    const touch = event.touches.length === 1 ? event.touches[0] : null;
    from = touch && chosenStand() ? [touch.clientX, touch.clientY] : null;
  });
  page.addEventListener("touchend", (event) => {
    const stand = chosenStand();
    if (!from || !stand) return;
    const { clientX, clientY } = event.changedTouches[0];
    const [along, across] = [clientX - from[0], clientY - from[1]];
    from = null;
    if (Math.abs(along) >= SWIPE.along && Math.abs(across) <= SWIPE.across) stepStand(stand, along < 0 ? 1 : -1);
  });
}
