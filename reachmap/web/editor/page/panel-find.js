// Public services: what they offer over the shown box, fetched only where it is ticked.
import { button, field, fill, made, say } from "./dom.js";
import { ask } from "./client.js";
import { offerFound } from "./drop.js";
import { shownBox } from "./viewport.js";

const LOOK_AGAIN_MS = 700;

const seeking = { told: null, ticked: new Set(), progress: null, wrong: "", busy: false, catalogue: "" };
let place = null;

/** The part of the ledger; filled anew by itself while something is asked for. */
export function findPart() {
  place = made("section", { id: "find-part" });
  showFinding();
  return place;
}

function showFinding() {
  if (!place) return;
  const { told, progress, wrong, busy } = seeking;
  const inside = place.contains(document.activeElement) ? document.activeElement.dataset.keep : null;
  fill(place, made("h3", {}, "From public services"),
    made("p.small", {}, "Only when you ask: terrain, river line, gauges and forecasts of the United States; elsewhere a catalogue whose address you have. They learn the box that the map shows and no more (for gauges one 10 km wider)."),
    made("details", { open: Boolean(seeking.catalogue) }, made("summary", {}, "A catalogue of your own"), catalogueField()),
    button(busy ? "Asking…" : "What is there for the shown map?", listOffers, { "data-keep": "find-list", disabled: busy || Boolean(progress?.running) }),
    wrong ? made("p.wrong", { role: "alert" }, wrong) : null,
    told ? offersList(told) : null,
    progress ? progressPart(progress) : null);
  if (inside) place.querySelector(`[data-keep="${inside}"]`)?.focus();
}

function catalogueField() {
  const address = made("input", { type: "url", id: "catalogue-address", autocomplete: "off", placeholder: "https://…/stac", "data-keep": "catalogue", onchange: () => { seeking.catalogue = address.value.trim(); } });
  address.value = seeking.catalogue;
  return field("Address (STAC)", address);
}

function offersList(told) {
  const rows = told.offers.map((one) => {
    const box = made("input", { type: "checkbox", "data-keep": `tick-${one.name}`, onchange: () => { if (box.checked) seeking.ticked.add(one.name); else seeking.ticked.delete(one.name); showFinding(); } });
    box.checked = seeking.ticked.has(one.name);
    return made("li.offer", {}, made("label", {}, box, made("span", {}, made("strong", {}, one.what), made("small", {}, one.facts))));
  });
  const count = seeking.ticked.size;
  return made("div", {},
    rows.length ? made("ul.offers", {}, ...rows) : made("p", {}, "Nothing is offered there."),
    ...told.silences.map((line) => made("p.small", {}, line)),
    rows.length ? button(count ? `Fetch what is ticked (${count})` : "Tick what you want", fetchTicked, { class: "plate-button is-main", "data-keep": "find-fetch", disabled: !count || Boolean(seeking.progress?.running) }) : null);
}

function progressPart(progress) {
  const bar = made("progress", { "aria-label": "Fetched" });
  if (progress.total) { bar.max = progress.total; bar.value = progress.done; }
  return made("div", { role: "status" },
    progress.running ? made("p", {}, progress.step) : null, progress.running ? bar : null,
    ...progress.lines.map((line) => made("p", {}, line)),
    progress.wrong ? made("p.wrong", { role: "alert" }, progress.wrong) : null,
    !progress.running && progress.lines.length ? button("Load the page again to see it", () => location.reload(), { "data-keep": "find-reload" }) : null);
}

async function listOffers() {
  seeking.busy = true;
  seeking.wrong = "";
  seeking.told = seeking.progress = null;
  seeking.ticked.clear();
  showFinding();
  try {
    seeking.told = await ask("find", { json: { box: shownBox(), catalogue: seeking.catalogue } });
    say(`${seeking.told.offers.length} things are offered.`);
  } catch (error) {
    seeking.wrong = error.said;
  }
  seeking.busy = false;
  showFinding();
}

async function fetchTicked() {
  seeking.wrong = "";
  try {
    seeking.progress = await ask("find/fetch", { json: { names: [...seeking.ticked] } });
    showFinding();
    while (seeking.progress.running) {
      await new Promise((go) => { setTimeout(go, LOOK_AGAIN_MS); });
      seeking.progress = await ask("find/progress");
      showFinding();
    }
    seeking.ticked.clear();
    showFinding();
    say(seeking.progress.wrong ? "Not everything came." : "It has come.");
    if (seeking.progress.found.length) offerFound("the public river line", seeking.progress.found);
  } catch (error) {
    seeking.wrong = error.said;
    showFinding();
  }
}
