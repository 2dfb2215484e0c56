/**
 * What can lie over the panes, off by default: a ruler of lines, the safe areas, what the tube hides.
 *
 * The ruler counts the lines of the picture itself; on a raster with fields every frame line has its
 * field (t top, b bottom) and its number in that field.
 *
 * Safe areas: SMPTE ST 2046-1:2009, 93 % and 90 % of the production aperture, concentric.
 */

import { lab } from "./store.js";

const SAFE = [["safe action 93 %", 0.93], ["safe title 90 %", 0.9]];
const GAP = 16; // CSS pixels between two numbers of the ruler, at least
const STEPS = [1, 2, 5, 10, 20, 50, 100, 200];

class Overlays {
  constructor() {
    this.on = new Set();
  }

  toggle(name) {
    if (!this.on.delete(name)) this.on.add(name);
  }

  draw(pane, frame) {
    const [picture] = pane.shown;
    if (!picture?.bitmap || !this.on.size) return;
    const { context } = pane;
    context.save();
    if (this.on.has("hidden") && lab.facts?.visible) this.hidden(context, frame, picture, lab.facts.visible);
    if (this.on.has("safe")) this.safe(context, frame, picture);
    if (this.on.has("ruler")) this.ruler(context, frame, picture);
    context.restore();
  }

  ruler(context, { left, top, scale, height }, { id, bitmap, y, height: tall }) {
    const dots = devicePixelRatio;
    const cell = (tall / bitmap.height) * scale;
    const step = STEPS.find((each) => each * cell >= GAP * dots) ?? STEPS.at(-1);
    const woven = id === "raster" && lab.facts?.scan === "interlaced";
    context.font = `${Math.round(11 * dots)}px "Segoe UI", "Helvetica Neue", Arial, sans-serif`;
    context.textBaseline = "middle";
    const wide = Math.round((woven ? 56 : 40) * dots);
    context.fillStyle = "#fff";
    context.fillRect(0, 0, wide, height);
    context.fillStyle = "#000";
    context.fillRect(wide, 0, Math.max(1, Math.round(dots)), height);
    const first = Math.max(0, Math.floor((-top - y * scale) / cell / step) * step);
    for (let line = first; line < bitmap.height; line += step) {
      const at = top + Math.round(y * scale) + Math.round(line * cell);
      if (at > height) break;
      context.fillRect(wide - Math.round(6 * dots), at, Math.round(6 * dots), Math.max(1, Math.round(dots)));
      const words = woven ? `${line} ${line % 2 ? "b" : "t"}${line >> 1}` : String(line);
      context.fillText(words, 3 * dots, at + cell / 2);
    }
  }

  safe(context, { left, top, scale }, { x, y, width, height }) {
    const dots = devicePixelRatio;
    context.font = `${Math.round(11 * dots)}px "Segoe UI", "Helvetica Neue", Arial, sans-serif`;
    for (const [at, [words, share]] of SAFE.entries()) {
      const [across, down] = [(width * (1 - share)) / 2, (height * (1 - share)) / 2];
      this.box(context, left + (x + across) * scale, top + (y + down) * scale, width * share * scale, height * share * scale);
      const from = left + (x + (at ? width / 2 : across)) * scale; // the two never lie over each other
      this.tag(context, words, from + (this.on.has("ruler") && !at ? 44 : 4) * dots, top + (y + height - down) * scale - 8 * dots);
    }
  }

  /** What the tube hides, hatched: the picture stays to be seen under it. */
  hidden(context, { left, top, scale, width, height }, picture, visible) {
    const dots = devicePixelRatio;
    const [x, y] = [left + visible.x * scale, top + visible.y * scale];
    const [wide, tall] = [visible.width * scale, visible.height * scale];
    context.save();
    context.beginPath();
    context.rect(left + picture.x * scale, top + picture.y * scale, picture.width * scale, picture.height * scale);
    context.rect(x, y, wide, tall);
    context.clip("evenodd");
    context.beginPath();
    for (let at = -height; at < width; at += 12 * dots) {
      context.moveTo(at, height);
      context.lineTo(at + height, 0);
    }
    context.lineWidth = 3 * dots;
    context.strokeStyle = "#000";
    context.stroke();
    context.lineWidth = dots;
    context.strokeStyle = "#fff";
    context.stroke();
    context.restore();
    this.box(context, x, y, wide, tall);
  }

  box(context, x, y, wide, tall) {
    const thin = Math.max(1, Math.round(devicePixelRatio));
    const place = [x, y, wide, tall].map((each) => Math.round(each) + 0.5);
    for (const [colour, width] of [["#000", 3 * thin], ["#fff", thin]]) {
      context.strokeStyle = colour;
      context.lineWidth = width;
      context.strokeRect(...place);
    }
  }

  tag(context, words, x, y) {
    context.textBaseline = "middle";
    const dots = devicePixelRatio;
    context.fillStyle = "#000";
    context.fillRect(x - 2 * dots, y - 8 * dots, context.measureText(words).width + 4 * dots, 16 * dots);
    context.fillStyle = "#fff";
    context.fillText(words, x, y);
  }
}

export { Overlays };
