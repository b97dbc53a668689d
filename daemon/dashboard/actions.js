// SPDX-License-Identifier: Apache-2.0
// What a person may ask for. Each says in a sentence what it will do before it is done; the daemon
// decides, and its refusal is shown with its reasons.

import { button, element, field, input, list, valuesOf } from "./dom.js";
import { getJson, hasToken, newId, postJson, setToken } from "./stream.js";
import { quantity } from "./words.js";

const askedFor = (value, otherwise) => value || otherwise;

// Each: its name, its fields, and the sentence of its values.
const acts = {
  change: {
    name: "Ask for a water change",
    fields: () => [field("How much", input("volume", { required: "", inputmode: "text" }),
                         "With its unit: 40 L")],
    says: ({ volume }, { station, batch }) =>
      `This asks the daemon to let the pump of ${station} draw ${askedFor(volume, "this much")} of `
      + `${batch ? `batch ${batch.id}` : "the batch"}. The pump starts only if every check is met `
      + "at that moment, and stops at that volume or as soon as a check is not met.",
  },
  stop: {
    name: "Stop the change",
    fields: () => [],
    says: (_, { station, change }) =>
      `This shuts the gate of ${station} and ends its change`
      + `${change ? `, with ${quantity(change.drawn_l, 1, "L")} drawn` : ""}. What is missing can be `
      + "asked for again.",
  },
  begin: {
    name: "Begin a batch",
    fields: (_, lots) => [
      field("Lot", input("lot", { required: "", list: "lots-known" }), "As on the bucket: H-2291"),
      element("datalist", lots.map((lot) => element("option", "", { value: lot.lot })),
              { id: "lots-known" }),
      field("Salt weighed in", input("salt"), "With its unit: 5.85 kg. It can be noted later."),
      field("Profile", input("profile"), "The station's own unless another is named."),
    ],
    says: ({ lot, salt, profile }, { station, batch }) =>
      `This begins a new batch in ${station} of lot ${askedFor(lot, "…")}, with `
      + `${askedFor(salt, "no salt")} noted${profile ? `, to be what ${profile} asks` : ""}. `
      + `${batch?.proof ? `Batch ${batch.id} ends with it. ` : ""}The new batch must be proven before `
      + "any of it can be drawn.",
  },
  note: {
    name: "Note salt or water added",
    fields: () => [
      field("Salt added", input("salt"), "With its unit: 86 g"),
      field("Fresh water added", input("water"), "With its unit: 2 L"),
      field("In words", input("text")),
    ],
    says: ({ salt, water, text }, { station, batch }) => {
      const added = [salt && `${salt} of salt`, water && `${water} of fresh water`].filter(Boolean);
      if (!added.length) {
        return `This writes ${text ? "these words" : "nothing yet"} into the record of ${station}.`;
      }
      return `This notes that ${added.join(" and ")} went into ${station}. `
        + (batch?.proof ? "It takes the proof away: the batch must be proven again."
          : "The batch is then held against the new dose.");
    },
  },
  test: {
    name: "Enter a hand test",
    fields: () => [
      field("What was measured", input("analyte", { required: "" }), "alkalinity, Ca, Mg …"),
      field("Value", input("value", { required: "" }), "With its unit: 8.2 dKH"),
    ],
    says: ({ analyte, value }, { station, batch }) =>
      `This enters ${askedFor(analyte, "a content")} of ${askedFor(value, "…")}, measured by hand in `
      + `${batch ? `batch ${batch.id}` : station}, into the record. Where the profile asks for this `
      + "test, the batch is held to it.",
  },
  abandon: {
    name: "Abandon the batch",
    fields: () => [],
    says: (_, { batch }) =>
      `This ends batch ${batch?.id ?? ""}. None of it can be drawn any more, and it cannot be taken `
      + "up again.",
  },
};

