// SPDX-License-Identifier: Apache-2.0
// The course of the salinity toward its band: what was measured as a line, what is expected as a
// dashed line in its fan, what is wanted as a ruled band.

import { getJson } from "./stream.js";
import { clock, ppt, quantity, span, timeOfDay } from "./words.js";

const longestS = 12 * 3600;
const shortestS = 5 * 60;
const rows = 400;
const forecastPoints = 40;
const coverage95 = 1.96; // standard uncertainties

export class Course {
  constructor(station, figure) {
    this.station = station;
    this.chart = figure.querySelector(".chart");
    this.caption = figure.querySelector("figcaption");
    this.past = []; // [unix seconds, ppt]
    this.plot = null;
    this.drawnAt = 0;
    new ResizeObserver(() => this.draw()).observe(this.chart);
    matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => this.draw());
  }

  // Again after a break, so that no gap remains.
  async readPast() {
    if (!this.view?.salinity && !this.view?.batch) return;
    const to = Date.now() / 1000;
    const begun = this.view.batch ? Date.parse(this.view.batch.begun) / 1000 : 0;
    const from = Math.max(to - longestS, Math.min(begun - 60, to - shortestS));
    const every = Math.max(1, Math.ceil((to - from) / rows));
    const query = new URLSearchParams({
      station: this.station, probe: "salinity", from: iso(from), every: `${every} s`,
    });
    const history = await getJson(`/api/v1/readings?${query}`);
    if (!history) return;
    const since = history.readings.length ? Date.parse(history.readings.at(-1).at) / 1000 : 0;
    this.past = history.readings
      .filter((row) => row.value != null)
      .map((row) => [Date.parse(row.at) / 1000, ppt(row.value)])
      .concat(this.past.filter(([at]) => at > since));
    this.draw();
  }

  take(view) {
    const other = this.view && this.view.batch?.id !== view.batch?.id;
    this.view = view;
    const at = Date.parse(view.at) / 1000;
    if (view.salinity && !(this.past.at(-1)?.[0] >= at)) {
      this.past.push([at, view.salinity.reference_salinity_g_kg]);
    }
    const oldest = at - longestS;
    while (this.past.length > 2 * rows && (this.past[0][0] < oldest || this.past.length > 8 * rows))
      this.past.shift();
    if (other) this.readPast();
    this.draw();
  }

  // What is expected: from what is measured now to the final value, as fast as the rest of the time
  // says, and ever less surely.
  future() {
    const { forecast, salinity, at } = this.view;
    if (!forecast || !salinity || !(forecast.time_left_high_s > 0)) return [];
    const now = Date.parse(at) / 1000;
    const start = salinity.reference_salinity_g_kg;
    const surely = salinity.standard_uncertainty_g_kg;
    const unsurely = Math.max(surely, forecast.final_uncertainty_g_kg);
    const last = Math.max(forecast.time_left_high_s, forecast.time_left_s);
    const pace = Math.max(forecast.time_left_s, 1) / 3;
    return Array.from({ length: forecastPoints + 1 }, (_, i) => {
      const t = (last * i) / forecastPoints;
      const done = 1 - Math.exp(-t / pace);
      const value = start + (forecast.final_g_kg - start) * done;
      const half = coverage95 * Math.hypot(surely, Math.sqrt(unsurely ** 2 - surely ** 2) * done);
      return [now + t, value, value - half, value + half];
    });
  }

  draw() {
    if (!this.view || this.chart.clientWidth === 0) return;
    const batch = this.view.batch;
    const future = this.future();
    const data = [
      [...this.past.map(([at]) => at), ...future.map(([at]) => at)],
      [...this.past.map(([, value]) => value), ...future.map(() => null)],
      ...[1, 2, 3].map((i) => [...this.past.map(() => null), ...future.map((point) => point[i])]),
    ];
    const band = batch && {
      low: batch.target_g_kg - batch.tolerance_g_kg,
      high: batch.target_g_kg + batch.tolerance_g_kg,
    };
    this.plot?.destroy();
    this.plot = data[0].length > 1 ? new uPlot(this.options(band), data, this.chart) : null;
    this.describe(band, future);
  }

  options(band) {
    return optionsOf(this.chart, band);
  }

  describe(band, future) {
    const { salinity, forecast } = this.view;
    const parts = [];
    if (salinity) {
      const half = coverage95 * salinity.standard_uncertainty_g_kg;
      parts.push(`Now ${around(salinity.reference_salinity_g_kg, half)}.`);
    } else {
      parts.push("The salinity is not known now.");
    }
    if (band) {
      const [low, high] = [band.low.toFixed(1), quantity(band.high, 1, "ppt")];
      parts.push(`Wanted, between the rules: ${low} to ${high}.`);
    }
    if (future.length) {
      const half = coverage95 * forecast.final_uncertainty_g_kg;
      const [low, high] = [forecast.time_left_low_s, forecast.time_left_high_s].map(span);
      const when = forecast.time_left_low_s < 1 || low === high ? `within ${high}`
        : `in ${low} to ${high}`;
      parts.push(`Expected, dashed in its 95 % fan: ${around(forecast.final_g_kg, half)} ${when}.`);
    }
    const text = parts.join(" ");
    if (this.caption.textContent !== text) this.caption.textContent = text;
    const since = this.past.length ? ` since ${clock(new Date(this.past[0][0] * 1000))}` : "";
    this.chart.setAttribute("aria-label", `Course of the salinity${since}. ${text}`);
  }
}

