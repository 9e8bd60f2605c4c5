// The numbers of the list on the map, with the names of their runs. A number and its row light each
// other: by the pointer and by the keyboard.

let pins = new Map(); // by run: { marker, button }

function lights(element, index) {
  const on = () => lightRun(index);
  const off = () => lightRun(-1);
  element.addEventListener("mouseenter", on);
  element.addEventListener("mouseleave", off);
  element.addEventListener("focus", on);
  element.addEventListener("blur", off);
}

// Lights a run in the list and on the map, or none.
function lightRun(index) {
  if (state.lit === index) return;
  state.lit = index;
  document.querySelectorAll(".run-row, .pin").forEach((one) => {
    one.classList.toggle("is-lit", index >= 0 && Number(one.dataset.run) === index);
  });
  sheet.draw();
}

function pinFor(index) {
  const now = runs[index].at[state.flow];
  const button = makeButton("pin" + (now.boat ? " is-boat" : ""), "", () => openRun(index));
  button.dataset.run = index;
  const name = make("span", "pin-name");
  name.append(typed(runs[index].name));
  button.append(make("b", "num", String(now.pick)), " ", name);
  lights(button, index);
  L.DomEvent.disableClickPropagation(button);
  const icon = L.divIcon({ html: button, className: "pin-box", iconSize: [0, 0] });
  const place = latLng(now.place[0], now.place[1]);
  const marker = L.marker(place, { icon, interactive: false, keyboard: false }).addTo(map);
  return { marker, button };
}

function listPins() {
  pins.forEach(({ marker }) => marker.remove());
  pins = new Map();
  state.lit = -1;
  for (const index of picksNow()) if (runs[index].at[state.flow].place) pins.set(index, pinFor(index));
  placeNames();
}

// Where a name may stand beside its number: right, left, above, below; above and below it is moved
// sideways as far as it takes to lie on the map.
const SIDES = ["right", "left", "above", "below", "right high", "right low", "left high", "left low"];
const HALF = 22; // px: half of what is there to tap
const DISC = 17; // px from the middle of a number to its rim, casing included
function nameBox(at, [wide, tall], side, across) {
  const { x, y } = at;
  const [beside, level] = side.split(" ");
  const over = Math.max(2, Math.min(across - wide - 2, x - wide / 2));
  const left = { right: x + DISC, left: x - DISC - wide }[beside] ?? over;
  const heights = { above: y - DISC - tall, below: y + DISC, high: y - tall - 2, low: y + 2 };
  const top = heights[level || beside] ?? y - tall / 2;
  return [left, top, left + wide, top + tall];
}

// Numbers that would hide each other stand apart, by as little as it takes.
function spread(at) {
  const all = [...at.values()];
  for (let round = 0; round < 4; round++) {
    for (const [i, a] of all.entries()) {
      for (const b of all.slice(i + 1)) {
        const [x, y] = [b.x - a.x || 0.1, b.y - a.y];
        const far = Math.hypot(x, y);
        const push = (2 * DISC - far) / 2 / far;
        if (push <= 0) continue;
        Object.assign(a, { x: a.x - push * x, y: a.y - push * y });
        Object.assign(b, { x: b.x + push * x, y: b.y + push * y });
      }
    }
  }
}

// Sizes of the names [px]: measured once, since that lays out the whole page.
const nameSizes = new Map();
function nameSize(name) {
  const words = name.textContent;
  if (!nameSizes.has(words)) nameSizes.set(words, [name.offsetWidth, name.offsetHeight]);
  return nameSizes.get(words);
}

// Puts each name where it lies on no number and no other name; one without room is heard only.
function placeNames() {
  const size = map.getSize();
  const at = new Map();
  pins.forEach(({ marker }, index) => at.set(index, map.latLngToContainerPoint(marker.getLatLng())));
  const places = new Map([...at].map(([index, place]) => [index, place.clone()]));
  if (!state.turned) spread(at);
  pins.forEach(({ button }, index) => {
    const step = at.get(index).subtract(places.get(index));
    button.style.translate = step.x || step.y ? step.x + "px " + step.y + "px" : "";
  });
  const taken = [...at.values()].map(({ x, y }) => [x - DISC, y - DISC, x + DISC, y + DISC]);
  const names = new Map();
  pins.forEach(({ button }, index) => names.set(index, button.querySelector(".pin-name")));
  names.forEach((name) => name.classList.remove("no-room"));
  // all are measured before any is moved: one layout of the page, not one a name
  const sizes = new Map([...names].map(([index, name]) => [index, nameSize(name)]));
  names.forEach((name, index) => {
    const { x, y } = at.get(index);
    const seen = x >= 0 && x <= size.x && y >= 0 && y <= size.y;
    const boxes = SIDES.map((side) => nameBox(at.get(index), sizes.get(index), side, size.x));
    const found = boxes.find((box) => {
      const inside = box[0] >= 2 && box[2] <= size.x - 2 && box[1] >= 2 && box[3] <= size.y - 2;
      return seen && inside && !taken.some((other) => overlaps(box, other));
    });
    name.classList.toggle("no-room", !found);
    if (!found) return;
    name.style.left = found[0] - x + HALF + "px";
    name.style.top = found[1] - y + HALF + "px";
    taken.push(found);
  });
  state.pinBoxes = taken;
}

function startPins() {
  window.addEventListener("resize", () => nameSizes.clear());
  map.on("zoomend moveend resize", () => {
    placeNames();
    sheet.draw();
  });
}

listen("flow", listPins);
