// Who fishes: on foot or by boat, which bank, how long. Chosen here it is kept on this phone, and the
// list, its numbers, stretches, minutes and reasons are made anew by the rule of
// reachmap/angler/short_list.py, from the same facts.

const WHOM_KEY = "reachmap-whom:" + data.reach;
let whomFacts = null; // what the page holds of others; null where it holds the folder's list alone
let ownRuns = []; // the runs as the folder's list has them
let whom = null; // who was chosen: { boat, bank: "", "left", "right" or "both", hours }; null: the folder's
let whomKept = true; // whether the browser keeps it

function sameWhom(a, b) {
  return a.boat === b.boat && a.bank === b.bank && a.hours === b.hours;
}

function whomNow() {
  return whom || whomFacts.own;
}

// The facts that hold for somebody: a crossing and the hours change no score.
function factsFor(chosen) {
  const bank = chosen.bank === "both" ? "" : chosen.bank;
  return whomFacts.all.find((one) => one.boat === chosen.boat && one.bank === bank);
}

// The best runs that fit the hours, as many as the list may hold.
function bestRuns(choices, hours) {
  const rules = whomFacts.rules;
  const kept = [];
  let minutes = 0;
  const byWorth = [...choices].sort((a, b) => b.worth - a.worth || a.station - b.station);
  for (const one of byWorth) {
    const poor = kept.length && one.worth < rules.worth_share * kept[0].worth;
    if (kept.length >= rules.most || (poor && kept.length >= rules.least)) break;
    if (one.minutes === null) continue;
    const more = one.minutes + (kept.length ? rules.between_min : 0);
    if (kept.length && minutes + more > 60 * hours) continue;
    kept.push(one);
    minutes += more;
  }
  return kept;
}

// The runs of the short list at a flow for somebody, downstream: numbers of runs.
function listedFor(chosen, flow) {
  let choices = factsFor(chosen).go[flow].map(([run, worth, station, side, minutes]) => ({
    run,
    worth,
    station,
    side,
    minutes,
  }));
  const worthOf = (side) =>
    bestRuns(
      choices.filter((one) => one.side === side),
      chosen.hours,
    ).reduce((sum, one) => sum + one.worth, 0);
  const both = chosen.bank === "both" || chosen.boat;
  let bank = chosen.bank === "both" ? "" : chosen.bank;
  if (!bank && !both) bank = worthOf("right") > worthOf("left") ? "right" : "left";
  if (bank) choices = choices.filter((one) => one.side === bank || one.side === "island");
  return bestRuns(choices, chosen.hours)
    .sort((a, b) => a.station - b.station)
    .map((one) => one.run);
}

// Puts the runs as they are for whom was chosen in the place of those of the folder's list.
function takeWhom(chosen) {
  whom = chosen && !sameWhom(chosen, whomFacts.own) ? chosen : null;
  const facts = factsFor(whomNow());
  const picks = whom ? data.flows.map((_, flow) => listedFor(whom, flow)) : null;
  runs = ownRuns.map((own, index) => {
    const beside = facts.runs[index];
    const at = own.at.map((now, flow) => ({
      ...now,
      ...((beside.at || {})[flow] || {}),
      pick: picks ? picks[flow].indexOf(index) + 1 : now.pick,
    }));
    return { ...own, ...(beside.run || {}), at };
  });
}

function keepWhom() {
  try {
    if (whom) window.localStorage.setItem(WHOM_KEY, JSON.stringify(whom));
    else window.localStorage.removeItem(WHOM_KEY);
    whomKept = true;
  } catch (fault) {
    whomKept = false; // a browser that keeps nothing for opened files
  }
}

function keptWhom() {
  try {
    const kept = JSON.parse(window.localStorage.getItem(WHOM_KEY));
    const known =
      kept &&
      typeof kept.boat === "boolean" &&
      ["", "left", "right", "both"].includes(kept.bank) &&
      kept.hours >= HOURS.least &&
      kept.hours <= HOURS.most;
    return known ? { boat: kept.boat, bank: kept.bank, hours: kept.hours } : null;
  } catch (fault) {
    return null;
  }
}

function whomWords(chosen) {
  const parts = data.say.whom.parts;
  const hours = fill(parts.hours, { hours: chosen.hours });
  return [parts[chosen.boat ? "boat" : "foot"], parts[chosen.bank], hours].join(", ");
}

// Another choice: what is shown follows at once, at the flow that is shown.
function chooseWhom(chosen) {
  takeWhom(chosen);
  keepWhom();
  showWhom();
  tell("flow");
}

