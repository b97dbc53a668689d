// SPDX-License-Identifier: Apache-2.0
// The frame: which page is shown, the stations as the daemon tells them, the token for reading.

import { show as showAlarms } from "./alarms.js";
import { show as showBatches } from "./batches.js";
import { element, fill } from "./dom.js";
import { show as showInstruments } from "./instruments.js";
import { show as showLots } from "./lots.js";
import { Stations } from "./sheet.js";
import { getJson, hasToken, setToken, watch } from "./stream.js";
import { show as showTanks } from "./tanks.js";
import { clock } from "./words.js";

const stations = new Stations();
const views = new Map();
const pages = {
  stations: ["Stations", (main, path) => stations.show(main, path)],
  batches: ["Batches", showBatches],
  lots: ["Lots", showLots],
  tanks: ["Tanks", showTanks],
  instruments: ["Instruments", showInstruments],
  alarms: ["Alarms", showAlarms],
};
const main = document.getElementById("main");
const line = document.getElementById("line");
let heardAt = new Date();
let page = {};
let shownPage = "stations";
let turn = 0;

// " (2 now, 1 shelved)"
function alarmCounts() {
  const count = (name) => [...views.values()].reduce((sum, view) => sum + view[name].length, 0);
  const [alarms, shelved] = [count("alarms"), count("shelved")];
  const counts = [alarms && `${alarms} now`, shelved && `${shelved} shelved`].filter(Boolean);
  return counts.length ? ` (${counts.join(", ")})` : "";
}

function showNames() {
  const links = Object.entries(pages).map(([name, [title]]) => element(
    "a", name === "alarms" ? title + alarmCounts() : title,
    { href: `#/${name}`, "aria-current": name === shownPage ? "page" : null }));
  fill(document.getElementById("pages"), links);
  const open = [...views.values()].filter((view) => view.gate === "open")
    .map((view) => view.station);
  const gate = open.length ? `Open: ${open.join(", ")}` : "Shut";
  document.title = `${gate} – ${pages[shownPage][0]} – Brinegate`;
}

async function showPage(isFirst) {
  const [path, query] = location.hash.slice(2).split("?");
  if (location.hash && !location.hash.startsWith("#/")) return;
  const [name, ...rest] = path.split("/").map(decodeURIComponent);
  turn += 1;
  const mine = turn;
  shownPage = pages[name] ? name : "stations";
  page = {};
  const waiting = element("p", "Reading from the daemon …", { class: "waiting", role: "status" });
  main.replaceChildren(waiting);
  showNames();
  const shown = await pages[shownPage][1](main, rest.filter(Boolean), {
    views, params: new URLSearchParams(query), isOld: () => mine !== turn });
  if (mine !== turn) return;
  waiting.remove();
  page = shown ?? {};
  if (isFirst === true) return;
  scrollTo(0, 0);
  const heading = main.querySelector("h2");
  heading?.setAttribute("tabindex", "-1");
  (heading ?? main).focus({ preventScroll: true });
}

function showLine(text, isBroken) {
  if (line.textContent !== text) line.textContent = text;
  line.classList.toggle("broken", isBroken);
  main.classList.toggle("old", isBroken);
  stations.setOld(isBroken);
}

function takeStation(view) {
  heardAt = new Date();
  views.set(view.station, view);
  stations.take(view);
  showNames();
  page.update?.();
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
      setToken(document.getElementById("token").value.trim());
      form.hidden = true;
      resolve();
      if (shownPage !== "stations") showPage(true);
    }, { once: true });
  });
}

async function showSite() {
  const answer = await getJson("/api/v1/stations");
  if (answer) document.getElementById("site").textContent = `Brinegate, ${answer.site}`;
}

addEventListener("hashchange", showPage);
showPage(true);

watch("/api/v1/stream", {
  station: takeStation,
  connected() {
    showLine("Live", false);
    showSite();
    stations.readPast();
  },
  lost() {
    showLine(`No connection: as it was at ${clock(heardAt)}`, true);
  },
  tokenWanted,
});
