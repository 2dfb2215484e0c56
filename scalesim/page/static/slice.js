/**
 * One column of the source and the scan lines made of it, as bars of light beside the picture, with the
 * weights that made them: why an outline lies on one scan line, or is split over two.
 */

import { clamp, element, shape, write } from "./dom.js";
import { keepOff } from "./magnifier.js";
import { boxOf, outline, sampleAt } from "./paint.js";
import { looksOf, sourceSample, tapsOf } from "./taps.js";
import { columnOf, lightOf } from "./values.js";

const ROW = 30; // CSS pixels to a scan line, about
const HEAD = 36;
const FOOT = 50;
const [LINE, VALUE, LINKS, GUTTER] = [36, 46, 84, 4]; // widths: a line number, a value, the weights
const LABEL = 14; // CSS pixels between two lines of text
const [NARROW, STRIP, MOST_WIDE] = [480, 104, 368];
const [HEAD_WIDE, HALF_WORD] = [48, 24]; // of the head "Source", and of the word "weights"
const MOST_TAPS = 7; // weights that are written out
const percent = (share) => `${Math.round(100 * share)}\u00a0%`;

class Slice {
  constructor(pane) {
    this.pane = pane;
    this.drawing = shape("svg", { role: "img" });
    this.words = element("p", { className: "viewer-slice-words" });
    this.root = element("div", { className: "viewer-slice viewer-over", hidden: true }, this.drawing, this.words);
  }

  /** The picture to slice: of a map, what it maps. */
  picture() {
    const { viewer } = this.pane;
    const shown = this.pane.pictureAt(viewer.place);
    const mapped = viewer.pictures.get(shown?.of);
    if (viewer.look === "slice" && mapped && !mapped.bitmap) viewer.load(mapped.id).then(() => viewer.schedule(), () => {});
    return mapped?.bitmap ? mapped : shown;
  }

  draw(frame) {
    const { pane, root } = this;
    const picture = this.picture();
    root.hidden = pane.viewer.look !== "slice" || !picture;
    if (root.hidden) return;
    root.style.width = `${sliceWidth(pane.stage.clientWidth)}px`;
    keepOff(root, pane, pane.viewer.place);
    const cut = cutOf(picture, pane.viewer, Math.max(3, Math.floor((root.clientHeight - HEAD - FOOT) / ROW)));
    const said = cut.why ?? sentence(cut);
    write(this.words, said);
    this.drawing.setAttribute("aria-label", `Slice of ${picture.label}`);
    if (cut.why) return void this.drawing.replaceChildren();
    const size = { width: root.clientWidth, height: root.clientHeight - FOOT };
    this.drawing.setAttribute("viewBox", `0 0 ${size.width} ${size.height}`);
    this.drawing.replaceChildren(...drawn(cut, size));
    outline(pane.context, boxOf(picture, { line: cut.first, sample: cut.sample, lines: cut.rows.length }, frame));
  }
}

/** What a slice shows of a picture about the viewer's place: its scan lines, and the source's under them. */
function cutOf(picture, viewer, count) {
  const at = sampleAt(picture, viewer.place);
  if (!at) return { why: "Outside the picture." };
  if (picture.light === false) return { why: "A map has no light of its own." };
  const { height } = picture.bitmap;
  const first = clamp(at.line - Math.floor(count / 2), 0, Math.max(0, height - count));
  const own = columnOf(picture, at.sample, first, Math.min(count, height - first));
  if (!own) return { why: "Values cannot be read from a separate file." };
  const rows = own.map((codes, k) => ({ line: first + k, codes, light: lightOf(codes), taps: tapsOf(picture, first + k) }));
  const found = { picture, first, rows, focus: at.line, sample: at.sample };
  const source = viewer.source;
  if (!source?.bitmap || source === picture) // alone, or not decoded yet
    return { ...found, rows: rows.map((row) => ({ ...row, taps: [] })), column: [], looks: null };
  return { ...found, ...columnUnder(picture, source, found) };
}

/** The source's lines that the rows look at or take from. */
function columnUnder(picture, source, { rows, first, sample }) {
  const looks = looksOf(picture, source);
  const [scale, offset] = looks.down;
  const taken = rows.flatMap(({ taps }) => taps.map(({ line }) => line));
  const most = source.bitmap.height;
  const from = clamp(Math.min(Math.floor(scale * first + offset), ...taken), 0, most - 1);
  const to = clamp(Math.max(Math.ceil(scale * (first + rows.length) + offset), ...taken.map((line) => line + 1)), from + 1, most);
  const across = sourceSample(picture, source, sample);
  const codes = columnOf(source, across, from, to - from) ?? [];
  const column = codes.map((each, k) => ({ line: from + k, codes: each, light: lightOf(each) }));
  return { looks, column, across };
}

/** What one row of a picture is. */
const rowName = ({ row }, looks) => row ?? (looks ? "Scan line" : "Line");

/** What the slice says of the scan line in its middle. */
function sentence({ picture, rows, focus, first, column, looks }) {
  const row = rows[focus - first];
  const own = `${rowName(picture, looks)} ${focus}: light ${percent(row.light)}`;
  if (!looks) return `${own}.`;
  if (!row.taps.length) return `${own}. ${picture.why ?? "Its weights are not known."}`;
  const { taps } = row;
  if (taps.length === 1 && taps[0].weight === 1) return `${own}, source line ${taps[0].line} alone.`;
  const lights = new Map(column.map(({ line, light }) => [line, light]));
  const known = taps.map(({ line }) => lights.get(line)).filter((light) => light !== undefined);
  const span = `${percent(Math.min(...known))} to ${percent(Math.max(...known))}`;
  const mixed = picture.taps.encoding === "light" ? "linear light" : "gamma-coded values";
  return `${own}, from ${taps.length} source lines of light ${span}; mixes ${mixed}.`;
}

