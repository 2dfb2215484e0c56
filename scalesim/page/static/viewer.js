/**
 * Linked picture panes: plain ES modules, no dependency, no network. Served as files, or put into one script
 * by `inlined_viewer` in page/viewer.py. The look is in viewer.css.
 *
 *   const viewer = createViewer(host, { pictures, pair, source, start, label });
 *   await viewer.ready;                            // every first picture is decoded and shown
 *   await viewer.setPicture(0, { source });        // decode first, then swap in one draw: never blank
 *
 * Picture space: every picture declares the place it fills (x, y, width, height) in one space shared by
 * all panes. A raster of 1280 samples on 240 lines that fills a 4:3 tube declares width 1280, height 960.
 * A view is a centre in that space and a scale in screen dots (device pixels, not CSS pixels) to one
 * unit of it, so that whole scales are exact at every display scale. All panes share one view.
 * Values are never smoothed: a dot on the screen has the colour of the sample it falls in.
 *
 * Arrangements: "beside" (a pane for each of `panes`), "wipe" (the pair either side of a divider) and "flip"
 * (one picture after another in the same place; the first on a narrow screen).
 *
 * Wheel and fingers: a picture takes them only while it has the focus (click, tap or Tab; Escape lets
 * go), so that the page scrolls past it otherwise. Ctrl with the wheel always zooms. Nothing is animated.
 *
 * @typedef {string|Script|HTMLImageElement|HTMLCanvasElement|ImageBitmap|ImageData} Source
 *   A string is a data URI or a URL; a Blob or a function that resolves to any of these will do as well.
 * @typedef {{script: string, key: string}} Script
 *   The URL of a script that calls the global `registerPicture(key, dataUri)`; it is loaded when needed.
 *   For pages opened as files, where the values of a separate picture file cannot be read.
 * @typedef {{id?: string, source: Source, label?: string, alt?: string, caption?: string,
 *   x?: number, y?: number, width?: number, height?: number, light?: boolean, fields?: Field[],
 *   scale?: {stops: number[][], limit: number}, looks?: Looks, taps?: Taps, why?: string, of?: string, row?: string}} PictureOptions
 *   Width and height default to the picture's own size. `light: false` for pictures whose colours are
 *   a scale; with `scale` the magnifier reads their values. With two `fields` the pane offers to show
 *   them in turn; `source` is what it shows at rest. `looks` and `taps` (taps.js) are for the slice and
 *   what is lit up, `why` says why there are no taps; `of` is the id of the picture that this one maps.
 *   `row` is what a slice calls a row of it; else a line of the source, a scan line of another.
 * @typedef {{source: Source, label?: string, x?: number, y?: number, width?: number, height?: number}} Field
 *   Its place defaults to the picture's.
 * @typedef {{picture: string, against?: string, divider?: number}} PaneOptions
 *   Ids of pictures. With `against`, a wipe: `picture` left of the divider (a share 0..1 of the pane's
 *   width), `against` right of it.
 * @typedef {{centreX: number, centreY: number, scale?: number}} View
 *   Without a scale, the first exact one.
 * @typedef {{pictures: PictureOptions[], pair?: [string, string], panes?: PaneOptions[], source?: string,
 *   contestants?: string[], mode?: "beside"|"wipe"|"flip", start?: "fit"|View, label?: string,
 *   name?: string, judged?: Judged[], help?: boolean}} ViewerOptions
 *   `pair`: the two that matter; `panes` default to them. `source`: what Space shows. `contestants` have
 *   the keys 1 to 9; all pictures of light but the source by default. `start` is also the view that is
 *   printed. `name` makes the viewer keep the address (link.js). `judged` is lit up by marks.js.
 *
 * The viewer's methods (a pane is meant by its place in `viewer.panes`):
 *   ready                          Promise, resolved when the first pictures are shown or have failed
 *   setPicture(pane, picture)      Promise<boolean>: an id, or a PictureOptions that replaces the picture
 *                                  with its id (default: the pane's) in every pane; what it leaves out is
 *                                  kept, but not fields. False if it failed (the pane says so) or a later
 *                                  call overtook it.
 *   offer(picture)                 Promise<boolean>: the picture with its id anew, in every pane that shows it; one
 *                                  that none shows is kept, and decoded when it is chosen
 *   forget(id), setPanes(ids)      drop a picture that no pane shows; show others side by side
 *   overlays                       a set of {draw(pane, frame)}, drawn over every pane
 *   setMode(mode)                  Promise: another arrangement
 *   restore(asked)                 Promise: what `fragmentRead` (link.js) gave
 *   view                           the View now, with `fitted`
 *   setView(View), fit(), exact(), zoom(steps), onChange(callback) -> function that ends it
 *   setPlace({x, y}), lookBy("magnifier"|"slice"|null)    x, y in picture space
 *   draw()                         draw all panes now (changes otherwise wait for the next screen frame)
 *   destroy()                      stop everything and empty the host
 */

