/**
 * One pane of the viewer: its canvas, what it shows and says, and the parts that lie over it. viewer.js
 * explains the terms and the options.
 */

import { clamp, element, write } from "./dom.js";
import { Fields } from "./fields.js";
import { Flip } from "./flip.js";
import { Magnifier } from "./magnifier.js";
import { frameOf, paint, sampleAt } from "./paint.js";
import { Slice } from "./slice.js";
import { valuesAt } from "./values.js";
import { Wipe } from "./wipe.js";

class Pane {
  constructor(viewer, { picture, against = null, divider = 0.5 }) {
    Object.assign(this, { viewer, wanted: [picture, against], ids: [], turn: 0, peeked: null });
    this.ending = new AbortController();
    this.id = viewer.newId();
    this.build(divider);
    this.observer = new ResizeObserver((entries) => this.resized(entries));
    try {
      this.observer.observe(this.canvas, { box: "device-pixel-content-box" });
    } catch {
      this.observer.observe(this.canvas); // a browser without that box: CSS pixels, rounded
    }
  }

  build(divider) {
    const { viewer } = this;
    this.canvas = element("canvas", { className: "viewer-canvas", role: "img" });
    this.context = this.canvas.getContext("2d");
    this.wipe = new Wipe(this, divider);
    this.fields = new Fields(this);
    this.flip = new Flip(this);
    this.over = [new Magnifier(this), new Slice(this)];
    const onchange = () => this.show(this.selects[0].value, this.selects[1].value || null);
    this.selects = [0, 1].map(() => element("select", { onchange }));
    this.names = this.selects.map(() => element("span"));
    this.choosers = this.selects.map((select, side) => element("label", {}, this.names[side], select));
    this.error = element("p", { className: "viewer-error", role: "alert", hidden: true });
    // A picture alone is no control: this role hands the arrow keys to the page in a screen reader.
    const stage = { className: "viewer-stage", role: "application", tabIndex: 0 };
    const over = [...this.over.map(({ root }) => root), this.error];
    this.stage = element("div", { ...stage, "aria-describedby": viewer.helpId }, this.canvas, ...over);
    this.captions = [0, 1].map(() => element("div", { className: "viewer-stack" }));
    const head = element("div", { className: "viewer-head" }, ...this.choosers, this.flip.root);
    const caption = element("figcaption", {}, ...this.captions);
    const parts = [head, this.stage, this.wipe.root, caption, this.fields.root];
    this.root = element("figure", { className: "viewer-pane" }, ...parts);
    this.describe();
  }

  /** The pictures on show: one, or two in a wipe; for a while the source, or a field, in their place. */
  get shown() {
    if (this.peeked) return [this.peeked];
    if (this.fields.field) return [this.fields.field];
    return this.ids.map((id) => this.viewer.pictures.get(id));
  }

  get field() {
    return this.fields.field;
  }

  get frame() {
    return frameOf(this.canvas, this.viewer.view);
  }

  /** The place in picture space under a dot of the canvas. */
  placeAt({ x, y }) {
    const { left, top, scale } = this.frame;
    return { x: (x - left) / scale, y: (y - top) / scale };
  }

  /** The picture on show at a place. */
  pictureAt({ x }) {
    const { left, scale } = this.frame;
    const [first, second] = this.shown;
    return second && left + x * scale >= this.wipe.cut ? second : first;
  }

  /** Whether a dot across the canvas shows the first or the second picture. */
  onSide(dot, side) {
    return this.shown.length < 2 || (dot < this.wipe.cut) === (side === 0);
  }

  /** Show one picture or a wipe of two, once all of it is decoded. */
  async show(id, against = null) {
    const turn = ++this.turn;
    this.wanted = [id, against];
    const ids = this.wanted.filter((each) => each !== null);
    try {
      await Promise.all(ids.map((each) => this.viewer.load(each)));
    } catch (reason) {
      if (turn === this.turn) this.fail(ids.join(", "), reason);
      return false;
    }
    if (turn !== this.turn || this.ending.signal.aborted) return false;
    this.ids = ids;
    this.describe();
    this.viewer.shows(this);
    return true;
  }

  /** Show another picture in place of what is on show, null to end it. */
  async peek(picture) {
    this.asked = picture;
    if (picture) await this.viewer.load(picture.id);
    if (this.asked !== picture || this.peeked === picture) return; // it may have been let go meanwhile
    this.peeked = picture;
    this.describe();
    this.viewer.draw();
  }

  fail(what, reason) {
    this.error.textContent = `“${what}” cannot be shown: ${reason.message}`;
    this.error.hidden = false;
  }

