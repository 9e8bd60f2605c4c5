"use strict";
// Asks the server how far the build is, and loads the map anew when there is another.

const ASK_MS = 700;
const map = document.getElementById("watch-map");
let shown = -1;

function tell(state) {
  document.body.classList.toggle("watch-busy", state.busy);
  document.body.classList.toggle("watch-faulty", state.faults.length > 0);
  document.getElementById("watch-line").textContent = state.line;
  document.getElementById("watch-faults").hidden = state.faults.length === 0;
  document.getElementById("watch-heading").textContent = state.heading;
  const rows = state.faults.map((fault) => {
    const row = document.createElement("li");
    row.textContent = fault;
    return row;
  });
  document.getElementById("watch-list").replaceChildren(...rows);
}

function show(state) {
  if (!state.page || state.number === shown) return;
  if (shown < 0) map.src = state.page;
  else map.contentWindow.location.reload();
  shown = state.number;
}

async function ask() {
  try {
    const answer = await fetch("state", { cache: "no-store" });
    const state = await answer.json();
    tell(state);
    show(state);
  } catch {
    const line = document.body.dataset.ended;
    tell({ busy: false, line, heading: "", faults: [] });
  }
  setTimeout(ask, ASK_MS);
}

ask();
