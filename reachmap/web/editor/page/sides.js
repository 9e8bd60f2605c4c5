// Which side of the river a mark lies on, by most of its outline: pure, no page.
import { flatAbout, middle } from "./places.js";

const SAMPLES = 160; // spots along an outline; by trial on hairpin bends, 80 to 400 say the same
export const SURE_SHARE = 0.65; // share of the outline from which a side is proposed; our choice, 0.6-0.8

/**
 * The side of a line that most of an outline lies on: {side, share, beyond}, null for no line.
 * `share` of its length lies there; `beyond` is the share that is nearest to one of the line's ends.
 * The centre of a long bank may lie across the river, its outline does not.
 */
export function sideByOutline(line, paths) {
  if (!line || line.length < 2 || !paths.length || !paths[0].length) return null;
  const { flat } = flatAbout(middle(paths));
  const points = line.map(flat), spots = spotsAlong([...paths[0], paths[0][0]].map(flat));
  let left = 0, beyond = 0;
  for (const spot of spots) {
    const near = nearestSide(points, spot);
    if (near.cross >= 0) left += 1;
    if (near.end) beyond += 1;
  }
  const share = left / spots.length;
  return { side: share >= 0.5 ? "left" : "right", share: Math.max(share, 1 - share), beyond: beyond / spots.length };
}

/** "left", "right" or "island" where it is plain, else "": the main line first, then side channels. */
export function sideProposed(main, channels, paths) {
  const by = sideByOutline(main, paths);
  if (!by || by.share < SURE_SHARE) return { side: "", share: by ? by.share : 0 };
  for (const channel of channels) { // water on both sides: between the main line and a side channel
    const other = sideByOutline(channel, paths);
    if (other && other.side !== by.side && other.share >= SURE_SHARE && other.beyond < 0.3) return { side: "island", share: other.share };
  }
  return { side: by.side, share: by.share };
}

function spotsAlong(ring) {
  const lengths = ring.slice(1).map((b, i) => Math.hypot(b[0] - ring[i][0], b[1] - ring[i][1]));
  const total = lengths.reduce((sum, one) => sum + one, 0);
  if (!total) return [ring[0]];
  const spots = [];
  let at = 0, before = 0;
  for (let n = 0; n < SAMPLES; n += 1) {
    const far = (n + 0.5) * total / SAMPLES;
    while (at < lengths.length - 1 && before + lengths[at] < far) { before += lengths[at]; at += 1; }
    const t = lengths[at] ? (far - before) / lengths[at] : 0, a = ring[at], b = ring[at + 1];
    spots.push([a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1])]);
  }
  return spots;
}

/** Side of the nearest piece of a line; at a corner the piece that the spot stands more abreast of. */
function nearestSide(points, [x, y]) {
  let best = Infinity, cross = 0, end = false;
  for (let i = 1; i < points.length; i += 1) {
    const [ax, ay] = points[i - 1], [bx, by] = points[i];
    const ux = bx - ax, uy = by - ay, long = Math.hypot(ux, uy);
    if (!long) continue;
    const t = ((x - ax) * ux + (y - ay) * uy) / (long * long), held = Math.max(0, Math.min(1, t));
    const far = Math.hypot(x - ax - held * ux, y - ay - held * uy);
    const abreast = (ux * (y - ay) - uy * (x - ax)) / long;
    const same = Math.abs(far - best) < 1e-6 * (1 + far);
    if (far < best && !same || same && Math.abs(abreast) > Math.abs(cross)) {
      best = Math.min(far, best);
      cross = abreast;
      end = (i === 1 && t < 0) || (i === points.length - 1 && t > 1);
    }
  }
  return { cross, end };
}
