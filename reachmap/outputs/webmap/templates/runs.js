// What fishes at this flow, the table of all flows, and the card of a run.

const LISTED = 8; // places to stand in a run's card, those with most room first

const LEAST_FREE = 90; // px of map that are left free when it is moved to show something

const SURE = { low: "a guess", fair: "fairly sure", good: "well supported" };

function kindWords(kind) {
  return styles.has(kind) ? styles.get(kind).words.toLowerCase() : kind;
}

function firstUnit(words) {
  return words.split(" (")[0];
}

function runRow(index) {
  const run = runs[index];
  const now = run.at[state.flow];
  const row = makeButton("run-row" + (now.shape ? "" : " is-no"), "", () => openRun(index));
  const title = make("span", "run-title");
  title.append(typed(run.name));
  if (!now.shape) {
    const why = now.why || "not at this flow";
    const what = make("span", "run-what");
    what.append(typed(why + (now.instead ? "; try " + now.instead : "")));
    row.append(title, what);
    return row;
  }
  const told = [
    now.prime ? "prime" : "",
    kindWords(now.kind),
    firstUnit(now.depth),
    firstUnit(now.speed),
    now.noStand ? "nowhere to stand" : "",
    now.sure === "low" ? SURE.low : "",
  ];
  const what = make(
    "span",
    "run-what",
    told.filter((word) => word && !word.startsWith("unknown")).join(" · "),
  );
  if (now.sure === "low") row.classList.add("is-guess");
  row.append(styles.has(now.kind) ? swatch(now.kind) : make("span"), title, what);
  if (now.score !== null) {
    const score = make("span", "run-score", String(now.score));
    score.append(make("small", "", "of 100"));
    row.append(score);
  }
  return row;
}

// Runs one can stand by come first, each kind by score.
function standingFirst(a, b) {
  return (a.noStand ? 1 : 0) - (b.noStand ? 1 : 0) || (b.score || 0) - (a.score || 0);
}

function listRuns() {
  const box = byId("run-list");
  box.textContent = "";
  const order = runs
    .map((_, i) => i)
    .sort((a, b) => standingFirst(runs[a].at[state.flow], runs[b].at[state.flow]));
  const good = order.filter((i) => runs[i].at[state.flow].shape);
  const rest = order.filter((i) => !runs[i].at[state.flow].shape).sort((a, b) => a - b);
  const flow = data.flows[state.flow].words;
  const many = good.length === 1 ? "One run fishes" : good.length + " runs fish";
  const heading = !runs.length
    ? "No runs were found"
    : good.length
      ? many + " at " + flow
      : "No run is in shape at " + flow;
  box.append(make("h2", "", heading));
  byId("said").textContent = heading;
  const lists = [
    [good, ""],
    [rest, good.length && rest.length ? "Leave for another flow" : ""],
  ];
  for (const [list, heading] of lists) {
    if (!list.length) continue;
    if (heading) box.append(make("h2", "", heading));
    const rows = make("ul", "run-rows");
    for (const index of list) {
      const item = make("li");
      item.append(runRow(index));
      rows.append(item);
    }
    box.append(rows);
  }
}

function markTable() {
  document.querySelectorAll(".ledger [data-flow]").forEach((cell) => {
    if (cell.tagName !== "BUTTON")
      cell.classList.toggle("is-now", Number(cell.dataset.flow) === state.flow);
  });
}

function startAsks() {
  document.querySelectorAll("[data-ask]").forEach((button) => {
    button.addEventListener("click", () => {
      const place = features.find((f) => f.kind === "ask" && f.label === button.dataset.ask);
      if (!place) return;
      state.on.add("ask");
      tell("layers");
      showPlace(place);
      openFeature(place);
    });
  });
}

function startTable() {
  document.querySelectorAll(".ledger button").forEach((button) => {
    button.addEventListener("click", async () => {
      if (button.dataset.flow !== undefined) await setFlow(Number(button.dataset.flow));
      openRun(Number(button.dataset.run));
    });
  });
}

