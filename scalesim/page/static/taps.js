/**
 * What a picture's scan lines are made of: the weights of its chain on the source's lines.
 *
 * @typedef {{patterns: number[][], use: number[], first: number[], encoding: string}} Taps
 *   Scan line i of the picture is the sum of `patterns[use[i]]` times the source's lines from `first[i]` on, in
 *   code values (`encoding` "code", or "any" for mere choices) or in light ("light").
 * @typedef {{down: [number, number], across: [number, number]}} Looks
 *   A scan line's coordinate v looks at source line down[0]·v + down[1], a sample's h at
 *   across[0]·h + across[1]; edges are whole numbers.
 */

import { clamp } from "./dom.js";

/** The weights of one scan line: [{line, weight}], none where the chain is no fixed mixture. */
function tapsOf(picture, line) {
  const { taps } = picture;
  if (!taps?.use.length) return [];
  const weights = taps.patterns[taps.use[line]];
  return weights
    .map((weight, at) => ({ line: taps.first[line] + at, weight }))
    .filter(({ weight }) => weight !== 0);
}

/** Where scan lines and samples of a picture look on the source; over the same place if not said otherwise. */
function looksOf(picture, source) {
  const alike = (own, other) => [other / own, 0];
  return picture.looks ?? {
    down: alike(picture.bitmap.height, source.bitmap.height),
    across: alike(picture.bitmap.width, source.bitmap.width),
  };
}

/** The source sample that a sample of a picture looks at. */
function sourceSample(picture, source, sample) {
  const [scale, offset] = looksOf(picture, source).across;
  return clamp(Math.floor(scale * (sample + 0.5) + offset), 0, source.bitmap.width - 1);
}

/**
 * The lines and samples of a picture that show a part of the source, whole lines, at least one.
 * `lines` and `samples` are (begin, end) on the source.
 */
function shownOf(picture, source, lines, samples) {
  const { down, across } = looksOf(picture, source);
  const back = ([scale, offset], place) => (place - offset) / scale;
  const [top, bottom] = lines.map((line) => back(down, line));
  const [left, right] = samples.map((sample) => back(across, sample));
  const first = Math.floor(top + 1e-6);
  return { line: first, lines: Math.max(1, Math.ceil(bottom - 1e-6) - first), sample: left, samples: right - left };
}

export { looksOf, shownOf, sourceSample, tapsOf };