  /** Write every text that depends on which pictures are shown. */
  describe() {
    this.fields.describe();
    const { shown, viewer } = this;
    const wiped = shown.length === 2;
    const name = shown.map(({ label }) => label).join(" against ");
    const alts = shown.map(({ alt }) => alt);
    this.error.hidden = true;
    if (this.root.getAttribute("aria-label") !== name) this.over[0].describe();
    const alt = wiped ? `Left of the divider: ${alts[0]}\nRight: ${alts[1]}` : alts.join("");
    this.canvas.setAttribute("aria-label", alt || "No picture yet");
    this.stage.setAttribute("aria-label", `Move and zoom: ${name}`);
    this.root.setAttribute("aria-label", name);
    this.root.classList.toggle("viewer-single", viewer.mode !== "beside");
    this.choosers.forEach((chooser, side) => {
      chooser.hidden = viewer.mode === "flip" || (side === 1 && this.wanted[1] === null);
      write(this.names[side], this.wanted[1] === null ? "Picture" : ["Left", "Right"][side]);
      choices(this.selects[side], viewer.pictures, this.wanted[side]);
    });
    const sides = this.wanted[1] === null ? [""] : ["Left: ", "Right: "];
    this.captions.forEach((stack, side) => {
      stack.hidden = side >= sides.length;
      stackUp(stack, viewer.pictures, shown[side], sides[side]);
    });
    this.wipe.describe();
    this.flip.describe();
  }

  resized(entries) {
    const { contentRect, devicePixelContentBoxSize } = entries.at(-1);
    const box = devicePixelContentBoxSize?.[0];
    const dots = (given, css) => {
      const about = css * devicePixelRatio;
      return Math.abs(given - about) < 1 ? given : Math.round(about); // an emulated display gives CSS pixels
    };
    const width = dots(box?.inlineSize, contentRect.width);
    const height = dots(box?.blockSize, contentRect.height);
    if (!width || !height) return; // not on the page now
    Object.assign(this.canvas, { width, height });
    this.viewer.refitted();
    this.viewer.draw(); // resizing emptied the canvas: fill it before it is seen
  }

  draw() {
    const { canvas, context, frame } = this;
    context.clearRect(0, 0, canvas.width, canvas.height);
    const [first, second] = this.shown;
    if (first) paint(context, first, frame);
    if (second) this.wipe.draw(second, frame);
    this.viewer.marks.draw(this, frame);
    this.viewer.overlays.forEach((overlay) => overlay.draw(this, frame));
    this.over.forEach((part) => part.draw(frame));
  }

  /** Move the place that is looked at by this pane's lines and samples, from the middle if out of sight. */
  movePlace(across, down) {
    const { viewer, canvas } = this;
    const [picture] = this.shown;
    if (!picture) return;
    const visible = ({ x, y }) => {
      const { left, top, scale } = this.frame;
      const [dotX, dotY] = [left + x * scale, top + y * scale];
      return dotX >= 0 && dotY >= 0 && dotX < canvas.width && dotY < canvas.height;
    };
    const { view } = viewer;
    const from = viewer.look && visible(viewer.place) ? viewer.place : { x: view.centreX, y: view.centreY };
    const at = sampleAt(picture, from) ?? { line: 0, sample: 0 };
    const { width, height } = picture.bitmap;
    const x = picture.x + ((clamp(at.sample + across, 0, width - 1) + 0.5) * picture.width) / width;
    const y = picture.y + ((clamp(at.line + down, 0, height - 1) + 0.5) * picture.height) / height;
    viewer.setPlace({ x, y });
    if (!viewer.look) viewer.lookBy("magnifier");
    if (!visible({ x, y })) viewer.setView({ centreX: x, centreY: y });
    viewer.draw();
    viewer.say(`${picture.label}, ${viewer.look === "slice" ? this.over[1].words.textContent : valuesAt(picture, { x, y })}`);
  }

  destroy() {
    this.fields.stop();
    this.ending.abort();
    this.observer.disconnect();
    this.root.remove();
  }
}

/** Offer all pictures by name, maps apart; built anew only where the names changed. */
function choices(select, pictures, chosen) {
  const all = [...pictures.values()];
  const key = all.map(({ id, label }) => `${id} ${label}`).join("\n");
  if (select.dataset.key !== key) {
    const options = (maps) => all.filter(({ light }) => (light === false) === maps).map(({ id, label }) => new Option(label, id));
    const maps = options(true);
    const group = maps.length ? [element("optgroup", { label: "Maps" }, ...maps)] : [];
    select.replaceChildren(...options(false), ...group);
    select.dataset.key = key;
  }
  select.value = chosen ?? "";
}

/** Put the captions of all pictures in one place, of which one is seen: none makes the page jump. */
function stackUp(stack, pictures, picture, before) {
  const captions = new Set([...pictures.values()].map(({ caption }) => caption));
  if (picture) captions.add(picture.caption ?? "");
  const wanted = [...captions].map((caption) => (caption ? before + caption : ""));
  if (stack.childElementCount !== wanted.length) stack.replaceChildren(...wanted.map(() => element("p")));
  [...captions].forEach((caption, at) => {
    write(stack.children[at], wanted[at]);
    stack.children[at].classList.toggle("viewer-away", caption !== (picture?.caption ?? ""));
  });
}

export { Pane };
