// SPDX-License-Identifier: Apache-2.0
// Lots: the list, one lot's analysis, a new analysis, and lots held against a tank and a plan.

import { element, facts, field, input, link, list, section, select, table, valuesOf }
  from "./dom.js";
import { analysisForm } from "./preview.js";
import { getJson, readJson } from "./stream.js";
import { legend, place, strip } from "./strip.js";
import { clock } from "./words.js";

const sheet = (title, ...content) =>
  element("div", [element("h2", title, { tabindex: "-1" }), ...content], { class: "sheet" });

export function planFields(given = {}) {
  return [
    field("Change", input("change", { value: given.change ?? "20 %", required: "" }),
          "A share of the tank or a volume: 20 % or 160 L"),
    field("Times", input("times", { value: given.times ?? "4", inputmode: "numeric" })),
    field("Every", input("every", { value: given.every ?? "7 d" })),
  ];
}

function compareForm(lots, tanks) {
  const choices = lots.map((lot) => element("label", [
    element("input", "", { type: "checkbox", name: "lot", value: lot.lot, checked: "" }),
    ` ${lot.lot}`]));
  const form = element("form", [
    element("fieldset", [element("legend", "Lots"), ...choices]),
    field("Tank", select("tank", tanks.map((tank) => [tank.tank, tank.tank]))),
    ...planFields(),
    element("p", element("button", "Compare"), { class: "buttons" }),
  ], { class: "inline" });
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    const { lot: _, ...plan } = valuesOf(form);
    const chosen = new FormData(form).getAll("lot");
    location.hash = `#/lots/compare?${new URLSearchParams({ ...plan, lots: chosen.join(",") })}`;
  });
  return form;
}

async function showList(main, isOld) {
  const [lots, tanks] = await Promise.all(["lots", "tanks"].map((each) =>
    getJson(`/api/v1/${each}`)));
  if (isOld()) return;
  const all = lots?.lots ?? [];
  const rows = all.map((lot) => [
    link(lot.lot, "lots", lot.lot), lot.salt || "–", lot.expires ?? "not stated", lot.values,
    lot.findings ? `${lot.findings}, look at it` : "none",
    lot.entered ? clock(new Date(lot.entered)) : "–"]);
  main.append(sheet("Lots",
    element("p", element("a", "Enter a lot's analysis", { href: "#/lots/enter", class: "act" })),
    rows.length ? table(["Lot", "Salt", "Expires", "Values", "Doubts", "Entered"], rows)
      : element("p", lots ? "No lot is on record yet." : "The lots cannot be read now."),
    section("Which lot for which tank", all.length && tanks?.tanks.length
      ? compareForm(all, tanks.tanks)
      : element("p", ["This needs a lot and a tank on record. A tank is put there on the daemon's own "
                      + "computer: ", element("code", "brinegate tank add FILE"), "."]))));
}

async function showOne(main, name, isOld) {
  const { ok, answer: lot } = await readJson(`/api/v1/lots/${encodeURIComponent(name)}`);
  if (isOld()) return;
  if (!ok) {
    main.append(sheet(name, element("p", lot.detail)));
    return;
  }
  const findings = lot.sanity.findings.map((each) => each.sentence);
  const rows = lot.analytes.map((row) => [
    row.name, row.content?.shown ?? "–", row.written,
    row.natural == null ? "–" : `${Number(row.natural.toPrecision(3))} ${row.unit}`]);
  main.append(element("div", [
    element("p", link("All lots", "lots")),
    element("h2", `Lot ${lot.lot}`, { tabindex: "-1" }),
    facts([
      ["Salt", lot.salt || "not stated"], ["Version", lot.version], ["Expires", lot.expires],
      ["Dry fraction", lot.dry_fraction], ["Method", lot.sample.method || null],
      ["Analysed at", `${lot.sample.reference_salinity_g_kg.toFixed(2)} ppt`],
      ["Entered", lot.entered && clock(new Date(lot.entered))], ["By", lot.entered_by || null],
    ]),
    section("What speaks against it", findings.length ? list(findings, { class: "findings" })
      : element("p", "Nothing about this analysis is impossible.")),
    section("Analysis", table(
      ["Element", `At ${lot.at.reference_salinity_g_kg.toFixed(2)} ppt`, "Written",
       "Natural sea water"], rows)),
  ], { class: "sheet" }));
}

