// SPDX-License-Identifier: Apache-2.0
// Tanks: the list; one tank's contents by its tests, what its last changes did, what a plan would
// do to it; and a new water test.

import { element, facts, field, input, link, list, section, select, table, valuesOf }
  from "./dom.js";
import { planFields } from "./lots.js";
import { analysisForm } from "./preview.js";
import { getJson, readJson } from "./stream.js";
import { fan, legend, place, strip } from "./strip.js";
import { clock, quantity } from "./words.js";

const when = (text) => (text ? clock(new Date(text)) : "none yet");

const latest = (text, count) => (count > 1 ? `${when(text)}; ${count} in all` : when(text));

async function showList(main, isOld) {
  const answer = await getJson("/api/v1/tanks");
  if (isOld()) return;
  const rows = (answer?.tanks ?? []).map((tank) => [
    link(tank.tank, "tanks", tank.tank), quantity(tank.volume_l, 0, "L"),
    quantity(tank.at.reference_salinity_g_kg, 1, "ppt"), when(tank.latest_test),
    when(tank.latest_change)]);
  main.append(element("div", [
    element("h2", "Tanks", { tabindex: "-1" }),
    rows.length ? table(["Tank", "Volume", "Kept at", "Last test", "Last change"], rows)
      : element("p", answer
        ? ["No tank is on record. It is put there on the daemon's own computer: ",
           element("code", "brinegate tank add FILE"), "."] : "The tanks cannot be read now."),
  ], { class: "sheet" }));
}

function contentPart(row) {
  const uses = row.consumption.from === "none" ? "use not known"
    : `uses ${row.consumption.shown} (${row.consumption.from})`;
  const words = [
    row.now ? `now ${row.now.shown}` : "not tested", place(row.now, row.wanted),
    row.tested && `tested ${when(row.tested)}: ${row.latest.shown}`, uses].filter(Boolean).join(", ");
  const wanted = row.wanted ? `wanted ${row.wanted.shown} ${row.unit}` : "no range wanted";
  return element("article", [
    element("h4", row.name), element("p", wanted, { class: "strip-head" }),
    element("ul", element("li", [strip(row, { tank: row.now }),
                                 element("span", words, { class: "strip-words" })]),
            { class: "strips single" }),
  ]);
}

function reviewPart(review) {
  const outcomes = review?.outcomes ?? [];
  if (!outcomes.length) {
    return element("p", "Not known yet: it takes a change on record with a test before and after.");
  }
  const rows = outcomes.map((row) => [
    row.name, row.before?.shown ?? "–", row.foretold.shown, row.measured.shown,
    row.agrees ? "as foretold" : "otherwise than foretold", row.sentence]);
  return table(["Element", "Before", "Foretold", "Measured", "Verdict", "In words"], rows);
}

function forecastPart(forecast) {
  const rows = forecast.analytes.map((row) => element("article", [
    element("h4", row.name),
    element("p", `${row.wanted ? `wanted ${row.wanted.shown} ${row.unit}; ` : ""}`
      + `now ${row.tank.shown}, after ${forecast.plan.shown} ${row.after.shown}, for good `
      + `${row.tends_to.shown}`, { class: "strip-head" }),
    fan(row),
    row.sentence && element("p", `As wanted: ${row.sentence}.`, { class: "strip-words" }),
  ]));
  return [
    list(forecast.steps.map((step) => step.sentence), { class: "plain-list" }),
    element("p", "The band is what is wanted, the line what is expected, the fan its 95 %.",
            { class: "hint" }),
    element("div", rows, { class: "fans" }),
    forecast.not_tested.length
      && element("p", `Not tested in the tank: ${forecast.not_tested.join(", ")}.`, { class: "hint" }),
  ].filter(Boolean);
}

function forecastForm(tank, lots) {
  const shown = element("div", "", { role: "region", "aria-live": "polite",
                                     "aria-label": "The forecast" });
  const form = element("form", [
    field("Lot", select("lot", lots.map((lot) => [lot.lot, lot.lot]))),
    ...planFields(),
    element("p", element("button", "Foretell"), { class: "buttons" }),
  ], { class: "inline" });
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    const query = new URLSearchParams(valuesOf(form));
    const { ok, answer } =
      await readJson(`/api/v1/tanks/${encodeURIComponent(tank)}/forecast?${query}`);
    shown.replaceChildren(...(ok ? forecastPart(answer)
      : [element("p", answer.detail, { class: "violated" })]));
  });
  return [form, shown];
}

async function showOne(main, name, isOld) {
  const at = `/api/v1/tanks/${encodeURIComponent(name)}`;
  const [{ ok, answer: tank }, review, lots] = await Promise.all([
    readJson(at), getJson(`${at}/review`), getJson("/api/v1/lots")]);
  if (isOld()) return;
  if (!ok) {
    main.append(element("div", [element("h2", name, { tabindex: "-1" }),
                                element("p", tank.detail)], { class: "sheet" }));
    return;
  }
  main.append(element("div", [
    element("p", link("All tanks", "tanks")),
    element("h2", `Tank ${name}`, { tabindex: "-1" }),
    facts([
      ["Volume", quantity(tank.volume_l, 0, "L")],
      ["Kept at", `${quantity(tank.at.reference_salinity_g_kg, 1, "ppt")}, `
        + quantity(tank.temperature_c, 1, "°C")],
      ["Last test", latest(tank.latest_test, tank.tests)],
      ["Last change", latest(tank.latest_change, tank.changes)],
    ]),
    element("p", element("a", "Enter a water test",
                         { href: `#/tanks/${encodeURIComponent(name)}/test`, class: "act" })),
    section("What it holds", legend(["tank"]), ...tank.analytes.map(contentPart)),
    section("What the last changes did", reviewPart(review)),
    section("What changes would do", ...(lots?.lots.length ? forecastForm(name, lots.lots)
      : [element("p", "This needs a lot on record.")])),
  ], { class: "sheet" }));
}

function showEntry(main, tank) {
  const fields = [
    field("Sample taken", input("at", { type: "datetime-local", required: "" }),
          "In this device's time."),
    field("At a salinity of", input("salinity"), "35 ppt. Without it no value says anything."),
    field("By", input("by")),
  ];
  // What is stored is in UTC.
  const inUtc = (local) => `${new Date(local).toISOString().slice(0, 19)}Z`;
  main.append(element("div", [
    element("p", link(`Tank ${tank}`, "tanks", tank)),
    element("h2", `Enter a water test of ${tank}`, { tabindex: "-1" }),
    ...analysisForm({
      fields,
      requestOf: ({ at, ...values }) => ({ do: "tank test", tank, at: inUtc(at), ...values }),
      title: "Put this test on record",
      sentence: (test) => `This puts a water test of ${tank} with ${test.analytes.length} values, of `
        + `${when(test.tested)}, on record. Forecasts and rankings count it from then on; nothing of `
        + "a station depends on it.",
      done: () => { location.hash = `#/tanks/${encodeURIComponent(tank)}`; },
    }),
  ], { class: "sheet" }));
}

export async function show(main, [name, what], { isOld }) {
  if (!name) await showList(main, isOld);
  else if (what === "test") showEntry(main, name);
  else await showOne(main, name, isOld);
  return {};
}
