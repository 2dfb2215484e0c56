/** A divider: one picture left of it, another right of it. */

import { clamp, element } from "./dom.js";
import { outline, paint } from "./paint.js";

class Wipe {
  constructor(pane, share) {
    Object.assign(this, { pane, share });
    this.range = element("input", { type: "range", min: 0, max: 100, step: 0.5 });
    this.range.oninput = () => this.set(this.range.valueAsNumber / 100);
    this.root = element("label", { className: "viewer-wipe" }, "Divider", this.range);
  }

  describe() {
    this.root.hidden = this.pane.ids.length !== 2;
    this.set(this.share);
  }

  /** Put the divider at a share of the pane's width. */
  set(share) {
    this.share = clamp(share, 0, 1);
    this.range.value = 100 * this.share;
    this.range.setAttribute("aria-valuetext", `${Math.round(100 * this.share)} % from the left`);
    this.pane.viewer.schedule();
  }

  get cut() {
    return Math.round(this.pane.canvas.width * this.share);
  }

  /** Draw what is right of the divider, and the divider. */
  draw(picture, frame) {
    const { cut, pane: { canvas, context } } = this;
    context.save();
    context.beginPath();
    context.rect(cut, 0, canvas.width - cut, canvas.height);
    context.clip();
    context.clearRect(cut, 0, canvas.width - cut, canvas.height);
    paint(context, picture, frame);
    context.restore();
    const thin = Math.max(1, Math.round(devicePixelRatio));
    const middle = Math.round(canvas.height / 2);
    outline(context, [cut, -4 * thin, 0, canvas.height + 8 * thin]);
    context.fillStyle = "#fff";
    context.fillRect(cut - 4 * thin, middle - 14 * thin, 8 * thin, 28 * thin);
    outline(context, [cut - 3 * thin, middle - 13 * thin, 6 * thin, 26 * thin]);
  }
}

export { Wipe };
