// SPDX-License-Identifier: Apache-2.0
// Entering an analysis as a person has it: what was read and what could not be read is shown
// before anything is stored. Nothing is guessed here; the daemon reads.

import { openStore } from "./actions.js";
import { element, field, input, section, table, valuesOf } from "./dom.js";
import { postJson } from "./stream.js";

function readPart(content) {
  const rows = content.analytes.map((row) => [
    row.name, row.written, row.content?.shown ?? "–", row.line ?? "–"]);
  const findings = content.sanity?.findings ?? [];
  return section("What was read",
    table(["Element", "Written", `At ${content.sample.reference_salinity_g_kg.toFixed(2)} ppt`,
           "Line"], rows),
    content.dry_fraction != null && element("p", `It states a dry fraction of ${content.dry_fraction}. `
      + "That is put on record on the daemon's own computer only."),
    findings.length ? element("ul", findings.map((each) => element("li", each.sentence)),
                              { class: "findings" })
      : element("p", "Nothing about it is impossible."));
}

function unreadPart(lines) {
  if (!lines.length) return element("p", "Every line was understood.");
  return section("What is passed over", element("p", "These lines will not count."),
    table(["Line", "Text", "Why"], lines.map((each) => [each.line, each.text, each.why])));
}

function errorsPart(errors) {
  return errors.length && section("It cannot be stored as it is",
    element("ul", errors.map((each) => element("li", each)), { class: "findings" }));
}

// `fields` are beside the text; `requestOf(values)` makes the request of them.
export function analysisForm({ fields, requestOf, title, sentence, done }) {
  const text = element("textarea", "", { name: "text", rows: 9, required: "", spellcheck: "false" });
  const file = input("file", { type: "file", accept: ".json,.csv,.txt,text/*,application/json" });
  file.addEventListener("change", async () => {
    if (file.files[0]) text.value = await file.files[0].text();
  });
  const shown = element("div", "", { role: "region", "aria-live": "polite",
                                     "aria-label": "What was read" });
  const form = element("form", [
    ...fields,
    field("From a file", file),
    field("Analysis", text, "Pasted as it is: our JSON, CSV, or a table copied from a page."),
    element("p", element("button", "Read it"), { class: "buttons" }),
  ]);
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    const request = requestOf({ ...valuesOf(form), text: text.value });
    const { ok, answer } = await postJson("/api/v1/preview", request);
    if (!ok) {
      shown.replaceChildren(element("p", answer.detail, { class: "violated" }));
      return;
    }
    const store = element("button", title, { type: "button" });
    store.addEventListener("click", () => openStore(title, sentence(answer.content), request, done));
    shown.replaceChildren(...[
      errorsPart(answer.errors), answer.content && readPart(answer.content),
      unreadPart(answer.unread),
      answer.content ? element("p", store, { class: "buttons" })
        : element("p", "Nothing can be stored yet."),
    ].filter(Boolean));
  });
  form.addEventListener("input", () => shown.replaceChildren());
  return [form, shown];
}
