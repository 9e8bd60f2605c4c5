// Signs and writing on the map, drawn in screen px so that they keep their size.

const WRITING = '"Iowan Old Style", "Palatino Linotype", Palatino, "DejaVu Serif", Georgia, serif';

function ring(pen, x, y, radius) {
  pen.beginPath();
  pen.arc(x, y, radius, 0, 2 * Math.PI);
}

function sign(pen, text, x, y, size, colour) {
  pen.font = "700 " + size + "px " + WRITING;
  pen.textAlign = "center";
  pen.textBaseline = "middle";
  pen.fillStyle = colour;
  pen.fillText(text, x, y + size * 0.06);
}

// What stands inside the square of each kind of access, around its middle.
const ACCESS = {
  parking: (pen, x, y, colour) => sign(pen, "P", x, y, 14, colour),
  path: (pen, x, y) => {
    pen.beginPath();
    pen.moveTo(x - 5, y + 6);
    pen.bezierCurveTo(x + 6, y + 3, x - 7, y - 2, x + 4, y - 6);
    pen.setLineDash([3, 2.5]);
    pen.stroke();
    pen.setLineDash([]);
  },
  landing: (pen, x, y) => {
    pen.beginPath();
    pen.moveTo(x - 7, y - 1);
    pen.lineTo(x + 7, y - 1);
    pen.quadraticCurveTo(x + 4, y + 6, x, y + 6);
    pen.quadraticCurveTo(x - 4, y + 6, x - 7, y - 1);
    pen.moveTo(x, y - 1);
    pen.lineTo(x, y - 7);
    pen.stroke();
  },
  ford: (pen, x, y) => {
    pen.beginPath();
    for (const dy of [-4, 1, 6]) {
      pen.moveTo(x - 7, y + dy);
      pen.quadraticCurveTo(x - 3.5, y + dy - 4, x, y + dy);
      pen.quadraticCurveTo(x + 3.5, y + dy + 4, x + 7, y + dy);
    }
    pen.stroke();
  },
};

const MARKS = {
  hazard: (pen, x, y, colours) => {
    pen.beginPath();
    trace(pen, [x, y - 13], [x + 13, y], [x, y + 13], [x - 13, y]);
    pen.closePath();
    framed(pen, colours, 2.5);
    sign(pen, "!", x, y, 17, state.light === "day" ? colours.casing : colours.ink);
  },
  access: (pen, x, y, colours, what) => {
    pen.beginPath();
    pen.rect(x - 11, y - 11, 22, 22);
    framed(pen, colours, 2);
    pen.strokeStyle = state.light === "day" ? colours.casing : colours.ink;
    pen.lineWidth = 1.8;
    (ACCESS[what] || ACCESS.path)(pen, x, y, pen.strokeStyle);
  },
  station: (pen, x, y, colours, what) => {
    ring(pen, x, y, 9);
    framed(pen, colours, 2.4);
    if (what === "look") return sign(pen, "?", x, y, 13, colours.ink);
    if (what === "blocked") {
      pen.beginPath();
      trace(pen, [x - 4, y - 4], [x + 4, y + 4]);
      trace(pen, [x + 4, y - 4], [x - 4, y + 4]);
      return pen.stroke();
    }
    ring(pen, x, y, what === "tight" ? 2 : 4);
    pen.fillStyle = colours.ink;
    pen.fill();
  },
  ask: (pen, x, y, colours, what) => {
    pen.beginPath();
    pen.roundRect(x - 10, y - 11, 20, 22, 5);
    framed(pen, colours, 2);
    pen.strokeStyle = pen.fillStyle = colours.ink;
    pen.lineWidth = 1.8;
    pen.beginPath();
    if (what === "edge") {
      pen.setLineDash([3, 2.5]);
      trace(pen, [x - 7, y + 3], [x - 2, y - 2], [x + 3, y + 1], [x + 7, y - 4]);
      pen.stroke();
      return pen.setLineDash([]);
    }
    trace(pen, [x, y - 8], [x, y + 1]);
    pen.stroke();
    pen.beginPath();
    trace(pen, [x, y + 8], [x - 4, y], [x + 4, y]);
    pen.closePath();
    pen.fill();
  },
  trip: (pen, x, y, colours) => {
    ring(pen, x, y, 9);
    framed(pen, colours, 1.8);
    pen.beginPath();
    pen.moveTo(x + 3, y - 6);
    pen.lineTo(x + 3, y + 1);
    pen.arc(x - 0.5, y + 1, 3.5, 0, Math.PI);
    pen.lineTo(x - 2, y - 0.5);
    pen.strokeStyle = colours.ink;
    pen.lineWidth = 1.8;
    pen.stroke();
  },
  note: (pen, x, y, colours) => {
    pen.beginPath();
    pen.rect(x - 9, y - 10, 18, 20);
    framed(pen, colours, 1.6);
    pen.beginPath();
    for (const dy of [-4, 0, 4]) trace(pen, [x - 5, y + dy], [x + 5, y + dy]);
    pen.strokeStyle = colours.ink;
    pen.lineWidth = 1.4;
    pen.stroke();
  },
  sounding: (pen, x, y, colours) => {
    ring(pen, x, y, 4.5);
    framed(pen, colours, 1.8);
  },
};

