// SPDX-License-Identifier: Apache-2.0
// Each probe: what it reads, whether that is trusted and why, how it was calibrated and verified,
// and whether it drifts.

import { element, facts, fill, link, section, table } from "./dom.js";
import { getJson } from "./stream.js";
import { clock, span } from "./words.js";

const meaning = {
  "no sample": "nothing has come from it yet",
  stale: "its last sample is too old",
  fault: "its line or device reports a fault",
  retained: "the broker only repeats an old value",
  "source clock ahead": "its time lies in our future",
  "not a number": "what comes is no number",
  "gross range": "outside what is possible",
  "exactly zero": "exactly zero, as of a broken wire",
  "in air": "it seems to hang in air",
  spike: "it jumped, and this is not confirmed yet",
  "rate of change": "it moves faster than water can",
  "flat line": "it has not moved for too long",
  "outside equation": "outside what can be computed with",
};

function trust(reading) {
  if (reading.quality === "good") return "good";
  return `${reading.quality}: ${meaning[reading.reason] ?? reading.reason}`;
}

const verified = { true: "yes, at two points against its own display",
                   false: "not yet: compare it with its own display at two points",
                   null: "not needed for this source" };

function healthParts(health) {
  if (!health) return [];
  const calibrated = health.calibrated
    ? `${clock(new Date(health.calibrated.at ?? health.calibrated))}` : "never with this daemon";
  const about = health.deviation_percent == null ? "not known yet"
    : `${health.deviation_percent.toFixed(2)} ± ${(2 * health.deviation_uncertainty_percent)
      .toFixed(2)} % (95 %), of ${health.limit_percent.toFixed(1)} % that would be too much`;
  return [
    ["Calibrated", calibrated],
    ["Calibrate by", health.calibrate_by && clock(new Date(health.calibrate_by))],
    ["Deviates by", about],
    ["Compared", health.comparisons === 1 ? "once" : `${health.comparisons} times`],
  ];
}

function comparisons(health) {
  if (!health?.points?.length) return null;
  const rows = [...health.points].reverse().slice(0, 12).map((point) => [
    clock(new Date(point.at)), point.witness,
    point.batch ? link(point.batch, "batches", point.batch) : "–",
    `${point.deviation_percent.toFixed(2)} ± ${(2 * point.uncertainty_percent).toFixed(2)} %`,
  ]);
  return element("details", [element("summary", "What it was compared with"),
                             table(["When", "Witness", "Batch", "Deviation (95 %)"], rows)]);
}

function probePart(view, name, reading) {
  const health = view.probe_health?.[name];
  return element("article", [
    element("h4", name),
    element("p", [element("strong", reading.shown ?? "not known"), ` – ${trust(reading)}`],
            { class: reading.quality === "good" ? "reads" : "reads violated" }),
    health?.sentence && element("p", health.sentence),
    facts([
      ["Heard", reading.age_s == null ? "not at all" : `${span(reading.age_s)} ago`],
      ["Verified", verified[reading.verified]],
      reading.simulated && ["Source", "simulated: never enough for a real pump"],
      ...healthParts(health),
    ]),
    comparisons(health),
  ], { class: "block" });
}

async function past() {
  const kinds = ["calibration", "verification", "map-entry-edited"];
  const all = await Promise.all(kinds.map((kind) => getJson(`/api/v1/record?kind=${kind}&limit=50`)));
  const rows = all.flatMap((each) => each?.record ?? [])
    .sort((one, other) => other.sequence - one.sequence)
    .map((entry) => [clock(new Date(entry.at)), entry.station, entry.body.probe,
                     wordsOf(entry)]);
  return section("Calibrations and verifications on record", rows.length
    ? table(["When", "Station", "Probe", "What"], rows)
    : element("p", ["None yet. They are made at the instrument, on the daemon's own computer: ",
                    element("code", "brinegate probe calibrate"), "."]));
}

function wordsOf({ kind, body }) {
  if (kind === "calibration") {
    return `calibrated: slope ${body.slope.toFixed(4)}, offset ${body.offset.toFixed(4)}`;
  }
  if (kind === "verification") {
    return `compared with its display: ${body.agrees ? "agrees" : "disagrees"}`
      + `${body.verified ? ", verified" : ""}`;
  }
  return `its register map entry was edited: ${body.reason}`;
}

export function show(main, _, { views }) {
  const now = element("div");
  const before = element("div");
  main.append(element("div", [element("h2", "Instruments", { tabindex: "-1" }), now, before],
                      { class: "sheet" }));
  const update = () => {
    const open = [...now.querySelectorAll("details")].map((each) => each.open);
    fill(now, [...views.values()].map((view) => element("section", [
      element("h3", view.station),
      element("div", Object.entries(view.readings).map(([name, reading]) =>
        probePart(view, name, reading)), { class: "blocks" }),
    ])));
    now.querySelectorAll("details").forEach((each, i) => { each.open = open[i] ?? false; });
  };
  update();
  past().then((part) => before.replaceChildren(part));
  return { update };
}
