// SPDX-License-Identifier: Apache-2.0
// What an automatic look can find against WCAG 2.2 AA on the page as it is now: a list of
// complaints, empty where there are none. 4.5 and 3 are its contrasts (1.4.3), 24 px its target
// size (2.5.8).
(() => {
  const complaints = [];
  const say = (what, it) => complaints.push(
    `${what}: ${it ? it.outerHTML.replace(/\s+/g, " ").slice(0, 140) : "the page"}`);
  const all = (selector) => [...document.querySelectorAll(selector)];
  const isShown = (it) => it.checkVisibility({ checkVisibilityCSS: true })
    && it.getClientRects().length > 0 && !it.closest("[aria-hidden=true]");
  const shown = (selector) => all(selector).filter(isShown);

  if (!document.documentElement.lang) say("no language");
  if (!document.title.trim()) say("no title");
  for (const [selector, least, most] of [["main", 1, 1], ["h1", 1, 1], ["body > header", 1, 1],
                                         ["body > footer", 1, 1], ["nav", 1, 9]]) {
    const count = shown(selector).length;
    if (count < least || count > most) say(`${count} of ${selector}`);
  }
  for (const nav of shown("nav")) if (!nav.getAttribute("aria-label")) say("a nav without a name", nav);

  let level = 0;
  for (const heading of shown("h1, h2, h3, h4, h5, h6").filter((it) => !it.closest("dialog"))) {
    const next = Number(heading.tagName[1]);
    if (next > level + 1) say(`a heading of level ${next} after ${level}`, heading);
    if (!heading.textContent.trim()) say("an empty heading", heading);
    level = next;
  }

  const textOf = (ids) => (ids ?? "").split(/\s+/)
    .map((id) => document.getElementById(id)?.textContent ?? "").join(" ");
  const nameOf = (it) => (it.getAttribute("aria-label") || textOf(it.getAttribute("aria-labelledby"))
    || [...(it.labels ?? [])].map((label) => label.textContent).join(" ") || it.textContent).trim();
  for (const it of shown("a[href], button, input, select, textarea, summary, dialog, [role=img], "
                         + "[role=region]")) {
    const isField = it.matches("input, select, textarea");
    const name = isField && !it.labels?.length && !it.getAttribute("aria-label") ? "" : nameOf(it);
    if (!name) say("without a name", it);
  }
  for (const it of all("svg, img, canvas")) {
    if (!it.closest("[aria-hidden=true], [role=img]") && !it.getAttribute("alt")) {
      say("a picture without words", it);
    }
  }
  for (const it of all("[tabindex]")) if (it.tabIndex > 0) say("a tab order of its own", it);
  for (const it of shown("table")) if (!it.querySelector("th[scope]")) say("a table without heads", it);
  const ids = all("[id]").map((it) => it.id);
  for (const id of new Set(ids)) {
    if (ids.filter((each) => each === id).length > 1) say(`the id ${id} twice`);
  }
  for (const attribute of ["aria-labelledby", "aria-describedby", "for"]) {
    for (const it of all(`[${attribute}]`)) {
      if (!textOf(it.getAttribute(attribute)).trim() && attribute !== "for") say("names nothing", it);
      if (attribute === "for" && !document.getElementById(it.htmlFor)) say("a label of nothing", it);
    }
  }
  for (const it of shown("button, input, select, textarea, .act, summary")) {
    const { width, height } = it.getBoundingClientRect();
    const least = it.type === "checkbox" ? 18 : 24; // a check box's label is its target too
    if (width < least || height < least) say(`only ${width} by ${height} px`, it);
  }

  const rgba = (text) => {
    const [r, g, b, a = 1] = text.match(/[\d.]+/g).map(Number);
    return [r, g, b, a];
  };
  const over = ([r, g, b, a], below) =>
    [r, g, b].map((value, i) => value * a + below[i] * (1 - a)).concat(1);
  const ground = (it) => {
    if (!it) return rgba(matchMedia("(prefers-color-scheme: dark)").matches ? "0 0 0" : "255 255 255");
    const own = rgba(getComputedStyle(it).backgroundColor);
    return own[3] === 1 || it.matches("dialog") ? own : over(own, ground(it.parentElement));
  };
  const luminance = (color) => {
    const [r, g, b] = color.slice(0, 3).map((value) => {
      const part = value / 255;
      return part <= 0.04045 ? part / 12.92 : ((part + 0.055) / 1.055) ** 2.4;
    });
    return 0.2126 * r + 0.7152 * g + 0.0722 * b;
  };
  for (const it of shown("body *")) {
    const hasText = [...it.childNodes].some((node) => node.nodeType === 3 && node.textContent.trim());
    if (!hasText || it.matches("option, script, style, canvas")) continue;
    const style = getComputedStyle(it);
    const below = ground(it);
    const [one, other] = [over(rgba(style.color), below), below].map(luminance);
    const contrast = (Math.max(one, other) + 0.05) / (Math.min(one, other) + 0.05);
    const size = parseFloat(style.fontSize);
    const isLarge = size >= 24 || (size >= 18.66 && Number(style.fontWeight) >= 700);
    if (contrast < (isLarge ? 3 : 4.5)) say(`a contrast of ${contrast.toFixed(2)}`, it);
  }
  if (document.documentElement.scrollWidth > innerWidth) {
    say(`wider than the screen: ${document.documentElement.scrollWidth} px of ${innerWidth}`);
  }
  return complaints;
})()
