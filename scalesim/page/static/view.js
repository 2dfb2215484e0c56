/** Where all panes look, and how large: one centre, one scale, one place that is looked at more closely. */

import { clamp } from "./dom.js";
import { besideSlice, sliceWidth } from "./slice.js";

const SMALL = [16, 12, 8, 6, 4, 3, 2].map((whole) => 1 / whole);
const ZOOMS = [...SMALL, 1, 2, 3, 4, 5, 6, 8, 10, 12, 16, 24, 32, 48, 64];
const whole = (dots) => Math.abs(dots - Math.round(dots)) < 1e-6;

/** The dots to a unit at scale 1 of the lines and samples of pictures. */
const cells = (pictures) =>
  pictures.filter(({ bitmap }) => bitmap)
    .flatMap(({ bitmap, width, height }) => [width / bitmap.width, height / bitmap.height]);

class View {
  constructor(start) {
    this.start = start;
    this.view = { centreX: 0, centreY: 0, scale: 1, fitted: start === "fit", ...(start === "fit" ? {} : start) };
    this.look = null;
    this.place = { x: 0, y: 0 };
    this.listeners = new Set();
    this.request = null;
  }

  /** Go to where it begins. */
  begin() {
    if (this.start === "fit") return this.fit();
    const { centreX, centreY, scale = this.exactScale() } = this.start;
    return this.setView({ centreX, centreY, scale });
  }

  /** The pictures on show in any pane. */
  get shown() {
    return this.panes.flatMap(({ shown }) => shown);
  }

  /**
   * A whole scale at which lines and samples are whole numbers of dots: the source's too if there is one,
   * else those of the pictures on show, else about what is comfortable to look at.
   */
  exactScale() {
    const least = Math.max(1, Math.round(1.5 * devicePixelRatio));
    const scales = ZOOMS.filter((scale) => scale >= least && scale <= 2 * least);
    const { shown } = this;
    const all = this.source ? [...shown, this.source] : shown;
    const found = [all, shown].map((pictures) => scales.find((scale) => cells(pictures).every((each) => whole(each * scale))));
    return found.find((scale) => scale !== undefined) ?? scales[0];
  }

  exact() {
    this.setView({ scale: this.exactScale() });
  }

  /** The box about the places of all pictures, or null before any is known. */
  bounds() {
    const known = [...this.pictures.values()].filter(({ width, height }) => width && height);
    if (!known.length) return null;
    const left = Math.min(...known.map(({ x }) => x));
    const top = Math.min(...known.map(({ y }) => y));
    const right = Math.max(...known.map(({ x, width }) => x + width));
    const bottom = Math.max(...known.map(({ y, height }) => y + height));
    return { left, top, right, bottom };
  }

  setView(wanted, fitted = false) {
    const { centreX, centreY, scale } = { ...this.view, ...wanted };
    if (![centreX, centreY, scale].every(Number.isFinite)) throw new RangeError("A view takes finite numbers only");
    const nowhere = { left: -Infinity, top: -Infinity, right: Infinity, bottom: Infinity };
    const { left, top, right, bottom } = this.bounds() ?? nowhere;
    const old = this.view;
    this.view = {
      centreX: clamp(centreX, left, right),
      centreY: clamp(centreY, top, bottom),
      scale: fitted ? scale : clamp(scale, ZOOMS[0], ZOOMS.at(-1)),
      fitted,
    };
    this.schedule();
    if (Object.keys(old).some((key) => old[key] !== this.view[key])) this.changed();
  }

  /** Show everything in every pane: at the largest whole scale, below 1 at the largest of all. */
  fit() {
    const box = this.bounds();
    if (!box) return;
    const [width, height] = [box.right - box.left, box.bottom - box.top];
    const scales = this.panes.map(({ canvas }) => Math.min(canvas.width / width, canvas.height / height));
    const largest = Math.min(...scales, ZOOMS.at(-1));
    const scale = largest >= 1 ? Math.floor(largest) : largest;
    this.setView({ centreX: (box.left + box.right) / 2, centreY: (box.top + box.bottom) / 2, scale }, true);
  }

