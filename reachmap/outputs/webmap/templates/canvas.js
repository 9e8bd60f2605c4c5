// The one canvas that holds everything drawn: water first, then shapes from the lowest kind to the
// topmost, then signs and writing.

// A feature's rings as a path, vertices closer than `least` file units dropped.
function pathOf(feature, least) {
  if (feature.paths.has(least)) return feature.paths.get(least);
  const path = new Path2D();
  for (const points of feature.rings) {
    let x = points[0];
    let y = points[1];
    path.moveTo(x, y);
    for (let i = 2; i < points.length; i += 2) {
      const far = (points[i] - x) ** 2 + (points[i + 1] - y) ** 2 >= least * least;
      if (!far && i < points.length - 2) continue;
      x = points[i];
      y = points[i + 1];
      path.lineTo(x, y);
    }
    if (feature.closed) path.closePath();
  }
  feature.paths.set(least, path);
  return path;
}

const Sheet = L.Renderer.extend({
  options: { padding: 0.3 },
  _initContainer() {
    this._container = document.createElement("canvas");
    this._container.setAttribute("aria-hidden", "true");
    this._pen = this._container.getContext("2d");
  },
  _destroyContainer() {
    L.DomUtil.remove(this._container);
  },
  _updatePaths() {},
  _update() {
    if (this._map._animatingZoom && this._bounds) return;
    L.Renderer.prototype._update.call(this);
    this.endFade();
    const size = this._bounds.getSize();
    const ratio = window.devicePixelRatio || 1;
    const canvas = this._container;
    L.DomUtil.setPosition(canvas, this._bounds.min);
    canvas.width = Math.round(size.x * ratio);
    canvas.height = Math.round(size.y * ratio);
    canvas.style.width = size.x + "px";
    canvas.style.height = size.y + "px";
    this.draw();
    this.fire("update");
  },

  // Takes a second canvas to draw on; the one before lies above it and fades away.
  turnOver() {
    const old = this._container;
    const next = this._spare || document.createElement("canvas");
    this.endFade();
    next.style.cssText = old.style.cssText;
    next.className = old.className;
    next.setAttribute("aria-hidden", "true");
    if (next.width !== old.width || next.height !== old.height) {
      next.width = old.width;
      next.height = old.height;
    }
    L.DomUtil.setPosition(next, this._bounds.min);
    old.before(next);
    this._container = next;
    this._pen = next.getContext("2d");
    this._spare = old;
    old.classList.add("fading");
    old.addEventListener("animationend", () => this.endFade(), { once: true });
  },

  // Ends a fade that is under way.
  endFade() {
    const old = this._spare;
    if (!old || !old.parentNode) return;
    old.classList.remove("fading");
    old.remove();
  },

  // How file coordinates lie on the canvas: px = x + k * file x, y - k * file y.
  view() {
    const world = 2 * Math.PI * 6378137;
    const perMetre = (256 * 2 ** this._map.getZoom()) / world;
    const corner = this._map.getPixelOrigin().add(this._bounds.min);
    const size = this._bounds.getSize();
    const k = perMetre * data.unit;
    return {
      k,
      x: (data.origin[0] + world / 2) * perMetre - corner.x,
      y: (world / 2 - data.origin[1]) * perMetre - corner.y,
      ratio: window.devicePixelRatio || 1,
      box: [0, 0, size.x, size.y], // what is drawn [px]: all of the canvas, or less
      metres: 1 / (k * data.metre), // ground metres in one px
    };
  },

  // Draws all of the canvas, which is larger than the map so that it can be dragged; or what is seen
  // of it, where the picture has to be there at once.
  draw() {
    this.paint(null);
  },
  drawSeen() {
    const [left, top, right, bottom] = this.seen();
    const free = Math.max(0, bottom - state.covered - top); // above the sheet of a phone
    this.paint([left - 8, top - 8, right - left + 16, free + 16]);
  },

  paint(part) {
    if (!this._bounds || !features.length) return;
    const pen = this._pen;
    const view = this.view();
    if (part) view.box = [part[0], part[1], part[0] + part[2], part[1] + part[3]];
    pen.save();
    pen.setTransform(view.ratio, 0, 0, view.ratio, 0, 0);
    if (part) {
      pen.beginPath();
      pen.rect(...part);
      pen.clip();
    }
    pen.setTransform(1, 0, 0, 1, 0, 0);
    pen.clearRect(0, 0, this._container.width, this._container.height);
    pen.setTransform(view.ratio, 0, 0, view.ratio, 0, 0);
    if (root.classList.contains("printing")) this.paintGround();
    paintWater(pen, view);
    const inView = this.visible(view);
    const stations = inView.get("station");
    this.signs = state.on.has("station") ? spaced(stations, view, SIGN_APART) : new Set();
    const stand = chosenStand();
    const fans = stand ? [stand] : stations; // of a chosen place its own cast alone
    this.fans = state.on.has("swing") ? spaced(fans, view, FAN_APART) : new Set();
    const fileSpace = [
      view.ratio * view.k,
      0,
      0,
      -view.ratio * view.k,
      view.ratio * view.x,
      view.ratio * view.y,
    ];
    pen.setTransform(...fileSpace);
    drawContours(pen, view);
    drawEdge(pen, view);
    for (const style of data.legend.styles) {
      if (this.hides(style, view)) continue;
      if (style.kind === "river" || FROM_BYTES.has(style.kind)) continue;
      for (const faded of [false, true])
        this.drawKind(
          style,
          inView
            .get(style.kind)
            .filter((f) => f.faded === faded && this.hasRoom(f) && !isQuiet(f, view) && !isCrumb(f, view)),
          view,
          faded,
        );
      this.drawQuiet(style, inView.get(style.kind), view);
    }
    drawOldEdge(pen, view);
    this.drawChosen(view);
    pen.setTransform(view.ratio, 0, 0, view.ratio, 0, 0);
    this.drawSigns(view, inView);
    pen.restore();
  },

  // On paper a cleared canvas comes out white and hides the ground below: it is painted in here.
  paintGround() {
    this._map.eachLayer((layer) => {
      if (!(layer instanceof L.ImageOverlay)) return;
      const bounds = layer.getBounds();
      const from = this._map.latLngToLayerPoint(bounds.getNorthWest()).subtract(this._bounds.min);
      const size = this._map
        .latLngToLayerPoint(bounds.getSouthEast())
        .subtract(this._bounds.min)
        .subtract(from);
      this._pen.drawImage(layer.getElement(), from.x, from.y, size.x, size.y);
    });
  },

  // Features of the flow shown that touch the canvas, by kind.
  visible(view) {
    const [left, right] = [(view.box[0] - view.x) / view.k, (view.box[2] - view.x) / view.k];
    const [top, bottom] = [(view.y - view.box[1]) / view.k, (view.y - view.box[3]) / view.k];
    const found = new Map();
    for (const [kind, all] of featuresNow()) {
      found.set(
        kind,
        all.filter(({ box }) => box[0] < right && box[2] > left && box[1] < top && box[3] > bottom),
      );
    }
    return found;
  },

  hides(style, view) {
    return !state.on.has(style.kind) || view.metres > (SHOWN_UP_TO[style.kind] || Infinity);
  },

  // Whether a place to stand, or what is around it, is among those shown.
  hasRoom(feature) {
    if (feature.kind === "station") return this.signs.has(feature);
    return !feature.stand || this.fans.has(feature.stand);
  },

  drawKind(style, list, view, faded) {
    if (!list.length || (style.shape === "mark" && style.kind !== "hazard")) return;
    const px = 1 / view.k;
    const far = view.metres > PATTERNS_UP_TO;
    const least = px < 8 ? 0 : 2 ** Math.floor(Math.log2(px * 0.7));
    const areas = new Path2D();
    const lines = new Path2D();
    for (const feature of list) (feature.closed ? areas : lines).addPath(pathOf(feature, least));
    const pen = this._pen;
    inkArea(pen, style, far ? 0 : px / view.ratio, faded, areas);
    const share = style.kind === "hazard" ? 1 : 0.6; // what can hurt stays as wide as close to
    const thin = far ? { ...style, width: style.width * share, dash: [] } : style;
    const cased = !far && style.kind !== "easy";
    inkLine(pen, thin, px, cased, areas, faded);
    inkLine(pen, thin, px, cased, lines, faded);
  },

  // Water that is not on the list, from afar: its outline alone, so that the list stands out.
  drawQuiet(style, list, view) {
    const quiet = list.filter((f) => isQuiet(f, view) && !isStretch(f.kind));
    if (!quiet.length) return;
    const lines = new Path2D();
    for (const feature of quiet) lines.addPath(pathOf(feature, 0));
    this._pen.globalAlpha = 0.45;
    inkLine(this._pen, { ...style, width: 1.2, dash: [] }, 1 / view.k, false, lines);
    this._pen.globalAlpha = 1;
  },

  // The run or thing whose card is open, ringed so that nobody loses it.
  drawChosen(view) {
    if (!state.chosen && state.run < 0 && state.lit < 0) return;
    const chosen = features.filter(
      (f) =>
        (f === state.chosen ||
          (state.run >= 0 && f.run === state.run && isStretch(f.style.kind)) ||
          (state.lit >= 0 && f.run === state.lit && isFished(f))) &&
        (f === state.chosen || f.flow < 0 || f.flow === state.flow),
    );
    for (const feature of chosen) {
      if (feature.style.shape === "mark" && feature.rings[0].length <= 2) continue;
      const pen = this._pen;
      pen.lineJoin = pen.lineCap = "round";
      pen.setLineDash([]);
      for (const [colour, width] of [
        [state.light === "day" ? "#fffdf6" : "#0b1214", 9],
        [state.light === "day" ? "#b3460a" : "#ffc46b", 4.5],
      ]) {
        pen.strokeStyle = colour;
        pen.lineWidth = (view.metres > 1.5 ? width * 0.6 : width) / view.k;
        pen.stroke(pathOf(feature, 0));
      }
    }
  },

  drawSigns(view, inView) {
    const pen = this._pen;
    const at = (f) => [view.x + f.x * view.k, view.y - f.y * view.k];
    const labels = [...chartLabels(view), ...roomLabels(view)];
    const signs = [];
    for (const style of data.legend.styles) {
      if (this.hides(style, view)) continue;
      for (const feature of inView.get(style.kind)) {
        if (!this.hasRoom(feature)) continue;
        const [x, y] = at(feature);
        if (style.kind === "river") this.drawRiver(feature, view);
        if (style.shape === "mark") {
          if (feature === state.chosen) {
            ring(pen, x, y, 19);
            inkHalo(pen);
          }
          pen.globalAlpha = feature.near >= 0 && feature.near !== state.flow ? 0.4 : 1;
          drawMark(pen, style, x, y, feature.mark, signSize(view));
          pen.globalAlpha = 1;
          const reach = 10 * signSize(view);
          signs.push([x - reach, y - reach, x + reach, y + reach]);
        }
        const label = labelOf(feature, view, x, y);
        if (label) labels.push(label);
      }
    }
    const corner = this.seen();
    for (const [left, top, right, bottom] of state.pinBoxes)
      signs.push([left + corner[0] - 4, top + corner[1] - 4, right + corner[0] - 4, bottom + corner[1] - 4]);
    if (state.turned) uprightLabels(pen, labels, signs);
    else drawLabels(pen, labels, signs, corner);
    if (state.place) this.drawPin(view);
  },

  // The part of the canvas that the map shows.
  seen() {
    const corner = this._map.containerPointToLayerPoint([0, 0]).subtract(this._bounds.min);
    const size = this._map.getSize();
    return [corner.x + 4, corner.y + 4, corner.x + size.x - 4, corner.y + size.y - 4];
  },

  drawRiver(feature, view) {
    for (const points of feature.rings) {
      const screen = [];
      for (let i = 0; i < points.length; i += 2)
        screen.push([view.x + points[i] * view.k, view.y - points[i + 1] * view.k]);
      chevronsAlong(this._pen, screen, view.metres > 4 ? 90 : 150, signSize(view));
    }
  },

  drawPin(view) {
    const { x, y } = filePoint(state.place);
    const pen = this._pen;
    ring(pen, view.x + x * view.k, view.y - y * view.k, 8);
    inkHalo(pen);
    ring(pen, view.x + x * view.k, view.y - y * view.k, 1.5);
    pen.fillStyle = state.light === "day" ? "#b3460a" : "#ffc46b";
    pen.fill();
  },

  // What is shown under a place, the topmost first.
  under(place) {
    const view = this.view();
    const { x, y } = filePoint(place);
    const pen = this._pen;
    const found = [];
    pen.save();
    pen.setTransform(1, 0, 0, 1, 0, 0);
    pen.setLineDash([]);
    pen.lineWidth = 24 / view.k;
    for (const style of [...data.legend.styles].reverse()) {
      if (this.hides(style, view)) continue;
      for (const feature of featuresNow().get(style.kind)) {
        if (
          (feature.card < 0 && feature.run < 0) ||
          AROUND.has(feature.kind) ||
          !this.hasRoom(feature)
        )
          continue;
        const near =
          style.shape === "mark" && Math.hypot(feature.x - x, feature.y - y) * view.k < 24;
        const inside = feature.closed
          ? pen.isPointInPath(pathOf(feature, 0), x, y, "evenodd")
          : feature.rings[0].length > 2 && pen.isPointInStroke(pathOf(feature, 0), x, y);
        // of wading the stricter alone counts, and comes first
        const milder = WADING.has(feature.kind) && found.some((one) => WADING.has(one.kind));
        if ((near || inside) && !milder) found.push(feature);
      }
    }
    pen.restore();
    return found;
  },
});

const sheet = new Sheet({ pane: "overlayPane" });
