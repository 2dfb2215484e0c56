/** What the samples of a picture hold: codes, light by a display of gamma 2.4, percent of a difference. */

import { clamp, element } from "./dom.js";
import { sampleAt } from "./paint.js";

const BT709 = [0.2126, 0.7152, 0.0722]; // Rec. ITU-R BT.709, luminance of R, G and B

let reader = null;
/** The 8-bit [R, G, B] of `count` samples down a column, or null where the browser forbids reading. */
function columnOf({ bitmap }, sample, first, count) {
  reader ??= element("canvas", { width: 1, height: 1 }).getContext("2d", { willReadFrequently: true });
  if (reader.canvas.height < count) reader.canvas.height = count;
  reader.drawImage(bitmap, sample, first, 1, count, 0, 0, 1, count);
  try {
    const { data } = reader.getImageData(0, 0, 1, count);
    return Array.from({ length: count }, (_, at) => [...data.slice(4 * at, 4 * at + 3)]);
  } catch {
    reader = null; // it stays unreadable
    return null;
  }
}

/** The light of [R, G, B], 0..1 of white. */
function lightOf(codes) {
  return codes.reduce((sum, code, channel) => sum + BT709[channel] * (code / 255) ** 2.4, 0);
}

/** The value that a colour stands for on a scale from -limit over 0 to +limit, whose stops are colours. */
function scaleValue(codes, { stops: [low, middle, high], limit }) {
  const [end, sign] = codes[2] < codes[0] ? [high, 1] : [low, -1];
  const channel = [0, 1, 2].reduce((best, c) =>
    Math.abs(end[c] - middle[c]) > Math.abs(end[best] - middle[best]) ? c : best);
  return sign * limit * clamp((codes[channel] - middle[channel]) / (end[channel] - middle[channel]), 0, 1);
}

/** A number with a true sign. */
const signed = (value, digits) =>
  `${value < 0 ? "−" : value > 0 ? "+" : ""}${Math.abs(value).toFixed(digits)}`;

/** What the magnifier says of a picture at a place. */
function valuesAt(picture, place) {
  const at = sampleAt(picture, place);
  if (!at) return "outside the picture";
  const codes = columnOf(picture, at.sample, at.line, 1)?.[0];
  const where = `line ${at.line}, sample ${at.sample}\n`;
  if (!codes) return `${where}values cannot be read from a separate file`;
  if (picture.scale) return `${where}${scaleWords(scaleValue(codes, picture.scale), picture.scale)}`;
  const said = picture.light === false ? "" : `\nlight ${(100 * lightOf(codes)).toFixed(2)}\u00a0%`;
  return `${where}R ${codes[0]} G ${codes[1]} B ${codes[2]}${said}`;
}

/** A value of a map in percent; at an end of its scale it may lie beyond. */
function scaleWords(value, { limit }) {
  const end = Math.abs(value) > limit * (1 - 1e-6) ? " and beyond" : "";
  return `${signed(value, 1)}\u00a0% of white${end}`;
}

export { columnOf, lightOf, scaleValue, valuesAt };
