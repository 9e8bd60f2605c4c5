// The water at any flow: of a flow drawn, or mixed of the two next to it. Level above the bed is taken
// as straight in the logarithm of the flow; wading is the stricter of both; what is unknown at one of
// them is unknown.

const DRY = 0,
  TOP = 253,
  OFF_MAP = 254,
  UNKNOWN = 255;
const GROUND = data.tiles.ground; // codes up to it are dry ground
const depthOf = Float64Array.from(data.tiles.depths); // level minus bed of each code [m]
const NOT_GRADED = 3; // water without a grade is beyond the limits
const tileCells = data.tiles.cells;
const tileBytes = tileCells * tileCells;

function isWater(code) {
  return code > GROUND && code < OFF_MAP;
}

// Where a flow lies among those drawn: 2.5 is halfway, in ln Q, between the third and the fourth.
function positionOf(flow) {
  const flows = data.flows.map((one) => one.value);
  const last = flows.length - 1;
  if (flow <= flows[0]) return 0;
  if (flow >= flows[last]) return last;
  const high = flows.findIndex((one) => one >= flow);
  if (Math.abs(Math.log(flows[high] / flow)) < 0.002) return high;
  if (Math.abs(Math.log(flows[high - 1] / flow)) < 0.002) return high - 1;
  return high - Math.log(flows[high] / flow) / Math.log(flows[high] / flows[high - 1]);
}

// The flows on either side of a position, and the share of the higher one.
function mixOf(at) {
  const low = Math.floor(at + 1e-6);
  const share = Math.max(0, at - low);
  return share < 1e-3 ? { low, high: low, share: 0 } : { low, high: low + 1, share };
}

function flowAtPosition(at) {
  const { low, high, share } = mixOf(at);
  const [a, b] = [data.flows[low].value, data.flows[high].value];
  return a * (b / a) ** share;
}

function isBetween() {
  return mixOf(state.at).share > 0;
}

// The flow the water is drawn at, in words.
function flowNow() {
  return isBetween() ? flowWords(flowAtPosition(state.at)) : data.flows[Math.round(state.at)].words;
}

// For each pair of codes the mixed one, rounded up as they are: no depth is told too small.
function pairTable(share, values) {
  const table = new Uint8Array(65536);
  for (let low = 0; low < 256; low++) {
    let code = 0;
    for (let high = 0; high < 256; high++) {
      const at = (low << 8) | high;
      if (low > TOP || high > TOP) {
        table[at] = low === UNKNOWN || high === UNKNOWN ? UNKNOWN : OFF_MAP;
        continue;
      }
      const value = (1 - share) * values[low] + share * values[high];
      while (code < TOP && values[code] < value - 1e-6) code++;
      table[at] = code;
    }
  }
  return table;
}

// Speeds: where only one of the two is wet, its speed. Code 0 is dry.
function speedPairs(share) {
  const table = pairTable(
    share,
    Float64Array.from({ length: 256 }, (_, code) => code),
  );
  for (let code = 1; code <= TOP; code++) table[code] = table[code << 8] = code;
  return table;
}

// Names the water at a position.
function keyAt(at) {
  const { low, share } = mixOf(at);
  return share ? at.toFixed(4) : String(low);
}

// The water at a position. `codes` gives the bytes of one tile: depth, speed or grade.
class Field {
  constructor(at, bytes) {
    Object.assign(this, mixOf(at), { at, bytes, made: new Map(), key: keyAt(at) });
  }
  // The table of pairs is made when it is first needed.
  pairs(quantity) {
    const name = quantity + "Pairs";
    if (!this[name])
      this[name] = quantity === "depth" ? pairTable(this.share, depthOf) : speedPairs(this.share);
    return this[name];
  }
  codes(quantity, number) {
    const [low, high] = this.bytes[quantity];
    const from = number * tileBytes;
    if (!this.share && quantity === "depth") return low.subarray(from, from + tileBytes);
    const key = quantity + number;
    if (this.made.has(key)) return this.made.get(key);
    const codes = new Uint8Array(tileBytes);
    if (quantity === "depth") {
      const table = this.pairs("depth");
      for (let i = 0; i < tileBytes; i++) codes[i] = table[(low[from + i] << 8) | high[from + i]];
    } else {
      const depths = this.codes("depth", number);
      const speeds = quantity === "speed" ? this.pairs("speed") : null;
      for (let i = 0; i < tileBytes; i++) {
        const depth = depths[i];
        if (!isWater(depth)) {
          codes[i] = depth >= OFF_MAP ? (speeds ? depth : depth === UNKNOWN ? 4 : 0) : 0;
        } else if (speeds) {
          codes[i] = speeds[(low[from + i] << 8) | high[from + i]] || UNKNOWN;
        } else {
          const worse = Math.max(low[from + i], high[from + i]);
          codes[i] = worse > 4 ? NOT_GRADED : worse || NOT_GRADED;
        }
      }
    }
    this.made.set(key, codes);
    return codes;
  }
  // The code at a place; what lies on no tile is dry, beyond the outline it is off the map.
  codeAt(quantity, place) {
    const found = cellAt(place, tileCells);
    return found.tile < 0 ? found.code : this.codes(quantity, found.tile)[found.cell];
  }
}

