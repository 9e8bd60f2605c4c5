// Fitting the angler's own picture: pairs of a spot on it and where that spot truly lies.
import { button, made, say } from "./dom.js";
import { invert, offBy, rms } from "./fit.js";
import { pictureCorners, pictureFit } from "./ground.js";
import { readPlace } from "./places.js";
import { state, publish } from "./state.js";
import { centre, closeSheet, fit, onGround, redraw, view } from "./viewport.js";
import { keepBasemap } from "./client.js";

export function startPairing() {
  state.pairing = { spot: null };
  closeSheet();
  publish("basemap", "pairing");
  say("Tap a spot on the picture.");
}

export function stopPairing() {
  state.pairing = null;
  publish("basemap", "pairing");
}

/** First tap: the spot on the picture. Second: where it truly lies. */
export function pairAt(at) {
  const place = onGround(at);
  if (!state.pairing.spot) {
    const now = pictureFit(), spot = invert(now.fit, now.frame.flat(place)), told = state.basemap.picture;
    if (!spot || spot[0] < 0 || spot[1] < 0 || spot[0] > told.width || spot[1] > told.height) {
      say("That is beside the picture. Tap a spot on it.");
      return;
    }
    state.pairing = { spot };
    publish("basemap", "pairing");
    say("Now tap where that spot truly lies, or type its latitude and longitude.");
    return;
  }
  pairPlace(place);
}

export async function pairPlace(place) {
  const { spot } = state.pairing, told = state.basemap.picture;
  state.pairing = null;
  publish("pairing");
  await change({ points: [...told.points, [...spot, ...place]] });
  if (!view.map.getBounds().contains([place[1], place[0]])) fit(window.L.latLngBounds(pictureCorners().map(([lon, lat]) => [lat, lon])), 18);
  say(`Pair ${state.basemap.picture.points.length} kept.`);
}

/** What stands on the map while a pair is put. */
export function pairingBar() {
  const { spot } = state.pairing;
  const input = made("input", { type: "text", id: "pair-place", placeholder: "latitude, longitude", "aria-label": "Latitude, longitude of that spot" });
  const put = () => {
    const place = readPlace(input.value);
    input.setAttribute("aria-invalid", place ? "false" : "true");
    if (place) pairPlace(place);
  };
  input.addEventListener("keydown", (event) => { if (event.key === "Enter") put(); });
  return [
    made("p.bar-how", {}, made("strong", {}, spot ? "Where does that spot truly lie?" : "A spot on the picture"),
      spot ? " Tap there on the map, or type it." : " Tap something on it that you can place: a bridge, a mouth, a crossing of lines."),
    spot ? made("div.field-row", {}, input, button("Put", put)) : null,
    made("div.bar-acts", {}, button("Take this spot", () => pairAt(centre()), { class: "plate-button at-sight" }), button("Leave", stopPairing)),
  ].filter(Boolean);
}

/** Change something of the picture and keep it. */
export async function change(part) {
  const next = { ...state.basemap, picture: { ...state.basemap.picture, ...part } };
  state.basemap = next;
  publish("basemap");
  await keepBasemap(next);
  redraw();
}

/** How well the picture fits: the pairs' errors [m], their root mean square, and in words how. */
export function fitNow() {
  const now = pictureFit(), off = offBy(now.fit, now.pairs);
  return { off, all: rms(off), how: now.how, count: now.pairs.length };
}
