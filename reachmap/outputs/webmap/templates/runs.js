// The card of a run: seven lines, always the same, then more of it.

const LISTED = 8; // places to stand in a run's card, those with most room first

const LEAST_FREE = 90; // px of map that are left free when it is moved to show something

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

// The seven lines: what each is, what it says, how sure that is.
function sevenLines(lines) {
  const list = make("dl", "seven");
  for (const [name, words, sure] of lines) {
    const answer = make("dd");
    answer.append(typed(words));
    if (sure) {
      const how = make("small", "how-sure");
      how.append(typed(sure));
      answer.append(" ", how);
    }
    list.append(make("dt", "", name), answer);
  }
  return list;
}

// Whether one can go to a run now, in a heading, and why not.
function cardHeading(now, flow) {
  if (now.shape === null) return tr("unknown_at", { flow: flow.words });
  if (!now.shape) return tr("leave_at", { flow: flow.words });
  if (now.shut) return tr("look_at", { flow: flow.words });
  return tr(now.pick ? "picked_at" : "shape_at", { pick: now.pick, flow: flow.words });
}

// What the seven lines leave out: numbers, notes, the water and the places in it, other flows.
function moreOf(run, index, now) {
  const more = make("details", "more");
  more.append(make("summary", "", tr("more")));
  const rows = [];
  if (now.kind) rows.push([tr("best_water"), kindWords(now.kind) + " " + now.code]);
  rows.push([tr("depth"), now.depth], [tr("speed"), now.speed]);
  if (now.odds) rows.push([tr("odds"), now.odds]);
  if (now.score !== null) rows.push([tr("suits"), tr("of_100", { score: now.score })]);
  if (now.prime) rows.push([tr("prime"), tr("holds")]);
  if (now.wade) rows.push([tr("wading"), now.wade]);
  if (now.shape) rows.push(...now.standing);
  if (now.sure) rows.push([tr("sure"), now.sure]);
  if (now.instead) rows.push([tr("instead"), now.instead]);
  if (run.best) rows.push([tr("best_at"), run.best]);
  if (now.minutes) rows.push([tr("once"), now.minutes]);
  more.append(factsOf(rows));
  if (now.lines.length) more.append(linesOf(now.lines));
  const inside = features.filter(
    (f) => f.run === index && f.flow === state.flow && f.card >= 0 && !AROUND.has(f.kind),
  );
  const waters = inside.filter((f) => f.kind !== "station").sort((a, b) => b.weight - a.weight);
  const stations = inside
    .filter((f) => f.kind === "station")
    .sort((a, b) => RANKS[a.mark] - RANKS[b.mark])
    .slice(0, LISTED);
  if (waters.length) more.append(make("h2", "", tr("water_in")), linksTo(waters));
  if (stations.length) more.append(make("h2", "", tr("stands")), linksTo(stations));
  if (data.flows.length > 1) more.append(make("h2", "", tr("flows")), flowStrip(run));
  more.open = opened.has("more");
  more.addEventListener("toggle", () => (more.open ? opened.add("more") : opened.delete("more")));
  return more;
}

// Everything about one run: this flow first, then what is in it, then all flows.
function openRun(index, focus = true) {
  const run = runs[index];
  const now = run.at[state.flow];
  const flow = data.flows[state.flow];
  const under = dotted([now.from || run.side, now.where, tr(run.own ? "own" : "found")]);
  const body = [make("h2", "", cardHeading(now, flow))];
  const why = now.shut || (now.why === tr("in_shape") ? "" : now.why);
  if (why) {
    const line = make("p", "card-shut");
    line.append(typed(why[0].toUpperCase() + why.slice(1) + "."));
    body.push(line);
  }
  if (now.guide) body.push(make("p", "guide", now.guide));
  if (now.seven.length) body.push(sevenLines(now.seven));
  if (now.log) {
    const log = make("p", "from-log");
    log.append(make("strong", "", tr("log") + " "), typed(now.log));
    body.push(log);
  }
  const curve = windowCurve(run);
  if (curve) body.push(curve);
  const cover = coveragePicture(index);
  if (cover) body.push(cover);
  if (run.note) body.push(linesOf([run.note]));
  body.push(moreOf(run, index, now), termsBox());
  const heading = fillCard(run.name, under, body);
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
      name === tr("casts") ? rows.get(name) : name.toLowerCase() + " " + firstUnit(rows.get(name)),
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
      feature.kind === "station" ? [tr("room"), tr("casts")] : [tr("depth"), tr("speed")],
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
    if (!flow.own && i !== state.flow) return;
    const words = tr(run.at[i].shape ? "fishes" : run.at[i].shape === null ? "not_known" : "leave");
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
  northUp();
  map.fitBounds(bounds, { ...freeSpace(), maxZoom: 19, animate: false });
}
function boxHolds(box, { x, y }) {
  return x >= box[0] && x <= box[2] && y >= box[1] && y <= box[3];
}
function showReach() {
  map.fitBounds(reachBounds(), { ...freeSpace(), animate: false });
}
function showPlace(feature, about = 40) {
  const box = feature.box;
  const margin = about * data.metre;
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
  const above = Math.min(most - below, isPhone() ? 40 + read : 84);
  return {
    paddingTopLeft: [24, above],
    paddingBottomRight: [isPhone() ? 24 : 84, below],
  };
}

listen("flow", () => {
  if (state.run >= 0) openRun(state.run, false);
  else if (state.chosen && state.chosen.flow >= 0 && !featuresNow().get(state.chosen.kind).includes(state.chosen)) closeCard();
});
