// Places and lengths: pure, no page. Longitude and latitude in degrees, lengths in metres.
export const EARTH_M = 6371008.8; // mean radius, IUGG 1980 (from memory)
const RAD = Math.PI / 180;

/** Distance between two places over the ground [m], by the haversine formula. */
export function distance(a, b) {
  const dy = (b[1] - a[1]) * RAD, dx = (b[0] - a[0]) * RAD;
  const h = Math.sin(dy / 2) ** 2 + Math.cos(a[1] * RAD) * Math.cos(b[1] * RAD) * Math.sin(dx / 2) ** 2;
  return 2 * EARTH_M * Math.asin(Math.min(1, Math.sqrt(h)));
}

/** Length of a path [m]. */
export function pathLength(path) {
  let total = 0;
  for (let i = 1; i < path.length; i += 1) total += distance(path[i - 1], path[i]);
  return total;
}

/** A flat frame about a place: Mercator, true to length there. */
export function flatAbout(origin) {
  const scale = Math.cos(origin[1] * RAD);
  const up = (latitude) => Math.log(Math.tan(Math.PI / 4 + (latitude * RAD) / 2));
  const base = up(origin[1]);
  return {
    flat: ([lon, lat]) => [EARTH_M * (lon - origin[0]) * RAD * scale, EARTH_M * (up(lat) - base) * scale],
    round: ([x, y]) => [
      origin[0] + x / (EARTH_M * scale) / RAD,
      (2 * Math.atan(Math.exp(y / (EARTH_M * scale) + base)) - Math.PI / 2) / RAD,
    ],
  };
}

const ONE = /^\s*([NSEW])?\s*(-?\d+(?:\.\d+)?)\s*(?:°|d|deg)?\s*(?:(\d+(?:\.\d+)?)\s*['′m]?\s*)?(?:(\d+(?:\.\d+)?)\s*(?:"|″|s)?\s*)?([NSEW])?\s*$/i;

function oneAngle(text) {
  const match = ONE.exec(text);
  if (!match) return null;
  const letter = (match[1] || match[5] || "").toUpperCase();
  const minutes = Number(match[3] || 0), seconds = Number(match[4] || 0);
  if (minutes >= 60 || seconds >= 60) return null;
  const whole = Math.abs(Number(match[2])) + minutes / 60 + seconds / 3600;
  const minus = match[2].startsWith("-") !== (letter === "S" || letter === "W");
  return { value: minus ? -whole : whole, letter };
}

/** Read "46.2, -141.3", "46.2 N 141.3 W" or degrees and minutes; [longitude, latitude] or null. */
export function readPlace(text) {
  const cut = text.trim().replace(/\s+/g, " ");
  let parts = cut.split(/[,;]/).map((part) => part.trim()).filter(Boolean);
  if (parts.length !== 2) {
    const letters = /^(.*?[NS])\s*(.*[EW])$/i.exec(cut) || /^([NS].*?)\s*([EW].*)$/i.exec(cut);
    parts = letters ? [letters[1], letters[2]] : cut.split(" ");
  }
  if (parts.length !== 2) return null;
  let [first, second] = parts.map(oneAngle);
  if (!first || !second) return null;
  if ("EW".includes(first.letter) && first.letter) [first, second] = [second, first];
  if ((first.letter && !"NS".includes(first.letter)) || (second.letter && !"EW".includes(second.letter))) return null;
  if (Math.abs(first.value) > 84 || Math.abs(second.value) > 180) return null;
  return [second.value, first.value];
}

/** A place as it is typed. */
export function placeWords([lon, lat]) {
  return `${lat.toFixed(6)}, ${lon.toFixed(6)}`;
}

/** A round number at or below a value: 1, 2 or 5 times a power of ten. */
export function roundBelow(value) {
  const power = 10 ** Math.floor(Math.log10(value));
  const rest = value / power;
  return power * (rest >= 5 ? 5 : rest >= 2 ? 2 : 1);
}

/** A length in the folder's unit of distance, as one would say it. */
export function lengthWords(metres, units) {
  const value = metres / units.distance_m;
  const digits = value < 10 ? 1 : 0;
  return `${value.toLocaleString("en", { maximumFractionDigits: digits })} ${units.distance}`;
}

/** The middle of a mark's corners. */
export function middle(paths) {
  const corners = paths[0];
  const sum = corners.reduce((acc, c) => [acc[0] + c[0], acc[1] + c[1]], [0, 0]);
  return [sum[0] / corners.length, sum[1] / corners.length];
}
