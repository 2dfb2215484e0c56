/**
 * A closer look at one place in every pane: enlarged, with its values. It lies over the side of the picture
 * on which the place is not.
 */

import { element, write } from "./dom.js";
import { boxOf, frameOf, outline, paint, sampleAt } from "./paint.js";
import { valuesAt } from "./values.js";

const MARGIN = 16; // CSS pixels that stay free about the place
const ENLARGED = 8; // CSS pixels to a unit at least

class Magnifier {
  constructor(pane) {
    this.pane = pane;
    this.root = element("ul", { className: "viewer-magnifier viewer-over", hidden: true });
  }

  describe() {
    this.root.replaceChildren(); // it is built again with the new names
  }

  /** Show the neighbourhood and the values of the place for every picture of the pane, and mark it. */
  draw(frame) {
    const { pane, root } = this;
    const { shown, viewer, field } = pane;
    root.hidden = viewer.look !== "magnifier" || !shown.length;
    if (root.hidden) return;
    if (root.childElementCount !== shown.length) root.replaceChildren(...shown.map(item));
    keepOff(root, pane, viewer.place);
    shown.forEach((picture, index) => {
      const [patch, text] = root.children[index].children;
      const label = shown.length > 1 || field ? `${picture.label}\n` : "";
      write(text, label + valuesAt(picture, viewer.place));
      drawPatch(patch, picture, viewer.place, viewer.view.scale);
    });
    const at = sampleAt(shown[0], viewer.place);
    if (at) outline(pane.context, boxOf(shown[0], at, frame));
  }
}

function item(picture) {
  const patch = element("canvas", { className: "viewer-patch", role: "img" });
  patch.setAttribute("aria-label", `Enlarged: ${picture.label}`);
  return element("li", {}, patch, element("span", { className: "viewer-values" }));
}

/** Put what lies over a picture at its right, or at its left while the place would be covered there. */
function keepOff(root, pane, place) {
  const { left, scale } = pane.frame;
  const stage = pane.stage.clientWidth;
  const x = ((left + place.x * scale) / pane.canvas.width) * stage;
  const room = root.offsetWidth + MARGIN + 8;
  root.classList.toggle("viewer-left", x > stage - room && x >= room);
}

/** Draw the neighbourhood of a place, at twice the pane's own scale at least. */
function drawPatch(canvas, picture, place, scale) {
  const { width, height } = canvas.getBoundingClientRect();
  const dots = (css) => Math.round(css * devicePixelRatio);
  const size = { width: dots(width), height: dots(height) };
  if (canvas.width !== size.width || canvas.height !== size.height) Object.assign(canvas, size);
  const context = canvas.getContext("2d");
  context.clearRect(0, 0, size.width, size.height);
  const enlarged = Math.max(dots(ENLARGED), Math.round(2 * scale));
  const frame = frameOf(size, { centreX: place.x, centreY: place.y, scale: enlarged });
  paint(context, picture, frame);
  const at = sampleAt(picture, place);
  if (at) outline(context, boxOf(picture, at, frame));
}

export { Magnifier, keepOff };
