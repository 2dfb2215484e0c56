/** Pictures and numbers of variants that have none: after a reload, or on another frame; one after another. */

import { records } from "./api.js";
import { lab } from "./store.js";

const tab = crypto.randomUUID?.() ?? String(Math.random());
let seq = 0;
let running = false;

/** Fill in what is missing. Parameters: told() : called after each */
async function fill(told) {
  if (running) return;
  running = true;
  try {
    for (const variant of [...lab.variants]) if (!variant.blob || !variant.numbers) await one(variant, told);
  } catch {
    // the next rest tries again
  } finally {
    running = false;
  }
}

async function one(variant, told) {
  const frame = lab.frame;
  const body = { tab, seq: ++seq, frame, chain: variant.text, display: null, want: ["raster"], against: null, numbers: !variant.numbers };
  for await (const record of records("/api/explore", body)) {
    if (frame !== lab.frame) return;
    if (record.kind === "picture" && record.name === "raster") Object.assign(variant, { blob: record.blob, place: record.place });
    if (record.kind === "numbers") variant.numbers = record;
  }
  told();
}

export { fill };
