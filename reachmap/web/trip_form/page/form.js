// The form by hand: sent without leaving the page, so that what was typed stays until it is kept.
import {dressRows, readHere} from "./rows.js";

const root = document.documentElement;
const form = document.getElementById("trip");
const summary = document.getElementById("summary");
const night = document.getElementById("night");
root.classList.add("scripted");
for (const one of form.querySelectorAll(".step, .here, #add-row, #pick")) one.hidden = false;
night.hidden = false;
night.addEventListener("click", () => {
  const on = root.dataset.light !== "night";
  root.dataset.light = on ? "night" : "day";
  night.setAttribute("aria-pressed", String(on));
});

const zone = form.elements.zone;
if (!zone.value) zone.value = Intl.DateTimeFormat().resolvedOptions().timeZone || "";

form.addEventListener("click", (event) => {
  const step = event.target.closest(".step");
  if (step) {
    const input = form.elements[step.dataset.of];
    const now = Number.parseInt(input.value, 10) || 0;
    input.value = String(Math.max(0, now + Number(step.dataset.step)));
    atLeast(step.dataset.of);
  }
  const here = event.target.closest(".here");
  if (here) readHere(here, here.closest(".with-button").querySelector("input"));
});

// A fish that is released was landed, and one that is landed touched the fly: steps carry each other.
function atLeast(name) {
  const count = (one) => Number.parseInt(form.elements[one].value, 10) || 0;
  const raise = (one, value) => {
    if (count(one) < value) form.elements[one].value = String(value);
  };
  if (name === "released") raise("landed", count("released"));
  if (name !== "touches") raise("touches", count("landed"));
}

dressRows(form);

function show(faults) {
  for (const one of form.querySelectorAll(".fault")) one.hidden = true;
  for (const one of form.querySelectorAll("[aria-invalid]")) one.removeAttribute("aria-invalid");
  const rows = [...form.querySelectorAll("#rows .seen")];
  let first = null;
  for (const [name, words] of Object.entries(faults)) {
    const row = name.startsWith("seen_") ? rows[Number(name.slice(5))] : null;
    const place = row ? row.querySelector("[data-row]")
      : form.querySelector(`.fault[data-for="${CSS.escape(name)}"]`);
    const input = row ? row.querySelector("select") : form.elements[name];
    if (place) {
      place.textContent = words;
      place.hidden = false;
    }
    if (input) {
      input.setAttribute("aria-invalid", "true");
      if (!first || input.compareDocumentPosition(first) & Node.DOCUMENT_POSITION_FOLLOWING) first = input;
    }
  }
  if (faults.sure) document.getElementById("sure-box").hidden = false;
  return first;
}

// Another day asks anew: an answer holds for the day it was given for.
function askAnew() {
  form.elements.sure.checked = false;
  document.getElementById("sure-box").hidden = true;
  form.querySelector('.fault[data-for="sure"]').hidden = true;
}

function say(words) {
  summary.textContent = words;
  summary.hidden = !words;
}

form.addEventListener("submit", async (event) => {
  event.preventDefault();
  const button = form.querySelector(".main");
  button.disabled = true;
  say("");
  try {
    const answer = await fetch("log", {
      method: "POST",
      headers: {Accept: "application/json"},
      body: new URLSearchParams(new FormData(form)),
    });
    if (answer.ok) {
      window.location.assign(`log?kept=${encodeURIComponent((await answer.json()).kept)}`);
      return;
    }
    const kind = answer.headers.get("content-type") || "";
    if (kind.startsWith("application/json")) {
      const first = show((await answer.json()).faults);
      say("Not kept yet: see what is marked below.");
      (first || summary).scrollIntoView({block: "center"});
      if (first) first.focus({preventScroll: true});
    } else {
      say(`Not kept: ${await answer.text()}`);
      summary.scrollIntoView({block: "center"});
    }
  } catch {
    say("Not kept: reachmap does not answer. Nothing typed here is lost; start it again and press Keep.");
    summary.scrollIntoView({block: "center"});
  }
  button.disabled = false;
});

const gauged = document.getElementById("gauged");
async function lookUp() {
  const ask = new URLSearchParams();
  for (const name of ["date", "time", "zone"]) ask.set(name, form.elements[name].value);
  try {
    const answer = await fetch(`log/flow?${ask}`);
    const words = answer.ok ? (await answer.json()).words : "";
    if (words) gauged.textContent = words;
  } catch {
    gauged.textContent = "Leave it empty to take it from the gauge's record.";
  }
}
for (const name of ["date", "time"]) {
  form.elements[name].addEventListener("change", lookUp);
  form.elements[name].addEventListener("change", askAnew);
}
lookUp();

document.getElementById("picture").addEventListener("change", async (event) => {
  const said = document.getElementById("picture-said");
  const file = event.target.files[0];
  if (!file) return;
  said.textContent = "Keeping the picture";
  try {
    const answer = await fetch("log/photo", {method: "POST", body: file});
    if (answer.ok) form.elements.photo.value = (await answer.json()).path;
    said.textContent = answer.ok ? "The picture is kept in the folder." : await answer.text();
  } catch {
    said.textContent = "The picture is not kept: reachmap does not answer.";
  }
});

const takeOut = document.getElementById("take-out");
if (takeOut) {
  takeOut.addEventListener("submit", (event) => {
    if (!window.confirm("Take this trip out of the log?")) event.preventDefault();
  });
}