function optionsOf(chart, band) {
  const color = (name) => getComputedStyle(chart).getPropertyValue(name);
  const font = "13px system-ui, sans-serif";
  const axis = { stroke: color("--faint"), font, grid: { stroke: color("--rule"), width: 0.5 },
                 ticks: { show: false } };
  const times = { ...axis, size: 30, space: 84, values: (_, ticks) => ticks.map(tickTime) };
  const salinities = { ...axis, size: 44, values: (_, ticks) => ticks.map((tick) => `${tick}`) };
  const line = (more) => ({ stroke: color("--water"), width: 2, points: { show: false }, ...more });
  return {
    width: chart.clientWidth,
    height: 260,
    legend: { show: false },
    cursor: { show: false },
    scales: {
      x: { range: (_, first, last) => [first, Math.max(last, first + shortestS)] },
      y: { range: (_, low, high) => rangeAround(low, high, band) },
    },
    axes: [times, salinities],
    series: [{}, line(), line({ dash: [6, 5] }), line({ width: 0 }), line({ width: 0 })],
    bands: [{ series: [4, 3], fill: color("--water-wash") }],
    hooks: { drawAxes: [(plot) => band && drawBand(plot, band, color, font)] },
  };
}

// A course that has ended, from rows of the history.
export function drawPast(figure, rows, band) {
  const chart = figure.querySelector(".chart");
  const known = rows.filter((row) => row.value != null);
  const caption = figure.querySelector("figcaption");
  if (known.length < 2) {
    caption.textContent = "No readings of it are kept.";
    chart.setAttribute("aria-label", caption.textContent);
    return;
  }
  const values = known.map((row) => ppt(row.value));
  const nothing = values.map(() => null);
  const data = [known.map((row) => Date.parse(row.at) / 1000), values, nothing, nothing, nothing];
  let plot;
  const draw = () => {
    plot?.destroy();
    plot = chart.clientWidth ? new uPlot(optionsOf(chart, band), data, chart) : null;
  };
  new ResizeObserver(draw).observe(chart);
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", draw);
  const [first, last] = [known[0], known.at(-1)].map((row) => clock(new Date(row.at)));
  caption.textContent = `From ${values[0].toFixed(2)} ppt at ${first} to `
    + `${values.at(-1).toFixed(2)} ppt at ${last}. Wanted, between the rules: `
    + `${band.low.toFixed(1)} to ${band.high.toFixed(1)} ppt.`;
  chart.setAttribute("aria-label", `Course of the salinity. ${caption.textContent}`);
}

function tickTime(seconds, _, ticks) {
  const isFine = ticks.length > 1 && ticks[1] - ticks[0] < 60;
  return timeOfDay(new Date(seconds * 1000), isFine);
}

function around(value, half) {
  return `${value.toFixed(2)} ± ${quantity(half, 2, "ppt")}`;
}

function rangeAround(low, high, band) {
  const values = [low, high, band?.low, band?.high].filter((value) => value != null);
  const [bottom, top] = [Math.min(...values), Math.max(...values)];
  const margin = Math.max(0.08 * (top - bottom), 0.1);
  return [Math.max(0, bottom - margin), top + margin];
}

function drawBand(plot, band, color, font) {
  const { left, width } = plot.bbox;
  const [top, bottom] = [band.high, band.low].map((value) => plot.valToPos(value, "y", true));
  const context = plot.ctx;
  context.save();
  context.fillStyle = color("--band");
  context.fillRect(left, top, width, bottom - top);
  context.strokeStyle = color("--band-edge");
  context.lineWidth = 1.5 * devicePixelRatio;
  for (const y of [top, bottom]) {
    context.beginPath();
    context.moveTo(left, y);
    context.lineTo(left + width, y);
    context.stroke();
  }
  context.font = font.replace(/^(\d+)/, (size) => size * devicePixelRatio);
  context.fillStyle = color("--band-edge");
  context.textAlign = "right"; // above the band, where the course is no more
  context.textBaseline = "bottom";
  context.fillText("wanted", left + width - 6 * devicePixelRatio, top - 3 * devicePixelRatio);
  context.restore();
}

function iso(seconds) {
  return `${new Date(seconds * 1000).toISOString().slice(0, 19)}Z`;
}
