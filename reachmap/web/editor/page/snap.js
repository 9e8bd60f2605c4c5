// Snapping: pure, in screen pixels. A corner nearby wins over the line beside it.

/**
 * Find what a pointer at `at` [x, y] snaps to.
 * `lines`: [{points: [[x, y]...], closed, key}]; `reach`: pixels.
 * Returns {kind: "corner" | "line", x, y, key, index, share} or null: corner `index`, or the point
 * `share` of the way from corner `index` to the next.
 */
export function snapTo(at, lines, reach) {
  return nearestCorner(at, lines, reach) || nearestOnLine(at, lines, reach);
}

export function nearestCorner(at, lines, reach) {
  let best = null, far = reach;
  for (const line of lines) {
    line.points.forEach(([x, y], index) => {
      const gap = Math.hypot(x - at[0], y - at[1]);
      if (gap <= far) {
        far = gap;
        best = { kind: "corner", x, y, key: line.key, index, share: 0 };
      }
    });
  }
  return best;
}

export function nearestOnLine(at, lines, reach) {
  let best = null, far = reach;
  for (const line of lines) {
    const count = line.points.length, last = line.closed ? count : count - 1;
    for (let index = 0; index < last; index += 1) {
      const [ax, ay] = line.points[index], [bx, by] = line.points[(index + 1) % count];
      const ux = bx - ax, uy = by - ay, square = ux * ux + uy * uy;
      if (!square) continue;
      const share = Math.max(0, Math.min(1, ((at[0] - ax) * ux + (at[1] - ay) * uy) / square));
      const x = ax + share * ux, y = ay + share * uy, gap = Math.hypot(x - at[0], y - at[1]);
      if (gap <= far) {
        far = gap;
        best = { kind: "line", x, y, key: line.key, index, share };
      }
    }
  }
  return best;
}

/** Whether a point lies inside a ring, by the even-odd rule. */
export function inside(at, ring) {
  let within = false;
  for (let i = 0, j = ring.length - 1; i < ring.length; j = i, i += 1) {
    const [ax, ay] = ring[i], [bx, by] = ring[j];
    if (ay > at[1] !== by > at[1] && at[0] < ((bx - ax) * (at[1] - ay)) / (by - ay) + ax) within = !within;
  }
  return within;
}