// Everything about one run: this flow first, then what is in it, then all flows.
function openRun(index, focus = true) {
  const run = runs[index];
  const now = run.at[state.flow];
  const flow = data.flows[state.flow];
  const under = [
    run.own ? "your run" : "found for you",
    run.side,
    now.length && now.length !== "unknown" ? now.length + " long" : "",
  ];
  const body = [
    make(
      "h2",
      "",
      now.shape
        ? "In shape at " + flow.words
        : now.shape === null
          ? "Not known at " + flow.words
          : "Leave it at " + flow.words,
    ),
  ];
  if (now.why && now.why !== "in shape") {
    const why = make("p");
    why.append(typed(now.why));
    body.push(why);
  }
  const rows = [];
  if (now.kind) rows.push(["Best water", kindWords(now.kind) + " " + now.code]);
  rows.push(["Depth", now.depth], ["Speed", now.speed]);
  if (now.score !== null) rows.push(["Suits a swung fly", now.score + " of 100"]);
  if (now.prime) rows.push(["Prime", "holds over a length worth fishing"]);
  if (now.wade) rows.push(["Wading to it", now.wade]);
  if (now.shape) rows.push(...now.standing);
  if (now.sure) rows.push(["How sure", SURE[now.sure] || now.sure]);
  if (now.instead) rows.push(["Instead", now.instead]);
  if (run.best) rows.push(["Best at", run.best]);
  if (now.minutes) rows.push(["Once through", now.minutes]);
  body.push(factsOf(rows));
  if (now.log) {
    const log = make("p", "from-log");
    log.append(make("strong", "", "Your log: "), typed(now.log));
    body.push(log);
  }
  if (now.lines.length) body.push(linesOf(now.lines));
  if (run.note) body.push(linesOf([run.note]));
  body.push(termsBox());
  const inside = features.filter(
    (f) => f.run === index && f.flow === state.flow && f.card >= 0 && !AROUND.has(f.kind),
  );
  const waters = inside.filter((f) => f.kind !== "station").sort((a, b) => b.weight - a.weight);
  const stations = inside
    .filter((f) => f.kind === "station")
    .sort((a, b) => RANKS[a.mark] - RANKS[b.mark])
    .slice(0, LISTED);
  if (waters.length) body.push(make("h2", "", "Water in it"), linksTo(waters));
  if (stations.length) body.push(make("h2", "", "Where to stand"), linksTo(stations));
  if (data.flows.length > 1) body.push(make("h2", "", "At other flows"), flowStrip(run));
  const heading = fillCard(run.name, under.filter(Boolean).join(" · "), body);
  state.run = index;
  state.chosen = null;
  const place = features.find((f) => f.run === index && isStretch(f.kind));
  if (place && state.place && !boxHolds(place.box, filePoint(state.place))) closeReading();
  if (place) showBox(place.box);
  sheet.draw();
  if (focus) heading.focus({ preventScroll: true });
}

// A few of the facts on a feature's card, in one line.
function factOf(feature, names) {
  const rows = new Map(cards[feature.card].rows);
  return names
    .filter((name) => rows.has(name))
    .map((name) =>
      name === "Casts" ? rows.get(name) : name.toLowerCase() + " " + firstUnit(rows.get(name)),
    )
    .join(" · ");
}

function linksTo(list) {
  const links = make("ul", "links");
  for (const feature of list) {
    const link = makeButton("link", "", () => {
      showPlace(feature);
      openFeature(feature);
    });
    link.append(typed(featureName(feature)));
    const more = factOf(
      feature,
      feature.kind === "station" ? ["Room behind", "Casts"] : ["Depth", "Speed"],
    );
    if (more) link.append(make("small", "link-more", more));
    links.append(make("li"));
    links.lastChild.append(link);
  }
  return links;
}

function flowStrip(run) {
  const strip = make("div", "strip");
  data.flows.forEach((flow, i) => {
    const words = run.at[i].shape ? "fishes" : run.at[i].shape === null ? "not known" : "leave it";
    const chip = makeButton("chip", flow.words, () => setFlow(i));
    chip.setAttribute("aria-pressed", String(i === state.flow));
    chip.append(make("small", "", " " + words));
    strip.append(chip);
  });
  return strip;
}

// Moves the map so that a box of file coordinates lies in what the sheet leaves free.
function showBox(box) {
  const bounds = L.latLngBounds(latLng(box[0], box[1]), latLng(box[2], box[3]));
  state.moved = true;
  map.fitBounds(bounds, { ...freeSpace(), maxZoom: 19, animate: false });
}
function boxHolds(box, { x, y }) {
  return x >= box[0] && x <= box[2] && y >= box[1] && y <= box[3];
}
function showReach() {
  map.fitBounds(reachBounds(), { ...freeSpace(), animate: false });
}
function showPlace(feature) {
  const box = feature.box;
  const margin = 40 * data.metre;
  showBox([
    Math.min(box[0], feature.x - margin),
    Math.min(box[1], feature.y - margin),
    Math.max(box[2], feature.x + margin),
    Math.max(box[3], feature.y + margin),
  ]);
}
function freeSpace() {
  const low = isPhone() && root.dataset.sheet === "open" ? byId("panel").offsetHeight : 0;
  const read = plate ? plate.offsetHeight + 12 : 0;
  // Something is left free whatever lies on the map: there is no zoom at which nothing fits.
  const most = Math.max(0, map.getSize().y - LEAST_FREE);
  const below = Math.min(most, isPhone() ? low + 24 : 24 + read);
  const above = Math.min(most - below, isPhone() ? 24 + read : 84);
  return {
    paddingTopLeft: [24, above],
    paddingBottomRight: [isPhone() ? 24 : 84, below],
  };
}

listen("flow", () => {
  listRuns();
  markTable();
  if (state.run >= 0) openRun(state.run, false);
  else if (state.chosen && state.chosen.flow >= 0 && state.chosen.flow !== state.flow) closeCard();
});
listen("light", listRuns);
