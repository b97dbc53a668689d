// SPDX-License-Identifier: Apache-2.0
// Reads the daemon: JSON, and its server-sent events for as long as the page is open. By fetch and
// not by EventSource, which can send no token.

let token = sessionStorage.getItem("token") ?? localStorage.getItem("token") ?? "";

export const hasToken = () => token !== "";

export function setToken(value, keep) {
  token = value;
  sessionStorage.setItem("token", value);
  if (keep) localStorage.setItem("token", value);
}

function ask(path, options = {}) {
  const headers = token ? { Authorization: `Bearer ${token}` } : {};
  return fetch(path, { ...options, headers, cache: "no-store" });
}

export async function getJson(path) {
  const response = await ask(path);
  return response.ok ? response.json() : null;
}

const silentTooLongMs = 40_000; // the daemon says something at least every 15 s
const retryAfterMs = 2_000;

// Calls `events.station(view)` for each, `events.connected()` and `events.lost()` when that
// changes, and `events.tokenWanted()`, which resolves when there is another token.
export async function watch(path, events) {
  for (;;) {
    try {
      const given = new AbortController();
      const response = await ask(path, { signal: given.signal });
      if (response.status === 401 || response.status === 403) {
        await events.tokenWanted();
        continue;
      }
      if (response.ok) {
        events.connected();
        await readEvents(response.body.getReader(), events, given);
      }
    } catch {
      // It is tried again whatever the reason was.
    }
    events.lost();
    await new Promise((resolve) => setTimeout(resolve, retryAfterMs));
  }
}

async function readEvents(reader, events, given) {
  const decoder = new TextDecoder();
  let waiting = "";
  for (;;) {
    const silence = setTimeout(() => given.abort(), silentTooLongMs);
    const { value, done } = await reader.read();
    clearTimeout(silence);
    if (done) return;
    const blocks = (waiting + decoder.decode(value, { stream: true })).split("\n\n");
    waiting = blocks.pop();
    for (const block of blocks) {
      const data = block.split("\n").find((line) => line.startsWith("data: "));
      if (data) events.station(JSON.parse(data.slice("data: ".length)));
    }
  }
}
