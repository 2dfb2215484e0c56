/**
 * Talking to the lab's server: requests, the records of a stream, and whether the server is there.
 *
 * A record is u32 little-endian n, n bytes of JSON, then as many bytes as its `bytes` says.
 */

const RETRY_MS = 1500;
const meta = document.querySelector('meta[name="lab-token"]');

/** The server refused: one line in its own words, and the place it means. */
class Refused extends Error {
  constructor(message, place = null) {
    super(message);
    this.place = place;
  }
}

/** The server does not answer. */
class Gone extends Error {}

const health = { there: true, listeners: new Set(), timer: null };

/** Call with true when the server is back, with false when it does not answer. */
function onHealth(callback) {
  health.listeners.add(callback);
}

function gone() {
  if (!health.there) return;
  health.there = false;
  health.listeners.forEach((callback) => callback(false));
  health.timer = setTimeout(retry, RETRY_MS);
}

/** Try the page's own address: it also brings the token of a server that was started again. */
async function retry() {
  if (!(await renew())) return void (health.timer = setTimeout(retry, RETRY_MS));
  health.there = true;
  health.listeners.forEach((callback) => callback(true));
}

async function renew() {
  try {
    const page = new DOMParser().parseFromString(await (await fetch("/", { cache: "no-store" })).text(), "text/html");
    meta.content = page.querySelector('meta[name="lab-token"]').content;
    return true;
  } catch {
    return false; // still gone, or something else listens there now
  }
}

/** Send a request; resolve to the response, reject with Refused, Gone or an AbortError. */
async function send(path, { json, body = json === undefined ? undefined : JSON.stringify(json), signal } = {}, again = true) {
  const headers = body === undefined ? {} : { "X-Lab-Token": meta.content };
  if (json !== undefined) headers["Content-Type"] = "application/json";
  let response;
  try {
    response = await fetch(path, { method: body === undefined ? "GET" : "POST", body, headers, signal, cache: "no-store" });
  } catch (reason) {
    if (reason.name === "AbortError") throw reason;
    gone();
    throw new Gone("the lab's server does not answer");
  }
  if (response.ok) return response;
  if (response.status === 403 && again && (await renew())) return send(path, { json, body, signal }, false);
  const said = await response.json().catch(() => null);
  throw new Refused(said?.error ?? `the server answered ${response.status}`, said?.place);
}

const getJson = async (path) => (await send(path)).json();
const postJson = async (path, json, signal) => (await send(path, { json, signal })).json();

/** Bytes of a stream as they come, taken by count without copying them together. */
class Bytes {
  constructor(body) {
    Object.assign(this, { reader: body.getReader(), chunks: [], held: 0 });
  }

  /** Resolve to the next `count` bytes as a list of pieces, or null where the stream ends before them. */
  async take(count) {
    while (this.held < count) {
      const { done, value } = await this.reader.read();
      if (done) return null;
      this.chunks.push(value);
      this.held += value.length;
    }
    const pieces = [];
    for (let left = count; left > 0; ) {
      const [first] = this.chunks;
      const piece = first.subarray(0, left);
      pieces.push(piece);
      if (piece.length === first.length) this.chunks.shift();
      else this.chunks[0] = first.subarray(piece.length);
      left -= piece.length;
    }
    this.held -= count;
    return pieces;
  }

  async whole(count) {
    const pieces = await this.take(count);
    if (!pieces) return null;
    return pieces.length === 1 ? pieces[0] : new Uint8Array(await new Blob(pieces).arrayBuffer());
  }
}

/** Post and go through the records of the answer; a record with bytes has them as `blob`. */
async function* records(path, json, signal) {
  const bytes = new Bytes((await send(path, { json, signal })).body);
  const text = new TextDecoder();
  try {
    for (;;) {
      const head = await bytes.whole(4);
      if (!head) return;
      const count = new DataView(head.buffer, head.byteOffset, 4).getUint32(0, true);
      const record = JSON.parse(text.decode(await bytes.whole(count)));
      if (record.bytes) record.blob = new Blob((await bytes.take(record.bytes)) ?? [], { type: "image/bmp" });
      yield record;
    }
  } catch (reason) {
    if (reason.name === "AbortError") throw reason;
    gone();
    throw new Gone("the lab's server stopped in the middle of an answer");
  }
}

export { getJson, Gone, onHealth, postJson, records, Refused, send };
