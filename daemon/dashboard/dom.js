// SPDX-License-Identifier: Apache-2.0
// Making and changing what is on the page.

export function element(tag, content = "", attributes = {}) {
  const made = document.createElement(tag);
  made.append(...[content].flat(Infinity).filter((each) => each != null && each !== false));
  for (const [name, value] of Object.entries(attributes)) {
    if (value != null && value !== false) made.setAttribute(name, value);
  }
  return made;
}

// Leaves what has not changed alone, so that nothing read, selected or focused is lost.
export function fill(parent, children) {
  const holder = document.createElement(parent.tagName);
  holder.append(...[children].flat(Infinity).filter((each) => each != null && each !== false));
  if (holder.innerHTML !== parent.innerHTML) parent.replaceChildren(...holder.childNodes);
}

export const link = (text, ...path) =>
  element("a", text, { href: `#/${path.map(encodeURIComponent).join("/")}` });

// To be typed: broken between its words only.
export const command = (text) => element("code", text.split(" ")
  .flatMap((word, i) => [i > 0 && " ", element("span", word)]));

export const facts = (pairs) => element("dl", pairs
  .filter((pair) => pair && pair[1] != null)
  .map(([name, value]) => [element("dt", name), element("dd", value)]));

// A table that becomes a list of lines on a narrow screen: each cell has its column's name.
export function table(columns, rows, caption) {
  const head = element("tr", columns.map((name) => element("th", name, { scope: "col" })));
  const body = rows.map((cells) => element("tr", cells.map((cell, i) => (i === 0
    ? element("th", cell, { scope: "row" })
    : element("td", cell, { "data-label": columns[i].toLowerCase() })))));
  return element("table", [
    caption && element("caption", caption), element("thead", head), element("tbody", body),
  ], { class: "lines" });
}

export const section = (title, ...content) =>
  element("section", [element("h3", title), ...content]);

export const list = (items, attributes = {}) =>
  element("ul", items.map((each) => element("li", each)), attributes);

// A named field; `input` may be any control.
let fields = 0;
export function field(name, input, hint) {
  fields += 1;
  const id = `field-${fields}`;
  input.id = id;
  const parts = [element("label", name, { for: id }), input];
  if (hint) {
    input.setAttribute("aria-describedby", `${id}-hint`);
    parts.push(element("p", hint, { class: "hint", id: `${id}-hint` }));
  }
  return element("div", parts, { class: "field" });
}

export const input = (name, attributes = {}) =>
  element("input", "", { name, autocomplete: "off", ...attributes });

export function select(name, options, chosen) {
  return element("select", options.map(([value, text]) =>
    element("option", text, { value, selected: value === chosen ? "" : null })), { name });
}

export const button = (text, attributes = {}) =>
  element("button", text, { type: "button", ...attributes });

// A form's named values, without those left empty.
export const valuesOf = (form) => Object.fromEntries(
  [...new FormData(form)].filter(([, value]) => typeof value === "string")
    .map(([name, value]) => [name, value.trim()]).filter(([, value]) => value !== ""));
