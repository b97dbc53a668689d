// SPDX-License-Identifier: Apache-2.0
// Alarms: what happened, what it leads to, what to do; and which check shut a gate first.

import { openAcknowledge, openShelve, openUnshelve } from "./actions.js";
import { button, element, facts, fill, section, table } from "./dom.js";
import { getJson } from "./stream.js";
import { clock, span, untilOf } from "./words.js";

const states = {
  unacknowledged: "standing, seen by nobody yet",
  acknowledged: "standing, seen",
  "returned unacknowledged": "over, seen by nobody yet",
};

const shelvedOf = (view, id) => view.shelved.find((each) => each.id === id);

const act = (name, view, alarm, what) => button(name, {
  "data-act": what, "data-station": view.station, "data-alarm": alarm.id,
  "aria-label": `${name}: ${alarm.cause}`,
});

const shelvedText = (shelved) => element("p", [
  element("strong", `Shelved ${untilOf(shelved)}`), shelved.reason ? `: ${shelved.reason}. ` : ". ",
  "Nothing is announced of it; what it blocks stays blocked.",
], { class: "shelved" });

function alarmParts(view, alarm) {
  const shelved = shelvedOf(view, alarm.id);
  const parts = [
    element("h4", alarm.cause),
    element("p", alarm.consequence),
    element("p", [element("strong", "What to do: "), alarm.action]),
    element("p", `State: ${states[alarm.state] ?? alarm.state}.`, { class: "state" }),
  ];
  if (shelved) parts.push(shelvedText(shelved));
  parts.push(element("p", [
    alarm.state !== "acknowledged" && act("Acknowledge", view, alarm, "acknowledge"),
    shelved ? act("Announce it again", view, alarm, "unshelve")
      : act("Shelve", view, alarm, "shelve"),
  ], { class: "buttons" }));
  return element("li", parts, { class: shelved ? "aside" : null });
}

// Those that are put aside and not there now.
function shelvedPart(view) {
  const others = view.shelved.filter((each) => !view.alarms.some(({ id }) => id === each.id));
  return others.length > 0 && element("ul", others.map((each) => element("li", [
    element("h4", each.cause), shelvedText(each),
    element("p", act("Announce it again", view, each, "unshelve"), { class: "buttons" }),
  ], { class: "aside" })), { class: "alarm-list" });
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
    shelvedPart(view),
    gateParts(view),
  ], { class: "block" });
}

const firstOutOf = ({ body }) => body.first_out?.sentence ?? "No check: the change ended.";

// What an entry of the record says of an alarm: its name, and what it became.
const became = {
  alarm: (body) => [body.cause, body.state],
  "alarm-shelved": (body) =>
    [body.cause, `shelved for ${span(body.for_s)}${body.reason ? `: ${body.reason}` : ""}`],
  "alarm-unshelved": (body) =>
    [body.cause, `announced again${body.by_itself ? ", its time was over" : ""}`],
};

async function past() {
  const record = async (kind) =>
    (await getJson(`/api/v1/record?kind=${kind}&limit=50`))?.record ?? [];
  const [shut, ...alarms] = await Promise.all(["shut", ...Object.keys(became)].map(record));
  const when = (entry) => clock(new Date(entry.at));
  const none = element("p", "None yet.");
  const rows = alarms.flat().sort((one, other) => other.sequence - one.sequence).map((entry) =>
    [when(entry), entry.station, ...became[entry.kind](entry.body)]);
  const shuts = shut.reverse().map((entry) =>
    [when(entry), entry.station, firstOutOf(entry)]);
  return [
    section("Alarms on record", rows.length
      ? table(["When", "Station", "Alarm", "Became"], rows) : none),
    section("What shut the gate first", shuts.length
      ? table(["When", "Station", "First-out"], shuts) : none.cloneNode(true)),
  ];
}

const openings = { acknowledge: openAcknowledge, shelve: openShelve, unshelve: openUnshelve };

export function show(main, _, { views }) {
  const now = element("div");
  const before = element("div");
  main.append(element("div", [element("h2", "Alarms", { tabindex: "-1" }), now, before],
                      { class: "sheet" }));
  now.addEventListener("click", ({ target }) => {
    const { act: kind, station, alarm: id } = target.closest("button")?.dataset ?? {};
    const view = views.get(station);
    if (!view) return;
    const alarm = view.alarms.find((each) => each.id === id) ?? shelvedOf(view, id);
    if (alarm) openings[kind](view, alarm);
  });
  let known = "";
  const update = () => {
    const all = [...views.values()];
    fill(now, all.map(stationPart));
    const gist = JSON.stringify(all.map((view) =>
      [view.gate, view.alarms, view.shelved.map(({ id, until }) => [id, until])]));
    if (gist === known) return;
    known = gist;
    past().then((parts) => fill(before, parts));
  };
  update();
  return { update };
}
