// SPDX-License-Identifier: Apache-2.0
// The page: a sheet for each station, kept as the daemon tells it.

import { element, Sheet } from "./sheet.js";
import { getJson, hasToken, setToken, watch } from "./stream.js";
import { clock } from "./words.js";

const sheets = new Map();
const gates = new Map();
const line = document.getElementById("line");
let heardAt = new Date();

function showLine(text, isBroken) {
  if (line.textContent !== text) line.textContent = text;
  line.classList.toggle("broken", isBroken);
  for (const sheet of sheets.values()) sheet.setOld(isBroken);
}

function showNames() {
  const links = [...gates].map(([name, gate]) =>
    element("a", `${name}: ${gate}`, { href: `#station-${name}` }));
  document.getElementById("stations").replaceChildren(...(links.length > 1 ? links : []));
  const open = [...gates].filter(([, gate]) => gate === "open").map(([name]) => name);
  document.title = `${open.length ? `Open: ${open.join(", ")}` : "Shut"} – Brinegate`;
}

function takeStation(view) {
  heardAt = new Date();
  let sheet = sheets.get(view.station);
  if (!sheet) {
    sheet = new Sheet(view.station);
    sheets.set(view.station, sheet);
    document.getElementById("sheets").append(sheet.root);
    sheet.show(view);
    sheet.course.readPast();
  } else {
    sheet.show(view);
  }
  if (gates.get(view.station) !== view.gate) {
    gates.set(view.station, view.gate);
    showNames();
  }
}

function tokenWanted() {
  const form = document.getElementById("token-form");
  form.hidden = false;
  document.getElementById("token-wrong").textContent = hasToken() ? "This is not the token." : "";
  showLine("The token is wanted", true);
  document.getElementById("token").focus();
  return new Promise((resolve) => {
    form.addEventListener("submit", (event) => {
      event.preventDefault();
      setToken(document.getElementById("token").value.trim(), document.getElementById("keep").checked);
      form.hidden = true;
      resolve();
    }, { once: true });
  });
}

async function showSite() {
  const answer = await getJson("/api/v1/stations");
  if (answer) document.getElementById("site").textContent = `Brinegate, ${answer.site}`;
}

watch("/api/v1/stream", {
  station: takeStation,
  connected() {
    showLine("Live", false);
    showSite();
    for (const sheet of sheets.values()) sheet.course.readPast();
  },
  lost() {
    showLine(`No connection: as it was at ${clock(heardAt)}`, true);
  },
  tokenWanted,
});
