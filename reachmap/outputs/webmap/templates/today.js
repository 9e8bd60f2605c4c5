// The day's short list, in walking order, and everything else folded below it.

const opened = new Set(); // folds that are open

function firstUnit(words) {
  return words.split(" (")[0];
}

function kindWords(kind) {
  return styles.has(kind) ? styles.get(kind).words.toLowerCase() : kind;
}

// The runs on the list now: none where nothing was drawn for the reading.
function picksNow() {
  return isBeyond() ? [] : picksAt(state.flow);
}

// Words of a row, with a dot between; typed text keeps its own writing direction.
function dotted(words) {
  return words.filter((word) => word && !word.startsWith(tr("unknown"))).join(" · ");
}

// The run on the list that the map can tell to have better odds than every other; -1 for none.
function bestOf(picks) {
  const best = picks.find((i) => runs[i].at[state.flow].first);
  return best === undefined || runs[best].at[state.flow].sure === tr("guess") ? -1 : best;
}

function todayRow(index, banks, best) {
  const now = runs[index].at[state.flow];
  const row = makeButton("run-row is-today", "", () => openRun(index));
  row.dataset.run = index;
  const title = make("span", "run-title");
  title.append(typed(runs[index].name));
  const bank = banks > 1 ? now.from : "";
  const guess = now.sure === tr("guess") ? now.sure : "";
  const what = make("span", "run-what", dotted([now.where, now.time, kindWords(now.water), bank, guess]));
  if (best) what.append(" ", make("span", "run-best", data.say.list.best));
  row.append(make("b", "num", String(now.pick)), title, what);
  if (now.mind) {
    const mind = make("span", "run-mind");
    mind.append(make("strong", "", data.say.list.mind), " ", typed(now.mind));
    row.append(mind);
  }
  lights(row, index);
  return row;
}

// A run that is not on the list: its name, and what it has or why it is out.
function otherRow(index) {
  const now = runs[index].at[state.flow];
  const row = makeButton("run-row" + (now.shape ? "" : " is-no"), "", () => openRun(index));
  row.dataset.run = index;
  const title = make("span", "run-title");
  title.append(typed(runs[index].name));
  const why = now.shape === true && !now.shut ? "" : now.shut || now.why || "";
  const what = make("span", "run-what");
  what.append(typed(why || dotted([now.where, now.time, kindWords(now.water), now.from])));
  row.append(title, what);
  lights(row, index);
  return row;
}

function listOf(indexes, tag, className, makeRow) {
  const list = make(tag, className);
  for (const index of indexes) {
    const item = make("li");
    item.append(makeRow(index));
    list.append(item);
  }
  return list;
}

function folded(name, indexes) {
  const fold = make("details", "fold-list");
  fold.append(make("summary", "", data.say.list[name] + ": " + indexes.length));
  const fillIn = () => {
    if (fold.open && fold.childElementCount < 2) fold.append(listOf(indexes, "ul", "run-rows", otherRow));
  };
  fold.open = opened.has(name);
  fillIn(); // the rows of a shut fold are made when it is opened
  fold.addEventListener("toggle", () => {
    if (fold.open) opened.add(name);
    else opened.delete(name);
    fillIn();
  });
  return fold;
}

// How many runs there are, where, and which way one goes.
function underHeading(picks) {
  const say = data.say.list;
  const count = picks.length === 1 ? say.one : fill(say.many, { count: picks.length });
  if (picks.every((i) => runs[i].at[state.flow].boat)) return fill(say.float, { runs: count });
  const banks = new Set(picks.map((i) => runs[i].at[state.flow].from));
  const bank = banks.size === 1 ? [...banks][0] : "";
  return fill(bank ? say.bank : say.walk, { runs: count, bank });
}

function listRuns() {
  const say = data.say.list;
  const box = byId("run-list");
  const at = data.flows[state.flow].words;
  const every = runs.map((_, i) => i);
  box.textContent = "";
  if (!runs.length) return box.append(make("h2", "", say.empty));
  if (isBeyond()) {
    box.append(make("h2", "", fill(say.silent, { read: state.read.words })));
    return box.append(make("p", "today-why", say.silent_why));
  }
  const picks = picksNow();
  const heading = picks.length ? fill(say.today, { at: atWords() }) : fill(say.none, { at });
  box.append(make("h2", "", heading));
  if (picks.length) box.append(make("p", "today-why", underHeading(picks)));
  const now = (i) => runs[i].at[state.flow];
  const banks = new Set(picks.map((i) => now(i).from)).size;
  const best = bestOf(picks);
  const groups = [
    [picks.filter((i) => !now(i).boat), ""],
    [picks.filter((i) => now(i).boat), say.boat],
  ];
  for (const [list, title] of groups) {
    if (!list.length) continue;
    if (title && list.length < picks.length) box.append(make("h3", "", title));
    box.append(listOf(list, "ol", "run-rows today", (i) => todayRow(i, banks, i === best)));
  }
  const rest = every.filter((i) => !now(i).pick);
  const folds = [
    ["also", rest.filter((i) => now(i).shape && !now(i).shut)],
    ["look", rest.filter((i) => now(i).shape !== false && (now(i).shut || !now(i).shape))],
    ["shape", rest.filter((i) => now(i).shape === false)],
  ];
  for (const [name, list] of folds) if (list.length) box.append(folded(name, list));
}

// The flow the list is for: the reading where the map is at it, else the flow drawn.
function atWords() {
  const read = state.read;
  return read && !isBetween() && !isBeyond() ? read.words : data.flows[state.flow].words;
}

// The folds that stand in the page itself: shut while its script runs, open without it.
function startFolds() {
  document.querySelectorAll(".fold").forEach((fold) => {
    const button = fold.querySelector(".fold-button");
    const show = (open) => {
      fold.classList.toggle("is-open", open);
      button.setAttribute("aria-expanded", String(open));
    };
    show(false);
    button.addEventListener("click", () => show(!fold.classList.contains("is-open")));
  });
}

listen("flow", listRuns);
