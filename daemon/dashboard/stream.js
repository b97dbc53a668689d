// SPDX-License-Identifier: Apache-2.0
// Talks with the daemon: JSON, and its server-sent events for as long as the page is open. By
// fetch and not by EventSource, which can send no token.

let token = sessionStorage.getItem("token") ?? "";

export const hasToken = () => token !== "";

// Until this tab is closed; never on the disk for longer.
export function setToken(value) {
  token = value;
  sessionStorage.setItem("token", value);
}

function ask(path, options = {}) {
  const headers = { ...options.headers };
  if (token) headers.Authorization = `Bearer ${token}`;
  return fetch(path, { ...options, headers, cache: "no-store" });
}

// Null where it is not answered.
export async function getJson(path) {
  try {
    const response = await ask(path);
    return response.ok ? await response.json() : null;
  } catch {
    return null;
  }
}

// As {ok, answer}; what went wrong is in answer.detail, in words.
async function told(response) {
  const answer = await response.json().catch(() => ({}));
  if (!response.ok && !answer.detail) answer.detail = `The daemon answered ${response.status}.`;
  return { ok: response.ok, status: response.status, answer };
}

const unreachable = { ok: false, status: 0,
                      answer: { detail: "The daemon was not reached. Nothing may have been done." } };

export const readJson = (path) => ask(path).then(told, () => unreachable);

export function postJson(path, body) {
  const headers = { "Content-Type": "application/json" };
  return ask(path, { method: "POST", headers, body: JSON.stringify(body) })
    .then(told, () => unreachable);
}

// A repeated id acts once.
export const newId = () =>
  Array.from(crypto.getRandomValues(new Uint32Array(3)), (each) => each.toString(36)).join("");

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
