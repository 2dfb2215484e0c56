/**
 * The two fields of a picture in turn: only by the button, slow, and ended by anything that draws the
 * attention away. For whoever asked for reduced motion there is no clock at all: each press is a step.
 */

import { element } from "./dom.js";
import { load } from "./load.js";

const FIELD_MS = 1000; // at most one change a second: far below the three flashes of WCAG 2.3.1
const FIELD_CHANGES = 10;
const CAUTION =
  "Caution: the picture then changes once a second, ten times at most. Do not start it if changing " +
  "pictures can harm you or somebody near you (photosensitive epilepsy). Escape stops it.";
const CAUTION_STILL = "Nothing moves by itself: presses show one field, the other, and the picture at rest.";

class Fields {
  constructor(pane) {
    this.pane = pane;
    this.still = matchMedia("(prefers-reduced-motion: reduce)").matches;
    const id = `${pane.id}-caution`;
    this.button = element("button", { type: "button", "aria-describedby": id });
    this.button.onclick = () => this.press();
    this.button.onblur = () => this.stop();
    const caution = element("p", { id }, this.still ? CAUTION_STILL : CAUTION);
    this.root = element("div", { className: "viewer-fields" }, this.button, caution);
    this.field = null;
  }

  /** After another picture: at rest, and there or not; its room stays where any picture has fields. */
  describe() {
    this.stop();
    const { shown, viewer } = this.pane;
    this.root.hidden = this.pane.wanted[1] !== null || ![...viewer.pictures.values()].some(({ fields }) => fields?.length === 2);
    this.root.classList.toggle("viewer-away", shown.length !== 1 || shown[0].fields?.length !== 2);
  }

  press() {
    if (!this.field) this.start();
    else if (this.still) this.next();
    else this.stop();
  }

  async start() {
    const { fields } = this.pane.shown[0];
    this.button.focus(); // not every browser does, and losing the focus stops it
    try {
      await Promise.all(fields.map(load));
    } catch (reason) {
      this.pane.fail("the fields", reason);
      return;
    }
    const attended = document.activeElement === this.button && !document.hidden;
    if (this.field || !attended || this.pane.shown[0]?.fields !== fields) return;
    this.changes = 0;
    this.next();
  }

  next() {
    if (this.changes + 1 >= (this.still ? 3 : FIELD_CHANGES)) return this.stop();
    this.field = this.pane.viewer.pictures.get(this.pane.ids[0]).fields[this.changes % 2];
    this.changes += 1;
    this.button.textContent = `${this.still ? "Next" : "Stop"} (now ${this.field.label})`;
    if (!this.still) this.timer = setTimeout(() => this.next(), FIELD_MS);
    return this.pane.viewer.schedule();
  }

  stop() {
    clearTimeout(this.timer);
    this.field = null;
    this.button.textContent = "Show the two fields in turn";
    this.pane.viewer.schedule();
  }
}

export { Fields };
