// Making parts of the page. Text always goes in as text, never as HTML.

/** Make an element: `made("button.plate-button", {type: "button"}, "Words", child)`. */
export function made(kind, attributes = {}, ...children) {
  const [tag, ...classes] = kind.split(".");
  const node = document.createElement(tag);
  if (classes.length) node.className = classes.join(" ");
  for (const [name, value] of Object.entries(attributes)) {
    if (value === false || value === null || value === undefined) continue;
    if (name.startsWith("on")) node.addEventListener(name.slice(2), value);
    else if (name in node && typeof value !== "string") node[name] = value;
    else node.setAttribute(name, value === true ? "" : value);
  }
  node.append(...children.filter((child) => child !== null && child !== undefined && child !== false));
  return node;
}

export function button(words, act, attributes = {}) {
  return made("button.plate-button", { type: "button", onclick: act, ...attributes }, words);
}

export function byId(id) {
  return document.getElementById(id);
}

export function fill(node, ...children) {
  node.replaceChildren(...children.filter((child) => child !== null && child !== undefined && child !== false));
}

/** Text that somebody typed: kept apart from the direction of the words around it. */
export function typed(text) {
  return made("bdi", {}, text);
}

/** Tell those who do not see the page. */
export function say(words) {
  byId("said").textContent = words;
}

/** A field: its label, the input, and what is behind it. */
export function field(label, input, { unit = "", hint = "" } = {}) {
  const box = made("label.field", {}, made("span.field-word", {}, label));
  const row = made("span.field-row", {}, input, unit ? made("span.field-unit", {}, unit) : null);
  box.append(row);
  if (hint) box.append(made("span.field-hint", {}, hint));
  return box;
}

/** A choice of a few words, as buttons that a cold thumb finds. */
export function choice(legend, name, words, now, pick) {
  const box = made("fieldset.choice", {}, made("legend", {}, legend));
  const chips = made("div.chips");
  for (const [word, meaning] of words) {
    const input = made("input", { type: "radio", name, value: word, onchange: () => pick(word) });
    input.checked = word === now;
    chips.append(made("label.chip-choice", { title: meaning }, input, made("span", {}, word)));
  }
  box.append(chips);
  return box;
}

/** A switch with its words. */
export function toggle(words, on, act) {
  const input = made("input", { type: "checkbox", role: "switch", onchange: (event) => act(event.target.checked) });
  input.checked = on;
  return made("label.switch", {}, made("span.words", {}, words), input);
}
