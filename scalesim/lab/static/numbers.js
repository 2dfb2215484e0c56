/** The numbers of what is on the bench, with a word on each, beside those of a pinned variant. */

import { prose } from "./control.js";
import { lab, on } from "./store.js";
import { element, write } from "./viewer/dom.js";

const MAIN = ["detail_kept", "false_detail", "line_doubling", "lost_lines", "flicker_percent", "cropped_percent"];

/** Return a value as it is read: shares of 0 to 1 in percent. */
function said({ share, digits }, value) {
  if (value === null || value === undefined) return null;
  return (share ? 100 * value : value).toFixed(digits).replace("-", "−");
}

const unitOf = ({ share, unit }) => (share ? "%" : /^0(…|\.\.)1$/.test(unit) ? "" : unit);

/**
 * Compare as a ranking does: a difference that the measure does not resolve is a tie. Returns {arrow, word, sense}.
 *
 * A metric's `tie` is [least, share]: what is within the larger of least and that share of the value says nothing.
 */
function compared(metric, now, before) {
  const [a, b] = [said(metric, now), said(metric, before)];
  if (a === null || b === null) return { arrow: "", word: "", sense: "" };
  if (a === b) return { arrow: "=", word: "the same", sense: "same" };
  const [least, share] = metric.tie;
  if (Math.abs(now - before) <= Math.max(least, share * Math.max(Math.abs(now), Math.abs(before)))) return { arrow: "≈", word: "a tie", sense: "same" };
  const up = now > before;
  const arrow = up ? "↑" : "↓";
  if (!["higher", "lower"].includes(metric.better)) return { arrow, word: up ? "more" : "less", sense: "same" };
  const good = up === (metric.better === "higher");
  return { arrow, word: good ? "better" : "worse", sense: good ? "good" : "bad" };
}

class Numbers {
  constructor(host) {
    this.host = host;
    this.gauges = new Map();
    this.rows = new Map();
    this.status = host.querySelector("[data-status]");
    this.sentences = host.querySelector("[data-sentences]");
    this.heads = host.querySelectorAll("[data-against]");
    const { metrics } = lab.start;
    const main = MAIN.map((name) => metrics.find(({ key }) => key === name)).filter(Boolean);
    main.forEach((metric) => this.gauges.set(metric.key, this.gauge(metric)));
    metrics.forEach((metric) => this.rows.set(metric.key, this.row(metric)));
    host.querySelector("[data-gauges]").append(...[...this.gauges.values()].map(({ root }) => root));
    host.querySelector("tbody").append(...[...this.rows.values()].map(({ root }) => root));
    on("facts", () => (host.hidden = false));
    on("numbers variants against rest", () => this.show());
    on("busy", () => this.late());
    this.show();
  }

  /** One number large, and whether it is better than the pinned one. */
  gauge(metric) {
    const value = element("dd", { className: "value" });
    const arrow = element("dd", { className: "arrow" });
    const name = element("dt", { title: metric.reading }, metric.label, element("small", {}, /^% /.test(metric.unit) ? ` (${metric.unit.slice(2)})` : ""));
    return { root: element("div", {}, name, value, arrow), value, arrow };
  }

  row(metric) {
    const [value, arrow, pinned] = ["value", "arrow", "pinned"].map((className) => element("td", { className }));
    const better = { higher: "higher is better", lower: "lower is better" }[metric.better] ?? "";
    const name = element("th", { scope: "row" }, metric.label, element("small", {}, better));
    const reading = element("td", { className: "reading" });
    return { root: element("tr", {}, name, value, arrow, pinned, reading), value, arrow, pinned, reading };
  }

  /** Pictures are ahead of the numbers. */
  late() {
    if (!lab.numbers) return;
    lab.late = true;
    lab.fresh = {};
    this.show();
  }

  show() {
    const { numbers, against, late } = lab;
    this.host.classList.toggle("late", Boolean(late));
    this.heads.forEach((head) => write(head, against ? `pinned: ${against.name}` : ""));
    this.host.classList.toggle("has-against", Boolean(against));
    for (const metric of lab.start.metrics) this.tell(metric, numbers, against?.numbers);
    const sentences = (!late && numbers?.sentences) || []; // they come last, and are of no other chain
    this.sentences.replaceChildren(...sentences.map((each) => element("li", {}, each)));
    this.sentences.parentNode.hidden = !sentences.length;
    write(this.status, numbers ? "" : "They come when the dials rest.");
  }

  /** Say what a number means, once. */
  mean(place, text) {
    if (place.said === text) return;
    place.said = text;
    place.reading.replaceChildren(...prose(text));
  }

  tell(metric, numbers, before) {
    const [now, then] = [numbers, before].map((each) => each?.metrics[metric.key]);
    const words = (value, unit = unitOf(metric)) => (said(metric, value) === null ? "–" : `${said(metric, value)} ${unit}`);
    const short = unitOf(metric).replace(/^% .*/, "%");
    const { arrow, word, sense } = compared(metric, now, then);
    const missing = now === null && numbers?.why?.[metric.key];
    const old = Boolean(lab.late) && !(metric.key in (lab.fresh ?? {}));
    for (const place of [this.gauges.get(metric.key), this.rows.get(metric.key)].filter(Boolean)) {
      write(place.value, place.pinned ? words(now) : words(now, short));
      place.value.title = missing || countOf(numbers, metric.key);
      place.root.classList.toggle("old", old);
      if (place.reading) this.mean(place, missing ? `${metric.reading}. Not measured here: ${missing}` : metric.reading);
      write(place.arrow, word ? `${arrow} ${word}` : "");
      place.arrow.className = `arrow ${sense}`;
      if (place.pinned) write(place.pinned, lab.against ? words(then) : "");
    }
    if (this.gauges.has(metric.key) && word) this.gauges.get(metric.key).arrow.append(` (${words(then, short)})`);
  }
}

const countOf = (numbers, key) => (numbers?.n?.[key] === undefined ? "" : `rests on ${numbers.n[key]}`);

export { compared, MAIN, Numbers, said, unitOf };
