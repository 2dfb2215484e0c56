/**
 * What a measure judged, lit up where it lies: boxes on every picture, the worst first, and steps from one
 * to the next with its profile in the slice.
 *
 * @typedef {{key: string, label: string, what: string, says: string, found: Object<string, Pointed>}} Judged
 *   A measure and, by picture id, what it judged there; `what` it was, in the plural; `says` what is said of
 *   one, {} standing for how badly.
 * @typedef {{total: number, faulty: number, cases: number[][], shows?: string}} Pointed
 *   How many there were, how many at fault, and the worst, worst first: begin and end on the source's lines,
 *   on its samples, and how badly in percent. `shows` is the id of a map of it.
 */

import { element, write } from "./dom.js";
import { boxOf, outline } from "./paint.js";
import { shownOf } from "./taps.js";

const LIT = "#ffd60a"; // between black lines; seen on any picture and by any common colour vision

class Marks {
  constructor(viewer, judged) {
    Object.assign(this, { viewer, judged, active: null, of: null, at: -1 });
    const changed = () => this.light(this.measure.value || null, this.chain.value || null);
    const select = (...options) => element("select", { onchange: changed }, ...options);
    this.measure = select(new Option("nothing", ""), ...judged.map(({ key, label }) => new Option(label, key)));
    this.chain = select();
    const button = (words, name, by) =>
      element("button", { type: "button", onclick: () => this.step(by), disabled: true, "aria-label": name }, words);
    this.steps = [button("‹", "The worse one before", -1), button("›", "The next one", 1)];
    this.said = element("span", { className: "viewer-judged-said", role: "status" });
    const choosers = [["Light up", this.measure], ["of", this.chain]].map(([words, chosen]) =>
      element("label", {}, words, chosen));
    const row = element("div", { className: "viewer-judged-row" }, ...choosers, ...this.steps);
    this.root = element("div", { className: "viewer-judged", hidden: !judged.length }, row, this.said);
    if (judged.length) this.told();
  }

  /** What is lit, for the address: measure, picture and number. */
  get seen() {
    return this.active ? [this.active.key, this.of ?? "", this.at].join(",") : "";
  }

  restore(text) {
    const [key, of, at] = text.split(",");
    this.light(key || null, of || null, { bring: false });
    if (Number(at) in this.cases) this.at = Number(at);
    this.told();
  }

  /**
   * Light up what a measure judged in one picture, in all pictures; null puts it out. With `bring` the picture,
   * or its map, comes on show where it is not; then the case `at` is gone to.
   */
  async light(key, of = null, { bring = true, at = -1 } = {}) {
    const { viewer } = this;
    this.active = this.judged.find((each) => each.key === key) ?? null;
    const found = this.active?.found ?? {};
    const shown = viewer.panes.flatMap(({ ids }) => ids);
    const some = [...shown, ...Object.keys(found)].filter((id) => found[id]);
    this.of = found[of] ? of : (some.find((id) => found[id].cases.length) ?? some[0] ?? null);
    this.at = -1;
    if (bring) await this.putBack();
    if (bring && this.of) await Promise.all([this.bring(found[this.of].shows ?? this.of), viewer.load(this.of)]);
    if (at >= 0) this.go(at);
    this.told();
  }

  /** Put a picture on show in the first pane, unless it is on show. */
  async bring(id) {
    const { panes } = this.viewer;
    if (panes.some(({ ids }) => ids.includes(id))) return;
    const pane = panes.find(({ ids }) => ids[0] === this.of) ?? panes[0];
    this.before = { pane, id: pane.ids[0], now: id };
    await pane.flip.to(id);
  }

  /** Put back what was on show before a map came in its place. */
  async putBack() {
    const { before } = this;
    this.before = null;
    if (before?.pane.ids[0] === before?.now && this.viewer.pictures.get(before?.now)?.of) await before.pane.flip.to(before.id);
  }

  get cases() {
    return this.active?.found[this.of]?.cases ?? [];
  }

  /** Go to the next worst, or back; the first step opens the slice. */
  step(by) {
    const { length } = this.cases;
    if (!length) return;
    this.go((Math.max(this.at, by < 0 ? 0 : -1) + by + length) % length);
    this.told();
  }

  go(at) {
    const item = this.cases[at];
    const { viewer } = this;
    const picture = viewer.pictures.get(this.of);
    if (!item || !picture.bitmap || !viewer.source?.bitmap) return;
    this.at = at;
    const { line, lines, sample, samples } = this.box(picture, item);
    const place = {
      x: picture.x + ((sample + samples / 2) * picture.width) / picture.bitmap.width,
      y: picture.y + ((line + lines / 2) * picture.height) / picture.bitmap.height,
    };
    viewer.setPlace(place);
    if (viewer.look !== "slice") viewer.lookBy("slice");
    viewer.showBeside(place);
  }

  box(picture, [top, bottom, left, right]) {
    return shownOf(picture, this.viewer.source, [top, bottom], [left, right]);
  }

  /** Say what is lit. */
  told() {
    const { active, cases, viewer } = this;
    this.measure.value = active?.key ?? "";
    const ids = Object.keys(active?.found ?? {});
    this.chain.replaceChildren(...ids.map((id) => new Option(viewer.pictures.get(id)?.label ?? id, id)));
    this.chain.value = this.of ?? "";
    this.chain.disabled = !ids.length;
    this.steps.forEach((button) => (button.disabled = !cases.length));
    write(this.said, active ? this.words(active, active.found[this.of]) : "Boxes show what a figure rests on, the worst first.");
    viewer.changed();
    viewer.schedule();
  }

  words({ what, says }, { total, faulty, cases }) {
    if (!cases.length) return `None of ${total} ${what} shows it.`;
    if (this.at >= 0) return `${this.at + 1} of ${cases.length}, the worst first: ${says.replace("{} ", `${cases[this.at][4]}\u00a0`)}`;
    const some = cases.length < faulty ? `; boxes on the ${cases.length} that add most` : "";
    return `${faulty} of ${total} ${what} show it${some}.`;
  }

  /** Outline what was judged in the pictures of a pane. */
  draw(pane, frame) {
    if (!this.active || !this.viewer.source?.bitmap) return;
    pane.shown.forEach((picture, side) => {
      this.cases.forEach((item, at) => {
        const box = boxOf(picture, this.box(picture, item), frame);
        if (pane.onSide(box[0] + box[2] / 2, side)) outline(pane.context, box, { inner: LIT, thick: at === this.at ? 2 : 1 });
      });
    });
  }
}

export { Marks };