// Adds the bytes of one raster to those of another, each modulo 256; four in one go.
function addBytes(to, from) {
  const [a, b] = [to, from].map((bytes) => new Uint32Array(bytes.buffer, 0, bytes.length >> 2));
  for (let i = 0; i < a.length; i++)
    a[i] = ((a[i] & 0x7f7f7f7f) + (b[i] & 0x7f7f7f7f)) ^ ((a[i] ^ b[i]) & 0x80808080);
  return to;
}

// A raster of the page: the first flow's is whole, every other is stored as what it adds to another.
async function unpackedRaster(quantity, flow) {
  const bytes = await inflate(data.rasters[quantity][flow]);
  return flow ? addBytes(bytes, await raster(quantity, flow & (flow - 1))) : bytes;
}

// Puts an entry of a map at the end of its line: the first in it is the first to go.
function toEnd(kept, key, value) {
  kept.delete(key);
  kept.set(key, value);
  return value;
}

// Bytes of one quantity at one flow; the last few are kept, as many as 64 MB hold.
const KEPT = Math.max(8, Math.min(40, Math.floor(64e6 / Math.max(1, data.tiles.at.length * tileBytes))));
const rasters = new Map();
async function raster(quantity, flow) {
  const key = quantity + flow;
  const promise = toEnd(rasters, key, rasters.get(key) || unpackedRaster(quantity, flow));
  while (rasters.size > KEPT) rasters.delete(rasters.keys().next().value);
  return promise;
}

// The field at a position with some quantities in it; depth is always there.
async function fieldAt(at, quantities) {
  const { low, high } = mixOf(at);
  const names = [...new Set(["depth", ...quantities])];
  const both = await Promise.all(
    names.map((name) => Promise.all([raster(name, low), raster(name, high)])),
  );
  return new Field(at, Object.fromEntries(names.map((name, i) => [name, both[i]])));
}

// The tile and the cell in it at a place, or the code where there is none.
function cellAt(place, cells) {
  const { x, y } = filePoint(place);
  const side = data.tiles.side;
  for (let i = 0; i < data.tiles.at.length; i++) {
    const across = (x - data.tiles.at[i][0]) / side;
    const down = (data.tiles.at[i][1] - y) / side;
    if (across < 0 || across >= 1 || down < 0 || down >= 1) continue;
    return { tile: i, cell: Math.floor(down * cells) * cells + Math.floor(across * cells) };
  }
  return { tile: -1, code: insideOutline(x, y) ? DRY : OFF_MAP };
}

// What a raster holds at a place: its code, OFF_MAP beyond its outline, DRY on tiles left out.
function codeAt(bytes, place, cells = tileCells) {
  const found = cellAt(place, cells);
  return found.tile < 0 ? found.code : bytes[found.tile * cells * cells + found.cell];
}

// Whether a point lies in the four-cornered outline of the raster.
function insideOutline(x, y) {
  const corners = data.tiles.outline;
  let inside = false;
  for (let i = 0, j = corners.length - 2; i < corners.length; j = i, i += 2) {
    const above = corners[i + 1] > y !== corners[j + 1] > y;
    if (
      above &&
      x <
        ((corners[j] - corners[i]) * (y - corners[i + 1])) / (corners[j + 1] - corners[i + 1]) +
          corners[i]
    )
      inside = !inside;
  }
  return inside;
}

// Reads depth, speed and grade at a place: { what: "wet" | "dry" | "unknown" | "off", depth, speed,
// grade }.
function readingFrom(field, place) {
  const depth = field.codeAt("depth", place);
  if (depth === OFF_MAP) return { what: "off" };
  if (depth === UNKNOWN) return { what: "unknown" };
  if (!isWater(depth)) return { what: "dry" };
  const speed = field.codeAt("speed", place);
  return {
    what: "wet",
    depth: depthOf[depth],
    speed: speed > 0 && speed <= TOP ? speed * data.tiles.speedStep : null,
    grade: field.bytes.grade ? field.codeAt("grade", place) : 0,
  };
}
