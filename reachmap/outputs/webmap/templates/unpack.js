// Turns the packed text of the page into shapes, cards and rasters. The packing is described in
// docs/maps.md: zlib (RFC 1950) in base64; shapes are steps in groups of seven bits.

let features = [];
let cards = [];
let runs = [];

function bytesOf(text) {
  const binary = atob(text);
  const bytes = new Uint8Array(binary.length);
  for (let i = 0; i < binary.length; i++) bytes[i] = binary.charCodeAt(i);
  return bytes;
}

async function inflate(text) {
  const stream = new Blob([bytesOf(text)]).stream().pipeThrough(new DecompressionStream("deflate"));
  return new Uint8Array(await new Response(stream).arrayBuffer());
}

function ringsOf(bytes) {
  let at = 0;
  function whole() {
    let value = 0;
    let size = 1;
    let byte;
    do {
      byte = bytes[at++];
      value += (byte & 127) * size;
      size *= 128;
    } while (byte & 128);
    return value;
  }
  function signed() {
    const value = whole();
    return value % 2 ? -(value + 1) / 2 : value / 2;
  }
  const rings = [];
  for (let count = whole(); count > 0; count--) {
    const length = whole();
    const ring = new Int32Array(2 * length);
    let x = 0;
    let y = 0;
    for (let i = 0; i < length; i++) {
      ring[2 * i] = x += signed();
      ring[2 * i + 1] = y += signed();
    }
    rings.push(ring);
  }
  return rings;
}

function boxOf(rings) {
  const box = [Infinity, Infinity, -Infinity, -Infinity];
  for (const ring of rings) {
    for (let i = 0; i < ring.length; i += 2) {
      box[0] = Math.min(box[0], ring[i]);
      box[1] = Math.min(box[1], ring[i + 1]);
      box[2] = Math.max(box[2], ring[i]);
      box[3] = Math.max(box[3], ring[i + 1]);
    }
  }
  return box;
}

async function unpack() {
  const rings = ringsOf(await inflate(data.shapes));
  const book = JSON.parse(new TextDecoder().decode(await inflate(data.book)));
  const columns = book.features;
  let ring = 0;
  features = columns.kind.map((kind, i) => {
    const mine = rings.slice(ring, (ring += columns.rings[i]));
    return {
      number: i,
      kind,
      style: styles.get(kind),
      flow: columns.flow[i],
      rings: mine,
      closed: columns.closed[i] === 1,
      x: columns.x[i],
      y: columns.y[i],
      card: columns.card[i],
      run: columns.run[i],
      label: columns.label[i],
      mark: columns.mark[i],
      weight: columns.weight[i],
      faded: columns.faded[i] === 1,
      near: columns.near[i],
      box: boxOf(mine),
      paths: new Map(),
    };
  });
  linkFans();
  cards = book.cards.map(([title, under, rows, lines]) => ({ title, under, rows, lines }));
  runs = book.runs;
  whomFacts = book.whom;
  data.shapes = data.book = ""; // not needed again: let the browser have the memory back
}

// What is drawn around a place to stand comes just before it in the file.
const AROUND = new Set(["swing", "room", "tight", "blocked", "look"]);
function linkFans() {
  let waiting = [];
  for (const feature of features) {
    if (AROUND.has(feature.kind)) waiting.push(feature);
    else if (feature.kind === "station")
      waiting.splice(0).forEach((part) => (part.stand = feature));
    else waiting = [];
  }
}

// Features at the flow shown, by kind, in the order of the legend. Between two flows what is unknown
// and how water grades comes from both of them: the stricter is drawn and told.
const grouped = new Map();
const WADING = new Set(["easy", "careful", "no", "unknown"]);
function featuresNow() {
  const { low, high } = mixOf(state.at);
  const key = state.flow + "/" + low + "/" + high;
  if (!grouped.has(key)) {
    const byKind = new Map(data.legend.styles.map((style) => [style.kind, []]));
    for (const feature of features) {
      const strict = WADING.has(feature.kind) || feature.kind === "unknown_water";
      const here = strict
        ? feature.flow === low || feature.flow === high
        : feature.flow === state.flow;
      if (here || feature.flow < 0) byKind.get(feature.kind).push(feature);
    }
    grouped.set(key, byKind);
    if (grouped.size > 12) grouped.delete(grouped.keys().next().value);
  }
  return grouped.get(key);
}

// Bounds of all water and river lines.
function reachBounds() {
  const box = [Infinity, Infinity, -Infinity, -Infinity];
  for (const feature of features) {
    if (feature.kind !== "edge" && feature.kind !== "river") continue;
    box[0] = Math.min(box[0], feature.box[0]);
    box[1] = Math.min(box[1], feature.box[1]);
    box[2] = Math.max(box[2], feature.box[2]);
    box[3] = Math.max(box[3], feature.box[3]);
  }
  return isFinite(box[0])
    ? L.latLngBounds(latLng(box[0], box[1]), latLng(box[2], box[3]))
    : map.getBounds();
}
