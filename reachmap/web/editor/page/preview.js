// The live preview: edges and soft water of what is drawn, asked anew after each change.
import { button, byId, fill, made, say, typed } from "./dom.js";
import { begun, mainLine, startDraft } from "./draw.js";
import { openTab } from "./frame.js";
import { FEWEST, filled, replaced, withValue } from "./shapes.js";
import { isNight } from "./styles.js";
import { allMarks, change, choose, spec, state, subscribe } from "./state.js";
import { onScreen, redraw, showMark, showPlace } from "./viewport.js";
import { ask } from "./client.js";

const WAIT_MS = 180, WANTED_MS = 1200;

export const preview = {
  on: null, // null: on where there is no ground model
  at: null, // the slider's place, 0 to 1; null: at the traced flow
  told: null, // what the program answered last
  wanted: null, // the number that matters most
};

let timer = null, later = null, busy = false, again = false;

/** Whether there is enough on the page to preview: the line and a bank on either side. */
export function enough() {
  const banks = [...allMarks(), ...inHand()].filter((mark) => mark.layer === "banks" && mark.paths.length);
  const sides = new Set(banks.map((mark) => mark.values.side));
  return Boolean(mainLine()) && sides.has("left") && sides.has("right");
}

export function isOn() {
  return preview.on ?? !state.relief;
}

/** The line being drawn as a mark, where it has the corners it needs. */
function inHand() {
  const { draft } = state;
  if (!draft || draft.path.length < (draft.strip ? 2 : FEWEST[draft.shape])) return [];
  const mark = { id: draft.id, layer: draft.layer, shape: draft.shape, paths: [draft.path] };
  const old = state.marks.find((one) => one.id === draft.id);
  return [{ ...mark, values: old ? old.values : filled(spec(draft.layer), begun(mark)) }];
}

function message() {
  const [draft] = inHand(), main = mainLine();
  return {
    version: state.version, marks: state.marks, at: preview.at, draft: draft || null,
    strip: draft && state.draft.strip ? byId("strip-width")?.value || "" : null,
    beside: main ? main.paths[0] : null,
  };
}

function soon() {
  clearTimeout(later);
  if (!isOn() || !enough()) {
    if (preview.told) { preview.told = null; preview.wanted = null; show(); redraw(); }
    return;
  }
  clearTimeout(timer);
  timer = setTimeout(look, WAIT_MS);
}

async function look() {
  if (busy) { again = true; return; }
  busy = true;
  again = false;
  show();
  try {
    preview.told = await ask("preview", { json: message() });
    if (preview.at === null && preview.told.at !== undefined) preview.at = preview.told.at;
  } catch (error) {
    preview.told = { wanting: [], said: error.said };
  }
  busy = false;
  show();
  redraw();
  if (again) look();
  else if (preview.told.wet) later = setTimeout(lookWanted, WANTED_MS);
}

async function lookWanted() {
  if (busy) return;
  try {
    const found = await ask("preview/wanted", { json: message() });
    preview.wanted = found.question ? found : null;
  } catch {
    preview.wanted = null; // the next change asks again
  }
  show();
  redraw();
}

/** The bar on the map: the slider, and the water in a line. */
function showBar() {
  const bar = byId("preview-bar"), { told } = preview;
  bar.hidden = !isOn() || !enough() || !told || !told.wet;
  if (bar.hidden) return;
  if (!bar.firstChild) {
    const slider = made("input", { type: "range", min: "0", max: "1", step: "0.005", id: "preview-flow", "aria-label": "Flow of the preview",
      oninput: (event) => { preview.at = Number(event.target.value); soon(); } });
    fill(bar,
      made("div.preview-row", {}, made("strong.draft-tag", { id: "preview-tag" }), made("span", { id: "preview-low" }), slider, made("span", { id: "preview-high" })),
      made("p", { id: "preview-line", role: "status" }), made("p.small", { id: "preview-change" }), made("p.small", { id: "preview-short" }));
  }
  const slider = byId("preview-flow");
  if (document.activeElement !== slider) slider.value = String(told.at);
  slider.setAttribute("aria-valuetext", told.flow);
  for (const [id, text] of [["preview-tag", `${told.tag}, ${told.flow}`], ["preview-low", told.ends[0]], ["preview-high", told.ends[1]], ["preview-line", told.lines[0]], ["preview-change", told.change], ["preview-short", told.short]]) {
    if (byId(id).textContent !== text) byId(id).textContent = text;
  }
}

/** The ledger's part: what is shown, what is asked for, the cautions. */
export function previewPart() {
  return made("section.preview", { id: "preview-part", "aria-label": "Preview", hidden: !enough() });
}

export function showPart() {
  const box = byId("preview-part");
  if (!box) return;
  box.hidden = !enough();
  if (box.hidden || box.contains(document.activeElement) && document.activeElement.tagName === "INPUT" && document.activeElement.type === "text") return;
  const { told } = preview;
  const mine = box.contains(document.activeElement) ? document.activeElement.id : "";
  fill(box, made("h2", {}, "Preview while you draw"),
    made("label.switch", {}, made("span.words", {}, "Show edges and soft water"), onSwitch()),
    ...(isOn() ? content(told) : []));
  if (mine) byId(mine)?.focus();
}

function onSwitch() {
  const input = made("input", { type: "checkbox", role: "switch", id: "preview-on", onchange: (event) => { preview.on = event.target.checked; soon(); show(); redraw(); } });
  input.checked = isOn();
  return input;
}

