// SPDX-License-Identifier: Apache-2.0
// One element's contents on one line: the wanted range as a bar, natural sea water as a tick, and
// marks that differ by shape. The words beside it say the same.

import { element } from "./dom.js";

const space = "http://www.w3.org/2000/svg";
const margin = 5; // percent on either side
const middle = 14;

export function drawing(tag, attributes, ...children) {
  const made = document.createElementNS(space, tag);
  for (const [name, value] of Object.entries(attributes)) made.setAttribute(name, value);
  made.append(...children);
  return made;
}

const shapes = {
  tank: () => drawing("circle", { r: 5.5, class: "tank" }),
  lot: () => drawing("path", { d: "M0-7 7 0 0 7-7 0Z", class: "lot" }),
  after: () => drawing("path", { d: "M0-1 6 9-6 9Z", class: "after" }),
};

const centre = (content) => (content.low + content.high) / 2;

// Whether a content lies where it is wanted, as a word.
export function place(content, wanted) {
  if (!wanted || !content) return "";
  if (content.low > wanted.high) return "above";
  if (content.high < wanted.low) return "below";
  return content.low >= wanted.low && content.high <= wanted.high ? "within" : "perhaps within";
}

// `marks`: {tank, lot, after}, each a content or nothing; `beside`: the contents on other strips,
// which share the scale.
export function strip({ wanted, natural }, marks, beside = []) {
  const shown = Object.entries(marks).filter(([, content]) => content);
  const contents = [...shown.map(([, content]) => content), ...beside.filter(Boolean)];
  const values = [wanted?.low, wanted?.high, natural,
                  ...contents.flatMap((content) => [content.low, content.high])]
    .filter((value) => value != null);
  const low = Math.min(...values);
  const span = Math.max(...values) - low || Math.abs(low) || 1;
  const at = (value) => margin + ((100 - 2 * margin) * (value - low)) / span;
  const percent = (value) => `${value.toFixed(2)}%`;
  const parts = [drawing("line", { x1: 0, x2: "100%", y1: middle, y2: middle, class: "axis" })];
  if (wanted) {
    const width = Math.max(at(wanted.high) - at(wanted.low), 0.5);
    parts.push(drawing("rect", { x: percent(at(wanted.low)), width: percent(width), y: middle - 7,
                                 height: 14, class: "wanted" }));
  }
  if (natural != null) {
    const x = percent(at(natural));
    parts.push(drawing("line", { x1: x, x2: x, y1: middle - 10, y2: middle + 10, class: "natural" }));
  }
  for (const [name, content] of shown) {
    if (content.high > content.low) {
      parts.push(drawing("line", { x1: percent(at(content.low)), x2: percent(at(content.high)),
                                   y1: middle, y2: middle, class: "unsure" }));
    }
    parts.push(drawing("svg", { x: percent(at(centre(content))), y: middle, overflow: "visible" },
                       shapes[name]()));
  }
  return drawing("svg", { class: "strip", height: 28, "aria-hidden": "true" }, ...parts);
}

const sample = (name) => drawing("svg", { class: "sample", width: 18, height: 20,
                                          viewBox: "-9 -10 18 20", "aria-hidden": "true" },
                                 shapes[name]());

export function legend(names) {
  const words = { tank: "the tank now", lot: "water of the lot", after: "after the changes" };
  return element("p", [
    element("span", [element("span", "", { class: "wanted-sample" }), "wanted"]),
    ...names.map((name) => element("span", [sample(name), words[name]])),
    element("span", [element("span", "", { class: "natural-sample" }), "natural sea water"]),
  ], { class: "legend" });
}

// The course of one element over the changes of a plan, in its 95 % fan.
export function fan(row) {
  const [width, height] = [320, 72];
  const half = 1.96 * row.tank.standard_uncertainty;
  const start = { low: row.tank.low, high: row.tank.high,
                  at_least: Math.max(0, row.tank.low - half), at_most: row.tank.high + half };
  const points = [[0, start], ...row.course.flatMap(({ change, before, after }) =>
    [[change, before], [change, after]])];
  const values = [row.wanted?.low, row.wanted?.high,
                  ...points.flatMap(([, point]) => [point.at_least, point.at_most])]
    .filter((value) => value != null);
  const [low, high] = [Math.min(...values), Math.max(...values)];
  const y = (value) => height - 4 - ((height - 8) * (value - low)) / (high - low || 1);
  const x = (change) => (width * change) / Math.max(points.at(-1)[0], 1);
  const path = (list, value) => list.map(([change, point]) =>
    `${x(change).toFixed(1)},${y(value(point)).toFixed(1)}`).join(" ");
  const outline = `${path(points, (point) => point.at_most)} `
    + path([...points].reverse(), (point) => point.at_least);
  const parts = [];
  if (row.wanted) {
    parts.push(drawing("rect", { x: 0, width, y: y(row.wanted.high), class: "wanted",
                                 height: Math.max(y(row.wanted.low) - y(row.wanted.high), 1) }));
  }
  parts.push(drawing("polygon", { points: outline, class: "fan" }),
             drawing("polyline", { points: path(points, centre), class: "course-line" }));
  return drawing("svg", { viewBox: `0 0 ${width} ${height}`, preserveAspectRatio: "none",
                          class: "fan-strip", "aria-hidden": "true" }, ...parts);
}
