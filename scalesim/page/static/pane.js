/**
 * One pane of the viewer, from its picture to its dots: loading and decoding, where samples fall on the dots
 * of a canvas, painting without smoothing, reading values; then the pane with its wipe, loupe and fields.
 * The first half of viewer.js, which explains the terms and the options.
 *
 * A picture has a `bitmap` and the place (x, y, width, height) it fills in picture space. A frame is a
 * canvas looking at that space: `left` and `top` are the dots of the origin, `scale` the dots to a unit.
 */

const BT709 = [0.2126, 0.7152, 0.0722]; // Rec. ITU-R BT.709, luminance of R, G and B
const FIELD_MS = 1000; // at most one change a second: far below the three flashes of WCAG 2.3.1
const FIELD_CHANGES = 10;
const CAUTION =
  "Caution: the picture then changes once a second, ten times at most. Do not start it if changing " +
  "pictures can harm you or somebody near you (photosensitive epilepsy). Escape stops it.";
const CAUTION_STILL = "Nothing moves by itself: presses show one field, the other, and the picture at rest.";

const clamp = (value, low, high) => Math.min(Math.max(value, low), high);

/** Make an element; strings among the children become text, never markup. */
function element(tag, properties = {}, ...children) {
  const made = document.createElement(tag);
  for (const [name, value] of Object.entries(properties)) {
    if (name in made) made[name] = value;
    else made.setAttribute(name, value);
  }
  made.append(...children);
  return made;
}

// Loading

/** Keep a picture handed over by a lazily loaded script until it is decoded. */
function registerPicture(key, dataUri) {
  registerPicture.waiting.set(key, dataUri);
}
registerPicture.waiting = new Map();
globalThis.registerPicture ??= registerPicture; // one store, also for two copies of this module

/** Load a script that registers a picture; resolve to the data URI. */
async function loadScript({ script, key }) {
  const { waiting } = globalThis.registerPicture;
  if (!waiting.has(key)) {
    const tag = element("script", { src: script });
    await new Promise((resolve, reject) => {
      tag.onload = resolve;
      tag.onerror = () => reject(new Error(`${script} did not load`));
      document.head.append(tag);
    }).finally(() => tag.remove());
  }
  if (!waiting.has(key)) throw new Error(`${script} holds no picture “${key}”`);
  const uri = waiting.get(key);
  waiting.delete(key);
  return uri;
}

/** Decode any source. No colour conversion: the bitmap holds the file's own codes. */
async function decode(source) {
  if (source instanceof ImageBitmap) return source;
  if (source?.script) source = await loadScript(source);
  if (typeof source === "string") source = element("img", { src: source });
  if (source instanceof HTMLImageElement) await source.decode();
  return createImageBitmap(source, { colorSpaceConversion: "none", premultiplyAlpha: "none" });
}

/** Decode a picture or field once; fill in its place. */
function load(picture) {
  picture.loading ??= decode(picture.source).then(
    (bitmap) => {
      picture.bitmap = bitmap;
      picture.width ??= bitmap.width;
      picture.height ??= bitmap.height;
    },
    (reason) => {
      picture.loading = null; // may be tried again
      throw reason;
    },
  );
  return picture.loading;
}

/** Free a decoded picture that this module made. */
function release(picture) {
  if (picture.bitmap !== picture.source) picture.bitmap?.close();
  picture.fields?.forEach(release);
}