// Fills the path that stands and frames it: casing outside, ink inside.
function framed(pen, colours, width) {
  pen.setLineDash([]);
  pen.lineJoin = "round";
  pen.strokeStyle = colours.casing;
  pen.lineWidth = width + 3;
  pen.stroke();
  pen.fillStyle = colours.fill;
  pen.fill();
  pen.strokeStyle = colours.ink;
  pen.lineWidth = width;
  pen.stroke();
}

// A sign is drawn once and kept as a picture: its writing takes longer than all else about it.
const MARK_REACH = 22; // px from its middle to beyond its rim
const markPictures = new Map();
function drawMark(pen, style, x, y, what, size = 1) {
  const ratio = window.devicePixelRatio || 1;
  const key = [style.kind, what, size, state.light, ratio].join("/");
  const side = Math.ceil(2 * MARK_REACH * size * ratio);
  if (!markPictures.has(key)) {
    const canvas = document.createElement("canvas");
    canvas.width = canvas.height = side;
    const own = canvas.getContext("2d");
    own.translate(side / 2, side / 2);
    own.scale(size * ratio, size * ratio);
    (MARKS[style.kind] || MARKS.sounding)(own, 0, 0, tone(style), what);
    markPictures.set(key, canvas);
  }
  const half = side / ratio / 2;
  const whole = (value) => Math.round((value - half) * ratio) / ratio; // on whole px: no blur
  if (!state.turned) {
    pen.drawImage(markPictures.get(key), whole(x), whole(y), 2 * half, 2 * half);
    return;
  }
  pen.save();
  pen.translate(x, y);
  pen.rotate(-state.turn); // signs stay upright on a map that lies with the river
  pen.drawImage(markPictures.get(key), -half, -half, 2 * half, 2 * half);
  pen.restore();
}

// An arrowhead along the river; `turn` is its direction on the screen [radians].
function chevron(pen, x, y, turn, size = 1) {
  pen.save();
  pen.translate(x, y);
  pen.scale(size, size);
  pen.rotate(turn);
  pen.beginPath();
  trace(pen, [-5, -6], [5, 0], [-5, 6]);
  pen.lineJoin = pen.lineCap = "round";
  pen.strokeStyle = tone(styles.get("river")).casing;
  pen.lineWidth = 5.5;
  pen.stroke();
  pen.strokeStyle = tone(styles.get("river")).ink;
  pen.lineWidth = 2.6;
  pen.stroke();
  pen.restore();
}

// Arrowheads every so many px down a line of screen points.
function chevronsAlong(pen, points, every, size) {
  let left = every / 2;
  for (let i = 1; i < points.length; i++) {
    const dx = points[i][0] - points[i - 1][0];
    const dy = points[i][1] - points[i - 1][1];
    const length = Math.hypot(dx, dy);
    let done = 0;
    while (length - done >= left) {
      done += left;
      left = every;
      const share = done / length;
      chevron(
        pen,
        points[i - 1][0] + dx * share,
        points[i - 1][1] + dy * share,
        Math.atan2(dy, dx),
        size,
      );
    }
    left -= length - done;
  }
}
