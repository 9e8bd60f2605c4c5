// What a dropped file is understood to be, in rows to nod at: pure, no page.
import { pathLength } from "./places.js";
import { SURE_SHARE, sideByOutline, sideProposed } from "./sides.js";

const MEETS_M = 30; // pieces of one line that end so near to each other follow one another; our choice

/** Things of a file with the layer proposed for each; `set` is what somebody changed. */
export function nodItems(found) {
  return found.map((one) => {
    const understood = one.understood || { layer: one.layer || "", values: one.values || {}, reasons: [] };
    return { shape: one.shape, paths: one.paths, label: one.label, understood, target: understood.layer, set: {} };
  });
}

/** The lines that sides are told by: the main line and the side channels, drawn ones first. */
function riverOf(items, drawn) {
  const lines = items.filter((one) => one.target === "river" && one.shape === "LineString");
  const part = (one) => one.set.part ?? one.understood.values.part ?? "";
  const main = lines.filter((one) => part(one) !== "side").sort((a, b) => pathLength(b.paths[0]) - pathLength(a.paths[0]))[0] || null;
  const channels = lines.filter((one) => one !== main && part(one) !== "main");
  return { main: drawn.main || (main && main.paths[0]), item: drawn.main ? null : main, channels: [...drawn.channels, ...channels.map((one) => one.paths[0])] };
}

/** A line with outlines on both its sides is the river, where no line says that it is. */
export function proposeRiver(items, drawn) {
  if (drawn.main || items.some((one) => one.target === "river")) return;
  const outlines = items.filter((one) => one.target === "banks");
  const lines = items.filter((one) => one.shape === "LineString" && !one.target);
  lines.sort((a, b) => pathLength(b.paths[0]) - pathLength(a.paths[0]));
  for (const line of lines) {
    const sides = new Set(outlines.map((one) => sideByOutline(line.paths[0], one.paths)).filter((by) => by.share >= SURE_SHARE).map((by) => by.side));
    if (sides.size === 2) {
      line.target = "river";
      line.understood = { layer: "river", values: { name: line.label, part: "main" }, reasons: [{ field: "", between: true }] };
      return;
    }
  }
}

function meets(a, b) {
  const ends = (line) => [line[0], line[line.length - 1]];
  return ends(a).some((from) => ends(b).some((to) => pathLength([from, to]) < MEETS_M));
}

/** A thing's fields, and why each was proposed: {values, reasons, conflict}. */
function proposed(item, layer, river) {
  const own = item.target === item.understood.layer;
  const free = layer.fields.some((one) => one.name === "name") ? "name" : "note";
  const values = own ? { ...item.understood.values } : layer.fields.some((one) => one.name === free) && item.label ? { [free]: item.label } : {};
  const reasons = own ? [...item.understood.reasons] : [];
  let conflict = "";
  if (item.target === "river" && !values.part && river.item && item !== river.item && !meets(item.paths[0], river.item.paths[0])) {
    values.part = "side";
    reasons.push({ field: "part", shorter: true });
  }
  if (item.target === "banks" && river.main) {
    const by = sideProposed(river.main, river.channels, item.paths);
    if (!values.side && by.side) {
      values.side = by.side;
      reasons.push({ field: "side", share: by.share });
    }
    const now = item.set.side ?? values.side;
    if (by.side && now && by.side !== now && now !== "island") conflict = by.side;
  }
  return { values: { ...values, ...item.set }, reasons, conflict };
}

/** The rows to show: things alike in shape, layer, words and why are one row. */
export function nodRows(items, layers, drawn) {
  const river = riverOf(items, drawn), rows = new Map();
  let agree = 0, against = 0, missing = 0;
  for (const item of items) {
    const layer = layers.find((one) => one.name === item.target) || { fields: [] };
    const told = proposed(item, layer, river);
    if (item.target === "banks" && river.main && told.reasons.some((one) => one.field === "side" && one.words)) {
      if (told.conflict) against += 1;
      else agree += 1;
    }
    const fixed = layer.fields.filter((one) => one.words.length).map((one) => told.values[one.name] || "");
    const why = told.reasons.map((one) => [one.field, one.column, layer.fields.some((f) => f.name === one.field && f.number) ? "" : one.words]);
    const lacking = layer.fields.filter((one) => one.required && !one.default && !(told.values[one.name] || "").trim()).map((one) => one.name);
    missing += lacking.length;
    const key = JSON.stringify([item.shape, item.target, fixed, why, told.conflict, lacking]);
    if (!rows.has(key)) rows.set(key, { shape: item.shape, target: item.target, items: [], ...told, lacking });
    const row = rows.get(key);
    row.items.push(item);
    item.values = told.values;
    for (const one of told.reasons) {
      const same = row.reasons.find((other) => other.field === one.field && other.share);
      if (same && one.share) same.share = Math.min(same.share, one.share);
    }
  }
  return { rows: [...rows.values()], missing, turn: against > 0 && !agree && river.item ? river.item : null };
}

const OTHER_UNIT = { ft: "m", m: "ft", cfs: "m3/s", "m3/s": "cfs", "ft/s": "m/s", "m/s": "ft/s" };

/** Whether some number of a file is plain, so that its unit is a guess. */
export function hasPlainNumbers(items, layers) {
  return items.some((item) => plainFields(item, layers).length > 0);
}

function plainFields(item, layers) {
  const layer = layers.find((one) => one.name === item.target);
  return layer ? layer.fields.filter((one) => one.number && OTHER_UNIT[one.unit] && /^\s*[-+\d.,]+\s*$/.test((item.values || {})[one.name] || "")) : [];
}

/** A thing's fields with the other system's unit behind plain numbers, where the file is in that one. */
export function inOtherUnits(item, layers) {
  const values = { ...item.values };
  for (const one of plainFields(item, layers)) values[one.name] = `${values[one.name].trim()} ${OTHER_UNIT[one.unit]}`;
  return values;
}