function showEntry(main) {
  const fields = [
    field("Lot", input("name"), "As on the bucket. What the text says itself need not be said here."),
    field("Salt", input("salt")),
    field("Analysed at a salinity of", input("salinity"), "35 ppt"),
    field("Expires", input("expires", { type: "date" })),
  ];
  main.append(element("div", [
    element("p", link("All lots", "lots")),
    element("h2", "Enter a lot's analysis", { tabindex: "-1" }),
    ...analysisForm({
      fields,
      requestOf: (values) => ({ do: "lot add", ...values }),
      title: "Put this lot on record",
      sentence: (lot) => `This puts lot ${lot.lot} with ${lot.analytes.length} values on record. If `
        + "it is there already, this becomes its latest version, the old one is kept, and a proof "
        + "that leans on it is lost.",
      done: () => { location.hash = "#/lots"; },
    }),
  ], { class: "sheet" }));
}

// Of one lot on one element's strip.
function stripLine(name, row, marks, beside) {
  const where = place(marks.after ?? marks.lot, row.wanted);
  const words = [
    marks.lot ? `lot ${marks.lot.shown}` : "not in its analysis",
    marks.after && `after ${marks.after.shown}`, where,
  ].filter(Boolean).join(", ");
  return element("li", [element("strong", name, { class: "strip-name" }), strip(row, marks, beside),
                        element("span", words, { class: "strip-words" })]);
}

function elementPart(row, lots, forecasts) {
  const after = lots.map((_, i) =>
    forecasts[i]?.analytes.find((each) => each.analyte === row.analyte)?.after);
  const head = [
    row.wanted ? `wanted ${row.wanted.shown} ${row.unit}` : "no range wanted",
    row.tank ? `tank ${row.tank.shown}` : "tank not tested",
  ].join("; ");
  return element("article", [
    element("h4", row.name), element("p", head, { class: "strip-head" }),
    element("ul", lots.map((lot, i) =>
      stripLine(lot.lot, row, { tank: row.tank, lot: row.lots[i], after: after[i] },
                [...row.lots, ...after])), { class: "strips" }),
  ]);
}

function rankedPart(ranking) {
  const tied = ranking.lots.filter((lot) => lot.ties_with_first).length > 1;
  return element("ol", ranking.lots.map((lot) => element("li", [
    link(lot.lot, "lots", lot.lot),
    ` – distance ${lot.score.toFixed(2)} ± ${(1.96 * lot.standard_uncertainty).toFixed(2)}`,
    tied && lot.ties_with_first ? ", not to be told apart from the best" : "",
    lot.vetoes.length || lot.costs?.length ? list([
      ...lot.vetoes.map((veto) => element("strong", veto.sentence)),
      ...(lot.costs ?? []).map((cost) => cost.sentence)]) : "",
  ])), { class: "ranked" });
}

async function showComparison(main, params, isOld) {
  const tank = params.get("tank");
  const names = (params.get("lots") ?? "").split(",").filter(Boolean);
  const plan = new URLSearchParams(["change", "times", "every"].filter((key) => params.get(key))
    .map((key) => [key, params.get(key)]));
  const at = `/api/v1/tanks/${encodeURIComponent(tank)}`;
  const [compared, ranked, ...forecasts] = await Promise.all([
    readJson(`/api/v1/comparison?${new URLSearchParams({ lots: names.join(","), tank })}`),
    readJson(`${at}/ranking?lots=${encodeURIComponent(names.join(","))}&${plan}`),
    ...names.map((lot) => getJson(`${at}/forecast?${new URLSearchParams({ lot })}&${plan}`)),
  ]);
  if (isOld()) return;
  const failed = [compared, ranked].find((each) => !each.ok);
  const back = element("p", link("All lots", "lots"));
  if (failed) {
    main.append(element("div", [back, element("h2", "Lots compared", { tabindex: "-1" }),
                                element("p", failed.answer.detail)], { class: "sheet" }));
    return;
  }
  const ranking = ranked.answer;
  const rows = compared.answer.analytes;
  const wanted = rows.filter((row) => row.wanted);
  const others = rows.filter((row) => !row.wanted);
  const parts = (some) => some.map((row) =>
    elementPart(row, compared.answer.lots, forecasts));
  const steps = ranking.steps.filter((step) => step.moves || step.too_large)
    .map((step) => step.sentence);
  main.append(element("div", [
    back,
    element("h2", `Lots for ${tank}`, { tabindex: "-1" }),
    element("p", ranking.headline, { class: "headline" }),
    rankedPart(ranking),
    steps.length > 0 && list(steps, { class: "findings" }),
    section(`Element by element: the tank after ${ranking.plan.shown}`, legend(["tank", "lot", "after"]), ...parts(wanted)),
    others.length > 0 && element("details", [
      element("summary", `${others.length} elements of which no range is wanted`),
      ...parts(others)]),
  ], { class: "sheet" }));
}

export async function show(main, [name], { params, isOld }) {
  if (!name) await showList(main, isOld);
  else if (name === "enter") showEntry(main);
  else if (name === "compare") await showComparison(main, params, isOld);
  else await showOne(main, name, isOld);
  return {};
}