import { listenToGestures } from "./gestures.js";
import { listenToKeys } from "./keys.js";
import { keepAddress } from "./link.js";
import { load, registerPicture, release } from "./load.js";
import { Marks } from "./marks.js";
import { Pane } from "./pane.js";
import { Tools } from "./tools.js";
import { View } from "./view.js";

const NARROW = "(max-width: 640px)";
let made = 0; // ids

class Viewer extends View {
  constructor(host, options) {
    super(options.start ?? "fit");
    const { pictures, panes = [], pair, source = null, label = "Pictures", name = "" } = options;
    Object.assign(this, { host, name, label, panes: [], pictures: new Map(), turns: new Map() });
    this.overlays = new Set(); // each draws over every pane: draw(pane, frame)
    this.ending = new AbortController();
    pictures.forEach((picture) => this.keep(picture));
    this.source = this.pictures.get(source) ?? null;
    const light = [...this.pictures.values()].filter((each) => each.light && each.id !== source);
    this.contestants = options.contestants ?? light.map(({ id }) => id);
    this.pair = pair ?? panes.map(({ picture }) => picture).slice(0, 2);
    this.beside = panes.length ? panes : this.pair.map((picture) => ({ picture }));
    this.marks = new Marks(this, options.judged ?? []);
    this.helpId = this.newId();
    this.tools = new Tools(this, options.help ?? true);
    host.replaceChildren(this.tools.root);
    const mode = options.mode ?? (pair && matchMedia(NARROW).matches ? "flip" : "beside");
    this.ready = this.setMode(mode).then((shown) => {
      this.begin();
      if (name) keepAddress(this, this.ending.signal);
      return shown;
    });
    this.listenToPage(this.ending.signal);
  }

  newId() {
    do made += 1;
    while (document.getElementById(`viewer-${made}`)); // of another copy of this module
    return `viewer-${made}`;
  }

  listenToPage(signal) {
    const stop = () => this.panes.forEach((pane) => pane.fields.stop());
    const listen = (target, kind, heard) => target.addEventListener(kind, heard, { signal });
    listen(document, "visibilitychange", stop);
    listen(window, "blur", stop);
    listen(document, "keydown", (event) => event.key === "Escape" && stop());
    let held = null;
    listen(window, "beforeprint", () => {
      stop();
      held = { view: this.view, look: this.look };
      this.lookBy(null);
      this.begin();
      this.draw();
    });
    listen(window, "afterprint", () => {
      if (!held) return;
      this.lookBy(held.look);
      if (held.view.fitted) this.fit();
      else this.setView(held.view);
      held = null;
    });
  }

  // Pictures

  /** Complete and remember a picture; what it leaves out comes from the one it replaces. */
  complete(given, old = {}) {
    const id = given.id ?? old.id ?? `picture-${this.pictures.size + 1}`;
    const all = { ...old, ...given };
    const { label = id, alt = label, caption = "", x = 0, y = 0, width, height, light = true, source } = all;
    if (width <= 0 || height <= 0)
      throw new RangeError(`Picture “${id}”: width and height must be above 0`);
    const place = { x, y, width, height };
    const inherited = { ...place, light, caption };
    const fields = given.fields?.map((field, parity) => ({ ...inherited, label: `field ${parity}`, ...field }));
    const { scale, looks, taps, why, of, row } = all;
    return { id, label, alt, caption, light, source, scale, looks, taps, why, of, row, ...place, fields };
  }

  keep(given) {
    const picture = this.complete(given);
    this.pictures.set(picture.id, picture);
  }

  async load(id) {
    if (!this.pictures.has(id)) throw new Error("there is no picture of this name");
    return load(this.pictures.get(id));
  }

  async setPicture(index, picture) {
    const pane = this.panes[index];
    if (typeof picture === "string") return pane.show(picture, pane.wanted[1]);
    const id = picture.id ?? pane.wanted[0];
    if (!(await this.replace({ ...picture, id }, pane))) return false;
    return pane.ids[0] === id || pane.show(id, pane.wanted[1]);
  }

  /** A picture anew, or a new one: decoded at once where a pane shows it, else when one first does. */
  async offer(picture) {
    const pane = this.panes.find(({ wanted }) => wanted.includes(picture.id));
    if (pane) return this.replace(picture, pane);
    const old = this.pictures.get(picture.id);
    this.turns.set(picture.id, (this.turns.get(picture.id) ?? 0) + 1);
    this.pictures.set(picture.id, this.complete(picture, old));
    if (old) release(old);
    if (old?.label !== picture.label) this.panes.forEach((each) => each.describe());
    return true;
  }

