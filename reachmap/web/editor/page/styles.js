// How each layer looks and what it is called here. Every layer has a shape or a letter of its own,
// so that none is told by colour alone. Colours by day and by night: [day, night].

export const WORDS = {
  river: { one: "River line", many: "River lines", how: "Tap along the middle of the river, going downstream." },
  banks: { one: "Bank", many: "Banks", how: "Tap round one piece of bank, its inner side along the water's edge." },
  edges: { one: "Water's edge", many: "Water's edges", how: "Tap along the edge the water had at a flow you know." },
  soundings: { one: "Sounding", many: "Soundings", how: "Tap where you measured a depth." },
  speeds: { one: "Speed", many: "Speeds", how: "Tap where you timed the water." },
  levels: { one: "Level", many: "Levels", how: "Tap where you measured the height of the water." },
  trees: { one: "Tree", many: "Trees", how: "Tap where the tree stands." },
  rocks: { one: "Rock", many: "Rocks", how: "Tap where the rock lies." },
  structure: { one: "Holding place", many: "Holding places", how: "Tap where fish hold: a bucket, a slot, a boulder's lee." },
  hazards: { one: "Hazard", many: "Hazards", how: "Tap where it is, or along it." },
  access: { one: "Way in", many: "Ways in", how: "Tap where one gets to the water." },
  runs: { one: "Run", many: "Your runs", how: "Tap round the stretch you call by a name." },
};

export const SHAPE_WORDS = { Point: "Point", LineString: "Line", Polygon: "Outline" };

export const FIELD_WORDS = {
  name: "Name", part: "Which channel", side: "Side, looking downstream", cover: "What grows or lies there",
  rise: "Rise of its outer edge", cover_height: "Height of the cover", note: "Note", flow: "Flow",
  date: "When", depth: "Depth", bed: "Height of the bed", speed: "Speed", how: "How measured",
  share: "Part of the flow below it", level: "Height of the water", height: "Height", size: "Width", kind: "Kind",
};

const LOOKS = {
  river: { ink: ["#0d3b46", "#bfe3e6"], width: 3.2, arrows: true },
  banks: { ink: ["#26451f", "#b9d4a3"], fill: true, width: 2 },
  edges: { ink: ["#205b7b", "#8fc7e0"], width: 2.4, dash: [9, 5] },
  soundings: { ink: ["#0d3b46", "#bfe3e6"], letter: "d" },
  speeds: { ink: ["#86094d", "#ff9ccb"], letter: "v" },
  levels: { ink: ["#3b1470", "#c9a8ff"], letter: "h" },
  trees: { ink: ["#26451f", "#b9d4a3"], letter: "t" },
  rocks: { ink: ["#3f362c", "#c9bda9"], letter: "r" },
  structure: { ink: ["#0a2a6b", "#a9c6ff"], letter: "H" },
  hazards: { ink: ["#7a0f0a", "#ffb4a6"], letter: "!", diamond: true, width: 3.2, dash: [10, 3], veil: 0.22 },
  access: { ink: ["#1c2a2b", "#e9dfc9"], letter: "P", square: true },
  runs: { ink: ["#0d3b46", "#bfe3e6"], width: 2.2, dash: [14, 4], veil: 0.08, named: true },
};

const COVERS = {
  gravel: ["#e6d3a4", "#6f6547"], sand: ["#f3e6b8", "#7d7350"], grass: ["#c3d38f", "#4f5f31"],
  brush: ["#9fb96f", "#3f5428"], trees: ["#6f945b", "#2c4524"], rock: ["#b5aca1", "#55504a"],
  cutbank: ["#cf9a66", "#6b4a2a"], built: ["#a9a3a9", "#4d4950"], "": ["#d8d3c4", "#454b48"],
};

export function isNight() {
  return document.documentElement.dataset.light === "night";
}

export function lookOf(layer) {
  const look = LOOKS[layer], at = isNight() ? 1 : 0;
  return { ...look, ink: look.ink[at], casing: at ? "#0b1214" : "#fffdf6", paper: at ? "#182226" : "#fffdf6" };
}

export function coverFill(cover) {
  return (COVERS[cover] || COVERS[""])[isNight() ? 1 : 0];
}

/** A small picture of a layer for the ledger. */
export function swatch(layer) {
  const look = lookOf(layer);
  const canvas = document.createElement("canvas");
  canvas.width = 80; canvas.height = 52; canvas.className = "swatch";
  canvas.setAttribute("aria-hidden", "true");
  const pen = canvas.getContext("2d");
  pen.scale(2, 2);
  if (look.letter) {
    drawLetter(pen, 20, 13, look, look.diamond ? 10 : 9);
    return canvas;
  }
  pen.beginPath();
  if (look.fill || look.named) pen.rect(4, 4, 32, 18);
  else { pen.moveTo(3, 19); pen.bezierCurveTo(12, 2, 26, 24, 37, 7); }
  if (look.fill) { pen.fillStyle = coverFill("grass"); pen.fill(); }
  pen.strokeStyle = look.ink; pen.lineWidth = look.width; pen.setLineDash((look.dash || []).map((one) => one * 0.7));
  pen.stroke();
  return canvas;
}

/** A point mark: a disc, square or diamond with its letter. */
export function drawLetter(pen, x, y, look, size) {
  pen.beginPath();
  if (look.diamond) {
    pen.moveTo(x, y - size * 1.15); pen.lineTo(x + size * 1.15, y); pen.lineTo(x, y + size * 1.15); pen.lineTo(x - size * 1.15, y);
    pen.closePath();
  } else if (look.square) pen.rect(x - size, y - size, 2 * size, 2 * size);
  else pen.arc(x, y, size, 0, 2 * Math.PI);
  pen.setLineDash([]);
  pen.lineWidth = 3; pen.strokeStyle = look.casing; pen.stroke();
  pen.fillStyle = look.ink; pen.fill();
  pen.fillStyle = look.casing;
  pen.font = `600 ${Math.round(size * 1.35)}px system-ui, sans-serif`;
  pen.textAlign = "center"; pen.textBaseline = "middle";
  pen.fillText(look.letter, x, y + 0.5);
}
