// The map: moving over the ground, and one canvas on which everything is drawn.
import { byId } from "./dom.js";
import { subscribe, state } from "./state.js";
import { pictureCorners } from "./ground.js";
import { paint } from "./paint.js";

export const view = { map: null, pen: null, canvas: null, pointer: null, snapped: null, touch: false };

const FAR_AWAY = [[-60, -170], [70, 170]];

export function makeMap() {
  const map = window.L.map("map", {
    zoomControl: false, attributionControl: false, zoomAnimation: false, fadeAnimation: false, markerZoomAnimation: false,
    doubleClickZoom: false, keyboard: false, boxZoom: false, zoomSnap: 0.25, wheelPxPerZoomLevel: 120, maxZoom: 23,
    inertia: false, tap: false,
  });
  map.fitBounds(FAR_AWAY);
  view.map = map;
  view.canvas = document.createElement("canvas");
  view.canvas.className = "drawn";
  view.canvas.setAttribute("aria-hidden", "true");
  byId("map").append(view.canvas);
  view.pen = view.canvas.getContext("2d");
  map.on("move zoom resize viewreset", redraw);
  subscribe("marks draft chosen basemap view check drafted brought", redraw);
  new ResizeObserver(() => { map.invalidateSize({ animate: false }); redraw(); }).observe(byId("map"));
  return map;
}

let due = false;

export function redraw() {
  if (due) return;
  due = true;
  requestAnimationFrame(() => {
    due = false;
    fitCanvas();
    paint(view);
  });
}

function fitCanvas() {
  const size = view.map.getSize(), dense = Math.min(2, devicePixelRatio || 1);
  if (view.canvas.width !== size.x * dense || view.canvas.height !== size.y * dense) {
    view.canvas.width = size.x * dense;
    view.canvas.height = size.y * dense;
    view.canvas.style.width = `${size.x}px`;
    view.canvas.style.height = `${size.y}px`;
  }
  view.pen.setTransform(dense, 0, 0, dense, 0, 0);
  view.pen.clearRect(0, 0, size.x, size.y);
}

/** Longitude and latitude on the screen [px]. */
export function onScreen([lon, lat]) {
  const point = view.map.latLngToContainerPoint([lat, lon]);
  return [point.x, point.y];
}

/** A pixel's longitude and latitude. */
export function onGround([x, y]) {
  const place = view.map.containerPointToLatLng([x, y]);
  return [place.lng, place.lat];
}

export function centre() {
  const size = view.map.getSize();
  return [size.x / 2, size.y / 2];
}

/** Metres that one pixel spans in the middle of the map. */
/** West, south, east and north of what the map shows. */
export function shownBox() {
  const bounds = view.map.getBounds();
  return [bounds.getWest(), bounds.getSouth(), bounds.getEast(), bounds.getNorth()];
}

export function metresPerPixel() {
  const { lat } = view.map.getCenter();
  return (40075016.686 * Math.cos((lat * Math.PI) / 180)) / 256 / 2 ** view.map.getZoom();
}

/** The outline of all that is to be seen, as Leaflet's bounds; null where there is nothing. */
export function wholeBounds() {
  const bounds = window.L.latLngBounds([]);
  for (const mark of state.marks) for (const path of mark.paths) for (const [lon, lat] of path) bounds.extend([lat, lon]);
  for (const other of [...state.elsewhere, { marks: state.drafted }]) for (const mark of other.marks) for (const path of mark.paths) for (const [lon, lat] of path) bounds.extend([lat, lon]);
  if (state.draft) for (const [lon, lat] of state.draft.path) bounds.extend([lat, lon]);
  if (!bounds.isValid() && state.relief) {
    const [south, west, north, east] = state.relief;
    bounds.extend([south, west]).extend([north, east]);
  }
  if (!bounds.isValid() && state.basemap && state.basemap.picture) for (const [lon, lat] of pictureCorners()) bounds.extend([lat, lon]);
  return bounds.isValid() ? bounds : null;
}

/** Pixels at the lower edge that the ledger covers on a phone. */
function covered() {
  const narrow = matchMedia("(max-width: 560px), (max-width: 1000px) and (orientation: portrait)").matches;
  return narrow && document.documentElement.dataset.sheet === "open" ? byId("panel").offsetHeight : 0;
}

/** Close the ledger on a phone; what was in the middle of the open part comes to the middle. */
export function closeSheet() {
  const by = covered() / 2;
  document.documentElement.dataset.sheet = "closed";
  if (by) view.map.panBy([0, -by], { animate: false });
}

/** Fit bounds into what is to be seen of the map. */
export function fit(bounds, maxZoom) {
  view.map.fitBounds(bounds, { animate: false, maxZoom, paddingTopLeft: [20, covered() ? 64 : 20], paddingBottomRight: [20, covered() + 20] });
}

export function showWhole() {
  const bounds = wholeBounds();
  if (bounds) fit(bounds, 19);
  else if (state.basemap && state.basemap.start) showPlace(state.basemap.start, 17);
}

export function showPlace([lon, lat], zoom = null) {
  view.map.setView([lat, lon], zoom ?? Math.max(17, view.map.getZoom()), { animate: false });
  if (covered()) view.map.panBy([0, covered() / 2], { animate: false });
}

export function showMark(mark) {
  if (!mark.paths.length) return;
  const bounds = window.L.latLngBounds(mark.paths.flat().map(([lon, lat]) => [lat, lon]));
  if (covered() || !view.map.getBounds().contains(bounds)) fit(bounds.pad(0.2), Math.max(18, view.map.getZoom()));
}
