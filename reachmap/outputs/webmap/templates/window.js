// The flow window of a run: its odds beside the others at every flow, with their span.

const CURVE = { width: 280, height: 84, left: 4, right: 4, top: 8, foot: 20 };

function svg(tag, attributes) {
  const node = document.createElementNS("http://www.w3.org/2000/svg", tag);
  for (const [name, value] of Object.entries(attributes)) node.setAttribute(name, value);
  return node;
}

// Where a flow stands along the curve: by its logarithm, as a river changes.
function curveX(flow) {
  const first = Math.log(data.flows[0].value);
  const span = Math.log(data.flows[data.flows.length - 1].value) - first;
  const inner = CURVE.width - CURVE.left - CURVE.right;
  return CURVE.left + (span ? (inner * (Math.log(flow) - first)) / span : inner / 2);
}

function curveY(odds) {
  return CURVE.top + (CURVE.height - CURVE.top - CURVE.foot) * (1 - odds / 100);
}

// Stretches of flows at which the run has odds: beside them nobody can fish it.
function curveParts(run) {
  const parts = [];
  let part = [];
  data.flows.forEach((flow, i) => {
    const curve = run.at[i].curve;
    if (curve) part.push([curveX(flow.value), ...curve]);
    else if (part.length) {
      parts.push(part);
      part = [];
    }
  });
  if (part.length) parts.push(part);
  return parts;
}

function curvePath(points) {
  return points.map(([x, y], i) => (i ? "L" : "M") + x.toFixed(1) + " " + y.toFixed(1)).join("");
}

// The picture, with what it shows in words beside it; nothing where the run has odds at no flow.
function windowCurve(run) {
  const parts = curveParts(run);
  if (!parts.length || data.flows.length < 2) return null;
  const box = make("figure", "window-curve");
  const picture = svg("svg", {
    viewBox: "0 0 " + CURVE.width + " " + CURVE.height,
    "aria-hidden": "true",
  });
  const floor = curveY(0);
  const axis = [
    [CURVE.left, floor],
    [CURVE.width - CURVE.right, floor],
  ];
  picture.append(svg("path", { class: "axis", d: curvePath(axis) }));
  for (const part of parts) {
    const up = part.map(([x, , , high]) => [x, curveY(high)]);
    const down = part.map(([x, , low]) => [x, curveY(low)]).reverse();
    picture.append(svg("path", { class: "span", d: curvePath([...up, ...down]) + "Z" }));
    const line = part.map(([x, odds]) => [x, curveY(odds)]);
    if (line.length > 1) picture.append(svg("path", { class: "odds", d: curvePath(line) }));
    else picture.append(svg("circle", { class: "odds-dot", cx: line[0][0], cy: line[0][1], r: 3 }));
  }
  const x = curveX(data.flows[state.flow].value);
  const now = [
    [x, CURVE.top - 6],
    [x, floor + 4],
  ];
  picture.append(svg("path", { class: "now", d: curvePath(now) }));
  const ends = [data.flows[0], data.flows[data.flows.length - 1]];
  ends.forEach((flow, i) => {
    const word = svg("text", {
      x: i ? CURVE.width - CURVE.right : CURVE.left,
      y: CURVE.height - 5,
      "text-anchor": i ? "end" : "start",
    });
    word.textContent = flow.words;
    picture.append(word);
  });
  box.append(picture, make("figcaption", "", data.say.window));
  return box;
}
