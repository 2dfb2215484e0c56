/**
 * Linked picture panes: plain ES modules, no dependency, no network. To be served as files, or inlined in
 * one `<script type="module">`: pane.js then viewer.js, less every line that starts with import or export.
 * The look is in viewer.css.
 *
 *   const viewer = createViewer(host, { pictures, panes, start, label, help });
 *   await viewer.ready;                            // every first picture is decoded and shown
 *   await viewer.setPicture(0, { source });        // decode first, then swap in one draw: never blank
 *
 * Picture space: every picture declares the place it fills (x, y, width, height) in one space shared by
 * all panes. A raster of 1280 samples on 240 lines that fills a 4:3 tube declares width 1280, height 960.
 * A view is a centre in that space and a scale in screen dots (device pixels, not CSS pixels) to one
 * unit of it, so that whole scales are exact at every display scale. All panes share one view.
 * Values are never smoothed: a dot on the screen has the colour of the sample it falls in.
 *
 * Wheel and fingers: a picture takes them only while it has the focus (click, tap or Tab; Escape lets
 * go), so that the page scrolls past it otherwise. Ctrl with the wheel always zooms. Nothing is animated.
 *
 * @typedef {string|Script|HTMLImageElement|HTMLCanvasElement|ImageBitmap|ImageData} Source
 *   A string is a data URI or a URL.
 * @typedef {{script: string, key: string}} Script
 *   The URL of a script that calls the global `registerPicture(key, dataUri)`; it is loaded when needed.
 *   For pages opened as files, where the values of a separate picture file cannot be read.
 * @typedef {{id?: string, source: Source, label?: string, alt?: string, caption?: string,
 *   x?: number, y?: number, width?: number, height?: number, light?: boolean,
 *   fields?: Field[]}} PictureOptions
 *   Width and height default to the picture's own size. `light: false` for pictures whose colours are
 *   a scale (a difference map): the loupe then gives no light. With two `fields` the pane offers to
 *   show them in turn; `source` is what it shows at rest.
 * @typedef {{source: Source, label?: string, x?: number, y?: number, width?: number, height?: number}} Field
 *   Its place defaults to the picture's.
 * @typedef {{picture: string, against?: string, divider?: number, choose?: boolean}} PaneOptions
 *   Ids of pictures. With `against`, a wipe: `picture` left of the divider (a share 0..1 of the pane's
 *   width), `against` right of it. `choose` offers all pictures by name, and wiping; on for a wipe.
 * @typedef {{centreX: number, centreY: number, scale: number}} View
 * @typedef {{pictures: PictureOptions[], panes: PaneOptions[], start?: "fit"|View, label?: string,
 *   help?: boolean}} ViewerOptions
 *   `start` is also the view that is printed. `help: false` hides the line of keys from the eye only.
 *
 * The viewer's methods (a pane is meant by its place in `viewer.panes`):
 *   ready                          Promise, resolved when the first pictures are shown or have failed
 *   setPicture(pane, picture)      Promise<boolean>: an id, or a PictureOptions that replaces the picture
 *                                  with its id (default: the pane's) in every pane; what it leaves out is
 *                                  kept, but not fields. False if it failed (the pane says so) or a later
 *                                  call overtook it.
 *   setWipe(pane, against, share)  Promise<boolean>: wipe against an id, or null for one picture
 *   addPane(options)               Promise<boolean>;   removePane(pane)
 *   view                           the View now, with `fitted`
 *   setView(View), fit(), zoom(steps), onView(callback) -> function that ends it
 *   setLoupe({on, x, y})           x, y in picture space
 *   draw()                         draw all panes now (changes otherwise wait for the next screen frame)
 *   destroy()                      stop everything and empty the host
 */

import { Pane, clamp, element, load, registerPicture, release } from "./pane.js";

