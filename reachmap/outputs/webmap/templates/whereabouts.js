// What the map knows about a place: the water and its wading grade, the run, the river's direction,
// the next place to stand. Plain functions of the data; position.js words them.

const GRADE_NAMES = ["", "easy", "careful", "no", "unknown"]; // by the codes of the water's grade
const ROUGH_M = 60; // a place worse than this tells nothing of the water (our choice, 30 to 100)
const ABOUT_M = 40; // m of river line on either side over which its direction is taken (our choice)
const STAND_APART_M = 5; // a stand nearer than this is the one where one is (our choice)
const LOOK_M = 3; // m between the places looked at within the circle, at least (our choice)

// Whether a point of file coordinates lies in a feature's outline; islands are rings of their own.
function isInside(feature, x, y) {
  if (!feature.closed || !boxHolds(feature.box, { x, y })) return false;
  let inside = false;
  for (const points of feature.rings) {
    for (let i = 0, j = points.length - 2; i < points.length; j = i, i += 2) {
      const over = points[i + 1] > y !== points[j + 1] > y;
      if (
        over &&
        x < ((points[j] - points[i]) * (y - points[i + 1])) / (points[j + 1] - points[i + 1]) + points[i]
      )
        inside = !inside;
    }
  }
  return inside;
}

// From what one can stand on to what nobody knows: the order in which a place is worse.
const WATER_RANK = ["dry", "easy", "careful", "no", "unknown", "off"];
function waterAt(place, field) {
  const read = readingFrom(field, place);
  if (read.what !== "wet") return { rank: read.what, depth: null };
  return { rank: GRADE_NAMES[read.grade] || "unknown", depth: read.depth, speed: read.speed };
}

// The water where one is, and the worst of it within the circle that the phone vouches for.
async function waterAround(place, radius) {
  const at = state.at;
  const field = await fieldAt(at, ["speed", "grade"]);
  if (at !== state.at) return null;
  const here = waterAt(place, field);
  const near = { rank: here.rank, depth: here.depth };
  const { x, y } = filePoint(place);
  const step = Math.max(LOOK_M, radius / 8);
  for (let dy = -radius; dy <= radius; dy += step) {
    for (let dx = -radius; dx <= radius; dx += step) {
      if (Math.hypot(dx, dy) > radius) continue;
      const there = waterAt(latLng(x + dx * data.metre, y + dy * data.metre), field);
      if (there.depth !== null) near.depth = Math.max(near.depth || 0, there.depth);
      if (WATER_RANK.indexOf(there.rank) > WATER_RANK.indexOf(near.rank)) near.rank = there.rank;
    }
  }
  return { here, near };
}

// The stretch that a place lies in, as its position in `runs`; -1 for none.
function runAt(place) {
  const { x, y } = filePoint(place);
  const mine = features.find(
    (one) => isRun(one) && (one.flow < 0 || one.flow === state.flow) && isInside(one, x, y),
  );
  return mine ? mine.run : -1;
}

// Where a place lies by the river: the line's direction there as a unit step of file coordinates,
// how far down the line [m], and on which side: above 0 river left, below 0 river right.
function byRiver(place) {
  const { x, y } = filePoint(place);
  let best = null;
  for (const river of features.filter((one) => one.kind === "river")) {
    for (const points of river.rings) {
      let along = 0;
      for (let i = 2; i < points.length; i += 2) {
        const [ax, ay] = [points[i - 2], points[i - 1]];
        const [dx, dy] = [points[i] - ax, points[i + 1] - ay];
        const long = Math.hypot(dx, dy);
        if (!long) continue;
        const share = Math.max(0, Math.min(1, ((x - ax) * dx + (y - ay) * dy) / (long * long)));
        const far = Math.hypot(x - ax - share * dx, y - ay - share * dy);
        if (!best || far < best.far)
          best = { far, points, at: along + share * long, side: dx * (y - ay) - dy * (x - ax) };
        along += long;
      }
    }
  }
  if (!best) return null;
  const reach = ABOUT_M * data.metre;
  const [from, to] = [pointAlong(best.points, best.at - reach), pointAlong(best.points, best.at + reach)];
  const long = Math.hypot(to[0] - from[0], to[1] - from[1]) || 1;
  return {
    east: (to[0] - from[0]) / long,
    north: (to[1] - from[1]) / long,
    along: best.at / data.metre,
    line: best.points,
    side: Math.sign(best.side),
  };
}

// The point so far down a line of file coordinates; its ends beyond them.
function pointAlong(points, far) {
  let left = Math.max(0, far);
  for (let i = 2; i < points.length; i += 2) {
    const [dx, dy] = [points[i] - points[i - 2], points[i + 1] - points[i - 1]];
    const long = Math.hypot(dx, dy);
    if (left <= long && long) return [points[i - 2] + (dx * left) / long, points[i - 1] + (dy * left) / long];
    left -= long;
  }
  return [points[points.length - 2], points[points.length - 1]];
}

// The next place to stand at this flow on this bank: the nearest downstream, else the nearest.
function nextStand(place) {
  const here = byRiver(place);
  if (!here) return null;
  const { x, y } = filePoint(place);
  const stands = (featuresNow().get("station") || [])
    .filter((one) => one.mark !== "blocked" && one.mark !== "look")
    .map((one) => {
      const there = byRiver(latLng(one.x, one.y));
      const far = Math.hypot(one.x - x, one.y - y) / data.metre;
      return { feature: one, far, down: there.along - here.along, same: there.line === here.line, side: there.side };
    })
    .filter((one) => one.side === here.side && one.same && one.far > STAND_APART_M)
    .sort((a, b) => a.far - b.far);
  const next = stands.find((one) => one.down > 0) || stands[0];
  if (!next) return null;
  const way = Math.abs(next.down) < next.far / 3 ? "across" : next.down > 0 ? "down" : "up";
  return { ...next, way };
}
