// The map turned so that downstream is up. The map library draws north up only: its pane lies in a
// box of ours, large enough to fill the window at any angle, and that box is turned. Places of the
// pointer are turned back before the library sees them.

const turnBox = make("div", "turn-box");

// A step on the screen as a step on the map as it lies unturned.
function unturned(step) {
  const [cos, sin] = [Math.cos(-state.turn), Math.sin(-state.turn)];
  return L.point(step.x * cos - step.y * sin, step.x * sin + step.y * cos);
}

function windowSize() {
  const box = map.getContainer();
  return L.point(box.clientWidth, box.clientHeight);
}

function turnSide() {
  const { x, y } = windowSize();
  return Math.ceil(Math.hypot(x, y));
}

function layTurnBox() {
  const size = windowSize();
  const side = turnSide();
  Object.assign(
    turnBox.style,
    state.turned
      ? {
          left: (size.x - side) / 2 + "px",
          top: (size.y - side) / 2 + "px",
          width: side + "px",
          height: side + "px",
          transform: "rotate(" + state.turn + "rad)",
        }
      : { left: "0", top: "0", width: "100%", height: "100%", transform: "none" },
  );
  root.style.setProperty("--unturn", -state.turn + "rad");
  const north = document.querySelector(".rule-box .north");
  north.style.transform = "rotate(" + state.turn + "rad)";
  north.style.background = state.turned ? "none" : "";
  north.setAttribute("aria-label", state.turned ? placeSay.turned : placeSay.north_up);
  whereIs.turn.setAttribute("aria-pressed", String(state.turned));
  whereIs.turn.title = state.turned ? placeSay.north : placeSay.turn;
}

function turnMap(angle) {
  const centre = map.getCenter();
  const same = state.turned === (angle !== null);
  state.turned = angle !== null;
  state.turn = angle || 0;
  layTurnBox();
  if (same) return sheet.draw(); // of the same size: only writing and signs change
  map._sizeChanged = true;
  map.setView(centre, map.getZoom(), { animate: false, reset: true });
  map.keyboard._setPanDelta(map.options.keyboardPanDelta);
  for (const [key, [x, y]] of Object.entries(map.keyboard._panKeys)) {
    const step = unturned(L.point(x, y));
    map.keyboard._panKeys[key] = [step.x, step.y];
  }
  return sheet.draw();
}

function northUp() {
  if (state.turned) turnMap(null);
}

// The river's direction where one stands, or at the map's middle.
function downstreamUp() {
  const river = byRiver(state.fix ? state.fix.place : map.getCenter());
  if (river) turnMap(-Math.atan2(river.east, river.north));
}

function startTurn() {
  const box = map.getContainer();
  box.insertBefore(turnBox, map.getPane("mapPane"));
  turnBox.append(map.getPane("mapPane"));
  const plain = map.getSize;
  map.getSize = function () {
    return state.turned ? L.point(turnSide(), turnSide()) : plain.call(map);
  };
  const pointed = map.mouseEventToContainerPoint;
  map.mouseEventToContainerPoint = function (event) {
    const at = pointed.call(map, event);
    if (!state.turned) return at;
    const half = turnSide() / 2;
    return unturned(at.subtract(windowSize().divideBy(2))).add([half, half]);
  };
  const dragged = map.dragging._draggable;
  dragged.on("predrag", (event) => {
    if (!state.turned) return;
    const from = event.originalEvent.touches ? event.originalEvent.touches[0] : event.originalEvent;
    const step = L.point(from.clientX, from.clientY).subtract(dragged._startPoint);
    dragged._newPos = dragged._startPos.add(unturned(step));
  });
  new ResizeObserver(() => {
    if (!state.turned) return;
    layTurnBox();
    map.setView(map.getCenter(), map.getZoom(), { animate: false, reset: true });
  }).observe(box);
}
