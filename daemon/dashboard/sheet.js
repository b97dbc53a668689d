// SPDX-License-Identifier: Apache-2.0
// One station's sheet: the gate and why, the checks line by line, the course, the batch's facts.

import { offered, openAct } from "./actions.js";
import { Course } from "./course.js";
import { command, element, fill, link } from "./dom.js";
import { clock, mass, quantity, riskOf, share, span, untilOf } from "./words.js";

const marks = { met: "✓", waiting: "…", violated: "✕" };

export class Sheet {
  constructor(name) {
    this.root = document.getElementById("sheet").content.cloneNode(true).firstElementChild;
    this.root.id = `station-${name}`;
    this.find(".name").textContent = name;
    this.course = new Course(name, this.find("figure"));
    this.isOld = false;
    this.find(".acts").addEventListener("click", ({ target }) => {
      const kind = target.closest("button")?.dataset.act;
      if (kind) openAct(kind, this.view);
    });
  }

  find(selector) {
    return this.root.querySelector(selector);
  }

  show(view) {
    this.view = view;
    this.showGate();
    const why = view.headline.replace(/^(Open|Shut): /, "");
    this.find(".headline span").textContent = why.charAt(0).toUpperCase() + why.slice(1);
    this.find(".phase").textContent = view.batch ? `Batch ${view.phase}` : "No batch";
    const advice = view.advice.filter((each) => !view.headline.includes(each.sentence));
    fill(this.find(".advice"), advice.map((each) => element("li", each.sentence)));
    this.showAlarms(view);
    this.showWaivers(view);
    this.showChecks(view);
    fill(this.find(".batch"), batchFacts(view));
    fill(this.find(".readings tbody"), Object.entries(view.readings).map(readingRow));
    fill(this.find(".acts"), offered(view));
    this.find(".acceptance").textContent = view.acceptance?.sentence ?? "";
    this.course.take(view);
  }

  showAlarms(view) {
    const { alarms } = view;
    this.find(".alarms").hidden = alarms.length === 0;
    fill(this.find(".alarms ul"), alarms.map((alarm) => {
      const shelved = view.shelved.find((each) => each.id === alarm.id);
      return element("li", [
        element("strong", `${alarm.cause} `), `${alarm.consequence} ${alarm.action} `,
        element("span", `(${alarm.state}${shelved ? `, shelved ${untilOf(shelved)}` : ""})`),
      ]);
    }));
  }

  showWaivers(view) {
    const waived = view.checks.filter((check) => check.waived);
    this.find(".waivers").hidden = waived.length === 0;
    fill(this.find(".waivers ul"), waived.map((check) => waiverPart(check, view)));
  }

  showChecks(view) {
    const asked = view.checks.filter((check) => check.verdict !== "not asked");
    fill(this.find(".checks tbody"), asked.flatMap((check) => checkRows(check, view)));
    const others = view.checks.filter((check) => check.verdict === "not asked");
    this.find(".not-asked").textContent = others.length
      ? `Not asked of this station now: ${others.map((check) => check.title.toLowerCase()).join(", ")}.`
      : "";
  }

  showGate() {
    const { gate } = this.view;
    const word = this.isOld ? `Was ${gate}` : { open: "Open", shut: "Shut" }[gate];
    const stamp = this.find(".gate");
    if (stamp.textContent !== word) stamp.textContent = word;
    stamp.classList.toggle("open", gate === "open" && !this.isOld);
  }

  // Whether what it shows is only the last that was heard.
  setOld(isOld) {
    this.isOld = isOld;
    this.root.classList.toggle("old", isOld);
    this.showGate();
  }
}

// Waivers are the daemon's own computer's to give and to take (S8, S13): here is what to type there.
function waiverPart(check, view) {
  const { by, reason } = check.waived;
  return element("li", [
    element("strong", `${check.title}: waived by ${by} ${untilOf(check.waived)}. `),
    `The reason: ${reason}. It passes whatever it says, and this stands with the proof and every `
      + "permit. To take it back, type on the daemon's own computer: ",
    command(`brinegate batch unwaive ${view.station} ${check.id}`),
  ]);
}

const waiverHint = (check, station) => element("span", [
  "The profile lets a person waive this for a while, on the daemon's own computer: ",
  command(`brinegate batch waive ${station} ${check.id} --by NAME --reason WHY --for "2 h"`),
], { class: "hint" });