// Geometry and drawing

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
function outline(context, [x, y, width, height]) {
  const thin = Math.max(1, Math.round(devicePixelRatio));
  for (const [tone, gap] of [["#000", 2 * thin], ["#fff", thin]]) {
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

/** The dots of a frame that one sample fills. */
function boxOf({ bitmap, x, y, width, height }, { line, sample }, frame) {
  const edge = (origin, start, extent, count, index) =>
    origin + Math.round(start * frame.scale) + Math.round((index * extent * frame.scale) / count);
  const across = [sample, sample + 1].map((index) => edge(frame.left, x, width, bitmap.width, index));
  const down = [line, line + 1].map((index) => edge(frame.top, y, height, bitmap.height, index));
  return [across[0], down[0], across[1] - across[0], down[1] - down[0]];
}

let reader = null;
/** The 8-bit R, G, B of one sample, or null where the browser forbids reading (a separate picture file). */
function codesAt({ bitmap }, { line, sample }) {
  reader ??= element("canvas", { width: 1, height: 1 }).getContext("2d", { willReadFrequently: true });
  reader.drawImage(bitmap, sample, line, 1, 1, 0, 0, 1, 1);
  try {
    return [...reader.getImageData(0, 0, 1, 1).data.slice(0, 3)];
  } catch {
    reader = null; // it stays unreadable
    return null;
  }
}

/** What the loupe says of a picture at a place; light by a display of gamma 2.4, in percent of white. */
function valuesAt(picture, place) {
  const at = sampleAt(picture, place);
  if (!at) return "outside the picture";
  const codes = codesAt(picture, at);
  const where = `line ${at.line}, sample ${at.sample}\n`;
  if (!codes) return `${where}values cannot be read from a separate file`;
  const light = codes.reduce((sum, code, channel) => sum + BT709[channel] * (code / 255) ** 2.4, 0);
  const said = picture.light === false ? "" : `\nlight ${(100 * light).toFixed(2)}\u00a0%`;
  return `${where}R ${codes[0]} G ${codes[1]} B ${codes[2]}${said}`;
}

// One pane

class Pane {
  constructor(viewer, { picture, against = null, divider = 0.5, choose = against !== null }) {
    Object.assign(this, { viewer, divider, choose, wanted: [picture, against], ids: [], turn: 0 });
    this.ending = new AbortController();
    this.still = matchMedia("(prefers-reduced-motion: reduce)").matches;
    this.build();
    this.observer = new ResizeObserver((entries) => this.resized(entries));
    try {
      this.observer.observe(this.canvas, { box: "device-pixel-content-box" });
    } catch {
      this.observer.observe(this.canvas); // a browser without that box: CSS pixels, rounded
    }
  }

  build() {
    const { viewer } = this;
    const id = viewer.newId();
    this.label = element("span", { className: "viewer-label", id });
    const onchange = () => this.show(this.selects[0].value, this.selects[1].value || null);
    this.selects = [0, 1].map(() => element("select", { onchange }));
    this.names = this.selects.map(() => element("span"));
    const choosers = this.selects.map((select, side) => element("label", {}, this.names[side], select));
    this.canvas = element("canvas", { className: "viewer-canvas", role: "img" });
    // A picture alone is no control: this role hands the arrow keys to the page in a screen reader.
    const stage = { className: "viewer-stage", role: "application", tabIndex: 0 };
    this.stage = element("div", { ...stage, "aria-describedby": viewer.helpId }, this.canvas);
    this.range = element("input", { type: "range", min: 0, max: 100, step: 0.5 });
    this.range.oninput = () => this.setDivider(this.range.valueAsNumber / 100);
    this.wipe = element("label", { className: "viewer-wipe" }, "Divider", this.range);
    this.loupe = element("ul", { className: "viewer-loupe" });
    this.fieldButton = element("button", { type: "button", "aria-describedby": `${id}-caution` });
    this.fieldButton.onclick = () => this.pressFields();
    this.fieldButton.onblur = () => this.stopFields();
    const caution = element("p", { id: `${id}-caution` }, this.still ? CAUTION_STILL : CAUTION);
    this.fieldBox = element("div", { className: "viewer-fields" }, this.fieldButton, caution);
    this.error = element("p", { className: "viewer-error", role: "alert", hidden: true });
    this.caption = element("figcaption");
    const head = element("div", { className: "viewer-head" }, ...(this.choose ? choosers : [this.label]));
    const parts = [head, this.error, this.stage, this.wipe, this.loupe, this.fieldBox, this.caption];
    this.root = element("figure", { className: "viewer-pane" }, ...parts);
    this.context = this.canvas.getContext("2d");
    this.describe();
  }

  /** The pictures on show: one, or two in a wipe; a field in place of its picture while fields turn. */
  get shown() {
    if (this.field) return [this.field];
    return this.ids.map((id) => this.viewer.pictures.get(id));
  }

  get frame() {
    return frameOf(this.canvas, this.viewer.view);
  }

  /** The place in picture space under a dot of the canvas. */
  placeAt({ x, y }) {
    const { left, top, scale } = this.frame;
    return { x: (x - left) / scale, y: (y - top) / scale };
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
    this.viewer.refitted();
    return true;
  }

  fail(what, reason) {
    this.error.textContent = `“${what}” cannot be shown: ${reason.message}`;
    this.error.hidden = false;
  }

  /** Write every text that depends on which pictures are shown. */
  describe() {
    this.stopFields();
    const { shown } = this;
    const wiped = shown.length === 2;
    const sides = (key) => {
      const texts = shown.map((picture) => picture[key]);
      return wiped ? `Left of the divider: ${texts[0]}\nRight: ${texts[1]}` : texts.join("");
    };
    const name = shown.map(({ label }) => label).join(" against ");
    this.error.hidden = true;
    if (this.label.textContent !== name) this.loupe.replaceChildren(); // it is built again with the new names
    this.label.textContent = name;
    this.canvas.setAttribute("aria-label", sides("alt") || "No picture yet");
    this.stage.setAttribute("aria-label", `Move and zoom: ${name}`);
    this.root.setAttribute("aria-label", name);
    this.caption.textContent = shown.some(({ caption }) => caption) ? sides("caption") : "";
    this.wipe.hidden = !wiped;
    this.fieldBox.hidden = wiped || shown[0]?.fields?.length !== 2;
    this.names[0].textContent = wiped ? "Left" : "Picture";
    this.names[1].textContent = wiped ? "Right" : "Wipe against";
    this.selects.forEach((select, side) => {
      const options = [...this.viewer.pictures.values()].map(({ id, label }) => new Option(label, id));
      if (side) options.unshift(new Option("nothing", ""));
      select.replaceChildren(...options);
      select.value = this.wanted[side] ?? "";
    });
    this.setDivider(this.divider);
  }

  setDivider(share) {
    this.divider = clamp(share, 0, 1);
    this.range.value = 100 * this.divider;
    this.range.setAttribute("aria-valuetext", `${Math.round(100 * this.divider)} % from the left`);
    this.viewer.schedule();
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
    const cut = Math.round(canvas.width * this.divider);
    const [first, second] = this.shown;
    if (first) paint(context, first, frame);
    if (second) this.drawRight(second, frame, cut);
    this.drawLoupe(frame);
  }

  drawRight(picture, frame, cut) {
    const { canvas, context } = this;
    context.save();
    context.beginPath();
    context.rect(cut, 0, canvas.width - cut, canvas.height);
    context.clip();
    context.clearRect(cut, 0, canvas.width - cut, canvas.height);
    paint(context, picture, frame);
    context.restore();
    const thin = Math.max(1, Math.round(devicePixelRatio));
    const middle = Math.round(canvas.height / 2);
    outline(context, [cut, -4 * thin, 0, canvas.height + 8 * thin]);
    context.fillStyle = "#fff";
    context.fillRect(cut - 4 * thin, middle - 14 * thin, 8 * thin, 28 * thin);
    outline(context, [cut - 3 * thin, middle - 13 * thin, 6 * thin, 26 * thin]);
  }

  /** Mark the loupe's place, and show its neighbourhood and values for every picture of the pane. */
  drawLoupe(frame) {
    const { on, place } = this.viewer.loupe;
    this.loupe.hidden = !on || !this.shown.length;
    if (this.loupe.hidden) return;
    const { shown } = this;
    if (this.loupe.childElementCount !== shown.length) this.loupe.replaceChildren(...shown.map(loupeItem));
    shown.forEach((picture, index) => {
      const [patch, text] = this.loupe.children[index].children;
      const label = shown.length > 1 || this.field ? `${picture.label}\n` : "";
      const said = label + valuesAt(picture, place);
      if (text.textContent !== said) text.textContent = said;
      drawPatch(patch, picture, place, this.viewer.view.scale);
    });
    const at = sampleAt(shown[0], place);
    if (at) outline(this.context, boxOf(shown[0], at, frame));
  }

  /** Move the loupe by lines and samples of this pane's picture, from the middle if it is out of sight. */
  moveLoupe(across, down) {
    const { viewer, canvas } = this;
    const [picture] = this.shown;
    if (!picture) return;
    const visible = ({ x, y }) => {
      const { left, top, scale } = this.frame;
      const [dotX, dotY] = [left + x * scale, top + y * scale];
      return dotX >= 0 && dotY >= 0 && dotX < canvas.width && dotY < canvas.height;
    };
    const { loupe, view } = viewer;
    const from = loupe.on && visible(loupe.place) ? loupe.place : { x: view.centreX, y: view.centreY };
    const at = sampleAt(picture, from) ?? { line: 0, sample: 0 };
    const { width, height } = picture.bitmap;
    const x = picture.x + ((clamp(at.sample + across, 0, width - 1) + 0.5) * picture.width) / width;
    const y = picture.y + ((clamp(at.line + down, 0, height - 1) + 0.5) * picture.height) / height;
    viewer.setLoupe({ on: true, x, y });
    if (!visible({ x, y })) viewer.setView({ centreX: x, centreY: y });
    viewer.say(`${picture.label}, ${valuesAt(picture, { x, y })}`);
  }

  // Fields in turn: only by the button, slow, and ended by anything that draws the attention away.
  // For whoever asked for reduced motion there is no clock at all: each press is a step.

  pressFields() {
    if (!this.field) this.startFields();
    else if (this.still) this.nextField();
    else this.stopFields();
  }

  async startFields() {
    const { fields } = this.shown[0];
    this.fieldButton.focus(); // not every browser does, and losing the focus stops it
    try {
      await Promise.all(fields.map(load));
    } catch (reason) {
      this.fail("the fields", reason);
      return;
    }
    const attended = document.activeElement === this.fieldButton && !document.hidden;
    if (this.field || !attended || this.shown[0]?.fields !== fields) return;
    this.changes = 0;
    this.nextField();
  }

  nextField() {
    if (this.changes + 1 >= (this.still ? 3 : FIELD_CHANGES)) return this.stopFields();
    this.field = this.viewer.pictures.get(this.ids[0]).fields[this.changes % 2];
    this.changes += 1;
    this.fieldButton.textContent = `${this.still ? "Next" : "Stop"} (now ${this.field.label})`;
    if (!this.still) this.timer = setTimeout(() => this.nextField(), FIELD_MS);
    return this.viewer.schedule();
  }

  stopFields() {
    clearTimeout(this.timer);
    this.field = null;
    this.fieldButton.textContent = "Show the two fields in turn";
    this.viewer.schedule();
  }

  destroy() {
    this.stopFields();
    this.ending.abort();
    this.observer.disconnect();
    this.root.remove();
  }
}

function loupeItem(picture) {
  const patch = element("canvas", { className: "viewer-patch", role: "img" });
  patch.setAttribute("aria-label", `Enlarged: ${picture.label}`);
  return element("li", {}, patch, element("span", { className: "viewer-values" }));
}

/** Draw the neighbourhood of a place: 8 CSS pixels to a unit, or twice the pane's own scale. */
function drawPatch(canvas, picture, place, scale) {
  const { width, height } = canvas.getBoundingClientRect();
  const dots = (css) => Math.round(css * devicePixelRatio);
  const size = { width: dots(width), height: dots(height) };
  if (canvas.width !== size.width || canvas.height !== size.height) Object.assign(canvas, size);
  const context = canvas.getContext("2d");
  context.clearRect(0, 0, size.width, size.height);
  const enlarged = Math.max(dots(8), Math.round(2 * scale));
  const frame = frameOf(size, { centreX: place.x, centreY: place.y, scale: enlarged });
  paint(context, picture, frame);
  const at = sampleAt(picture, place);
  if (at) outline(context, boxOf(picture, at, frame));
}

export { Pane, clamp, element, load, registerPicture, release };
