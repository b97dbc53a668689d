// SPDX-License-Identifier: Apache-2.0
// Batches as the record has them: the list, and one with its dose, its proof, its permits and its
// course.

import { drawPast } from "./course.js";
import { element, facts, link, section, table } from "./dom.js";
import { getJson, readJson } from "./stream.js";
import { clock, mass, ppt, quantity, riskOf, share, span } from "./words.js";

const when = (text) => clock(new Date(text));
const salt = (batch) => (batch.salt_noted ? mass(batch.salt_g) : "not noted");
const litres = (value) => quantity(value, 1, "L");

// What has become of it, in a word.
const became = (batch) => batch.end ?? (batch.phase === "empty" ? "ended" : batch.phase);

const proofWords = (proof) =>
  (proof ? `proven, risk ${riskOf(proof.risk)}` : "not proven");

function headline(state) {
  const parts = [proofWords(state.proof), `${litres(state.drawn_l)} drawn`];
  if (became(state) !== "proven") parts.unshift(became(state));
  const text = parts.join("; ");
  return `${text.charAt(0).toUpperCase()}${text.slice(1)}`;
}

async function showList(main, isOld) {
  const answer = await getJson("/api/v1/batches");
  if (isOld()) return;
  const rows = (answer?.batches ?? []).map((batch) => [
    link(batch.batch, "batches", batch.batch), batch.station, when(batch.begun),
    batch.lot ? link(batch.lot, "lots", batch.lot) : "–", salt(batch), proofWords(batch.proof),
    litres(batch.drawn_l), became(batch),
  ]);
  main.append(element("div", [
    element("h2", "Batches", { tabindex: "-1" }),
    rows.length ? table(["Batch", "Station", "Begun", "Lot", "Salt", "Proof", "Drawn", "Now"], rows)
      : element("p", answer ? "No batch yet. Begin one on its station's sheet."
        : "The record cannot be read now."),
  ], { class: "sheet" }));
}

const notes = ({ salt_g: grams, salt_total_g: total, water_l: water, removed_l: removed, text }) => [
  grams > 0 && `${mass(grams)} of salt added`, total > 0 && `${mass(total)} of salt in all`,
  water > 0 && `${litres(water)} of water added`, removed > 0 && `${litres(removed)} taken out`, text,
].filter(Boolean).join(", ");

// One entry of the record in words.
const says = {
  "batch-begun": (body) => `Begun with lot ${body.lot}, salt ${salt(body)}.`,
  noted: (body) => `Noted: ${notes(body)}.`,
  "hand-test": (body) => `By hand: ${body.analyte} ${body.written ?? body.measured ?? ""}`,
  waived: (body) => `${body.check} waived by ${body.by} for ${span(body.length_s)}: ${body.reason}.`,
  "waiver-ended": (body) => `The waiver of ${body.check} ended: ${body.end}.`,
  proven: (body) => `Proven: ${body.says}. Risk of being out of tolerance: ${riskOf(body.proof.risk)}.`,
  "proof-lost": (body) => `The proof was lost: ${body.reason}.`,
  rejected: (body) => `Rejected: ${body.violated.map((check) => check.sentence).join(" ")}`,
  permit: (body) => `Permit for ${litres(body.volume_l)}, at a risk of ${riskOf(body.risk)}.`,
  "permit-withdrawn": () => "The permit was withdrawn before the gate opened.",
  opened: (body) => `Gate open, for ${litres(body.volume_l)}.`,
  shut: (body) => `Gate shut${body.first_out ? `, first-out: ${body.first_out.sentence}` : "."}`,
  "run-began": () => "The pump began to run.",
  "change-ended": (body) =>
    `${litres(body.drawn_l)} drawn of ${litres(body.asked_l)}: ${body.end}.`,
  "yield-learned": (body) => body.sentence ?? "",
  compared: (body) => `${body.probe} compared with the ${body.witness}: `
    + `${body.deviation_percent.toFixed(2)} ± ${body.uncertainty_percent.toFixed(2)} %.`,
  "batch-ended": (body) => `Ended: ${body.end}.`,
};

function entryRow({ at, kind, body }) {
  let words = kind;
  try {
    words = says[kind]?.(body) || kind;
  } catch {
    // Another version wrote it; its kind is still worth showing.
  }
  return [when(at), kind, words];
}