function content(told) {
  if (!told) return [made("p.small", {}, "Working it out. The first one takes some seconds.")];
  if (told.said) return [made("p.wrong", { role: "alert" }, typed(told.said))];
  if (!told.wet) {
    return [made("p.small", {}, told.before), made("ul.notes", {}, ...told.wanting.map((one) => made("li", {}, typed(one.fix || one.found), ".")))];
  }
  return [
    question(),
    ...told.lines.map((line) => made("p.small", {}, typed(line))),
    told.left_out ? made("p.small", {}, `Left out until put right: ${told.left_out} of your marks.`) : null,
    told.change ? made("p", { id: "preview-changed" }, typed(told.change)) : null,
    made("p.notice", {}, told.caution),
  ].filter(Boolean);
}

/** The one number that would change it most, with the place to type it. */
function question() {
  const { wanted } = preview;
  if (!wanted) return null;
  const acts = [];
  if (wanted.asked === "rise") {
    const input = made("input", { type: "text", inputmode: "decimal", autocomplete: "off", id: "wanted-rise", onchange: () => putRise(wanted.mark, input.value) });
    acts.push(made("label.field", {}, made("span.field-word", {}, "Rise of its outer edge"),
      made("span.field-row", {}, input, made("span.field-unit", {}, state.units.length))));
    acts.push(button("Show the bank", () => { const mark = state.marks.find((one) => one.id === wanted.mark); if (mark) { choose(mark.id); showMark(mark); } }));
  } else if (wanted.asked === "level") {
    acts.push(button("Type the fall", () => { openTab("river"); requestAnimationFrame(() => byId("fact-fall")?.focus()); }), button("Put in a level", () => startDraft("levels")));
  } else {
    acts.push(button("Show the place", () => showPlace(wanted.place)), button("Put in a sounding", () => startDraft("soundings")));
  }
  return made("div.wanted", { id: "wanted" }, made("h3", {}, "The one number that matters most"), made("p", {}, typed(wanted.question)), made("div.acts", {}, ...acts));
}

function putRise(id, text) {
  const mark = state.marks.find((one) => one.id === id);
  if (!mark || mark.values.rise === text) return;
  change(replaced(state.marks, withValue(mark, "rise", text)));
  say("Kept as the bank's rise.");
  preview.wanted = null;
  document.activeElement?.blur();
}

function show() {
  showBar();
  showPart();
}

/** Paint the preview under the marks: water, soft water dotted, unknown bricked, the old edge dashed. */
export function paintPreview(pen) {
  const { told } = preview;
  if (!isOn() || !told || !told.wet) return;
  const [water, edge, soft, ink] = isNight() ? ["#3d7f96", "#9fd8ea", "#c8f0a8", "#c9bda9"] : ["#7fb8cc", "#14506b", "#0f5132", "#4a4238"];
  fillRings(pen, told.wet, water, 0.5);
  fillRings(pen, told.soft, dots(pen, soft), 0.9);
  fillRings(pen, told.unknown, bricks(pen, ink), 0.55);
  strokeRings(pen, told.wet, edge, 2, []);
  strokeRings(pen, told.was, ink, 1.5, [6, 5]);
  const { wanted } = preview;
  if (wanted && wanted.place) {
    const [x, y] = onScreen(wanted.place);
    pen.beginPath();
    pen.arc(x, y, 13, 0, 2 * Math.PI);
    pen.setLineDash([]);
    pen.lineWidth = 5; pen.strokeStyle = isNight() ? "#0b1214" : "#fffdf6"; pen.stroke();
    pen.lineWidth = 2.5; pen.strokeStyle = isNight() ? "#ffb4a6" : "#7a0f0a"; pen.stroke();
  }
}

function trace(pen, rings) {
  pen.beginPath();
  for (const ring of rings) {
    ring.map(onScreen).forEach(([x, y], i) => (i ? pen.lineTo(x, y) : pen.moveTo(x, y)));
    pen.closePath();
  }
}

function fillRings(pen, outlines, paint, strength) {
  pen.globalAlpha = strength;
  pen.fillStyle = paint;
  for (const rings of outlines) { trace(pen, rings); pen.fill("evenodd"); }
  pen.globalAlpha = 1;
}

function strokeRings(pen, outlines, ink, width, dash) {
  pen.setLineDash(dash);
  pen.strokeStyle = ink; pen.lineWidth = width; pen.lineJoin = "round";
  for (const rings of outlines) { trace(pen, rings); pen.stroke(); }
  pen.setLineDash([]);
}

function tile(pen, wide, high, draw) {
  const canvas = document.createElement("canvas");
  canvas.width = wide; canvas.height = high;
  draw(canvas.getContext("2d"));
  return pen.createPattern(canvas, "repeat");
}

function dots(pen, ink) {
  return tile(pen, 9, 9, (one) => { one.fillStyle = ink; one.beginPath(); one.arc(4.5, 4.5, 1.9, 0, 2 * Math.PI); one.fill(); });
}

function bricks(pen, ink) {
  return tile(pen, 20, 14, (one) => {
    one.strokeStyle = ink; one.lineWidth = 1;
    one.strokeRect(0.5, 0.5, 20, 7);
    one.beginPath(); one.moveTo(10.5, 7.5); one.lineTo(10.5, 14.5); one.stroke();
  });
}

export function begin() {
  subscribe("marks draft facts", soon);
  subscribe("tab light chosen", show);
  subscribe("check", () => { if (isOn() && enough() && !preview.told) soon(); });
}
