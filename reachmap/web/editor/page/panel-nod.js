// The card of a dropped file: what was understood from which words, each to be changed, for a nod.
import { button, choice, field, made, typed } from "./dom.js";
import { beginHere, closeBrought, drawnRiver, takeIn } from "./drop.js";
import { hasPlainNumbers, nodRows } from "./nod.js";
import { FIELD_WORDS, SHAPE_WORDS, WORDS } from "./styles.js";
import { state, publish } from "./state.js";

const SHAPES_MANY = { Point: "points", LineString: "lines", Polygon: "outlines" };
const COLUMN_WORDS = { name: "its name", folder: "the folder's name", file: "the file's name", description: "its description", desc: "its description", cmt: "its comment" };

/** Layers that can hold a shape; a line of three corners may stand for an outline. */
export function layersFor(shape, items) {
  const rings = shape === "LineString" && items.every((one) => one.paths[0].length >= 3);
  return state.layers.filter((one) => one.shapes.includes(shape) || (rings && one.shapes.includes("Polygon"))).map((one) => one.name);
}

function again() {
  state.brought.stamp = performance.now();
  publish("brought");
}

export function broughtCard() {
  const { brought } = state;
  if (brought.wrong) {
    return made("section", {}, made("h2", {}, "From ", typed(brought.name)), made("p.wrong", { role: "alert" }, brought.wrong),
      made("div.acts", {}, button("Very well", closeBrought)));
  }
  const told = nodRows(brought.items, state.layers, drawnRiver());
  brought.turn = told.turn;
  const any = brought.items.some((one) => one.target), understood = brought.items.some((one) => one.understood.reasons.length);
  const left = any && told.missing ? `, ${told.missing} still to say` : "";
  return made("section", {},
    made("h2", {}, "From ", typed(brought.name)),
    understood ? made("p.small", {}, "Understood from words and places in the file. Look it over: nothing counts before you take it in.") : null,
    told.turn ? turnRow() : null,
    hasPlainNumbers(brought.items, state.layers) ? unitRow() : null,
    made("ul.brought", {}, ...told.rows.map(nodRow)),
    made("div.acts", {}, button(`Take in${left}`, takeIn, { class: "plate-button is-main", id: "take-in", disabled: !any }),
      button("Begin here, take nothing in", beginHere), button("Leave it", closeBrought)));
}

/** Every side said in words is the other one on the map: the line was drawn upstream. */
function turnRow() {
  const input = made("input", { type: "checkbox", role: "switch", id: "turn-river", "data-keep": "turn-river", onchange: (event) => { state.brought.turned = event.target.checked; again(); } });
  input.checked = state.brought.turned;
  return made("div.notice", {}, made("p", {}, "Every bank that says its side lies on the other side of the river line: it seems to be drawn going upstream."),
    made("label.switch", {}, made("span.words", {}, "Turn the river line round"), input));
}

function unitRow() {
  const us = state.units.system === "us";
  return choice("Plain numbers in this file are in", "file-units", [["feet", "feet, cubic feet per second"], ["metres", "metres, cubic metres per second"]],
    state.brought.otherUnits === us ? "metres" : "feet", (word) => { state.brought.otherUnits = (word === "metres") === us; again(); });
}

function nodRow(row, at) {
  const { items } = row, names = items.map((one) => one.label).filter(Boolean);
  const select = made("select", { "aria-label": `${items.length} ${SHAPES_MANY[row.shape]} become`, "data-keep": `nod-${at}`,
    onchange: (event) => { for (const one of items) { one.target = event.target.value; one.set = {}; } again(); } },
    made("option", { value: "" }, "leave out"),
    ...layersFor(row.shape, items).map((name) => made("option", { value: name }, WORDS[name].many)));
  select.value = row.target;
  const layer = state.layers.find((one) => one.name === row.target);
  return made("li.brought-row", {},
    made("p", {}, made("strong", {}, `${items.length} ${items.length === 1 ? SHAPE_WORDS[row.shape].toLowerCase() : SHAPES_MANY[row.shape]}`),
      names.length ? made("span.small", {}, " ", typed(names.slice(0, 3).join(", ").slice(0, 140)), names.length > 3 ? " and more" : "") : null),
    made("div.nod-fields", {},
      made("label.field", {}, made("span.field-word", {}, "Take in as"), select, why(row, "")),
      ...(layer ? layer.fields.filter((one) => asked(row, one)).map((one) => nodField(row, one, at)) : [])),
    row.conflict && !(state.brought.turn && state.brought.turned)
      ? made("p.wrong", {}, `On the map it lies to the ${row.conflict} of the river line. Say which is right.`) : null);
}

function asked(row, one) {
  if (one.words.length) return one.required || row.items.some((item) => item.values[one.name]);
  return one.number && (one.required || row.items.some((item) => item.values[one.name])) || (one.required && row.lacking.includes(one.name));
}

function nodField(row, one, at) {
  const now = row.items[0].values[one.name] || "", label = FIELD_WORDS[one.name] || one.name;
  const keep = { "data-keep": `nod-${at}-${one.name}`, name: `nod-${one.name}` };
  const set = (value) => { for (const item of row.items) item.set = { ...item.set, [one.name]: value }; again(); };
  if (one.words.length) {
    const select = made("select", { ...keep, onchange: (event) => set(event.target.value) },
      made("option", { value: "" }, "say which"), ...one.words.map(([word]) => made("option", { value: word }, word)));
    select.value = now;
    return made(row.lacking.includes(one.name) ? "label.field.is-lacking" : "label.field", {}, made("span.field-word", {}, label), select, why(row, one.name));
  }
  if (row.items.length > 1 && !row.lacking.includes(one.name)) {
    const given = row.items.filter((item) => item.values[one.name]);
    return made("p.small", {}, `${label}: ${given.slice(0, 3).map((item) => item.values[one.name]).join(", ")}${given.length > 3 ? ` and ${given.length - 3} more` : ""}`);
  }
  const input = made("input", { ...keep, type: "text", autocomplete: "off", maxlength: "200", onchange: (event) => set(event.target.value) });
  input.value = now;
  const box = field(label, input, { unit: /[a-z]/i.test(now) ? "" : unitShown(one.unit) });
  box.append(why(row, one.name) || "");
  return box;
}

function unitShown(unit) {
  const other = { ft: "m", m: "ft", cfs: "m3/s", "m3/s": "cfs", "ft/s": "m/s", "m/s": "ft/s" };
  return state.brought.otherUnits ? other[unit] || unit : unit;
}

/** Why a field was proposed; nothing where somebody said it, or the file in so many words. */
function why(row, name) {
  if (row.items.some((item) => name in item.set)) return null;
  const one = row.reasons.find((reason) => reason.field === name);
  if (!one) return null;
  if (one.between) return made("span.nod-why", {}, "Banks lie on both its sides.");
  if (one.shorter) return made("span.nod-why", {}, "Shorter than the main line, and does not meet its ends.");
  if (one.share) return made("span.nod-why", {}, `By where it lies: ${Math.round(one.share * 100)} % of its outline.`);
  const where = COLUMN_WORDS[one.column] || `the column ${one.column}`;
  const lost = name && !row.items[0].values[name];
  return made("span.nod-why", {}, lost ? "" : "From ", "“", typed(one.words), `” in ${where}`, lost ? " is none of these." : ".");
}
