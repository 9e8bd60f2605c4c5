// Which layers are shown: ready choices for fishing, wading and casting, then each by itself. The
// list is the key as well: every row shows what it draws.

function usePreset(name) {
  state.preset = name;
  state.on = new Set();
  for (const row of data.legend.switches) {
    if (row.fixed || row.presets.includes(name)) row.kinds.forEach((kind) => state.on.add(kind));
  }
}

function isOn(row) {
  return row.kinds.some((kind) => state.on.has(kind));
}

function countOf(row) {
  const now = featuresNow();
  return row.kinds.reduce((sum, kind) => sum + now.get(kind).length, 0);
}

function presetButtons() {
  const box = byId("presets");
  box.textContent = "";
  for (const [name, words] of data.legend.presets) {
    const chip = makeButton("chip", words, () => {
      usePreset(name);
      tell("layers");
      chip.focus();
    });
    chip.setAttribute("aria-pressed", String(state.preset === name));
    box.append(chip);
  }
}

function switchRow(row) {
  const label = make("label", "switch");
  const box = make("input");
  box.type = "checkbox";
  box.setAttribute("role", "switch");
  box.checked = isOn(row);
  box.disabled = row.fixed;
  box.dataset.layer = row.name;
  box.addEventListener("change", () => {
    row.kinds.forEach((kind) => (box.checked ? state.on.add(kind) : state.on.delete(kind)));
    state.preset = "";
    tell("layers");
    document.querySelector('[data-layer="' + row.name + '"]').focus();
  });
  const many = countOf(row);
  label.append(swatch(row.kinds[0]), make("span", "words", row.words));
  label.append(
    make(
      "span",
      "count",
      row.fixed ? tr("always") : !many ? tr("none") : row.kinds.length > 1 ? "" : String(many),
    ),
    box,
  );
  return label;
}

function listSwitches() {
  const box = byId("switches");
  box.textContent = "";
  let group = "";
  for (const row of data.legend.switches) {
    if (row.group !== group) box.append(make("h2", "", (group = row.group)));
    box.append(switchRow(row));
    if (row.kinds.length > 1) {
      const key = make("div", "under-key");
      for (const kind of row.kinds)
        key.append(swatch(kind), make("span", "", styles.get(kind).words));
      box.append(key);
    }
  }
  presetButtons();
}

// The key that is printed below the map: only what is shown.
function fillPrintKey(box) {
  box.textContent = "";
  for (const row of data.legend.switches) {
    if (!isOn(row) || !countOf(row)) continue;
    for (const kind of row.kinds) {
      const entry = make("span");
      entry.append(swatch(kind), styles.get(kind).words);
      box.append(entry);
    }
  }
}

// The list is made when it is looked at: with its swatches it takes longer than the map.
let stale = true;
function freshSwitches() {
  if (!stale || isAway("layers")) return;
  stale = false;
  listSwitches();
}
for (const name of ["flow", "layers", "light", "tab"])
  listen(name, () => {
    stale = stale || name !== "tab";
    freshSwitches();
  });
listen("layers", () => sheet.draw());
