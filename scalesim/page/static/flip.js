/**
 * One picture after another in the same place: a button for each, numbered as the keys are, and the source
 * first. Every picture is decoded before it is asked for, so that none is ever blank.
 */

import { element, toggle } from "./dom.js";

class Flip {
  constructor(pane) {
    this.pane = pane;
    this.last = null; // what was on show before: a tap goes back and forth
    this.strip = element("div", { className: "viewer-strip", role: "group", "aria-label": "Picture on show" });
    this.name = element("p", { className: "viewer-name" });
    this.root = element("div", { className: "viewer-flip", hidden: true }, this.strip, this.name);
  }

  /** The pictures in the order of their keys; the source, if any, is before them. */
  get order() {
    const { source, contestants } = this.pane.viewer;
    return [...(source ? [source.id] : []), ...contestants];
  }

  describe() {
    const { viewer, shown } = this.pane;
    this.root.hidden = viewer.mode !== "flip";
    if (this.root.hidden) return;
    const ids = this.order;
    if (this.strip.childElementCount !== ids.length) this.strip.replaceChildren(...ids.map((id) => this.button(id)));
    ids.forEach((id, at) => this.strip.children[at].setAttribute("aria-pressed", String(shown[0]?.id === id)));
    this.name.textContent = shown[0]?.label ?? "";
    this.keepInSight(this.strip.children[ids.indexOf(shown[0]?.id)]);
  }

  /** Scroll the strip, and nothing else, to a button of it. */
  keepInSight(button) {
    if (!button) return;
    const { strip } = this;
    const left = button.offsetLeft - strip.offsetLeft;
    const most = left + button.offsetWidth - strip.clientWidth;
    strip.scrollLeft = Math.min(Math.max(strip.scrollLeft, most + 8), left - 3);
  }

  button(id) {
    const { viewer, stage } = this.pane;
    const number = viewer.contestants.indexOf(id) + 1;
    const words = element("span", {}, viewer.pictures.get(id).label);
    const key = element("kbd", {}, number ? (number < 10 ? String(number) : "") : "Space");
    const made = toggle("", (event) => {
      this.to(id);
      if (event.detail) stage.focus({ preventScroll: true }); // a pointer pressed it: the keys go on from here
    });
    made.append(key, words);
    return made;
  }

  /** Show a picture; the one before is remembered. */
  to(id) {
    const [now] = this.pane.ids;
    if (now !== id) this.last = now;
    return this.pane.show(id, this.pane.wanted[1]);
  }

  /** Go back to the picture before, at first to the other of the pair. */
  back() {
    const [now] = this.pane.ids;
    const other = this.last ?? this.pane.viewer.pair.find((id) => id !== now);
    return other ? this.to(other) : false;
  }
}

export { Flip };
