// What is under the finger: depth and speed here, how sure, and what lies here. The place stays
// when the flow changes, so that one can watch a rock drown.

let plate = null;
const sureBytes = new Map(); // by flow, or one for all

function headline(reading) {
  if (reading.what === "dry") return "Dry ground at " + data.flows[state.flow].words;
  if (reading.what === "off") return "Outside the mapped ground: unknown";
  if (reading.what === "unknown") return "Unknown: treat it as deep and fast";
  return say("depth", reading.depth) + " deep";
}

// How sure a place is at a flow: a class, and the step of the depth's doubt where it is told.
async function sureAt(place, flow) {
  const at = Math.min(flow, data.sure.length - 1);
  if (!sureBytes.has(at)) sureBytes.set(at, await inflate(data.sure[at]));
  const code = codeAt(sureBytes.get(at), place, data.tiles.sureCells);
  if (code === OFF_MAP) return ["", ""];
  return [data.sureWords[code % 4] || "", data.doubtWords[code >> 2] || ""];
}

async function readHere(place) {
  state.place = place;
  const flow = state.flow;
  const [depths, speeds] = await Promise.all([raster("depth", flow), raster("speed", flow)]);
  const sure = await sureAt(place, flow);
  if (state.place !== place || state.flow !== flow) return;
  const reading = readingFrom(depths, speeds, place);
  showReading(reading, sure, place);
  sheet.draw();
}

function showReading(reading, sure, place) {
  const open = plate && plate.querySelector("details") && plate.querySelector("details").open;
  if (!plate) {
    plate = make("div", "on-map reading");
    plate.setAttribute("role", "region");
    plate.setAttribute("aria-label", "Reading");
    L.DomEvent.disableClickPropagation(plate);
    L.DomEvent.disableScrollPropagation(plate);
    map.getContainer().append(plate);
  }
  plate.textContent = "";
  const top = make("div", "reading-top");
  const now = make("p", "reading-now", headline(reading));
  now.setAttribute("aria-live", "polite");
  const wet = reading.what === "wet";
  if (wet && sure[1]) now.append(make("span", "reading-doubt", sure[1]));
  if (wet && !sure[1]) now.append(make("br"));
  if (wet) now.append(reading.speed === null ? "speed unknown" : say("speed", reading.speed));
  const told = [
    data.flows[state.flow].words,
    wet ? sure[0] : "",
    place.lat.toFixed(5) + ", " + place.lng.toFixed(5),
  ];
  now.append(make("small", "", told.filter(Boolean).join(" · ")));
  const close = makeButton("plate-button", "×", closeReading);
  close.setAttribute("aria-label", "Close the reading");
  top.append(now, close);
  plate.append(top);
  plate.append(makeButton("plate-button", noteSay.here, () => openNotesCard("tapped")));
  const here = sheet.under(place).slice(0, 5);
  if (here.length) plate.append(linksHere(here));
  if (data.flows.length > 1 && reading.what !== "off") plate.append(everyFlow(place, open));
}

function linksHere(list) {
  const links = make("ul", "links");
  for (const feature of list) {
    const link = makeButton("link", "", () => openFeature(feature));
    link.append(typed(featureName(feature)));
    if (feature.faded && feature.kind !== "unknown_water")
      link.append(make("small", "", " a guess"));
    links.append(make("li"));
    links.lastChild.append(link);
  }
  return links;
}

// Depth and speed here at every flow, read only when asked for.
function everyFlow(place, open) {
  const box = make("details");
  box.append(make("summary", "", "Here at every flow"));
  const table = make("table");
  box.append(table);
  const fill = async () => {
    if (!box.open || table.rows.length) return;
    for (let flow = 0; flow < data.flows.length; flow++) {
      const row = table.insertRow();
      row.className = flow === state.flow ? "is-now" : "";
      row.append(make("th", "", data.flows[flow].words), make("td"), make("td"));
      const [depths, speeds] = await Promise.all([
        inflate(data.rasters.depth[flow]),
        inflate(data.rasters.speed[flow]),
      ]);
      const reading = readingFrom(depths, speeds, place);
      const words = { dry: "dry", unknown: "unknown", off: "unknown" }[reading.what];
      row.cells[1].textContent = words || say("depth", reading.depth);
      row.cells[2].textContent = words ? "" : say("speed", reading.speed);
    }
  };
  box.addEventListener("toggle", fill);
  box.open = Boolean(open);
  if (open) fill();
  return box;
}

function closeReading() {
  if (plate) plate.remove();
  plate = null;
  state.place = null;
  sheet.draw();
}

function startReading() {
  map.on("click", (event) => {
    if (isPhone()) openSheet(false);
    readHere(event.latlng);
  });
  const box = map.getContainer();
  const aim = make("div", "on-map aim");
  aim.innerHTML =
    '<svg viewBox="0 0 34 34" aria-hidden="true"><circle cx="17" cy="17" r="10" fill="none" stroke="#fffdf6" stroke-width="5"/><circle cx="17" cy="17" r="10" fill="none" stroke="#b3460a" stroke-width="2.5"/><path d="M17 1v10M17 23v10M1 17h10M23 17h10" stroke="#b3460a" stroke-width="2.5"/></svg>';
  box.append(aim);
  box.setAttribute("role", "application");
  box.setAttribute(
    "aria-label",
    "Map of the reach. Arrow keys move it, plus and minus change its size, Enter reads depth and speed at its middle.",
  );
  // The aim shows only while the map is steered by keys.
  box.addEventListener("pointerdown", () => box.classList.remove("steered"));
  box.addEventListener("blur", () => box.classList.remove("steered"));
  box.addEventListener("keydown", (event) => {
    if (event.target === box) box.classList.add("steered");
    if (event.target === box && event.key === "Enter") readHere(map.getCenter());
    if (event.key === "Escape" && plate) {
      closeReading();
      box.focus();
    }
  });
}

listen("flow", () => {
  if (state.place) readHere(state.place);
});
listen("layers", () => {
  if (state.place) readHere(state.place);
});
