/**
 * Where samples fall on the dots of a canvas, and painting them without smoothing.
 *
 * A picture has a `bitmap` and the place (x, y, width, height) it fills in picture space. A frame is a
 * canvas looking at that space: `left` and `top` are the dots of the origin, `scale` the dots to a unit.
 */

import { clamp } from "./dom.js";

/** The samples (or lines) of one axis that a pane shows, and the dots they fill, all whole numbers. */
function span(start, extent, count, origin, scale, dots) {
  const cell = (extent / count) * scale;
  const from = origin + Math.round(start * scale);
  const first = clamp(Math.floor(-from / cell), 0, count);
  const last = clamp(Math.ceil((dots - from) / cell), first, count);
  const edge = (index) => from + Math.round(index * cell);
  return { first, count: last - first, from: edge(first), dots: edge(last) - edge(first) };
}

/** Paint what a frame (origin, scale and size in dots) shows of a picture. */
function paint(context, picture, { left, top, scale, width, height }) {
  const { bitmap } = picture;
  const across = span(picture.x, picture.width, bitmap.width, left, scale, width);
  const down = span(picture.y, picture.height, bitmap.height, top, scale, height);
  if (!across.dots || !down.dots) return;
  context.imageSmoothingEnabled = false; // resizing a canvas sets it back
  const samples = [across.first, down.first, across.count, down.count];
  context.drawImage(bitmap, ...samples, across.from, down.from, across.dots, down.dots);
}

/** The frame of a canvas; the origin of the space is on a whole dot, so that whole scales are exact. */
function frameOf({ width, height }, { centreX, centreY, scale }) {
  const left = Math.round(width / 2 - centreX * scale);
  const top = Math.round(height / 2 - centreY * scale);
  return { left, top, scale, width, height };
}

/** A two-tone outline just outside a box of dots: visible on any colour. */
function outline(context, [x, y, width, height], { inner = "#fff", thick = 1 } = {}) {
  const thin = Math.max(1, Math.round(thick * devicePixelRatio));
  for (const [tone, gap] of [["#000", 2 * thin], [inner, thin]]) {
    context.fillStyle = tone;
    const [left, top, right, bottom] = [x - gap, y - gap, x + width + gap, y + height + gap];
    context.fillRect(left, top, right - left, thin);
    context.fillRect(left, bottom - thin, right - left, thin);
    context.fillRect(left, top, thin, bottom - top);
    context.fillRect(right - thin, top, thin, bottom - top);
  }
}

/** The line and sample of a picture at a place, or null outside it. */
function sampleAt({ bitmap, x, y, width, height }, place) {
  const sample = Math.floor(((place.x - x) / width) * bitmap.width);
  const line = Math.floor(((place.y - y) / height) * bitmap.height);
  const inside = sample >= 0 && line >= 0 && sample < bitmap.width && line < bitmap.height;
  return inside ? { line, sample } : null;
}

/** The dots of a frame that some lines and samples of a picture fill. */
function boxOf({ bitmap, x, y, width, height }, { line, sample, lines = 1, samples = 1 }, frame) {
  const edge = (origin, start, extent, count, index) =>
    origin + Math.round(start * frame.scale) + Math.round((index * extent * frame.scale) / count);
  const across = [sample, sample + samples].map((at) => edge(frame.left, x, width, bitmap.width, at));
  const down = [line, line + lines].map((at) => edge(frame.top, y, height, bitmap.height, at));
  return [across[0], down[0], across[1] - across[0], down[1] - down[0]];
}

export { boxOf, frameOf, outline, paint, sampleAt };
