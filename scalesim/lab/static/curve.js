/** The tuning curve: one dial tried all along, its best and ties marked; a click or a key on it sets the dial. */

import { records } from "./api.js";
import { rangeOf } from "./dial.js";
import { drawCurve } from "./curve_drawing.js";
import { changed, lab, on, schemaOf } from "./store.js";
import { addressOf, atAddress, chainText, numberOf, numberText, same } from "./text.js";
import { element, write } from "./viewer/dom.js";

const NUMBERS = new Set(["whole", "number", "exact"]);
const LIKELY = [/^position\.lines/, /\.phase$/, /\.lines$/];
const READY = "Click the curve, or use the arrow keys on it, to set the dial.";
const STALE = "The chain or the frame has changed since: try again for its own curve.";
const ASIDE = "The chain stands beside the curve. Along it a scaler’s phase takes the fractions of a line, as a box does; click it to set both.";
const tab = crypto.randomUUID?.() ?? String(Math.random());

/** The addresses of what the boxes have dials for. */
const benchDials = () => lab.dials.flatMap(({ uid, key }) => {
  const own = lab.stages.find((each) => each.uid === uid && !each.off);
  return own ? [addressOf(lab.stages, own, key)] : [];
});

class Curve {
  constructor(host) {
    Object.assign(this, { host, found: null, seq: 0, ending: null });
    const labelled = (words, field) => element("label", {}, words, field);
    const number = () => element("input", { type: "text", inputMode: "decimal", className: "short", autocomplete: "off" });
    this.dial = element("select");
    [this.from, this.to, this.step] = [number(), number(), number()];
    const told = lab.start.metrics.filter(({ better }) => ["higher", "lower"].includes(better));
    this.by = element("select", {}, ...told.map(({ key, label }) => new Option(label, key)));
    this.by.value = "line_doubling";
    this.run = element("button", { type: "button", className: "main" }, "Try them all");
    const form = element("div", { className: "row" }, labelled("Dial ", this.dial), labelled("from ", this.from),
      labelled("to ", this.to), labelled("in steps of ", this.step), labelled("judged by ", this.by), this.run);
    this.status = element("p", { className: "quiet", role: "status" }, "Every setting of one dial is tried, and the numbers say which is best; settings that cannot be told apart are ties.");
    this.plot = element("div", { className: "plot" });
    this.sentences = element("ul");
    host.append(element("h2", { id: "curve-title" }, "Tuning"), form, this.status, this.plot, this.sentences);
    this.dial.onchange = () => this.propose();
    this.run.onclick = () => (this.ending ? this.ending.abort() : this.start());
    on("chain", () => this.follow());
    new ResizeObserver(() => this.draw()).observe(this.plot);
  }

  /** Offer the dials that the path has now; mark where the tried one stands. */
  follow() {
    const before = this.dial.value;
    const all = lab.stages.filter(({ off }) => !off).flatMap((stage) =>
      schemaOf(stage.kind).keys.filter(({ type }) => NUMBERS.has(type)).map(({ name }) => addressOf(lab.stages, stage, name)));
    if (all.join() !== [...this.dial.options].map(({ value }) => value).join()) {
      this.dial.replaceChildren(...all.map((each) => new Option(each, each)));
      const dialled = benchDials().find((each) => all.includes(each));
      const likely = LIKELY.flatMap((each) => all.filter((address) => each.test(address)));
      this.dial.value = all.includes(before) ? before : (dialled ?? likely[0] ?? all[0] ?? "");
      if (this.dial.value !== before) this.propose();
    }
    this.run.disabled = !all.length;
    this.draw();
  }

