/** The numbers of what is on the bench, with a word on each, beside those of a pinned variant. */

import { lab, on } from "./store.js";
import { element, write } from "./viewer/dom.js";

const MAIN = ["detail_kept", "false_detail", "line_doubling", "lost_lines", "flicker_percent", "cropped_percent"];

/** Return a value as it is read: shares of 0 to 1 in percent. */
function said({ share, digits }, value) {
  if (value === null || value === undefined) return null;
  return (share ? 100 * value : value).toFixed(digits).replace("-", "−");
}

const unitOf = ({ share, unit }) => (share ? "%" : /^0(…|\.\.)1$/.test(unit) ? "" : unit);

/** Compare as a reader would: what reads the same is the same. Returns {arrow, word, sense}. */
function compared(metric, now, before) {
  const [a, b] = [said(metric, now), said(metric, before)];
  if (a === null || b === null) return { arrow: "", word: "", sense: "" };
  if (a === b) return { arrow: "=", word: "the same", sense: "same" };
  const up = now > before;
  const arrow = up ? "↑" : "↓";
  if (!["higher", "lower"].includes(metric.better)) return { arrow, word: up ? "more" : "less", sense: "same" };
  const good = up === (metric.better === "higher");
  return { arrow, word: good ? "better" : "worse", sense: good ? "good" : "bad" };
}

class Numbers {
  constructor(host) {
    this.host = host;
    this.rows = new Map();
    this.table = host.querySelector("tbody");
    this.all = host.querySelector("[data-all]");
    this.all.onchange = () => this.show();
    this.status = host.querySelector("[data-status]");
    this.sentences = host.querySelector("[data-sentences]");
    this.head = host.querySelector("[data-against]");
    for (const metric of lab.start.metrics) this.rows.set(metric.key, this.row(metric));
    this.table.append(...[...this.rows.values()].map(({ root }) => root));
    on("numbers variants against", () => this.show());
    on("facts", () => (host.hidden = false));
    on("busy", () => this.late());
    on("rest", ({ failed }) => failed && write(this.status, ""));
    this.show();
  }

  row(metric) {
    const [value, arrow, pinned] = ["value", "arrow", "pinned"].map((className) => element("td", { className }));
    const reading = element("td", { className: "reading" }, metric.reading);
    const better = { higher: "higher is better", lower: "lower is better" }[metric.better] ?? "";
    const name = element("th", { scope: "row" }, metric.label, element("small", {}, better));
    return { root: element("tr", {}, name, value, arrow, pinned, reading), value, arrow, pinned };
  }

  /** Pictures are ahead of the numbers. */
  late() {
    if (!lab.numbers) return;
    lab.late = true;
    this.host.classList.add("late");
  }

  show() {
    const { numbers, against } = lab;
    if (!lab.late) this.host.classList.remove("late");
    write(this.head, against ? `Pinned: ${against.name}` : "");
    this.host.classList.toggle("has-against", Boolean(against));
    for (const metric of lab.start.metrics) {
      const { root, value, arrow, pinned } = this.rows.get(metric.key);
      const now = numbers?.metrics[metric.key];
      const text = said(metric, now);
      root.hidden = !(this.all.checked || MAIN.includes(metric.key)) || (!this.all.checked && numbers && text === null && metric.key !== "detail_kept");
      const why = numbers?.why?.[metric.key];
      write(value, text === null ? "–" : `${text} ${unitOf(metric)}`);
      value.title = text === null ? (why ?? "") : countOf(numbers, metric.key);
      const { arrow: sign, word, sense } = compared(metric, now, against?.numbers?.metrics[metric.key]);
      write(arrow, word ? `${sign} ${word}` : "");
      arrow.className = `arrow ${sense}`;
      const then = said(metric, against?.numbers?.metrics[metric.key]);
      write(pinned, against ? (then === null ? "–" : `${then} ${unitOf(metric)}`) : "");
    }
    const sentences = numbers?.sentences ?? [];
    this.sentences.replaceChildren(...sentences.map((each) => element("li", {}, each)));
    write(this.status, numbers ? "" : "The numbers come when the dials rest.");
  }
}

const countOf = (numbers, key) => (numbers?.n?.[key] === undefined ? "" : `rests on ${numbers.n[key]}`);

export { compared, MAIN, Numbers, said, unitOf };
