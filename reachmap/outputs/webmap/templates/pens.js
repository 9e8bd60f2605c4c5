// Colours, patterns and swatches: how each kind is inked, by day and by night.

function tone(style) {
  return style[state.light];
}

// A line through points, added to the path that is being laid.
function trace(pen, ...points) {
  points.forEach(([x, y], i) => (i ? pen.lineTo(x, y) : pen.moveTo(x, y)));
}
function dot(pen, x, y, radius) {
  pen.moveTo(x + radius, y);
  pen.arc(x, y, radius, 0, 2 * Math.PI);
}

// What one tile of each pattern holds; `n` is its side in px.
const LINES = {
  slant: (pen, n) => {
    trace(pen, [-2, n + 2], [n + 2, -2]);
    trace(pen, [-2, 2], [2, -2]);
    trace(pen, [n - 2, n + 2], [n + 2, n - 2]);
  },
  level: (pen, n) => trace(pen, [0, n / 2], [n, n / 2]),
  upright: (pen, n) => trace(pen, [n / 2, 0], [n / 2, n]),
  cross: (pen, n) => {
    trace(pen, [0, 0], [n, n]);
    trace(pen, [n, 0], [0, n]);
  },
  brick: (pen, n) => {
    trace(pen, [0, n / 4], [n * 0.6, n / 4]);
    trace(pen, [n * 0.5, n * 0.75], [n, n * 0.75]);
    trace(pen, [0, n * 0.75], [n * 0.1, n * 0.75]);
  },
};
const DOTS = {
  dots: (pen, n) => dot(pen, n / 2, n / 2, 1.6),
  specks: (pen) => {
    dot(pen, 4, 4, 1);
    dot(pen, 12, 12, 1);
  },
};
const SIZES = { dots: 9, slant: 9, level: 7, upright: 7, cross: 13, brick: 14, specks: 16 };

function patternTile(style) {
  const ratio = window.devicePixelRatio || 1;
  const size = SIZES[style.pattern];
  const tile = document.createElement("canvas");
  tile.width = tile.height = Math.round(size * ratio);
  const pen = tile.getContext("2d");
  pen.scale(tile.width / size, tile.width / size);
  pen.strokeStyle = pen.fillStyle = tone(style).hatch;
  pen.lineWidth = { brick: 2.2, cross: 1.1 }[style.pattern] || 1.4;
  pen.beginPath();
  if (DOTS[style.pattern]) {
    DOTS[style.pattern](pen, size);
    pen.fill();
  } else {
    LINES[style.pattern](pen, size);
    pen.stroke();
  }
  return tile;
}

const patterns = new Map();
function patternOf(context, style) {
  if (style.pattern === "none") return null;
  const key = style.kind + state.light;
  if (!patterns.has(key)) patterns.set(key, context.createPattern(patternTile(style), "repeat"));
  return patterns.get(key);
}

// A swatch for lists and key, drawn with the same inks as the map.
function swatch(kind, width = 40, height = 26) {
  const style = styles.get(kind);
  const ratio = window.devicePixelRatio || 1;
  const canvas = make("canvas", "swatch");
  canvas.width = width * ratio;
  canvas.height = height * ratio;
  canvas.style.width = width + "px";
  canvas.style.height = height + "px";
  canvas.setAttribute("aria-hidden", "true");
  const pen = canvas.getContext("2d");
  pen.scale(ratio, ratio);
  pen.fillStyle = ramp("depth").colours[2];
  pen.fillRect(0, 0, width, height);
  if (style.shape === "mark") {
    drawMark(pen, style, width / 2, height / 2, kind === "access" ? "parking" : "");
    return canvas;
  }
  if (style.shape === "area") {
    pen.beginPath();
    pen.rect(4, 3, width - 8, height - 6);
    const plain = FROM_BYTES.has(kind); // on the map it has neither pattern nor outline
    inkArea(pen, plain ? { ...style, veil: 1 } : style, plain ? 0 : 1 / ratio, false);
    if (!plain || kind === "edge") inkLine(pen, style, 1, false);
  } else {
    pen.beginPath();
    trace(pen, [3, height / 2], [width - 3, height / 2]);
    inkLine(pen, style, 1, true);
    if (kind === "river") chevron(pen, width / 2, height / 2, 0);
  }
  return canvas;
}

// Fills the path that stands: colour as a veil over the water, then the pattern.
function inkArea(pen, style, patternScale, faded, path) {
  const fill = (rule) => (path ? pen.fill(path, rule) : pen.fill());
  if (tone(style).fill) {
    pen.globalAlpha = style.veil * (faded && style.kind !== "unknown_water" ? 0.45 : 1);
    pen.fillStyle = tone(style).fill;
    fill("evenodd");
    pen.globalAlpha = 1;
  }
  const pattern = patternOf(pen, style);
  if (!pattern || !patternScale) return;
  pattern.setTransform(new DOMMatrix([patternScale, 0, 0, patternScale, 0, 0]));
  pen.fillStyle = pattern;
  fill("evenodd");
}

// Strokes the path that stands: casing below, ink above. `px` is one screen px in path units.
function inkLine(pen, style, px, cased, path, faded) {
  if (!style.width) return;
  const stroke = () => (path ? pen.stroke(path) : pen.stroke());
  pen.lineJoin = pen.lineCap = "round";
  pen.setLineDash([]);
  if (cased) {
    pen.strokeStyle = tone(style).casing;
    pen.lineWidth = (style.width + 2.6) * px;
    stroke();
  }
  const dash = faded && !style.dash.length ? [6, 6] : style.dash;
  pen.setLineDash(dash.map((length) => length * px));
  pen.strokeStyle = tone(style).ink;
  pen.lineWidth = style.width * px;
  stroke();
  pen.setLineDash([]);
}

listen("light", () => patterns.clear());
