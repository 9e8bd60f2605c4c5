// The ledger's part on the draft: to make one, what waits, and the card of the piece looked at.
import { button, byId, choice, fill, made, say, typed } from "./dom.js";
import { accept, draft, drop, lookAt, lookedPiece, makeDraft, pieces, setValue, showDropped, takeBackDrop, unseen } from "./drafted.js";
import { openTab } from "./frame.js";
import { FIELD_WORDS, swatch } from "./styles.js";
import { spec, state, subscribe } from "./state.js";
import { centre, fit, onGround, showPlace, view } from "./viewport.js";

const KINDS = [
  ["river", "River line and side channels", "river line or side channel"],
  ["banks", "Banks and islands", "bank"],
  ["edges", "Water's edge", "water's edge"],
  ["levels", "Heads of riffles", "head of a riffle"],
];
const MEANS = {
  levels: "Where the water's fall turns from calm to quick: likely the crest above a riffle. Accepted, it is a level: the water's height there on the day of the flight.",
  banks: "From the water's edge of the flight outwards, as far as one kind of cover goes.",
  river: "The middle of the water that the ground model shows.",
  edges: "The water's edge on the day of the flight.",
};

/** The section of the ledger's first page; null where there is nothing to draft from. */
export function draftSection() {
  if (!state.relief && !state.drafted.length && !draft.said) return null;
  const rows = KINDS.filter(([layer]) => pieces(layer).length).map(kindRow);
  return made("section.drafted", { "aria-label": "Draft" },
    made("h2", {}, rows.length ? "A draft to correct" : "A draft from the ground model"),
    draft.said ? made("p.wrong", { role: "alert" }, typed(draft.said)) : null,
    rows.length ? null : made("p.small", {}, "River line, banks and islands by rule, from heights alone. Nothing of it counts before you accept it."),
    ...draft.lines.map((line) => made("p.small", {}, typed(line))),
    rows.length ? made("ul.draft-rows", {}, ...rows) : null,
    state.relief ? made("div.acts", {},
      button(draft.making ? "Drafting, some seconds" : rows.length ? "Draft it anew" : "Draft my river", () => makeDraft(startPlace()),
        { class: `plate-button${rows.length || state.marks.length ? "" : " is-main"}`, disabled: draft.making, id: "draft-make", "data-keep": "draft-make" }),
      button("Draft the river under the middle of the map", () => makeDraft(onGround(centre())), { disabled: draft.making, id: "draft-here", "data-keep": "draft-here" })) : null,
    draft.lastDrop ? button("Take the last drop back", takeBackDrop, { "data-keep": "draft-back" }) : null,
    draft.dropped ? made("p.small", {}, `${draft.dropped} dropped, and not drafted again. `,
      made("button.link", { type: "button", onclick: showDropped, "data-keep": "draft-again" }, "Show them again")) : null);
}

function startPlace() {
  return state.basemap && state.basemap.start ? state.basemap.start : null;
}

function kindRow([layer, many]) {
  const all = pieces(layer), left = unseen(layer).length;
  return made("li.draft-row", {},
    made("div.draft-words", {}, swatch(layer), made("strong", {}, many),
      made("span.small", {}, waitWords(layer, all, left))),
    made("div.acts", {},
      button("Look at them", () => lookNext(layer), { "data-draft-look": layer, "data-keep": `draft-look-${layer}` }),
      button(all.length === 1 ? "Accept it" : `Accept all ${all.length}`, () => accept(all),
        { disabled: left > 0, "data-draft-all": layer, title: left ? "Look at each of them first" : "" })));
}

function waitWords(layer, all, left) {
  const bare = layer === "banks" ? all.filter((one) => !one.values.cover).length : 0;
  const words = left ? `${all.length} wait, ${left} not looked at yet` : `${all.length} wait, all looked at`;
  return bare ? `${words}; ${bare} without cover: the check will ask` : words;
}

