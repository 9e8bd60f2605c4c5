// The ledger's pages and the card of one thing: opened from the map, from a list or by keyboard.

const TABS = ["runs", "layers", "about"];
let cameFrom = null; // what had the focus when a card was opened

// On a phone the ledger slides over the map. As long as nobody has moved the map, the whole reach
// is kept in what is left free.
function openSheet(open) {
  const before = root.dataset.sheet;
  root.dataset.sheet = open ? "open" : "closed";
  if (before !== root.dataset.sheet && isPhone() && !state.moved && sheet._map) showReach();
}

// Takes a page out of sight, or back. Not by the attribute `hidden`: browsers leave out what has it
// when they save a page as an archive, and the cautions with it.
function putAway(tab, away) {
  byId("page-" + tab).classList.toggle("away", away);
}
function isAway(tab) {
  return byId("page-" + tab).classList.contains("away");
}

function showTab(name, focus) {
  for (const tab of TABS) {
    const chosen = tab === name;
    byId("tab-" + tab).setAttribute("aria-selected", String(chosen));
    byId("tab-" + tab).tabIndex = chosen ? 0 : -1;
    putAway(tab, !chosen);
  }
  byId("page-card").hidden = true;
  delete root.dataset.card;
  byId("panel").scrollTop = 0;
  state.tab = name;
  tell("tab");
  if (focus) byId("tab-" + name).focus();
}

function startTabs() {
  TABS.forEach((name, i) => {
    const tab = byId("tab-" + name);
    tab.addEventListener("click", () => {
      const again =
        isPhone() &&
        root.dataset.sheet === "open" &&
        state.tab === name &&
        byId("page-card").hidden;
      closeCard(false);
      showTab(name);
      openSheet(!again);
    });
    tab.addEventListener("keydown", (event) => {
      const step = { ArrowRight: 1, ArrowLeft: -1 }[event.key];
      if (!step) return;
      event.preventDefault();
      event.stopPropagation();
      closeCard(false);
      showTab(TABS[(i + step + TABS.length) % TABS.length], true);
    });
  });
}

// The one line of caution opens all of them.
function openCautions(event) {
  event.preventDefault();
  closeCard(false);
  showTab("about", true);
  openSheet(true);
}

// Forgets what is chosen; back to the page below, and to what had the focus.
function closeCard(back = true) {
  if (byId("page-card").hidden) return;
  byId("page-card").hidden = true;
  delete root.dataset.card;
  tell("card");
  state.chosen = null;
  state.run = -1;
  if (back) {
    showTab(state.tab);
    if (cameFrom && cameFrom.isConnected) cameFrom.focus();
  }
  sheet.draw();
}

function fillCard(title, under, body) {
  const page = byId("page-card");
  if (page.hidden) cameFrom = document.activeElement;
  tell("card");
  page.textContent = "";
  const head = make("div", "card-head");
  const heading = make("h2");
  heading.append(typed(title));
  heading.tabIndex = -1;
  head.append(
    makeButton("plate-button", tr("back"), () => closeCard()),
    heading,
  );
  page.append(head);
  if (under) page.append(make("p", "card-under", under));
  page.append(...body);
  for (const tab of TABS) putAway(tab, true);
  page.hidden = false;
  root.dataset.card = "open";
  byId("panel").scrollTop = 0;
  openSheet(true);
  return heading;
}

function factsOf(rows) {
  const list = make("dl", "facts");
  for (const [name, value] of rows) {
    const answer = make("dd");
    answer.append(typed(value));
    list.append(make("dt", "", name), answer);
  }
  return list;
}

function linesOf(lines) {
  const list = make("ul", "lines");
  for (const line of lines) {
    const item = make("li");
    item.append(typed(line));
    list.append(item);
  }
  return list;
}

// A run with a card of its own; a drawn run that was worked out in pieces has none.
function isRun(feature) {
  return feature.run >= 0 && isStretch(feature.kind);
}

// The stretches of a drawn run as links, or nothing where none of them is a run.
function stretchesOf(names) {
  const links = make("ul", "links");
  for (const name of names) {
    const index = runs.findIndex((run) => run.name === name);
    if (index < 0) continue;
    const link = makeButton("link", "", () => openRun(index));
    const now = runs[index].at[state.flow];
    link.append(typed(name), make("small", "link-more", tr(now.shape ? "fishes_now" : "not_now")));
    links.append(make("li"));
    links.lastChild.append(link);
  }
  return links.childElementCount ? links : null;
}

// For whom and by which rule water was graded; stands on every card that speaks of wading.
function termsBox() {
  const box = make("div", "terms");
  for (const line of data.terms) {
    const words = make("p", line === data.marked ? "notice notice-margins" : "");
    words.append(typed(line));
    box.append(words);
  }
  return box;
}
const GRADED = new Set(
  "easy careful no unknown station bar inside_bend seam tailout soft_edge even_run".split(" "),
);

// The card of one feature. Runs have a richer one.
function openFeature(feature, focus = true) {
  if (isRun(feature)) return openRun(feature.run, focus);
  const card = cards[feature.card];
  const body = [];
  if (feature.flow >= 0) body.push(make("p", "small", tr("at", { flow: data.flows[feature.flow].words })));
  const stand = feature.kind === "station";
  if (stand) body.push(...standSteps(feature));
  if (card.rows.length) body.push(factsOf(card.rows));
  const stretches = feature.kind === "own_run" ? stretchesOf(card.lines) : null;
  if (stretches) body.push(make("h2", "", tr("pieces")), stretches);
  else if (card.lines.length) body.push(linesOf(card.lines));
  if (GRADED.has(feature.kind)) body.push(termsBox());
  if (feature.run >= 0) {
    const link = makeButton("link", "", () => openRun(feature.run));
    link.append(make("small", "", tr("part") + " "), typed(runs[feature.run].name));
    body.push(link);
  }
  const heading = fillCard(card.title, card.under, body);
  state.chosen = feature;
  state.run = -1;
  if (stand) showStand(feature);
  sheet.draw();
  if (focus) heading.focus({ preventScroll: true });
  return heading;
}

function featureName(feature) {
  if (isRun(feature)) return runs[feature.run].name;
  return cards[feature.card].title;
}