const SMALL = [16, 12, 8, 6, 4, 3, 2].map((whole) => 1 / whole);
const ZOOMS = [...SMALL, 1, 2, 3, 4, 5, 6, 8, 10, 12, 16, 24, 32, 48, 64];
const WHEEL_STEP = 50; // CSS pixels of wheel travel to a zoom step; a mouse notch is more than this
const GRAB = 14; // CSS pixels by which a finger or pointer may miss a divider
const ARROWS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
const HELP = [
  ["Click, tap, Tab", "give a picture the wheel, fingers and keys"],
  ["Escape", "lets go"],
  ["drag, arrows", "move"],
  ["wheel, +, −", "zoom"],
  ["double click", "zooms in, with Shift out"],
  ["0", "fits"],
  ["1 to 9", "that many screen dots to a dot of the picture"],
  ["L", "loupe on and off"],
  ["Shift + arrow", "moves the loupe by one line or sample"],
  ["Ctrl + wheel", "zooms without a click first"],
];

// Gestures

function listenToGestures(pane, signal) {
  const { viewer, stage, canvas } = pane;
  const pointers = new Map();
  let wiping = false;
  let travel = 0;
  const listen = (kind, heard, more = {}) => stage.addEventListener(kind, heard, { signal, ...more });
  const dotAt = (event) => {
    const box = canvas.getBoundingClientRect();
    const dots = canvas.width / box.width;
    return { x: (event.clientX - box.left) * dots, y: (event.clientY - box.top) * dots, dots };
  };
  const overDivider = ({ x, dots }) =>
    !pane.wipe.hidden && Math.abs(x - pane.divider * canvas.width) < GRAB * dots;
  const end = (event) => {
    pointers.delete(event.pointerId);
    wiping = wiping && pointers.size > 0;
  };
  const drag = (event, before, at) => {
    const other = [...pointers].find(([id]) => id !== event.pointerId)?.[1];
    pointers.set(event.pointerId, at);
    if (wiping) pane.setDivider(at.x / canvas.width);
    else if (other) viewer.pinch(pane, before, at, other);
    else viewer.pan(before.x - at.x, before.y - at.y);
  };
  listen("pointerdown", (event) => {
    if (event.button !== 0) return;
    stage.setPointerCapture(event.pointerId);
    const at = dotAt(event);
    if (!pointers.size) wiping = overDivider(at);
    pointers.set(event.pointerId, at);
  });
  listen("pointermove", (event) => {
    const at = dotAt(event);
    const dot = { x: Math.floor(at.x) + 0.5, y: Math.floor(at.y) + 0.5 };
    if (viewer.loupe.on) viewer.setLoupe(pane.placeAt(dot));
    stage.classList.toggle("viewer-over-divider", wiping || overDivider(at));
    const before = pointers.get(event.pointerId);
    if (before) drag(event, before, at);
  });
  ["pointerup", "pointercancel", "lostpointercapture"].forEach((kind) => listen(kind, end));
  listen("dblclick", (event) => viewer.zoom(event.shiftKey ? -1 : 1, pane, dotAt(event)));
  listen("wheel", (event) => {
    if (!event.ctrlKey && document.activeElement !== stage) return;
    event.preventDefault();
    const pixels = event.deltaMode === 0 ? event.deltaY : event.deltaY * WHEEL_STEP;
    travel = pixels * travel < 0 ? pixels : travel + pixels;
    if (Math.abs(travel) < WHEEL_STEP) return;
    viewer.zoom(travel < 0 ? 1 : -1, pane, dotAt(event));
    travel = 0;
  }, { passive: false });
  listen("keydown", (event) => {
    if (event.ctrlKey || event.altKey || event.metaKey || !pressed(pane, event)) return;
    event.preventDefault();
  });
}