function openDialog(title, fields, sayOf, sendOf, doName) {
  const says = element("p", "", { class: "says", role: "status" });
  const answer = element("div", "", { role: "alert", class: "answer" });
  const tokenInput = input("token", { type: "password", autocomplete: "current-password" });
  const tokenField = field("Token", tokenInput, "Whoever acts needs the token of the "
    + "configuration's token_file. It is kept in this tab until you close it, and sent only to this "
    + "daemon.");
  const done = button("Leave it", { class: "plain" });
  const act = element("button", doName ?? title);
  const form = element("form", [element("h2", title, { id: "dialog-title" }), ...fields, says,
                                tokenField, answer, element("p", [act, done], { class: "buttons" })]);
  const dialog = element("dialog", form, { "aria-labelledby": "dialog-title" });
  const opener = document.activeElement;
  let id = newId();
  tokenField.hidden = hasToken();
  const tell = () => { says.textContent = sayOf(valuesOf(form)); };
  form.addEventListener("input", () => {
    id = newId(); // something else is asked for
    tell();
  });
  done.addEventListener("click", () => dialog.close());
  dialog.addEventListener("close", () => {
    dialog.remove();
    opener?.focus();
  });
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    const { token, ...values } = valuesOf(form);
    if (token) setToken(token);
    act.disabled = true;
    answer.replaceChildren();
    const { ok, status, answer: told } = await sendOf(values, id);
    act.disabled = false;
    act.focus();
    if (status) id = newId(); // it was answered: asking again is asking anew
    if (status === 401) told.detail = token ? "This is not the token." : "The token is wanted.";
    answer.replaceChildren(...answerParts(ok, told));
    answer.classList.toggle("refused", !ok);
    if (status === 401 || status === 403) {
      setToken("");
      tokenField.hidden = false;
      tokenInput.focus();
    }
    if (ok) {
      act.hidden = true;
      tokenField.hidden = true;
      done.textContent = "Close";
      done.focus();
    }
  });
  document.body.append(dialog);
  tell();
  dialog.showModal();
}

function answerParts(ok, told) {
  const detail = told.detail ?? told.message ?? (ok ? "Done." : "Refused.");
  const reasons = told.reasons ?? [];
  return [element("p", detail), ...(reasons.length ? [list(reasons)] : [])];
}

export async function openAct(kind, view) {
  const act = acts[kind];
  const lots = kind === "begin" ? (await getJson("/api/v1/lots"))?.lots ?? [] : [];
  openDialog(act.name, act.fields(view, lots), (values) => act.says(values, view),
             (values, id) => postJson("/api/v1/requests",
                                      { id, station: view.station, do: kind, ...values }));
}

export function openAcknowledge(view, alarm) {
  openDialog("Acknowledge the alarm", [element("p", alarm.cause)],
             () => "This writes into the record that somebody has seen this alarm. It mends nothing "
               + "and opens nothing: while the cause stands, the alarm stays here.",
             (_, id) => postJson("/api/v1/requests",
                                 { id, station: view.station, do: "acknowledge", alarm: alarm.id }),
             "Acknowledge");
}

export function openShelve(view, alarm) {
  openDialog("Shelve the alarm", [
    element("p", alarm.cause),
    field("For how long", input("for", { required: "", value: "2 h" }), "A day at most."),
    field("Why", input("reason"), "For the record."),
  ], ({ for: time }) => `For ${askedFor(time, "this long")} nothing is announced of this alarm, also `
       + "not to whoever is told elsewhere. It mends nothing and opens nothing: what the alarm "
       + "blocks stays blocked. It ends by itself, and with the daemon.",
  (values, id) => postJson("/api/v1/requests",
                           { id, station: view.station, do: "shelve", alarm: alarm.id, ...values }),
  "Shelve");
}

export function openUnshelve(view, alarm) {
  openDialog("Announce the alarm again", [element("p", alarm.cause)],
             () => "From now on this alarm is announced again, here and elsewhere.",
             (_, id) => postJson("/api/v1/requests",
                                 { id, station: view.station, do: "unshelve", alarm: alarm.id }),
             "Announce it again");
}

// Stores what a preview has shown.
export function openStore(title, sentence, request, done) {
  openDialog(title, [], () => sentence, async (_, id) => {
    const result = await postJson("/api/v1/requests", { id, ...request });
    if (result.ok) done();
    return result;
  }, "Put it on record");
}

// Those that make sense now; the daemon decides all the same.
export function offered(view) {
  const { batch, change } = view;
  const kinds = batch ? [change ? "stop" : "change", "note", "test", "abandon"] : [];
  if (!batch || (batch.proof && !change)) kinds.splice(-1, 0, "begin");
  return kinds.map((kind) => button(acts[kind].name, { "data-act": kind }));
}