  /** A range that is worth trying: what the box's dial can reach, else about where it stands. */
  propose() {
    const found = atAddress(lab.stages, this.dial.value);
    if (!found) return;
    const key = schemaOf(found.stage.kind).keys.find(({ name }) => name === found.key);
    const dial = lab.dials.find(({ uid, key: own }) => uid === found.stage.uid && own === found.key);
    const range = rangeOf(key);
    const now = numberOf(found.stage.keys[found.key] ?? key.default) || 0;
    const [from, to, step] = dial?.first !== undefined
      ? [dial.first, dial.last, dial.step]
      : range.free ? [-4, 4, 1 / 4]
        : key.type === "whole" ? [Math.max(range.low, now - 8), now + 8, 1]
          : [range.low, range.high, range.step * 5];
    [this.from.value, this.to.value, this.step.value] = [from, to, step].map((each) => numberText(Number(each)));
  }

  async start() {
    const [from, to, step] = [this.from, this.to, this.step].map(({ value }) => value.trim());
    const ending = (this.ending = new AbortController());
    this.run.textContent = "Stop";
    const vary = `${this.dial.value}=${from}:${to}:${step}`;
    const body = { tab, seq: ++this.seq, frame: lab.frame, chain: chainText(lab), vary, by: this.by.value };
    try {
      for await (const record of records("/api/tune", body, ending.signal)) this.take(record);
    } catch (reason) {
      write(this.status, reason.name === "AbortError" ? "Stopped." : reason.message);
    }
    this.ending = null;
    this.run.textContent = "Try them all";
  }

  take(record) {
    if (record.kind === "progress") write(this.status, `${record.what}${record.total ? `: ${record.done} of ${record.total}` : ""} …`);
    if (record.kind === "error") write(this.status, record.error);
    if (record.kind !== "curve") return;
    const keys = Object.keys(record.points[0].set);
    this.found = { ...record, keys, rest: this.others(keys), frame: lab.frame };
    this.metric = lab.start.metrics.find(({ key }) => key === this.by.value);
    this.sentences.replaceChildren(...record.sentences.map((each) => element("li", {}, each)));
    this.draw();
  }

  /** The chain but for what the curve sets: when this changes the curve is of another chain. */
  others(keys) {
    let stages = lab.stages;
    for (const { stage, key } of this.places(keys)) {
      stages = stages.map((each) => (each.uid === stage.uid ? { ...each, keys: { ...each.keys, [key]: "*" } } : each));
    }
    return chainText({ stages });
  }

  places(keys) {
    return keys.map((each) => atAddress(lab.stages, each)).filter(Boolean);
  }

  /** The dial's text where the chain is one that the curve tells of, else "": a fraction typed by hand interpolates. */
  get now() {
    const { keys, points } = this.found;
    const texts = keys.map((each) => this.textAt(each));
    const on = points.find(({ set }) => keys.every((each, k) => same(set[each], texts[k])));
    return on?.value ?? (keys.length === 1 ? texts[0] : "");
  }

  textAt(address) {
    const found = atAddress(lab.stages, address);
    if (!found) return "";
    return found.stage.keys[found.key] ?? schemaOf(found.stage.kind).keys.find(({ name }) => name === found.key).default;
  }

  set(point) {
    for (const [address, text] of Object.entries(point.set)) {
      const found = atAddress(lab.stages, address);
      if (found) found.stage.keys[found.key] = text;
    }
    changed("chain", { done: true });
  }

  draw() {
    if (!this.found || !this.plot.clientWidth) return;
    const held = this.plot.contains(document.activeElement);
    const stale = this.others(this.found.keys) !== this.found.rest || this.found.frame !== lab.frame;
    const unit = this.metric?.share ? "%" : (this.metric?.unit ?? "");
    const now = this.now;
    const drawn = drawCurve(this.found, { now, width: this.plot.clientWidth, unit, share: Boolean(this.metric?.share), set: (point) => this.set(point) });
    this.plot.replaceChildren(drawn);
    this.plot.classList.toggle("late", stale);
    write(this.status, stale ? STALE : now === "" ? ASIDE : READY);
    if (held) drawn.focus();
  }
}

export { Curve };