/** Do what a key means in a pane; true if it means something. */
function pressed(pane, { key, shiftKey }) {
  const { viewer, stage, canvas } = pane;
  if (key in ARROWS) {
    const [across, down] = ARROWS[key];
    if (shiftKey) pane.moveLoupe(across, down);
    else viewer.pan((across * canvas.width) / 8, (down * canvas.height) / 8);
  } else if (key === "+" || key === "=") viewer.zoom(1);
  else if (key === "-" || key === "_") viewer.zoom(-1);
  else if (key === "0") viewer.fit();
  else if (key >= "1" && key <= "9") viewer.setView({ scale: Number(key) });
  else if (key === "l" || key === "L") viewer.toggleLoupe();
  else if (key === "Escape") stage.blur();
  else return false;
  return true;
}

// The viewer

let made = 0; // ids

class Viewer {
  constructor(host, { pictures, panes, start = "fit", label = "Pictures", help = true }) {
    Object.assign(this, { host, start, panes: [], pictures: new Map() });
    Object.assign(this, { listeners: new Set(), turns: new Map(), request: null });
    this.view = { centreX: 0, centreY: 0, scale: 1, fitted: start === "fit" };
    this.loupe = { on: false, place: { x: 0, y: 0 } };
    this.ending = new AbortController();
    pictures.forEach((picture) => this.keep(picture));
    this.build(label, help);
    this.ready = Promise.all(panes.map((pane) => this.addPane(pane)));
    if (start === "fit") this.fit();
    else this.setView(start);
    this.listenToPage(this.ending.signal);
  }

  build(label, help) {
    const button = (text, name, onclick) =>
      element("button", { type: "button", onclick, "aria-label": name }, text);
    this.helpId = this.newId();
    this.loupeButton = button("Loupe", "Loupe", () => this.toggleLoupe());
    this.loupeButton.setAttribute("aria-pressed", "false");
    this.status = element("span", { className: "viewer-status", role: "status" });
    this.said = element("span", { className: "viewer-unseen", role: "status" });
    const tools = element(
      "div", { className: "viewer-tools", role: "group", "aria-label": `View of ${label}` },
      button("−", "Zoom out", () => this.zoom(-1)),
      button("+", "Zoom in", () => this.zoom(1)),
      button("Fit", "Fit", () => this.fit()),
      button("1:1", "1:1, one screen dot to a dot of the picture", () => this.setView({ scale: 1 })),
      this.loupeButton, this.status, this.said,
    );
    const keys = HELP.flatMap(([key, does]) => ["; ", element("kbd", {}, key), ` ${does}`]).slice(1);
    const seen = help ? "viewer-help" : "viewer-unseen";
    const helpLine = element("p", { id: this.helpId, className: seen }, ...keys);
    this.grid = element("div", { className: "viewer-panes" });
    const group = { className: "viewer", role: "group", "aria-label": label };
    this.root = element("div", group, tools, this.grid, helpLine);
    this.host.replaceChildren(this.root);
  }

  newId() {
    do made += 1;
    while (document.getElementById(`viewer-${made}`)); // of another copy of this module
    return `viewer-${made}`;
  }

  listenToPage(signal) {
    const stop = () => this.panes.forEach((pane) => pane.stopFields());
    const listen = (target, kind, heard) => target.addEventListener(kind, heard, { signal });
    listen(document, "visibilitychange", stop);
    listen(window, "blur", stop);
    listen(document, "keydown", (event) => event.key === "Escape" && stop());
    let held = null;
    listen(window, "beforeprint", () => {
      stop();
      held = { view: this.view, on: this.loupe.on };
      this.setLoupe({ on: false });
      if (this.start === "fit") this.fit();
      else this.setView(this.start);
      this.draw();
    });
    listen(window, "afterprint", () => {
      if (!held) return;
      this.setLoupe({ on: held.on });
      if (held.view.fitted) this.fit();
      else this.setView(held.view);
      held = null;
    });
  }

  // Pictures and panes

