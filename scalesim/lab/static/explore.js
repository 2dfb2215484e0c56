/**
 * From a dial to a picture: one request at a time, the newest next.
 *
 * While a request's pictures are on their way a newer change waits for them, so that a steady drag shows
 * steady pictures; one that takes too long is dropped for the newer one. Numbers are asked for once the
 * dials rest, and a change drops them at once: they never hold a picture back.
 */

import { Gone, records } from "./api.js";
import { lab, tell } from "./store.js";
import { chainText } from "./text.js";

const PATIENCE_MS = 400;
const STARVED_MS = 1500; // so long without all pictures, and a request is let come to its end
const REST_MS = 180;
const tab = crypto.randomUUID?.() ?? String(Math.random());

class Explore {
  /** Parameters: wanted() : which pictures are looked at; arrived(record, of) : takes a picture, and of what it is */
  constructor(wanted, arrived) {
    Object.assign(this, { wanted, arrived, seq: 0, ending: null, phase: "idle", want: [], next: false, timer: null, since: 0, whole: 0 });
  }

  /** Something that shows in the pictures changed. */
  ask() {
    clearTimeout(this.timer);
    if (!lab.frame) return;
    if (!chainText(lab)) return this.halt();
    const now = performance.now();
    const patience = now - this.whole > STARVED_MS ? STARVED_MS : PATIENCE_MS;
    const late = now - this.since > patience;
    if (this.phase === "pictures" && !late) this.next = true;
    else this.run(this.wanted(), false);
  }

  /** Another picture is looked at: asked for, unless it is on its way already. */
  look() {
    const under = this.phase === "pictures" && this.wanted().every((each) => this.want.includes(each));
    if (!under) this.ask();
  }

  /** No box is in the path: nothing newer is on its way. */
  halt() {
    this.ending?.abort();
    this.seq += 1;
    Object.assign(this, { phase: "idle", next: false });
    tell("busy", { numbers: false });
    if (lab.facts) tell("refused", { error: "No box is in the path: pictures and numbers are still those of the last chain." });
  }

  async run(want, numbers) {
    this.ending?.abort();
    const ending = (this.ending = new AbortController());
    const seq = ++this.seq;
    this.phase = numbers ? "numbers" : "pictures";
    if (!numbers) this.since = performance.now();
    this.next = false;
    this.want = want;
    tell("busy", { numbers });
    const against = lab.against?.text ?? null;
    const body = { tab, seq, frame: lab.frame, chain: chainText(lab), display: lab.display, want, against, numbers };
    let failed = false;
    try {
      for await (const record of records("/api/explore", body, ending.signal)) {
        if (seq !== this.seq) return;
        if (record.kind === "error") failed = true;
        await this.take(record, body);
      }
    } catch (reason) {
      if (reason.name === "AbortError" || seq !== this.seq) return;
      failed = true;
      if (!(reason instanceof Gone)) tell("refused", { error: reason.message, place: reason.place });
    }
    if (seq === this.seq) this.rest(numbers, failed);
  }

  /** A request is through: go on with what changed meanwhile, else with the numbers. */
  rest(numbers, failed) {
    this.phase = "idle";
    this.whole = performance.now();
    if (this.next) return void this.run(this.wanted(), false);
    if (numbers && !failed) lab.late = false;
    tell("rest", { numbers, failed });
    if (!numbers && !failed) this.timer = setTimeout(() => this.run([], true), REST_MS);
  }

  /** Numbers come one by one; those that are not measured yet stay as they were, and are told to be old. */
  measured(record) {
    const merged = (name) => ({ ...lab.numbers?.[name], ...record[name] });
    lab.fresh = record.metrics;
    lab.numbers = { metrics: merged("metrics"), why: merged("why"), n: merged("n"), sentences: lab.numbers?.sentences ?? [] };
    tell("numbers");
  }

  async take(record, { frame, chain }) {
    if (record.kind === "picture" && this.phase === "pictures") await this.arrived(record, `${frame} ${chain}`);
    else if (record.kind === "facts") tell("facts", (lab.facts = record));
    else if (record.kind === "numbers") this.measured(record);
    else if (record.kind === "sentences") tell("numbers", (lab.numbers = { ...lab.numbers, sentences: record.sentences }));
    else if (record.kind === "error") tell("refused", record);
  }
}

export { Explore };
