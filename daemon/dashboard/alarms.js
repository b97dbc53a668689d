// SPDX-License-Identifier: Apache-2.0
// Alarms: what happened, what it leads to, what to do; and which check shut a gate first.

import { openAcknowledge } from "./actions.js";
import { button, element, facts, fill, section, table } from "./dom.js";
import { getJson } from "./stream.js";
import { clock } from "./words.js";

const states = {
  unacknowledged: "standing, seen by nobody yet",
  acknowledged: "standing, seen",
  "returned unacknowledged": "over, seen by nobody yet",
};

function alarmParts(view, alarm) {
  const parts = [
    element("h4", alarm.cause),
    element("p", alarm.consequence),
    element("p", [element("strong", "What to do: "), alarm.action]),
    element("p", `State: ${states[alarm.state] ?? alarm.state}.`, { class: "state" }),
  ];
  if (alarm.state !== "acknowledged") {
    parts.push(button("Acknowledge", {
      "data-station": view.station, "data-alarm": alarm.id,
      "aria-label": `Acknowledge: ${alarm.cause}`,
    }));
  }
  return element("li", parts);
}

function gateParts(view) {
  const first = view.checks.find((check) => check.id === view.first_out);
  return facts([
    ["Gate", view.gate],
    ["First-out", first ? `${first.title}: ${first.sentence}` : "no check shut it"],
  ]);
}

function stationPart(view) {
  return element("article", [
    element("h3", view.station),
    view.alarms.length
      ? element("ul", view.alarms.map((alarm) => alarmParts(view, alarm)), { class: "alarm-list" })
      : element("p", "No alarm."),
    gateParts(view),
  ], { class: "block" });
}

const firstOutOf = ({ body }) => body.first_out?.sentence ?? "No check: the change ended.";

async function past() {
  const [alarms, shut] = await Promise.all(["alarm", "shut"].map((kind) =>
    getJson(`/api/v1/record?kind=${kind}&limit=50`)));
  const when = (entry) => clock(new Date(entry.at));
  const none = element("p", "None yet.");
  const rows = (alarms?.record ?? []).reverse().map((entry) =>
    [when(entry), entry.station, entry.body.cause, entry.body.state]);
  const shuts = (shut?.record ?? []).reverse().map((entry) =>
    [when(entry), entry.station, firstOutOf(entry)]);
  return [
    section("Alarms on record", rows.length
      ? table(["When", "Station", "Alarm", "Became"], rows) : none),
    section("What shut the gate first", shuts.length
      ? table(["When", "Station", "First-out"], shuts) : none.cloneNode(true)),
  ];
}

export function show(main, _, { views }) {
  const now = element("div");
  const before = element("div");
  main.append(element("div", [element("h2", "Alarms", { tabindex: "-1" }), now, before],
                      { class: "sheet" }));
  now.addEventListener("click", ({ target }) => {
    const { station, alarm } = target.closest("button")?.dataset ?? {};
    const view = views.get(station);
    const meant = view?.alarms.find((each) => each.id === alarm);
    if (meant) openAcknowledge(view, meant);
  });
  let known = "";
  const update = () => {
    const all = [...views.values()];
    fill(now, all.map(stationPart));
    const gist = JSON.stringify(all.map((view) => [view.gate, view.alarms]));
    if (gist === known) return;
    known = gist;
    past().then((parts) => fill(before, parts));
  };
  update();
  return { update };
}