function proofPart(events) {
  const proven = events.filter((event) => event.kind === "proven").at(-1);
  if (!proven) return section("Proof", element("p", "This batch was not proven."));
  const { proof, says: what, checks, expected } = proven.body;
  const asked = ({ id, verdict }) => verdict !== "not asked" && id !== "batch-proven";
  const rows = checks.filter(asked).map((check) =>
    [check.title, check.waived ? `${check.verdict}, waived by ${check.waived.by}` : check.verdict,
     check.needed, check.measured, check.sentence]);
  const contents = Object.entries(expected ?? {});
  return section("Proof",
    element("p", `Proven ${when(proof.at)} (${what}), with a stated risk of ${riskOf(proof.risk)} that `
      + `the batch is in fact out of tolerance: ${ppt(proof.salinity_psu).toFixed(2)} ± `
      + `${quantity(1.96 * ppt(proof.standard_uncertainty_psu), 2, "ppt")} (95 %) at `
      + `${quantity(proof.temperature_c, 1, "°C")} in ${litres(proof.volume_l)}.`),
    element("details", [element("summary", "The checks as they were then"),
                        table(["Check", "Verdict", "Needed", "Measured", "In words"], rows)]),
    contents.length > 0 && element("details", [
      element("summary", "What the lot's analysis lets expect"),
      table(["Element", "Expected"], contents)]));
}

function volumesPart(events) {
  const ended = events.filter((event) => event.kind === "change-ended");
  const permits = new Map(events.filter((event) => event.kind === "permit")
    .map((event) => [event.body.id, event]));
  const rows = ended.map(({ at, body }) => {
    const permit = permits.get(body.permit);
    return [body.permit, permit ? when(permit.at) : "–", when(at), litres(body.asked_l),
            litres(body.drawn_l), body.end];
  });
  return section("Permits and volumes", rows.length
    ? table(["Permit", "Given", "Ended", "Asked", "Drawn", "End"], rows)
    : element("p", "Nothing was drawn of it."));
}

async function coursePart(report, figure) {
  const { begun, profile } = report.state;
  const from = Date.parse(begun);
  const last = report.state.end ? Date.parse(report.events.at(-1).at) : Date.now();
  const to = Math.min(last + 60_000, from + 30 * 86_400_000);
  const query = new URLSearchParams({
    station: report.station, probe: "salinity", from: begun,
    to: `${new Date(to).toISOString().slice(0, 19)}Z`,
    every: `${Math.max(1, Math.ceil((to - from) / 400_000))} s`,
  });
  const history = await getJson(`/api/v1/readings?${query}`);
  const band = { low: ppt(profile.target_psu - profile.tolerance_psu),
                 high: ppt(profile.target_psu + profile.tolerance_psu) };
  drawPast(figure, history?.readings ?? [], band);
}

async function showOne(main, id, isOld) {
  const { ok, answer } = await readJson(`/api/v1/batches/${encodeURIComponent(id)}`);
  if (isOld()) return;
  if (!ok) {
    main.append(element("div", [element("h2", "Batch", { tabindex: "-1" }),
                                element("p", answer.detail)], { class: "sheet" }));
    return;
  }
  const { state, events } = answer;
  const chart = element("div", "", {
    class: "chart", role: "img", "aria-label": "Course of the salinity" });
  const figure = element("figure", [chart, element("figcaption")]);
  const lots = (state.lots ?? []).map((part) => [
    link(part.lot, "lots", part.lot), ` ${share(part.share)} `]);
  main.append(element("div", [
    element("p", link("All batches", "batches")),
    element("h2", `Batch ${id}`, { tabindex: "-1" }),
    element("p", headline(state), { class: "headline" }),
    facts([
      ["Station", answer.station], ["Begun", when(state.begun)], ["Profile", state.profile.name],
      ["Lot", lots.length ? lots : state.lot], ["Salt", salt(state)],
      ["Dry fraction", `${(100 * state.dry_fraction).toFixed(1)} ± `
        + `${(196 * state.dry_fraction_uncertainty).toFixed(1)} %`
        + `${state.dry_fraction_learned ? ", learned" : ""}`],
      ["Rest of before", state.rest_l > 0.5
        && `${litres(state.rest_l)} at ${quantity(ppt(state.rest_salinity_psu), 2, "ppt")}`],
      ["Water noted", state.water_noted_l ? litres(state.water_noted_l) : null],
      ["Circulated", span(state.circulated_ns / 1e9)],
      state.proof_lost !== "none" && ["Proof lost", state.proof_lost],
    ].filter((pair) => pair && pair[1])),
    proofPart(events),
    volumesPart(events),
    section("Course of the salinity, ppt", figure),
    section("Record", table(["When", "What", "In words"], events.map(entryRow))),
  ], { class: "sheet" }));
  coursePart(answer, figure);
}

export async function show(main, [id], { isOld }) {
  await (id ? showOne(main, id, isOld) : showList(main, isOld));
  return {};
}
