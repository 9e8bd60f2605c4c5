// Puts it all together. Nothing here fetches anything: every byte is in this file.

async function start() {
  await unpack();
  root.classList.remove("plain");
  live.indeterminate = true;
  map.invalidateSize({ animate: false });
  usePreset(data.legend.presets[0][0]);
  startTabs();
  startFolds();
  startWhom();
  showTab("runs");
  openSheet(true);
  startFlow();
  startWaterBox();
  startWheel();
  startScale();
  startNotes();
  startPosition();
  startTurn();
  startReading();
  startStands();
  startTable();
  startPins();
  startAsks();
  sheet.addTo(map);
  startImagery();
  startLight();
  startPaper();
  byId("caution").addEventListener("click", openCautions);
  await setFlow(state.at, true);
  showReach();
  startSize();
}

// The map follows the room it has: what is said above it may take a line more or less.
function followRoom() {
  const size = map.getSize();
  map.invalidateSize({ animate: false });
  if (!size.equals(map.getSize()) && !state.moved) showReach();
}
function startSize() {
  new ResizeObserver(() => {
    if (root.classList.contains("printing") || resting) return;
    followRoom();
  }).observe(map.getContainer());
  // how much of the map the sheet of a phone hides: what lies below it need not be there at once
  new ResizeObserver(() => {
    const panel = byId("panel");
    state.covered = isPhone() && panel.offsetParent ? panel.offsetHeight : 0;
  }).observe(byId("panel"));
}

// A small door for tests and for those who look under the hood.
window.reach = {
  state,
  map,
  data,
  setFlow,
  readHere,
  openRun,
  openFeature,
  sheet,
  features: () => features,
  runs: () => runs,
  takeReading: readingIn,
  standsOf,
  roomLabels,
  placeOf: (feature) => latLng(feature.x, feature.y),
  listRuns,
  listPins,
  raster,
  fieldAt,
  keptPictures: pictures,
  waterAhead: () => [...fieldsAhead.values()],
  readingFrom,
  valueBetween,
  gradeBetween,
  positionOf,
  chartLines,
  chartLabels,
  notes: () => noteStore,
  notesCsv,
  byRiver,
  listedFor,
  whom: () => whom,
};

if (typeof DecompressionStream === "undefined") {
  byId("panel").prepend(make("p", "notice too-old", tr("too_old")));
} else {
  start().then(
    () => {
      performance.mark("reach-ready");
      root.dataset.reach = "ready";
    },
    (fault) => {
      live.indeterminate = false; // back to the still picture
      root.dataset.reach = "failed";
      throw fault;
    },
  );
}
