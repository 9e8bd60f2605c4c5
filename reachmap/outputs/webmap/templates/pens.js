// Colours, patterns and swatches: how each kind is inked, by day and by night.

function tone(style) {
  return style[state.light];
}

// Draws one tile of a pattern, `size` px wide, on a canvas of its own.
const STROKES = {
  slant: (pen, n) => {
    pen.moveTo(-2, n + 2), pen.lineTo(n + 2, -2);
    pen.moveTo(-2, 2), pen.lineTo(2, -2);
    pen.moveTo(n - 2, n + 2), pen.lineTo(n + 2, n - 2);
  },
  level: (pen, n) => { pen.moveTo(0, n / 2), pen.lineTo(n, n / 2); },
  upright: (pen, n) => { pen.moveTo(n / 2, 0), pen.lineTo(n / 2, n); },
  cross: (pen, n) => { pen.moveTo(0, 0), pen.lineTo(n, n), pen.moveTo(n, 0), pen.lineTo(0, n); },
  brick: (pen, n) => {
    pen.moveTo(0, n / 4), pen.lineTo(n * 0.6, n / 4);
    pen.moveTo(n * 0.5, n * 0.75), pen.lineTo(n, n * 0.75);
    pen.moveTo(0, n * 0.75), pen.lineTo(n * 0.1, n * 0.75);
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
  if (style.pattern === "dots") pen.arc(size / 2, size / 2, 1.6, 0, 7), pen.fill();
  else if (style.pattern === "specks") pen.arc(4, 4, 1, 0, 7), pen.arc(12, 12, 1, 0, 7), pen.fill();
  else STROKES[style.pattern](pen, size), pen.stroke();
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
    inkArea(pen, style, 1 / ratio, false);
    inkLine(pen, style, 1, false);
  } else {
    pen.beginPath();
    pen.moveTo(3, height / 2);
    pen.lineTo(width - 3, height / 2);
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
