// Fitting a picture to the ground by control points: pure. Picture pixels run right and down,
// the ground's metres right and up. A pair is [u, v, x, y].
// The fit is {a, b, c, d, e, f}: x = a u + b v + c, y = d u + e v + f.

/** Least-squares similarity: moved, turned and scaled, never sheared or mirrored. */
export function similarity(pairs) {
  const [u0, v0, x0, y0] = middleOf(pairs);
  let square = 0, along = 0, across = 0;
  for (const [u, v, x, y] of pairs) {
    const p = u - u0, q = -(v - v0), r = x - x0, s = y - y0;
    square += p * p + q * q;
    along += p * r + q * s;
    across += p * s - q * r;
  }
  if (!(square > 0)) return null;
  const k = along / square, m = across / square; // x' = k p - m q, y' = m p + k q
  return whole({ a: k, b: m, d: m, e: -k }, [u0, v0, x0, y0]);
}

/** Least-squares affine fit: also stretched and sheared; null where the pairs lie on one line. */
export function affine(pairs) {
  const [u0, v0, x0, y0] = middleOf(pairs);
  let uu = 0, uv = 0, vv = 0, ux = 0, vx = 0, uy = 0, vy = 0;
  for (const [u, v, x, y] of pairs) {
    const p = u - u0, q = v - v0;
    uu += p * p; uv += p * q; vv += q * q;
    ux += p * (x - x0); vx += q * (x - x0);
    uy += p * (y - y0); vy += q * (y - y0);
  }
  const det = uu * vv - uv * uv;
  if (!(det > 1e-9 * uu * vv)) return null;
  const solve = (one, two) => [(one * vv - two * uv) / det, (two * uu - one * uv) / det];
  const [a, b] = solve(ux, vx), [d, e] = solve(uy, vy);
  return whole({ a, b, d, e }, [u0, v0, x0, y0]);
}

/** A fit that lays a picture down by hand: its middle at x, y, `wide` metres wide, turned. */
export function laid(width, height, [x, y], wide, turnDeg) {
  const scale = wide / width, turn = (turnDeg * Math.PI) / 180;
  const c = scale * Math.cos(turn), s = scale * Math.sin(turn);
  return whole({ a: c, b: s, d: s, e: -c }, [width / 2, height / 2, x, y]);
}

export function apply(fit, [u, v]) {
  return [fit.a * u + fit.b * v + fit.c, fit.d * u + fit.e * v + fit.f];
}

/** The picture's pixel at a place on the ground; null where the fit is flat. */
export function invert(fit, [x, y]) {
  const det = fit.a * fit.e - fit.b * fit.d;
  if (!det) return null;
  const p = x - fit.c, q = y - fit.f;
  return [(fit.e * p - fit.b * q) / det, (fit.a * q - fit.d * p) / det];
}

/** How far each pair is off [m]. */
export function offBy(fit, pairs) {
  return pairs.map(([u, v, x, y]) => {
    const [gx, gy] = apply(fit, [u, v]);
    return Math.hypot(gx - x, gy - y);
  });
}

/** Root of the mean square. */
export function rms(values) {
  return values.length ? Math.sqrt(values.reduce((sum, one) => sum + one * one, 0) / values.length) : 0;
}

function middleOf(pairs) {
  const sum = [0, 0, 0, 0];
  for (const pair of pairs) pair.forEach((one, i) => { sum[i] += one; });
  return sum.map((one) => one / pairs.length);
}

function whole(turn, [u0, v0, x0, y0]) {
  return { ...turn, c: x0 - turn.a * u0 - turn.b * v0, f: y0 - turn.d * u0 - turn.e * v0 };
}