  /** Forget a picture that no pane shows. */
  forget(id) {
    const old = this.pictures.get(id);
    if (!old || this.panes.some(({ wanted, ids }) => wanted.includes(id) || ids.includes(id))) return;
    this.turns.set(id, (this.turns.get(id) ?? 0) + 1);
    this.pictures.delete(id);
    release(old);
    this.panes.forEach((each) => each.describe());
  }

  /** Swap a picture for a later one with its id in one draw, once that is decoded; a pane says if it fails. */
  async replace(picture, pane) {
    const { id } = picture;
    const fresh = this.complete(picture, this.pictures.get(id));
    const turn = (this.turns.get(id) ?? 0) + 1;
    this.turns.set(id, turn);
    try {
      await load(fresh);
    } catch (reason) {
      if (turn === this.turns.get(id)) pane.fail(fresh.label, reason);
      return false;
    }
    if (turn !== this.turns.get(id) || this.ending.signal.aborted) {
      release(fresh); // a later picture overtook this one
      return false;
    }
    const old = this.pictures.get(id);
    this.pictures.set(id, fresh);
    if (old === this.source) this.source = fresh;
    this.panes.forEach((each) => each.describe());
    this.refitted();
    this.draw(); // before the old one is freed: a pane never draws what is gone
    if (old) release(old);
    return true;
  }

  // Arrangements

  /** Arrange the panes; the first stays where it is, so that its picture does. */
  async setMode(mode) {
    this.mode = mode;
    const [picture, against] = this.pair;
    const beside = this.beside.map((each, at) => (at < 2 ? { ...each, picture: this.pair[at] ?? each.picture } : each));
    const wanted = { beside, wipe: [{ picture, against }], flip: [{ picture }] }[mode];
    this.panes.splice(wanted.length).forEach((pane) => pane.destroy());
    const shown = wanted.map((options, at) =>
      this.panes[at] ? this.panes[at].show(options.picture, options.against ?? null) : this.addPane(options));
    this.tools.describe();
    if (mode === "flip") this.contestants.forEach((id) => this.load(id).catch(() => {})); // said when it is shown
    if (this.source) load(this.source).then(() => this.schedule(), () => {});
    const done = await Promise.all(shown);
    this.changed();
    return done;
  }

  /** Show other pictures side by side: an id for each pane. */
  setPanes(ids) {
    this.beside = ids.map((picture) => ({ picture }));
    this.pair = [ids[0], ids[1] ?? ids[0]];
    return this.setMode(this.mode);
  }

  addPane(options) {
    const pane = new Pane(this, options);
    this.panes.push(pane);
    this.tools.grid.append(pane.root);
    listenToGestures(pane, pane.ending.signal);
    listenToKeys(pane, pane.ending.signal);
    return pane.show(...pane.wanted);
  }

  /** A pane shows something else: it is of the pair from now on. */
  shows(pane) {
    const at = this.panes.indexOf(pane);
    if (this.mode === "wipe" && pane.ids.length === 2) this.pair = [...pane.ids];
    else if (this.mode === "flip" && pane.ids[0] !== this.pair[0])
      this.pair = [pane.ids[0], pane.flip.last ?? this.pair[0]];
    else if (this.mode === "beside")
      this.pair = this.pair.map((id, side) => (side === at ? pane.ids[0] : id));
    this.refitted();
    this.changed();
  }

  /** Show what a link asks for, as far as it is there. */
  async restore({ mode, pair = [], whole, view, lit, look, place }) {
    await this.ready;
    const there = pair.filter((id) => this.pictures.has(id));
    if (there.length === 2) {
      this.pair = there;
      this.beside = there.map((picture) => ({ picture }));
    }
    await this.setMode(["beside", "wipe", "flip"].includes(mode) ? mode : this.mode);
    if (lit) this.marks.restore(lit);
    if (whole) this.fit();
    else if (Object.values(view).every(Number.isFinite)) this.setView(view);
    if (["magnifier", "slice"].includes(look) && look !== this.look) this.lookBy(look);
    if (look && Object.values(place).every(Number.isFinite)) this.setPlace(place);
    this.draw();
  }

  say(words) {
    this.tools.said.textContent = words;
  }

  draw() {
    cancelAnimationFrame(this.request);
    this.request = null;
    if (this.ending.signal.aborted) return;
    this.panes.forEach((pane) => pane.draw());
    this.tools.tell();
  }

  destroy() {
    this.panes.forEach((pane) => pane.destroy());
    this.ending.abort();
    this.pictures.forEach(release);
    this.panes = [];
    this.tools.root.remove();
  }
}

/**
 * Build linked panes in an element; its content is replaced.
 * @param {HTMLElement} host
 * @param {ViewerOptions} options
 * @returns {Viewer}
 * @throws {RangeError} if a picture declares a width or height that is not above 0; also `setPicture`,
 *   and `setView` for a number that is not finite
 */
function createViewer(host, options) {
  return new Viewer(host, options);
}

export { createViewer, registerPicture };