  /** After a change of size or pictures: give panes the pictures' shape, fit again what was fitted. */
  refitted() {
    const box = this.bounds();
    if (box) this.tools.root.style.setProperty("--viewer-shape", (box.right - box.left) / (box.bottom - box.top));
    if (this.view.fitted) this.fit();
    this.schedule();
  }

  pan(across, down) {
    const { centreX, centreY, scale } = this.view;
    this.setView({ centreX: centreX + across / scale, centreY: centreY + down / scale });
  }

  /** Step through the exact scales, keeping in place what is under a dot of a pane (else the centre). */
  zoom(steps, pane = null, at = null) {
    const { scale } = this.view;
    const larger = (zoom) => zoom > scale * 1.001;
    const smaller = (zoom) => zoom < scale / 1.001;
    const next = steps > 0 ? ZOOMS.find(larger) : ZOOMS.findLast(smaller);
    if (next === undefined) return;
    if (pane) this.zoomAbout(pane, next, pane.placeAt(at), at);
    else this.setView({ scale: next });
    if (Math.abs(steps) > 1) this.zoom(steps - Math.sign(steps), pane, at);
  }

  zoomAbout({ canvas }, scale, place, at) {
    const centreX = place.x - (at.x - canvas.width / 2) / scale;
    const centreY = place.y - (at.y - canvas.height / 2) / scale;
    this.setView({ centreX, centreY, scale });
  }

  /** Two fingers, one of which moved: what is between them stays between them. */
  pinch(pane, before, after, other) {
    const apart = (finger) => Math.max(1, Math.hypot(finger.x - other.x, finger.y - other.y));
    const between = (finger) => ({ x: (finger.x + other.x) / 2, y: (finger.y + other.y) / 2 });
    const scale = clamp((this.view.scale * apart(after)) / apart(before), ZOOMS[0], ZOOMS.at(-1));
    this.zoomAbout(pane, scale, pane.placeAt(between(before)), between(after));
  }

  onChange(callback) {
    this.listeners.add(callback);
    return () => this.listeners.delete(callback);
  }

  changed() {
    this.listeners.forEach((callback) => callback({ ...this.view }));
  }

  /** Look at another place. */
  setPlace({ x, y }) {
    this.place = { x, y };
    this.changed();
    this.schedule();
  }

  /** Move a place to where it is seen beside the slice. */
  showBeside({ x, y }) {
    const [{ stage, canvas }] = this.panes;
    const aside = (0.5 - besideSlice(stage.clientWidth)) * canvas.width;
    this.setView({ centreX: x + aside / this.view.scale, centreY: y });
  }

  /** Look by the magnifier, by a slice, or by none; the same again ends it. */
  lookBy(what) {
    const { centreX: x, centreY: y } = this.view;
    if (!this.look && what && !this.marks.active) this.place = { x, y };
    this.look = this.look === what ? null : what;
    const { clientWidth } = this.panes[0].stage;
    if (this.look === "slice" && 2 * sliceWidth(clientWidth) > clientWidth) this.showBeside(this.place);
    this.tools.describe();
    this.changed();
    this.schedule();
  }

  /** The scale in words, and whether lines and samples come out whole at it. */
  scaleInWords() {
    const { scale } = this.view;
    const dots = cells(this.shown).map((each) => each * scale);
    const remark = dots.some((each) => each < 0.999)
      ? "too small for every line and sample: some are left out here"
      : dots.every(whole)
        ? "every line and sample is a whole number of dots"
        : "lines or samples differ by a dot in size";
    const ratio = scale >= 1 ? `${+scale.toFixed(2)}:1` : `${Math.round(100 * scale)} %`;
    return `${ratio}, ${remark}`;
  }

  schedule() {
    this.request ??= requestAnimationFrame(() => this.draw());
  }
}

export { View };
