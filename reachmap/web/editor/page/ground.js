// What lies beneath the marks: the metric grid, the angler's own picture, shaded ground, own tiles.
import { affine, apply, laid, similarity } from "./fit.js";
import { isNight } from "./styles.js";
import { flatAbout, roundBelow } from "./places.js";
import { subscribe, state } from "./state.js";
import { metresPerPixel, onScreen, redraw, view } from "./viewport.js";

const FARTHEST_M = 3000; // metres a pixel from which a grid says nothing

let relief = null, air = null, tiles = null, picture = null, pictureFile = "";

export function layGround() {
  const L = window.L;
  if (state.relief && !relief) {
    const [south, west, north, east] = state.relief;
    relief = L.imageOverlay("relief.webp", [[south, west], [north, east]], { className: "shaded", alt: "" }).addTo(view.map);
  }
  if (state.imagery && !air) {
    const [south, west, north, east] = state.imagery;
    air = L.imageOverlay("imagery.webp", [[south, west], [north, east]], { className: "air", alt: "", zIndex: 2 }).addTo(view.map);
    showImagery({});
  }
  if (state.basemap.tiles && !tiles) {
    tiles = L.tileLayer(state.basemap.tiles, { maxZoom: 23, maxNativeZoom: 19, className: "own-tiles", referrerPolicy: "no-referrer" }).addTo(view.map);
  }
  const wanted = state.basemap.picture ? state.basemap.picture.file : "";
  if (wanted !== pictureFile) {
    pictureFile = wanted;
    picture = null;
    if (wanted) {
      const image = new Image();
      image.onload = () => { picture = image; redraw(); };
      image.src = `picture/${wanted}`;
    }
  }
}

/** How the folder's picture from the air is shown, until the page is closed. */
export const imagerySeen = { shown: true, seen: 0.9 };
export function showImagery(changed) {
  Object.assign(imagerySeen, changed);
  if (air) air.setOpacity(imagerySeen.shown ? imagerySeen.seen : 0);
}

/** The picture's fit in the flat frame about its first place: {fit, frame, pairs, how}. */
export function pictureFit(told = state.basemap.picture) {
  const [lon, lat, wide, turn] = told.place, frame = flatAbout([lon, lat]);
  const pairs = told.points.map(([u, v, x, y]) => [u, v, ...frame.flat([x, y])]);
  let fit = null, how = "laid by hand";
  if (pairs.length >= 3 && told.stretch) { fit = affine(pairs); how = "turned, scaled and stretched"; }
  if (!fit && pairs.length >= 2) { fit = similarity(pairs); how = "turned and scaled"; }
  if (!fit) {
    fit = laid(told.width, told.height, [0, 0], wide, turn);
    if (pairs.length === 1) {
      const [u, v, x, y] = pairs[0], [gx, gy] = apply(fit, [u, v]);
      fit = { ...fit, c: fit.c + x - gx, f: fit.f + y - gy };
      how = "moved to one pair";
    }
  }
  return { fit, frame, pairs, how };
}

/** The picture's corners on the ground. */
export function pictureCorners() {
  const told = state.basemap.picture, { fit, frame } = pictureFit(told);
  return [[0, 0], [told.width, 0], [told.width, told.height], [0, told.height]].map((spot) => frame.round(apply(fit, spot)));
}

export function paintGround(viewNow) {
  if (!state.basemap || !state.units) return;
  if (picture && state.basemap.picture && state.basemap.picture.shown) paintPicture(viewNow);
  if (state.basemap.grid && metresPerPixel() < FARTHEST_M) paintGrid(viewNow);
}

function paintPicture({ pen }) {
  const told = state.basemap.picture, { fit, frame } = pictureFit(told);
  const screen = (spot) => onScreen(frame.round(apply(fit, spot)));
  const [ox, oy] = screen([0, 0]), [rx, ry] = screen([told.width, 0]), [dx, dy] = screen([0, told.height]);
  pen.save();
  pen.globalAlpha = told.seen * (isNight() ? 0.55 : 1);
  pen.transform((rx - ox) / told.width, (ry - oy) / told.width, (dx - ox) / told.height, (dy - oy) / told.height, ox, oy);
  pen.imageSmoothingQuality = "high";
  pen.drawImage(picture, 0, 0, told.width, told.height);
  pen.restore();
  if (state.pairing || view.fitting) paintPairs(pen, told, fit, frame);
}

