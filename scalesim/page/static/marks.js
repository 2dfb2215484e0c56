/**
 * What a measure judged, lit up where it lies: boxes on every picture, the worst first, and steps from one
 * to the next with its profile.
 *
 * @typedef {{key: string, label: string, map?: boolean, found: Object<string, Found>}} Judged
 *   A measure and, by picture id, what it judged there. `map`: the pictures' maps (id + "-" + key) show it.
 * @typedef {{total: number, said?: string, items: [number, number, number, number, string][]}} Found
 *   Boxes (x, y, width, height in picture space) with a few words each, worst first, and how many there
 *   were in all.
 */

import { element, write } from "./dom.js";
import { outline } from "./paint.js";

const SEEN = "#ffd60a"; // between black lines; seen on any picture and by any common colour vision

class Marks {
  constructor(viewer, judged) {
    Object.assign(this, { viewer, judged, active: null, of: null, at: -1 });
    const onchange = () => this.light(this.select.value || null);
    const options = judged.map(({ key, label }) => new Option(label, key));
    this.select = element("select", { onchange }, new Option("nothing", ""), ...options);
    const button = (words, name, by) =>
      element("button", { type: "button", onclick: () => this.step(by), disabled: true, "aria-label": name }, words);
    this.steps = [button("‹", "Worse one before", -1), button("›", "Next one", 1)];
    this.said = element("span", { className: "viewer-judged-said", role: "status" });
    const chooser = element("label", {}, "Light up", this.select);
    this.root = element("div", { className: "viewer-judged", hidden: !judged.length }, chooser, ...this.steps, this.said);
  }

  /** What is lit, for the address: key, picture and number. */
  get seen() {
    return this.active ? [this.active.key, this.of ?? "", this.at].join(",") : "";
  }

  restore(text) {
    const [key, of, at] = (text ?? "").split(",");
    this.light(key || null, of || null, Number(at));
  }

  /** Light up what a measure judged; steps go through what it found in one picture. */
  light(key, of = null, at = -1) {
    this.active = this.judged.find((each) => each.key === key) ?? null;
    const { viewer } = this;
    const found = this.active?.found ?? {};
    const shown = viewer.panes.flatMap(({ ids }) => ids);
    this.of = [of, ...shown, ...Object.keys(found)].find((id) => found[id]?.items.length) ?? of;
    this.select.value = this.active?.key ?? "";
    this.at = -1;
    if (at >= 0) this.go(at);
    this.told();
  }

  get items() {
    return this.active?.found[this.of]?.items ?? [];
  }

  /** Go to the next worst, or back. */
  step(by) {
    const { length } = this.items;
    if (length) this.go((this.at + by + length) % length);
    this.told();
  }

  go(at) {
    const item = this.items[at];
    if (!item) return;
    this.at = at;
    const { viewer } = this;
    const place = { x: item[0] + item[2] / 2, y: item[1] + item[3] / 2 };
    viewer.setPlace(place);
    viewer.setView({ centreX: place.x, centreY: place.y });
  }

  /** Say what is lit. */
  told() {
    const { active, items, at, viewer } = this;
    this.steps.forEach((button) => (button.disabled = !items.length));
    write(this.said, active ? this.words(active.found[this.of], items, at) : "");
    viewer.changed();
    viewer.schedule();
  }

  words(found, items, at) {
    const name = this.viewer.pictures.get(this.of)?.label ?? "";
    if (!items.length) return `${name}: none.`;
    const all = found.total > items.length ? `the worst ${items.length} of ${found.total}` : `${found.total}`;
    return at < 0 ? `${name}: ${all}.` : `${name}, ${at + 1} of ${all}: ${items[at][4]}`;
  }

  /** Outline what was judged in the pictures of a pane. */
  draw(pane, { left, top, scale }) {
    if (!this.active) return;
    pane.shown.forEach((picture, side) => {
      const items = this.active.found[picture.id]?.items ?? [];
      const now = picture.id === this.of ? this.at : -1;
      items.forEach(([x, y, width, height], at) => {
        const box = [left + x * scale, top + y * scale, width * scale, height * scale].map(Math.round);
        if (pane.onSide(box[0] + box[2] / 2, side)) outline(pane.context, box, { inner: SEEN, thick: at === now ? 2 : 1 });
      });
    });
  }
}

export { Marks };
