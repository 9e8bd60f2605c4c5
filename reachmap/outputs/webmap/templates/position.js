// Where one stands: a dot with the circle that the phone vouches for, what the map knows of that
// place, and a warning where the water there is beyond the limits or not known.

const placeSay = data.say.position;
const OLD_S = 45; // s after which a place tells nothing more (our choice, 20 to 90)
const LIGHT_UP = 18; // zoom of the map at the first place found, at least

const whereIs = { watch: null, timer: 0, follow: false, button: null, turn: null, box: null, marks: null };

function wantPlace() {
  if (whereIs.watch === null) startWatching();
}

function startWatching() {
  whereIs.button.setAttribute("aria-pressed", "true");
  if (isPhone() && byId("page-card").hidden) openSheet(false);
  if (!navigator.geolocation) return notFound({ code: 1 });
  tellOfPlace([placeSay.seeking], false);
  whereIs.follow = true;
  whereIs.timer = setInterval(tellPlace, 5000);
  const wish = { enableHighAccuracy: true, maximumAge: 5000, timeout: 60000 };
  whereIs.watch = navigator.geolocation.watchPosition(found, notFound, wish);
}

function stopWatching() {
  if (whereIs.watch !== null) navigator.geolocation.clearWatch(whereIs.watch);
  clearInterval(whereIs.timer);
  Object.assign(whereIs, { watch: null, follow: false });
  state.fix = null;
  whereIs.button.setAttribute("aria-pressed", "false");
  whereIs.turn.hidden = true;
  northUp();
  whereIs.marks.clearLayers();
  tellOfPlace([], false);
}

function found({ coords, timestamp }) {
  const first = state.fix === null;
  const place = L.latLng(coords.latitude, coords.longitude);
  state.fix = { place, accuracy: coords.accuracy, at: Math.min(timestamp, Date.now()) };
  whereIs.turn.hidden = false;
  drawDot();
  const onMap = reachBounds().pad(0.3).contains(place);
  if (whereIs.follow && onMap) {
    state.moved = true;
    map.setView(place, first ? Math.max(map.getZoom(), LIGHT_UP) : map.getZoom(), { animate: false });
    if (state.turned) downstreamUp();
  }
  tellPlace();
  tell("fix");
}

// Why there is no place: refused for good, or not found this time.
function notFound({ code }) {
  if (code !== 1) return state.fix ? tellPlace() : tellOfPlace([placeSay.lost], true);
  stopWatching();
  const scheme = window.location.protocol;
  const why = scheme === "file:" ? "refused_file" : window.isSecureContext ? "refused" : "refused_plain";
  return tellOfPlace([placeSay[why]], true);
}

function drawDot() {
  const { place, accuracy } = state.fix;
  const old = isOld();
  const colour = old ? "#6b6b6b" : "#b3460a";
  whereIs.marks.clearLayers();
  const renderer = noteMarks.renderer;
  const circle = { renderer, radius: accuracy, weight: 2, color: colour, fillOpacity: 0.1, interactive: false };
  const dot = { renderer, radius: 9, color: "#fffdf6", weight: 3, fillColor: colour, fillOpacity: 1, interactive: false };
  whereIs.marks.addLayer(L.circle(place, circle)).addLayer(L.circleMarker(place, dot));
}

function isOld() {
  return Date.now() - state.fix.at > OLD_S * 1000;
}

function agoWords() {
  const seconds = Math.round((Date.now() - state.fix.at) / 1000);
  return seconds < 120 ? tr("seconds", { count: seconds }) : tr("minutes", { count: Math.round(seconds / 60) });
}

// Says what the map knows of where one stands; stern where that is no place to be.
async function tellPlace() {
  if (!state.fix) return;
  const { place, accuracy } = state.fix;
  if (isOld()) {
    drawDot();
    return tellOfPlace([fill(placeSay.stale, { ago: agoWords() })], true);
  }
  if (isBeyond()) return tellOfPlace([fill(placeSay.silent, { read: state.read.words })], true);
  if (!reachBounds().pad(0.3).contains(place)) return tellOfPlace([placeSay.off], true);
  const far = say("reach", Math.ceil(accuracy));
  if (!(accuracy <= ROUGH_M)) return tellOfPlace([fill(placeSay.rough, { far })], true);
  const water = await waterAround(place, accuracy);
  if (!water || !state.fix || state.fix.place !== place) return;
  const lines = waterWords(water, far);
  const close = isBad(water.near.rank);
  tellOfPlace([...(close ? lines.reverse() : lines), standWords(place, far)], isBad(water.here.rank), close);
}