const HOURS = { least: 0.5, most: 16, step: 0.5 };

function whomChoice(name, value, words, on) {
  const label = make("label", "whom-choice");
  const box = make("input");
  box.type = "radio";
  box.name = name;
  box.value = value;
  box.checked = on;
  label.append(box, make("span", "", words));
  return label;
}

function whomGroup(title, name, choices, now) {
  const group = make("fieldset", "whom-group");
  group.append(make("legend", "", title));
  for (const [value, words] of choices) group.append(whomChoice(name, value, words, value === now));
  return group;
}

// Fills the form for who is chosen; one who comes by boat has both banks.
function fillWhom() {
  const { parts, form } = data.say.whom;
  const now = whomNow();
  const banks = [
    ...(now.boat ? [["both", parts.both]] : [["", parts[""]]]),
    ["left", parts.left],
    ["right", parts.right],
    ...(now.boat ? [] : [["both", form.cross]]),
  ];
  const ways = ["foot", "boat"].map((way) => [way, parts[way]]);
  const hours = make("label", "whom-hours");
  const field = make("input");
  Object.assign(field, { type: "number", id: "whom-hours", value: now.hours, inputMode: "decimal" });
  Object.assign(field, { min: HOURS.least, max: HOURS.most, step: HOURS.step });
  hours.append(make("span", "", form.hours), field);
  const box = byId("whom-form");
  box.textContent = "";
  box.append(
    whomGroup(form.way, "whom-way", ways, now.boat ? "boat" : "foot"),
    whomGroup(form.bank, "whom-bank", banks, now.bank),
    hours,
  );
}

// What the form says now. Hours that are no number of hours leave it as it was.
function whomFromForm() {
  const chosen = (name) => document.querySelector('[name="' + name + '"]:checked');
  const boat = chosen("whom-way").value === "boat";
  let bank = chosen("whom-bank").value;
  if (boat !== whomNow().boat && (bank === "" || bank === "both")) bank = boat ? "both" : "";
  const typedHours = Number(byId("whom-hours").value);
  const good = typedHours >= HOURS.least && typedHours <= HOURS.most;
  return { boat, bank, hours: good ? typedHours : whomNow().hours };
}

function showWhom() {
  const { parts, form } = data.say.whom;
  const now = whomNow();
  const way = parts[now.boat ? "boat" : "foot"];
  byId("whom-button").textContent =
    way[0].toUpperCase() + way.slice(1) + ", " + fill(parts.hours, { hours: now.hours });
  const told = byId("whom-told");
  told.textContent = "";
  if (!whom) return;
  const words = fill(form.changed, { whom: whomWords(whom), own: whomWords(whomFacts.own) });
  told.append(make("span", "", words), " ");
  if (!whomKept) told.append(make("span", "", form.unkept), " ");
  told.append(
    makeButton("link", form.back, () => {
      chooseWhom(null);
      if (!byId("whom-form").hidden) fillWhom();
      byId("whom-button").focus();
    }),
  );
}

// The button above the list, the form it opens, and what is said where the list is not the folder's.
function startWhom() {
  ownRuns = runs;
  if (!whomFacts || !runs.length) return;
  const button = makeButton("plate-button whom-button", "", () => {
    const form = byId("whom-form");
    form.hidden = !form.hidden;
    button.setAttribute("aria-expanded", String(!form.hidden));
    if (!form.hidden) fillWhom();
  });
  button.id = "whom-button";
  button.setAttribute("aria-expanded", "false");
  button.setAttribute("aria-controls", "whom-form");
  button.setAttribute("aria-describedby", "whom-title");
  const title = make("p", "whom-title", data.say.whom.form.title);
  title.id = "whom-title";
  const form = make("form", "whom-form");
  form.id = "whom-form";
  form.hidden = true;
  form.noValidate = true;
  form.addEventListener("submit", (event) => event.preventDefault());
  form.addEventListener("change", (event) => {
    const way = event.target.name === "whom-way";
    chooseWhom(whomFromForm());
    if (!way && event.target.id !== "whom-hours") return;
    const again = way ? '[name="whom-way"]:checked' : "#whom-hours";
    fillWhom(); // a boat has other banks; hours out of bounds go back
    document.querySelector(again).focus();
  });
  const told = make("p", "whom-told");
  told.id = "whom-told";
  told.setAttribute("role", "status");
  const box = make("div", "whom");
  box.append(button, title, form, told);
  byId("run-list").before(box);
  takeWhom(keptWhom());
  showWhom();
}
