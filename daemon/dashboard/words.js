// SPDX-License-Identifier: Apache-2.0
// Numbers and times as people read them.

const pptOfPsu = 35.16504 / 35; // reference salinity in g/kg of a practical salinity (TEOS-10)

export const ppt = (psu) => psu * pptOfPsu;

export function quantity(value, decimals, unit) {
  return value == null ? "not known" : `${value.toFixed(decimals)} ${unit}`;
}

export function timeOfDay(date, withSeconds = false) {
  const parts = { hour: "2-digit", minute: "2-digit", hourCycle: "h23" };
  return date.toLocaleTimeString([], withSeconds ? { ...parts, second: "2-digit" } : parts);
}

// The time today, else with its day.
export function clock(date) {
  const time = timeOfDay(date);
  const now = new Date();
  if (date.toDateString() === now.toDateString()) return time;
  const year = date.getFullYear() === now.getFullYear() ? undefined : "numeric";
  return `${date.toLocaleDateString([], { day: "numeric", month: "short", year })}, ${time}`;
}

export const untilOf = ({ until }) => `until ${clock(new Date(until))}`;

export function span(seconds) {
  if (seconds < 90) return `${Math.round(seconds)} s`;
  if (seconds < 90 * 60) return `${Math.round(seconds / 60)} min`;
  if (seconds < 36 * 3600) return `${(seconds / 3600).toFixed(1)} h`;
  return `${(seconds / 86400).toFixed(1)} d`;
}

export function mass(grams) {
  return grams < 1000 ? `${grams.toFixed(0)} g` : `${(grams / 1000).toFixed(3)} kg`;
}

// Digits beyond these say nothing of water.
export const riskOf = (fraction) => (fraction < 1e-5 ? "under 0.001 %" : share(fraction));

export function share(fraction) {
  return `${Number((100 * fraction).toPrecision(2))} %`;
}