/** The drawing: source bars at the left, weights in the middle, scan lines at the right. */
function drawn(cut, { width, height }) {
  const tall = (height - HEAD) / cut.rows.length;
  const bar = Math.max(24, Math.min(110, (width - GUTTER - LINKS - 2 * LINE - VALUE) / 2));
  const place = {
    column: LINE, bar, rows: width - bar - VALUE, tall,
    row: (line) => HEAD + (line - cut.first) * tall,
    line: cut.looks && ((line) => HEAD + ((line - cut.looks.down[1]) / cut.looks.down[0] - cut.first) * tall),
  };
  const texts = [
    text(place.rows, 14, `${rowName(cut.picture, cut.looks)}s`, "start", "viewer-slice-head"),
    text(place.rows, 28, "light", "start"),
  ];
  if (cut.looks) texts.push(text(place.column, 14, "Source", "start", "viewer-slice-head"), text(place.column, 28, `sample ${cut.across}`, "start"));
  const middle = (place.column + place.bar + place.rows - 30) / 2;
  const room = middle - HALF_WORD > place.column + HEAD_WIDE;
  if (room && cut.rows.some(({ taps }) => taps.length)) texts.push(text(middle, 14, "weights", "middle"));
  return [...texts, ...links(cut, place), ...bars(cut, place)];
}

const text = (x, y, words, anchor, name = "") =>
  shape("text", { x, y, "text-anchor": anchor, class: name }, words);

/** A bar as long as its light, with the colour itself at its foot. */
function bar(kind, { line, codes, light }, x, y, long, tall) {
  const gap = tall > 6 ? 1 : 0;
  const colour = `rgb(${codes.join(" ")})`;
  const foot = shape("rect", { x, y: y + gap / 2, width: 8, height: tall - gap, fill: colour, class: "viewer-slice-colour" });
  const ground = shape("rect", { x: x + 10, y: y + gap / 2, width: long - 10, height: tall - gap, class: "viewer-slice-ground" });
  const own = { x: x + 10, y: y + gap / 2, width: (long - 10) * light, height: tall - gap };
  return [foot, ground, shape("rect", { ...own, class: `viewer-slice-${kind}`, "data-line": line })];
}

function bars(cut, place) {
  const made = [];
  const used = new Set(cut.rows[cut.focus - cut.first].taps.map(({ line }) => line));
  for (const each of cut.column) {
    const [y, next] = [place.line(each.line), place.line(each.line + 1)];
    if (next <= HEAD - 8 || y >= place.row(cut.first + cut.rows.length) + 8) continue;
    made.push(...bar(used.has(each.line) ? "used" : "source", each, place.column, y, place.bar, next - y));
    if (next - y >= 11 || (used.size && each.line === Math.min(...used)))
      made.push(text(place.column - 4, (y + next) / 2 + 4, each.line, "end"));
  }
  for (const each of cut.rows) {
    const y = place.row(each.line);
    const kind = each.line === cut.focus ? "focus" : "row";
    made.push(...bar(kind, each, place.rows, y, place.bar, place.tall));
    made.push(text(place.rows + place.bar + 4, y + place.tall / 2 + 4, percent(each.light), "start"));
    made.push(text(place.rows - 4, y + place.tall / 2 + 4, each.line, "end"));
  }
  return made;
}

/** A line from every source line to the scan line that takes it, as thick as its weight. */
function links(cut, place) {
  const made = [];
  const [from, to] = [place.column + place.bar + 2, place.rows - 30];
  for (const { line, taps } of cut.rows) {
    const focus = line === cut.focus;
    const y = place.row(line) + place.tall / 2;
    const told = [...taps].sort((a, b) => Math.abs(b.weight) - Math.abs(a.weight)).slice(0, MOST_TAPS)
      .sort((a, b) => a.line - b.line);
    for (const tap of taps) {
      const source = place.line(tap.line + 0.5);
      const name = `viewer-slice-link${focus ? " viewer-slice-taken" : ""}${tap.weight < 0 ? " viewer-slice-less" : ""}`;
      const wide = Math.max(0.75, (focus ? 5 : 3) * Math.abs(tap.weight));
      const at = told.indexOf(tap);
      const middle = focus && at >= 0 ? y + (at - (told.length - 1) / 2) * LABEL : (source + y) / 2;
      const half = (from + to) / 2;
      const gap = focus && at >= 0 ? 19 : 0;
      const path = `M${from} ${source} L${half - gap} ${middle} M${half + gap} ${middle} L${to} ${y}`;
      made.push(shape("path", { d: path, class: name, "stroke-width": wide, "data-weight": tap.weight }));
      if (gap) made.push(text(half, middle + 4, percent(tap.weight).replace("-", "−"), "middle", "viewer-slice-weight"));
    }
  }
  return made;
}

/** How wide the slice is over a stage of a width, CSS pixels: half of it, of a narrow one all but a strip. */
function sliceWidth(stage) {
  return stage < NARROW ? Math.max(stage / 2, stage - STRIP) : Math.min(MOST_WIDE, stage / 2 - 24);
}

/** Where a place is best seen beside the slice, as a share of the stage's width. */
function besideSlice(stage) {
  return (stage - sliceWidth(stage) - 8) / 2 / stage;
}

export { besideSlice, Slice, sliceWidth };