/** Each pair: a cross where the picture's spot has come to lie, a ring where it should. */
function paintPairs(pen, told, fit, frame) {
  const ink = isNight() ? "#ffb4a6" : "#7a0f0a", spots = told.points.map(([u, v]) => [u, v]);
  pen.lineWidth = 2.5; pen.strokeStyle = ink; pen.fillStyle = ink; pen.setLineDash([]);
  told.points.forEach(([, , lon, lat], i) => {
    const [x, y] = onScreen([lon, lat]), [sx, sy] = onScreen(frame.round(apply(fit, spots[i])));
    pen.beginPath(); pen.arc(x, y, 9, 0, 2 * Math.PI); pen.stroke();
    cross(pen, sx, sy);
    pen.font = "600 14px system-ui, sans-serif";
    pen.fillText(String(i + 1), x + 14, y - 12);
  });
  if (state.pairing && state.pairing.spot) cross(pen, ...onScreen(frame.round(apply(fit, state.pairing.spot))));
}

function cross(pen, x, y) {
  pen.beginPath();
  pen.moveTo(x - 8, y - 8); pen.lineTo(x + 8, y + 8); pen.moveTo(x + 8, y - 8); pen.lineTo(x - 8, y + 8);
  pen.stroke();
}

/** A grid in the folder's unit of distance, counted from the place to begin. */
function paintGrid({ pen, map }) {
  const step = gridStep(), { x: wide, y: high } = map.getSize();
  const home = state.basemap.start || firstCorner() || [map.getCenter().lng, map.getCenter().lat];
  const frame = flatAbout(home), unit = state.units.distance_m;
  const corner = (x, y) => { const p = map.containerPointToLatLng([x, y]); return frame.flat([p.lng, p.lat]); };
  const [west, north] = corner(0, 0), [east, south] = corner(wide, high);
  if ((east - west) / step > 200) return;
  const quiet = Boolean(state.relief || state.basemap.tiles || (picture && state.basemap.picture.shown));
  pen.save();
  pen.lineWidth = 1; pen.setLineDash([]);
  pen.font = "500 11px system-ui, sans-serif"; pen.textBaseline = "top"; pen.textAlign = "left";
  const ink = isNight() ? "233, 223, 201" : "28, 42, 43";
  const line = (value, along) => {
    const number = Math.round(value / step), strong = number % 5 === 0;
    if (quiet && !strong) return;
    pen.strokeStyle = `rgba(${ink}, ${strong ? 0.26 : 0.12})`;
    const [x, y] = onScreen(frame.round(along === "x" ? [value, south] : [west, value]));
    const at = Math.round(along === "x" ? x : y) + 0.5;
    pen.beginPath();
    if (along === "x") { pen.moveTo(at, 0); pen.lineTo(at, high); } else { pen.moveTo(0, at); pen.lineTo(wide, at); }
    pen.stroke();
    if (!strong) return;
    pen.fillStyle = `rgba(${ink}, 0.72)`;
    const text = `${Math.round(Math.abs(value) / unit).toLocaleString("en")}${number === 0 ? ` ${state.units.distance}` : along === "x" ? (number > 0 ? " E" : " W") : (number > 0 ? " N" : " S")}`;
    if (along === "x") pen.fillText(text, at + 3, 64); else if (at > 60) pen.fillText(text, 4, at + 3);
  };
  for (let v = Math.ceil(west / step) * step; v <= east; v += step) line(v, "x");
  for (let v = Math.ceil(south / step) * step; v <= north; v += step) line(v, "y");
  pen.restore();
}

export function gridStep() {
  const unit = state.units.distance_m;
  return roundBelow((95 * metresPerPixel()) / unit) * unit;
}

function firstCorner() {
  const mark = state.marks.find((one) => one.paths.length);
  return mark ? mark.paths[0][0] : null;
}

export function hearGround() {
  subscribe("basemap", layGround);
}