function checkRows(check, view) {
  const isMet = check.verdict === "met";
  const values = check.needed || check.measured || !isMet
    ? [element("td", check.needed, { "data-label": "needed" }),
       element("td", check.measured, { "data-label": "measured" })]
    : [element("td", check.sentence, { class: "said", colspan: "2" })];
  const line = element("tr", [
    element("td", [
      element("span", marks[check.verdict], { class: "mark", "aria-hidden": "true" }),
      element("span", check.verdict, { class: "word" }),
      check.waived && element("span", "waived", { class: "stamp" }),
    ]),
    element("th", check.title, { scope: "row" }),
    ...values,
    element("td", clock(new Date(Date.parse(view.at) - check.since_s * 1000)), { class: "since" }),
  ], { class: check.verdict });
  if (isMet) return [line];
  line.classList.add("before-why");
  const why = element("td", [
    element("span", check.sentence),
    check.waivable && !check.waived && waiverHint(check, view.station),
  ], { colspan: "4" });
  return [line, element("tr", [element("td"), why], { class: "why" })];
}

function lotsOf({ lot, lots }) {
  if (!lots?.length) return lot;
  return lots.map((part, i) => [i ? ", " : "", link(part.lot, "lots", part.lot),
                                lots.length > 1 ? ` ${share(part.share)}` : ""]);
}

function batchFacts({ batch, change, permit, volume_l: volume, temperature_c: temperature }) {
  const facts = [
    ["Volume now", quantity(volume, 1, "L")], ["Temperature now", quantity(temperature, 2, "°C")],
  ];
  if (batch) {
    facts.push(
      ["Batch", link(batch.id, "batches", batch.id)], ["Lot", lotsOf(batch)], ["Profile", batch.profile],
      ["Begun", clock(new Date(batch.begun))],
      ["Salt", batch.salt_g == null ? "not noted" : mass(batch.salt_g)],
      ["Circulated", span(batch.circulated_s)],
      ["Drawn", quantity(batch.drawn_l, 1, "L")],
    );
    if (batch.proof) {
      facts.push(["Proven", clock(new Date(batch.proof.at))],
        ["Proof", `${quantity(batch.proof.salinity_g_kg, 2, "ppt")}; ${riskOf(batch.proof.risk)} risk of ` +
          `being out of tolerance; ${batch.proof.says}`]);
    }
  }
  if (permit) facts.push(["Permit", `${permit.id} for ${quantity(permit.volume_l, 1, "L")}`]);
  if (change) {
    const [drawn, asked] = [change.drawn_l, change.asked_l].map((l) => quantity(l, 1, "L"));
    facts.push(["Change", `${drawn} of ${asked}`]);
  }
  return facts.flatMap(([name, value]) => [element("dt", name), element("dd", value)]);
}

function readingRow([probe, reading]) {
  const notes = [reading.reason === "none" ? reading.quality : `${reading.quality}: ${reading.reason}`];
  if (reading.simulated) notes.push("simulated");
  if (reading.verified === false) notes.push("to be verified");
  return element("tr", [
    element("th", probe, { scope: "row" }), element("td", reading.shown ?? "not known"),
    element("td", notes.join(", ")),
  ], { class: reading.quality === "good" ? "" : "violated" });
}

// All sheets, kept while other pages are shown.
export class Stations {
  constructor() {
    this.root = element("div");
    this.names = element("nav", "", { "aria-label": "Stations", class: "names" });
    this.sheets = new Map();
  }

  show(main, [name]) {
    main.append(this.names, this.root);
    this.sheets.get(name)?.root.scrollIntoView();
    return {};
  }

  take(view) {
    let sheet = this.sheets.get(view.station);
    const isNew = !sheet;
    if (isNew) {
      sheet = new Sheet(view.station);
      this.sheets.set(view.station, sheet);
      this.root.append(sheet.root);
    }
    sheet.show(view);
    if (isNew) sheet.course.readPast();
    const all = [...this.sheets.values()].map((each) => each.view);
    fill(this.names, all.length < 2 ? []
      : all.map((each) => element("a", `${each.station}: ${each.gate}`,
                                  { href: `#/stations/${encodeURIComponent(each.station)}` })));
    this.names.hidden = all.length < 2;
  }

  setOld(isOld) {
    for (const sheet of this.sheets.values()) sheet.setOld(isOld);
  }

  readPast() {
    for (const sheet of this.sheets.values()) sheet.course.readPast();
  }
}