function isBad(rank) {
  return WATER_RANK.indexOf(rank) >= WATER_RANK.indexOf("no");
}

// What the water is where one is, then what is worse within the circle.
function waterWords({ here, near }, far) {
  if (here.rank === "off") return [placeSay.off];
  const deep = fill(placeSay.deep, { depth: say("depth", here.depth) });
  const what =
    here.rank === "dry"
      ? placeSay.dry
      : here.rank === "unknown"
        ? placeSay.unknown_water
        : deep + " · " + placeSay[here.rank];
  const lines = [fill(placeSay.here, { what })];
  const worse = near.rank === "off" ? "unknown" : near.rank;
  if (near.rank !== here.rank && placeSay[worse + "_near"])
    lines.push(fill(placeSay[worse + "_near"], { far, depth: say("depth", near.depth) }));
  return lines;
}

function standWords(place, far) {
  const run = runAt(place);
  const next = nextStand(place);
  const named = run < 0 ? "" : fill(placeSay.run, { run: runs[run].name });
  const good = fill(placeSay.good, { far });
  if (!next) return [named, placeSay.none, good].filter(Boolean).join(" · ");
  const values = { code: next.feature.label, far: say("distance", next.far), way: placeSay[next.way] };
  return [named, fill(placeSay.stand, values), good].filter(Boolean).join(" · ");
}

// `stern`: no place to be; `close`: such a place lies within the circle.
function tellOfPlace(lines, stern, close = false) {
  const box = whereIs.box;
  box.textContent = "";
  box.classList.toggle("is-stern", stern);
  box.classList.toggle("is-close", close && !stern);
  lines.filter(Boolean).forEach((line, i) => {
    const row = make("p", i ? "" : "place-first");
    row.append(typed(line));
    box.append(row);
  });
  if (lines.length) root.dataset.place = "told";
  else delete root.dataset.place;
}

function startPosition() {
  whereIs.box = onMap("say place-box");
  whereIs.box.setAttribute("role", "status");
  whereIs.marks = L.layerGroup().addTo(map);
  const wheel = document.querySelector(".wheel");
  whereIs.button = makeButton("", "", () =>
    whereIs.button.getAttribute("aria-pressed") === "true" ? stopWatching() : startWatching(),
  );
  whereIs.turn = makeButton("", "", () => {
    if (state.turned) return northUp();
    whereIs.follow = true;
    map.setView(state.fix.place, map.getZoom(), { animate: false });
    return downstreamUp();
  });
  whereIs.turn.hidden = true;
  whereIs.button.innerHTML =
    '<svg width="22" height="22" viewBox="0 0 22 22" aria-hidden="true"><circle cx="11" cy="11" r="6" fill="none" stroke="currentColor" stroke-width="2"/><circle cx="11" cy="11" r="2" fill="currentColor"/><path d="M11 0v5M11 17v5M0 11h5M17 11h5" stroke="currentColor" stroke-width="2"/></svg>';
  whereIs.turn.innerHTML =
    '<svg width="22" height="22" viewBox="0 0 22 22" aria-hidden="true"><path d="M18 11a7 7 0 1 1-3-6M15 1v5h-5" fill="none" stroke="currentColor" stroke-width="2"/></svg>';
  for (const [button, words] of [
    [whereIs.button, placeSay.show],
    [whereIs.turn, placeSay.turn],
  ]) {
    button.setAttribute("aria-label", words);
    button.title = words;
    button.setAttribute("aria-pressed", "false");
  }
  wheel.prepend(whereIs.button, whereIs.turn);
  map.on("dragstart", () => (whereIs.follow = false));
  listen("flow", tellPlace);
}
