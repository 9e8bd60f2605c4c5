// Where writing goes: beside its thing, on no sign and on no other writing, inside what is seen.

function overlaps(box, other) {
  return box[0] < other[2] && box[2] > other[0] && box[1] < other[3] && box[3] > other[1];
}

// Places to try for a label, its own first: above, below, then to either side.
function triedPlaces(label, half) {
  const up = label.size * 1.5;
  return [
    [0, 0],
    [0, -up],
    [0, up],
    [half + 16, 0],
    [-half - 16, 0],
    [0, -2 * up],
    [0, 2 * up],
  ];
}

// A box moved so that it lies in what is seen, if its own place does.
function broughtIn(box, seen, x, y) {
  if (x < seen[0] || x > seen[2] || y < seen[1] || y > seen[3]) return [0, 0];
  return [
    Math.max(0, seen[0] - box[0]) - Math.max(0, box[2] - seen[2]),
    Math.max(0, seen[1] - box[1]) - Math.max(0, box[3] - seen[3]),
  ];
}

// On a turned map writing stands upright: labels and signs are turned into the window's own directions,
// and the pen back. What is seen is a turned window then, so that no label is moved into it.
function uprightLabels(pen, labels, signs) {
  const [cos, sin] = [Math.cos(state.turn), Math.sin(state.turn)];
  const upright = (x, y) => [x * cos - y * sin, x * sin + y * cos];
  for (const label of labels) [label.x, label.y] = upright(label.x, label.y);
  const boxes = signs.map(([left, top, right, bottom]) => {
    const [x, y] = upright((left + right) / 2, (top + bottom) / 2);
    const [half, tall] = [(right - left) / 2, (bottom - top) / 2];
    return [x - half, y - tall, x + half, y + tall];
  });
  pen.save();
  pen.rotate(-state.turn);
  drawLabels(pen, labels, boxes, [Infinity, Infinity, -Infinity, -Infinity]);
  pen.restore();
}

// Writes labels from the weightiest down; one for which there is no room is left out.
// `signs` are boxes that hold signs, `seen` the part of the canvas that the map shows.
function drawLabels(pen, labels, signs, seen) {
  const taken = [...signs];
  labels.sort((a, b) => b.weight - a.weight);
  for (const label of labels) {
    pen.font = label.font;
    const half = pen.measureText(label.text).width / 2 + 4;
    for (const [right, down] of label.fixed ? [[0, 0]] : triedPlaces(label, half)) {
      let x = label.x + right;
      let y = label.y + down;
      const tall = label.size / 2 + 3;
      const [inward, downward] = label.fixed ? [0, 0] : broughtIn([x - half, y - tall, x + half, y + tall], seen, label.x, label.y);
      x += inward;
      y += downward;
      const box = [x - half, y - tall, x + half, y + tall];
      if (taken.some((other) => overlaps(box, other))) continue;
      taken.push(box);
      writeLabel(pen, label, x, y);
      break;
    }
  }
}

function writeLabel(pen, label, x, y) {
  pen.textAlign = "center";
  pen.textBaseline = "middle";
  pen.lineJoin = "round";
  pen.setLineDash([]);
  pen.strokeStyle = label.casing;
  pen.lineWidth = 4;
  pen.strokeText(label.text, x, y);
  pen.fillStyle = label.ink;
  pen.fillText(label.text, x, y);
}
