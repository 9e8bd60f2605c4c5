// Day and night, and the page on paper.

function setLight(light) {
  state.light = light;
  root.dataset.light = light;
  byId("night").setAttribute("aria-pressed", String(light === "night"));
  tables.clear();
  pictures.clear();
  tell("light");
  sheet.draw();
}

function startLight() {
  const dark = window.matchMedia("(prefers-color-scheme: dark)");
  let chosen = false;
  byId("night").addEventListener("click", () => {
    chosen = true;
    setLight(state.light === "night" ? "day" : "night");
  });
  dark.addEventListener("change", () => {
    if (!chosen) setLight(dark.matches ? "night" : "day");
  });
  setLight(dark.matches ? "night" : "day");
}

// On paper the map is as wide as the sheet and drawn anew for it, by day.
let before = null;
function toPaper() {
  if (before) return;
  northUp();
  before = {
    light: state.light,
    centre: map.getCenter(),
    zoom: map.getZoom(),
    bounds: map.getBounds(),
    hidden: [],
  };
  root.classList.add("printing");
  for (const tab of ["runs", "about"]) {
    if (isAway(tab)) before.hidden.push(tab);
    putAway(tab, false);
  }
  setLight("day");
  fillPrintKey(document.querySelector(".print-key"));
  map.invalidateSize({ animate: false, pan: false });
  map.fitBounds(state.moved ? before.bounds : reachBounds(), {
    animate: false,
    paddingTopLeft: [12, 30],
    paddingBottomRight: [12, 40],
  });
  sheet._update();
}

function fromPaper() {
  if (!before) return;
  root.classList.remove("printing");
  before.hidden.forEach((tab) => putAway(tab, true));
  map.invalidateSize({ animate: false, pan: false });
  map.setView(before.centre, before.zoom, { animate: false });
  setLight(before.light);
  before = null;
}

function startPaper() {
  const key = make("div", "print-key");
  map.getContainer().after(key);
  window.addEventListener("beforeprint", toPaper);
  window.addEventListener("afterprint", fromPaper);
  byId("print").addEventListener("click", () => window.print());
}
