// What is kept so that a change of flow is quick: pictures of tiles, and the water of the flows next
// to the one shown, made while nobody touches anything.

// Pictures of tiles by what they show; the oldest go first, their canvases serve again.
const PICTURE_BYTES = 32e6;
const pictures = {
  byKey: new Map(),
  free: [],
  bytes: 0,
  get(key) {
    const held = this.byKey.get(key);
    return held === undefined ? undefined : toEnd(this.byKey, key, held);
  },
  keep(key, image) {
    let canvas = null;
    if (image) {
      canvas = this.free.pop() || document.createElement("canvas");
      canvas.width = image.width;
      canvas.height = image.height;
      canvas.getContext("2d").putImageData(image, 0, 0);
      this.bytes += image.data.length;
    }
    this.byKey.set(key, canvas);
    while (this.bytes > PICTURE_BYTES) this.drop(this.byKey.keys().next().value);
    return canvas;
  },
  drop(key) {
    const canvas = this.byKey.get(key);
    this.byKey.delete(key);
    if (!canvas) return;
    this.bytes -= 4 * canvas.width * canvas.height;
    if (this.free.length < 8) this.free.push(canvas);
  },
  clear() {
    this.byKey.clear();
    this.bytes = 0;
  },
};

// Water that is ready by its key: of the flow shown and of those on either side.
const fieldsAhead = new Map();
function fieldAhead(key, needed) {
  const field = fieldsAhead.get(key);
  return field && needed.every((name) => field.bytes[name]) ? field : null;
}

// Makes the neighbours' water ready: its field, its edge and its tiles in view; from close to only the
// field, since few tiles are in view there.
async function makeAhead(here) {
  const needed = neededBytes();
  const next = [Math.floor(state.at) + 1, Math.ceil(state.at) - 1].filter((at) => data.flows[at]);
  const fields = await Promise.all(next.map((at) => fieldAhead(keyAt(at), needed) || fieldAt(at, needed)));
  if (here !== turn) return;
  fieldsAhead.clear();
  for (const field of [...fields, ready.field]) fieldsAhead.set(field.key, field);
  const view = sheet.view();
  const cell = ((data.tiles.side * view.k) / tileCells) * view.ratio;
  if (cell >= TINTS_FROM) return;
  const levels = levelsDrawn(view);
  const jobs = fields.flatMap((field) =>
    tilesInView(view).flatMap(({ number }) => [
      () => picture(field, number, skipAt(cell), false),
      () => state.on.has("edge") && chartLines(field, number, levels, lineStep(view)),
    ]),
  );
  workAhead(jobs, here);
}

const AHEAD_MS = 6; // work at a time, so that a touch is answered at once
function workAhead(jobs, here) {
  whenIdle(() => {
    const began = performance.now();
    while (jobs.length && here === turn && performance.now() - began < AHEAD_MS) jobs.shift()();
    if (jobs.length && here === turn) workAhead(jobs, here);
  });
}
