// The ledger's last page: what the check found, in its own words, and how to build.
import { button, byId, fill, made, say, typed } from "./dom.js";
import { openTab } from "./frame.js";
import { choose, subscribe, state } from "./state.js";
import { showMark, showPlace } from "./viewport.js";

function show() {
  const page = byId("page-check"), count = state.faults.length;
  byId("fault-count").textContent = count ? String(count) : state.checked ? "✓" : "";
  byId("fault-count").setAttribute("aria-label", count ? `${count} to put right` : state.checked ? "nothing to put right" : "");
  if (!state.checked) {
    fill(page, made("p", {}, "Looking at the folder."));
    return;
  }
  fill(page, ...(count ? found() : well()));
}

function found() {
  const count = state.faults.length;
  return [
    made("h2", {}, count === 1 ? "1 thing to put right" : `${count} things to put right`),
    made("ol.faults", {}, ...state.faults.map((fault) => made("li.fault", {},
      made("p.fault-where", {}, typed(fault.where)),
      made("p.fault-found", {}, typed(fault.found), "."),
      made("p.fault-fix", {}, typed(fault.fix), "."),
      goTo(fault)))),
    toldLines(),
  ];
}

/** What the command prints, in its words and its order. */
function toldLines() {
  return state.lines.length ? made("ul.notes", {}, ...state.lines.map((line) => made("li", {}, typed(line.trim())))) : null;
}

function goTo(fault) {
  const mark = state.marks.find((one) => one.id === fault.mark);
  if (mark) {
    return button("Show it", () => {
      choose(mark.id);
      if (fault.place) showPlace(fault.place, 19);
      else showMark(mark);
    });
  }
  if (fault.fact) return button("Fill in", () => { openTab("river"); requestAnimationFrame(() => byId(`fact-${fault.fact}`)?.focus()); });
  return fault.place ? button("Show the place", () => showPlace(fault.place, 19)) : null;
}

function well() {
  const command = `reachmap build ${shellWord(state.folder)}`;
  return [
    made("h2", {}, "Nothing to put right"),
    made("p", {}, "The drawing reads well. To work out every flow and make the maps, type this in the window where you started the page (Ctrl-C ends the page; it keeps everything):"),
    made("pre.command", { tabindex: "0" }, made("code", { id: "build-command" }, command)),
    made("div.acts", {}, button("Copy the command", async () => {
      try {
        await navigator.clipboard.writeText(command);
        say("Copied.");
      } catch {
        say("This browser does not let pages copy. Mark the line and copy it.");
      }
    })),
    made("p.small", {}, "With --quick behind it, a preview in a fraction of the time."),
    made("h2", {}, "What the check says"),
    toldLines(),
    made("p.foot", {}, "Maps are worked out from what you drew; they have not seen the river today. People drown wading."),
  ];
}

/** A path as one word of a command line. */
export function shellWord(path) {
  return /^[\w./~:\\-]+$/.test(path) ? path : `"${path.replace(/(["$`\\])/g, "\\$1")}"`;
}

export function begin() {
  subscribe("check", show);
}