  /** Complete and remember a picture; what it leaves out comes from the one it replaces. */
  complete(given, old = {}) {
    const id = given.id ?? old.id ?? `picture-${this.pictures.size + 1}`;
    const all = { ...old, ...given };
    const { label = id, alt = label, caption = "", x = 0, y = 0, width, height, light = true, source } = all;
    if (width <= 0 || height <= 0)
      throw new RangeError(`Picture “${id}”: width and height must be above 0`);
    const place = { x, y, width, height };
    const inherited = { ...place, light };
    const fields = given.fields?.map((field, parity) => ({ ...inherited, label: `field ${parity}`, ...field }));
    return { id, label, alt, caption, light, source, ...place, fields };
  }

  keep(given) {
    const picture = this.complete(given);
    this.pictures.set(picture.id, picture);
  }

  async load(id) {
    if (!this.pictures.has(id)) throw new Error("there is no picture of this name");
    return load(this.pictures.get(id));
  }

  addPane(options) {
    const pane = new Pane(this, options);
    this.panes.push(pane);
    this.grid.append(pane.root);
    listenToGestures(pane, pane.ending.signal);
    return pane.show(...pane.wanted);
  }

  removePane(index) {
    this.panes.splice(index, 1)[0].destroy();
    this.refitted();
  }

  async setPicture(index, picture) {
    const pane = this.panes[index];
    if (typeof picture === "string") return pane.show(picture, pane.wanted[1]);
    const id = picture.id ?? pane.wanted[0];
    const fresh = this.complete({ ...picture, id }, this.pictures.get(id));
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
    for (const each of this.panes) if (each.ids.includes(id) || each.choose) each.describe();
    if (old) release(old);
    return pane.ids[0] === id ? (this.refitted(), true) : pane.show(id, pane.wanted[1]);
  }

  async setWipe(index, against, share = this.panes[index].divider) {
    const done = await this.panes[index].show(this.panes[index].wanted[0], against);
    if (done) this.panes[index].setDivider(share);
    return done;
  }

  // View

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
    if (Object.keys(old).every((key) => old[key] === this.view[key])) return;
    this.listeners.forEach((callback) => callback({ ...this.view }));
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
    if (box) this.root.style.setProperty("--viewer-shape", (box.right - box.left) / (box.bottom - box.top));
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

  onView(callback) {
    this.listeners.add(callback);
    return () => this.listeners.delete(callback);
  }

  // Loupe, words and drawing

  setLoupe({ on = this.loupe.on, x = this.loupe.place.x, y = this.loupe.place.y }) {
    this.loupe = { on, place: { x, y } };
    this.loupeButton.setAttribute("aria-pressed", String(on));
    this.schedule();
  }

  toggleLoupe() {
    const { centreX: x, centreY: y } = this.view;
    this.setLoupe(this.loupe.on ? { on: false } : { on: true, x, y });
  }

  say(words) {
    this.said.textContent = words;
  }

  /** The scale in words, and whether lines and samples come out whole at it. */
  scaleInWords() {
    const { scale } = this.view;
    const dots = this.panes
      .flatMap(({ shown }) => shown)
      .flatMap(({ bitmap, width, height }) => [width / bitmap.width, height / bitmap.height])
      .map((each) => each * scale);
    const whole = dots.every((each) => Math.abs(each - Math.round(each)) < 1e-6);
    const remark = dots.some((each) => each < 0.999)
      ? "too small for every line and sample: some are left out here"
      : whole
        ? "every line and sample is a whole number of dots"
        : "lines or samples differ by a dot in size";
    const ratio = scale >= 1 ? `${+scale.toFixed(2)}:1` : `${Math.round(100 * scale)} %`;
    return `${ratio}, ${remark}`;
  }

  schedule() {
    this.request ??= requestAnimationFrame(() => this.draw());
  }

  draw() {
    cancelAnimationFrame(this.request);
    this.request = null;
    if (this.ending.signal.aborted) return;
    this.panes.forEach((pane) => pane.draw());
    const words = this.scaleInWords();
    if (this.status.textContent !== words) this.status.textContent = words;
  }

  destroy() {
    this.panes.forEach((pane) => pane.destroy());
    this.ending.abort();
    this.pictures.forEach(release);
    this.panes = [];
    this.root.remove();
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
