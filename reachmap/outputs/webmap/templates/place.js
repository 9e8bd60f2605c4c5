// What lies on the map besides the river: choice of colouring, scale, north, size.

function onMap(className) {
  const box = make("div", "on-map " + className);
  L.DomEvent.disableClickPropagation(box);
  L.DomEvent.disableScrollPropagation(box);
  map.getContainer().append(box);
  return box;
}

function startWaterBox() {
  const box = onMap("water-box");
  const row = make("div", "water-row");
  row.setAttribute("role", "group");
  row.setAttribute("aria-label", tr("coloured"));
  const steps = make("div", "ramp");
  const buttons = [
    ["depth", tr("depth")],
    ["speed", tr("speed")],
    ["plain", tr("plain")],
  ].map(([name, words]) => {
    const button = makeButton("", words, async () => {
      const graded = colouredBy() === "grade";
      state.water = name;
      if (graded) WADING.forEach((kind) => state.on.delete(kind)); // the grades gave the colours
      await readyWater();
      tell("water");
      if (graded) tell("layers");
    });
    button.dataset.water = name;
    return button;
  });
  row.append(...buttons);
  chartKey = make("div", "chart-key");
  box.append(row, steps, chartKey);
  const show = () => {
    const by = colouredBy();
    buttons.forEach((button) => button.setAttribute("aria-pressed", String(button.dataset.water === by)));
    steps.textContent = "";
    steps.removeAttribute("role");
    steps.removeAttribute("aria-label");
    if (by === "grade") return gradeKey(steps);
    if (by === "plain") return;
    const { signs, unit, colours } = ramp(state.water);
    signs.forEach((text, i) => {
      const step = make("span", "", text + (i === signs.length - 1 ? "+" : ""));
      step.style.background = colours[i];
      step.style.color = state.light === "night" || i >= 4 ? "#ffffff" : "#101a1b";
      if (state.light === "night" && i < 2) step.style.color = "#000000";
      steps.append(step);
    });
    steps.append(make("em", "", unit));
    steps.setAttribute("role", "img");
    steps.setAttribute(
      "aria-label",
      tr("colours", { first: signs[0], last: signs[signs.length - 1], unit }),
    );
  };
  listen("water", () => {
    show();
    sheet.draw();
  });
  listen("light", show);
  listen("layers", show);
  show();
}

// The key of the wading grades, in place of the steps of depth.
function gradeKey(box) {
  const dark = { day: { no: "#ffffff" }, night: { careful: "#ffffff", no: "#ffffff", unknown: "#ffffff" } };
  for (const kind of WADING) {
    const step = make("span", "is-grade", data.say.grades[kind]);
    step.style.background = tone(styles.get(kind)).fill;
    step.style.color = dark[state.light][kind] || "#101a1b";
    box.append(step);
  }
}

// Two bars: the angler's unit above, the other below, each a round number long.
function roundLength(most) {
  const power = 10 ** Math.floor(Math.log10(most));
  return [5, 3, 2, 1].map((n) => n * power).find((n) => n <= most) || power;
}
function startScale() {
  const box = onMap("rule-box");
  box.innerHTML =
    '<svg class="north" viewBox="0 0 34 46" role="img"><path d="M17 3 27 30 17 24 7 30Z" fill="currentColor"/><text x="17" y="44" text-anchor="middle" font-size="13" font-weight="600" fill="currentColor"></text></svg>';
  box.firstChild.setAttribute("aria-label", tr("north"));
  box.querySelector("text").textContent = tr("north_sign");
  const bars = make("div", "bars");
  box.append(bars);
  const US = data.ways.distance[0].unit === "yd";
  const show = () => {
    const middle = map.getSize().y / 2;
    const metres = map.distance(
      map.containerPointToLatLng([0, middle]),
      map.containerPointToLatLng([110, middle]),
    );
    const units = [];
    const yards = metres / 0.9144;
    units.push(
      yards >= 30 ? [roundLength(yards), "yd", 0.9144] : [roundLength(yards * 3), "ft", 0.3048],
    );
    units.push([roundLength(metres), "m", 1]);
    bars.textContent = "";
    for (const [length, unit, size] of US ? units : units.slice(1)) {
      const bar = make("div", "bar", length + " " + unit);
      bar.style.width = (110 * length * size) / metres + "px";
      bars.append(bar);
    }
  };
  map.on("zoomend moveend resize", show);
  show();
}

function startWheel() {
  const moved = () => (state.moved = true);
  map.on("dragstart", moved);
  map.getContainer().addEventListener("wheel", moved, { passive: true });
  map.getContainer().addEventListener("keydown", moved);
  const box = onMap("wheel");
  const add = (text, words, act) => {
    const button = makeButton("", text, act);
    button.setAttribute("aria-label", words);
    button.title = words;
    box.append(button);
    return button;
  };
  const whole = add("", tr("whole"), () => {
    state.moved = false;
    northUp();
    showReach();
  });
  whole.innerHTML =
    '<svg width="22" height="22" viewBox="0 0 22 22" aria-hidden="true"><path d="M2 8V2h6M14 2h6v6M20 14v6h-6M8 20H2v-6" fill="none" stroke="currentColor" stroke-width="2"/></svg>';
  const zoom = (step) => {
    moved();
    map.setZoom(map.getZoom() + step);
  };
  add("+", tr("closer"), () => zoom(1));
  add("−", tr("farther"), () => zoom(-1));
}
