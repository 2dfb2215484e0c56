/**
 * A dial: a slider, a number that can be typed ("1/3" too) and two buttons for one step each.
 *
 * Where the box has steps of its own (a dial of the chain's file) it snaps to them, and its words count
 * presses. Where a key has no limits, the slider reaches as far as a bench needs and widens for what is typed.
 */

import { element, write } from "./viewer/dom.js";
import { numberOf, numberText } from "./text.js";

const REACH = 8; // of a slider without narrow limits, to either side
const WIDEST = 100; // a wider range is a technical limit and no dial

/** The values of a dial's steps, in its order. */
function stepsOf({ values, first, last, step }) {
  if (values?.length) return values;
  const [low, high, by] = [first, last, step].map(numberOf);
  if (!(by > 0) || !(high >= low)) return null;
  return Array.from({ length: Math.floor((high - low) / by + 1e-9) + 1 }, (_, at) => numberText(low + at * by));
}

/** A pleasant step for a range: 1, 2 or 5 times a power of ten, about 200 to the whole range. */
function stepFor(low, high) {
  const rough = (high - low) / 200;
  const ten = 10 ** Math.floor(Math.log10(rough));
  return [1, 2, 5, 10].map((each) => each * ten).find((each) => each >= rough * 0.999);
}

/** What a slider of a key spans about a value: its limits, or the part of them that a bench turns through. */
function rangeOf(key, about = numberOf(key.default)) {
  const { type, at_least: least, above, at_most: most, unit = "" } = key;
  const given = about || 0;
  const counted = /line|sample/.test(unit);
  const low = least ?? above ?? -Infinity;
  const high = most ?? Infinity;
  if (type === "whole") {
    const from = Math.max(low, 0);
    const usual = /line/.test(unit) ? 1080 : /sample/.test(unit) ? 1920 : Math.max(from + 16, 4 * given);
    return { low: from, high: Math.min(high, usual), step: 1 };
  }
  const free = low < given - REACH && low < 0;
  const [from, to] = high - low <= WIDEST ? [low, high] : [free ? given - REACH : low, Math.min(high, Math.max(given + REACH, 2 * given))];
  return { low: from, high: to, step: counted && to - from <= 4 * REACH ? 1 / 8 : stepFor(from, to), free };
}

class Dial {
  /**
   * Parameters: key : of the schema; id : of its number, for labels and help; steps : of the box, or null
   *   heard(text, done) : the value changed; done when it rests. "" means: not given
   */
  constructor(key, { id, steps = null, label = "", heard, name = key.name }) {
    Object.assign(this, { key, steps, label, heard, first: null, value: "" });
    this.span = { low: 0, high: steps ? steps.length - 1 : 1, step: 1 };
    this.range = element("input", { type: "range", "aria-label": `${name}, slider` });
    this.number = element("input", { type: "text", inputMode: "decimal", id, autocomplete: "off", spellcheck: false, className: "dial-number" });
    this.number.placeholder = key.optional ? "not set" : (key.default ?? "");
    const button = (text, by, words) =>
      element("button", { type: "button", className: "dial-step", onclick: () => this.move(by), "aria-label": `${name}: ${words}` }, text);
    const one = steps ? "one press" : "one step";
    this.words = element("small", { className: "dial-words" });
    this.root = element("div", { className: "dial" },
      button("−", -1, `${one} down`), this.range, button("+", 1, `${one} up`), this.number, this.words);
    this.range.oninput = () => this.give(this.atSlider(), false);
    this.range.onchange = () => this.heard(this.value, true);
    this.number.oninput = () => this.typed(false);
    this.number.onchange = () => this.typed(true);
    this.number.onkeydown = (event) => this.keyed(event);
    this.fit();
  }

  fit() {
    Object.assign(this.range, { min: this.span.low, max: this.span.high, step: this.steps ? 1 : this.span.step });
  }

  /** The value it begins with: what the slider spans, and where presses are counted from. */
  begin(text) {
    this.first = text;
    if (this.steps) return;
    const value = numberOf(text);
    this.span = rangeOf(this.key);
    const inside = value >= this.span.low && value <= this.span.high && this.key.default !== null;
    if (!inside && !Number.isNaN(value)) this.span = rangeOf(this.key, value);
    this.fit();
  }

  atSlider() {
    const at = this.range.valueAsNumber;
    return this.steps ? this.steps[at] : numberText(at);
  }

  /** The number there is, also where none is given. */
  get now() {
    const given = numberOf(this.value);
    return Number.isNaN(given) ? numberOf(this.key.default) : given;
  }

  /** The step of the box nearest to the value. */
  get at() {
    const far = this.steps.map((each) => Math.abs(numberOf(each) - this.now));
    return far.some(Number.isNaN) ? this.steps.indexOf(this.value) : far.indexOf(Math.min(...far));
  }

  move(by) {
    const limit = (value) => Math.min(Math.max(value, this.span.low), this.span.high);
    if (this.steps) return this.give(this.steps[limit(this.at + by)], true);
    const { low, step } = this.span;
    const from = Number.isNaN(this.now) ? low : this.now;
    const { above } = this.key;
    const next = Math.round((from - low) / step + by) * step + low;
    this.give(numberText(above !== null && next <= above ? low + step : Math.max(low, next)), true);
  }

  keyed(event) {
    const by = { ArrowUp: 1, ArrowDown: -1, PageUp: 10, PageDown: -10 }[event.key];
    if (!by || event.altKey || event.ctrlKey) return;
    event.preventDefault();
    this.move(by);
  }

  typed(done) {
    const typed = this.number.value.trim();
    const text = done && /^[+-]?\d*\.?\d+$/.test(typed) ? String(Number(typed)) : typed; // "1.0" is no other chain than "1"
    if (text !== "" && Number.isNaN(numberOf(text))) return void (done && this.show(this.value));
    if (text === "" && this.key.required) return void (done && this.show(this.value));
    if (this.steps && text !== "" && done) {
      this.value = text;
      return this.give(this.steps[this.at], true);
    }
    this.value = text;
    if (text !== typed) this.number.value = text;
    this.describe();
    this.heard(text, done);
  }

  give(text, done) {
    this.show(text);
    this.heard(text, done);
  }

  /** Show a value that is set from elsewhere; the number is left alone while it is typed in and means the same. */
  show(text) {
    if (this.first === null) this.begin(text);
    this.value = text;
    const same = numberOf(this.number.value) === numberOf(text);
    if (!(document.activeElement === this.number && same)) this.number.value = text;
    this.describe();
  }

  describe() {
    const { now, span } = this;
    if (!this.steps && !Number.isNaN(now) && (now < span.low || now > span.high)) {
      this.span = { ...span, low: Math.min(span.low, now), high: Math.max(span.high, now) };
      this.fit();
    }
    this.range.value = this.steps ? this.at : Number.isNaN(now) ? span.low : now;
    this.range.setAttribute("aria-valuetext", `${this.value || this.key.default || "not set"} ${this.key.unit}`);
    this.root.classList.toggle("dial-unset", this.value === "");
    write(this.words, this.steps ? this.presses() : "");
  }

  presses() {
    const from = this.steps.findIndex((each) => numberOf(each) === numberOf(this.first));
    const by = from < 0 ? 0 : this.at - from;
    const moved = by ? `, ${Math.abs(by)} ${Math.abs(by) === 1 ? "press" : "presses"} ${by > 0 ? "up" : "down"}` : "";
    return `${this.label || "the box's own steps"}: ${this.at + 1} of ${this.steps.length}${moved}`;
  }
}

export { Dial, rangeOf, stepsOf };