/** The piece after the one looked at: those not looked at yet first. */
function lookNext(layer, after = null) {
  const all = pieces(layer), left = unseen(layer);
  if (!all.length) {
    lookAt(null);
    return;
  }
  const at = all.findIndex((one) => one.id === after);
  const piece = left[0] || all[(at + 1) % all.length];
  lookAt(piece.id);
  showPiece(piece);
  document.documentElement.dataset.sheet = "open";
  say(nameOf(piece));
}

function showPiece(piece) {
  if (piece.shape === "Point") {
    showPlace(piece.paths[0][0], Math.max(18, view.map.getZoom()));
    return;
  }
  const bounds = window.L.latLngBounds(piece.paths.flat().map(([lon, lat]) => [lat, lon]));
  fit(bounds.pad(0.15), 19);
}

function nameOf(piece) {
  const kind = KINDS.find(([layer]) => layer === piece.layer)[2];
  const { side, cover, part } = piece.values;
  if (piece.layer === "banks") return side === "island" ? "Island" : `Bank, river ${side}${cover ? `, ${cover}` : ""}`;
  if (piece.layer === "river") return part === "side" ? "Side channel" : "River line";
  return kind[0].toUpperCase() + kind.slice(1);
}

/** The card of the piece looked at. */
export function draftCard() {
  const piece = lookedPiece(), layer = spec(piece.layer);
  const next = () => lookNext(piece.layer, piece.id);
  const facts = layer.fields.filter((one) => piece.values[one.name] && !["cover", "part", "side"].includes(one.name))
    .map((one) => made("p.draft-fact", {}, `${FIELD_WORDS[one.name] || one.name}: `, made("strong", {}, typed(`${piece.values[one.name]} ${one.unit || ""}`.trim()))));
  const cover = piece.layer === "banks" ? layer.fields.find((one) => one.name === "cover") : null;
  const box = cover ? choice(piece.values.cover ? "What grows or lies there" : "What grows or lies there: the ground's heights do not tell", "draft-cover", cover.words, piece.values.cover, (word) => setValue(piece, "cover", word)) : null;
  const after = (act) => () => {
    const { layer: kind, id } = piece;
    act();
    if (pieces(kind).length) lookNext(kind, id);
    else lookAt(null);
  };
  return [
    made("div.card-head", {}, swatch(piece.layer), made("h2", {}, nameOf(piece)), button("Done", () => lookAt(null), { "data-keep": "draft-done" })),
    made("p.card-under", {}, made("strong.draft-tag", {}, "Draft"), ` not in your drawing yet. ${MEANS[piece.layer]}`),
    ...facts, box,
    made("div.acts.draft-acts", {},
      button("Accept", after(() => accept([piece])), { class: "plate-button is-main", "data-keep": "draft-accept" }),
      button("Drop", after(() => drop(piece)), { class: "plate-button is-grave", "data-keep": "draft-drop" }),
      button("Next", next, { "data-keep": "draft-next" })),
    made("p.small", {}, piece.shape === "Point" ? "Drag it to move it: that accepts it." : "Drag a corner to move it: that accepts it. Accept it first to change anything else."),
  ];
}

/** What the first page must be drawn anew for. */
export function draftKey() {
  return [draft.looked, lookedPiece() && lookedPiece().values, state.drafted.length, KINDS.map(([layer]) => unseen(layer).length), draft.lines.length, draft.said, draft.dropped, draft.making, Boolean(draft.lastDrop)];
}

/** A bar over the map where pieces wait and nothing else is in hand: that these are no drawing. */
function showBadge() {
  const badge = byId("draft-badge");
  badge.hidden = !state.drafted.length;
  if (!badge.hidden) fill(badge, made("strong.draft-tag", {}, "Draft"), ` dotted: ${state.drafted.length} to look at`);
}

export function begin() {
  subscribe("drafted marks", showBadge);
  subscribe("drafted", () => { if (draft.looked) openTab("draw", { keepSheet: true }); });
  view.map.on("resize", showBadge);
}
