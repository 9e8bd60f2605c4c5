// Small pictures: which part of a run's water the casts swim rightly, and every run's odds over the
// flows as curves that one can read on a phone.

const COVER = { width: 280, least: 64, most: 170, edge: 8 };
const WATERS = new Set(["inside_bend", "seam", "tailout", "soft_edge", "even_run"]);
const CURVE_ROW = { width: 132, height: 34 };

// Rings of a feature as a path on a small picture.
function smallPath(feature, place) {
  return feature.rings
    .map((ring) => {
      const points = [];
      for (let i = 0; i < ring.length; i += 2) points.push(place(ring[i], ring[i + 1]));
      return curvePath(points) + (feature.closed ? "Z" : "");
    })
    .join("");
}

// How high a picture of a box of file coordinates is, and where its places lie on it: north up.
function smallFrame(box) {
  const wide = Math.max(box[2] - box[0], 1);
  const high = Math.max(box[3] - box[1], 1);
  const inner = COVER.width - 2 * COVER.edge;
  const scale = Math.min(inner / wide, (COVER.most - 2 * COVER.edge) / high);
  const height = Math.max(COVER.least, high * scale + 2 * COVER.edge);
  const left = (COVER.width - wide * scale) / 2;
  const top = (height - high * scale) / 2;
  return { height, place: (x, y) => [left + (x - box[0]) * scale, top + (box[3] - y) * scale] };
}

function boxesMeet(a, b) {
  return a[0] <= b[2] && b[0] <= a[2] && a[1] <= b[3] && b[1] <= a[3];
}

// Stripes for water that no cast from the bank one fishes gets to.
function farHatch() {
  const hatch = svg("pattern", {
    id: "cover-hatch",
    width: 6,
    height: 6,
    patternUnits: "userSpaceOnUse",
    patternTransform: "rotate(45)",
  });
  hatch.append(svg("rect", { class: "cover-ground", width: 6, height: 6 }));
  hatch.append(svg("path", { class: "cover-stripe", d: "M1,0V6" }));
  return hatch;
}

// The water of a run: what is swum rightly, what no cast gets to, where one stands; nothing where
// that is not known.
function coveragePicture(index) {
  const now = runs[index].at[state.flow];
  if (!now.covered) return null;
  const mine = features.filter((f) => f.run === index && f.flow === state.flow);
  const water = mine.filter((f) => WATERS.has(f.kind));
  if (!water.length) return null;
  const stands = mine.filter((f) => f.kind === "station");
  const box = [...water, ...stands].reduce(
    (all, f) => [
      Math.min(all[0], f.box[0]),
      Math.min(all[1], f.box[1]),
      Math.max(all[2], f.box[2]),
      Math.max(all[3], f.box[3]),
    ],
    [Infinity, Infinity, -Infinity, -Infinity],
  );
  const { height, place } = smallFrame(box);
  const figure = make("figure", "cover-picture");
  const picture = svg("svg", {
    viewBox: "0 0 " + COVER.width + " " + height.toFixed(0),
    "aria-hidden": "true",
  });
  const clip = svg("clipPath", { id: "cover-clip" });
  const whole = water.map((f) => smallPath(f, place)).join("");
  clip.append(svg("path", { d: whole }));
  picture.append(farHatch());
  picture.append(clip, svg("path", { class: "cover-water", d: whole }));
  for (const part of featuresNow().get("covered") || []) {
    if (!boxesMeet(part.box, box)) continue;
    const d = smallPath(part, place);
    picture.append(svg("path", { class: "cover-swum", d, "clip-path": "url(#cover-clip)" }));
  }
  const far = ["beyond", { left: "only_right", right: "only_left" }[now.bank]];
  for (const part of far.flatMap((kind) => featuresNow().get(kind) || [])) {
    if (!boxesMeet(part.box, box)) continue;
    const d = smallPath(part, place);
    const hatched = { class: "cover-far", d, fill: "url(#cover-hatch)" };
    picture.append(svg("path", { ...hatched, "clip-path": "url(#cover-clip)" }));
  }
  for (const stand of stands) {
    const [cx, cy] = place(stand.x, stand.y);
    picture.append(svg("circle", { class: "cover-stand", cx, cy, r: 3 }));
  }
  figure.append(picture, make("figcaption", "", now.covered));
  return figure;
}

// One run of the list of curves: name, curve, and what it is worth at the flow shown.
function curveRow(run, index) {
  const button = makeButton("curve-row", "", () => openRun(index));
  const name = make("span", "curve-name");
  name.append(typed(run.name));
  const picture = svg("svg", {
    viewBox: "0 0 " + CURVE.width + " " + (CURVE.height - CURVE.foot + 4),
    width: CURVE_ROW.width,
    height: CURVE_ROW.height,
    preserveAspectRatio: "none",
    "aria-hidden": "true",
    class: "curve-small",
  });
  const floor = curveY(0);
  const ends = [
    [CURVE.left, floor],
    [CURVE.width - CURVE.right, floor],
  ];
  picture.append(svg("path", { class: "axis", d: curvePath(ends) }));
  for (const part of curveParts(run)) {
    const line = part.map(([x, odds]) => [x, curveY(odds)]);
    const first = line[0][0];
    const last = Math.max(line[line.length - 1][0], first + 3);
    const under = [[first, floor], ...line, [last, line[line.length - 1][1]], [last, floor]];
    picture.append(svg("path", { class: "curve-under", d: curvePath(under) + "Z" }));
    picture.append(svg("path", { class: "odds", d: curvePath(under.slice(1, -1)) }));
  }
  picture.append(svg("path", { class: "now" }));
  button.append(name, picture, make("b", "curve-worth"));
  return button;
}

function markCurves() {
  const list = byId("run-curves");
  if (!list) return;
  const x = curveX(data.flows[state.flow].value);
  const line = [
    [x, CURVE.top - 6],
    [x, curveY(0) + 3],
  ];
  [...list.children].forEach((item, index) => {
    const now = runs[index].at[state.flow];
    const worth = now.curve ? String(now.curve[0]) : now.shape === null ? "?" : "-";
    item.querySelector(".now").setAttribute("d", curvePath(line));
    item.querySelector(".curve-worth").textContent = worth;
    const told = now.odds || (now.shape === null ? tr("not_known") : now.shut || now.why);
    const at = data.flows[state.flow].words;
    item.firstChild.setAttribute("aria-label", tr("run_at", { run: runs[index].name, flow: at, told }));
  });
}

// Every run as a curve, before the table of letters; nothing on a page of one flow.
function startCurves() {
  const box = document.querySelector(".table-box");
  if (!box || data.flows.length < 2) return;
  const list = make("ul", "run-curves");
  list.id = "run-curves";
  runs.forEach((run, index) => {
    const item = make("li");
    item.append(curveRow(run, index));
    list.append(item);
  });
  box.before(make("p", "small curves-key", data.say.curves), list);
  markCurves();
}

listen("flow", markCurves);
