/** The panes: which pictures there are, what each is, and the viewer that shows them. */

import { Overlays } from "./overlays.js";
import { lab, on, tell } from "./store.js";
import { element } from "./viewer/dom.js";
import { createViewer } from "./viewer/viewer.js";

/** The face of the tube, on which the server places every picture; the source fills it too. */
const FACE = { x: 0, y: 0, width: 1280, height: 960 };

const TAUGHT = {
  source: ["Source", "What the console sends."],
  raster: ["Raster", "What leaves the last box, dot by dot; two fields as they land together."],
  first: ["Top field", "Half of the lines, where the display draws them."],
  second: ["Bottom field", "The other half, a field period later, where the display draws it."],
  glass: ["Glass", "The light that the tube paints, on average over a cycle."],
  difference: ["Difference", "Where the result is lighter or darker than it could be; grey is no difference."],
  capture: ["Capture", "The picture that came last into the watched folder."],
};
const FIELDS = new Set(["first", "second"]);

class Pictures {
  constructor(host) {
    const narrow = innerWidth < 640;
    this.mode = narrow ? "flip" : "beside";
    const wanted = innerWidth >= 1180 ? ["source", "raster", "glass"] : ["raster", "glass"];
    Object.assign(this, { host, viewer: null, wanted, known: new Set(), two: null, of: null, waiting: new Map() });
    this.overlays = new Overlays();
    on("variants", () => this.offerVariants());
    on("frame", () => this.viewer ?? host.replaceChildren(element("p", { className: "quiet", role: "status" }, "The first pictures are being made …")));
  }

  get shown() {
    return this.viewer ? this.viewer.panes.flatMap(({ wanted }) => wanted.filter(Boolean)) : this.wanted;
  }

  /** Whether it is looked at which lines of the source make a line. */
  get sliced() {
    return this.viewer?.look === "slice";
  }

  /** What /api/explore is asked for: what is looked at, and the raster, which all else hangs on. */
  want() {
    const { shown } = this;
    const waited = (id) => shown.includes(id) || this.waiting.has(id);
    return [
      "raster",
      ...(this.sliced ? ["weights"] : []),
      ...([...FIELDS].some(waited) ? ["fields"] : []),
      ...["glass", "difference"].filter(waited),
    ];
  }

  /** A picture of the source, of a frame that was chosen. */
  async setSource(frame, place) {
    const { lines, samples, id } = frame;
    const source = `/api/frames/${encodeURIComponent(id)}/picture`;
    const own = place ?? FACE;
    const caption = `${TAUGHT.source[1].slice(0, -1)}: ${lines} lines of ${samples} samples.`;
    await this.put({ id: "source", source, label: "Source", alt: `Source: ${frame.name}`, caption, ...own });
    this.place = own;
  }

  /** Take a picture that the server made; shown at once where a pane looks at it. */
  async take(record, of) {
    const { name, place, blob } = record;
    const light = name !== "difference"; // of the glass: at the exposure that its caption tells
    const [label, words] = TAUGHT[name] ?? [record.label, ""];
    const exposure = / Shown at .*/.exec(record.caption ?? "")?.[0] ?? "";
    const caption = name === "difference" ? record.caption : words + exposure;
    const picture = { id: name, source: blob, label: record.label || label, alt: record.label || label, caption, light, ...place };
    if (name === "difference") picture.of = "raster";
    if (FIELDS.has(name)) picture.why = "The raster's slice tells which source lines make it.";
    if (name === "glass") Object.assign(picture, { row: "Row", why: "The tube paints several rows to a scan line." });
    if (name === "raster") {
      const { taps, looks, why } = record;
      if (of === this.of && this.viewer && (!looks || this.raster.looks)) return; // it is there: something else was asked for
      this.of = of;
      Object.assign(picture, { taps, looks, why });
      picture.fields = this.two ? this.inTurn(this.two) : undefined;
      this.raster = picture;
    }
    await this.put(picture);
    this.waiting.get(name)?.forEach((resolve) => resolve(blob));
    this.waiting.delete(name);
  }

  /** Both fields as the raster shows them in turn, where they land; fetched when that is asked for. */
  inTurn({ fields, lines }) {
    const { x, y, width, height } = this.place;
    return ["first", "second"].map((id, at) => {
      const apart = fields.length > 1 ? fields[0].landing - fields[1].landing : 0;
      const lower = ((fields[at].landing - Math.abs(apart - Math.round(apart)) / 2) * height) / lines;
      return { source: this.awaited(id), label: TAUGHT[id][0].toLowerCase(), x, y: y + lower, width, height };
    });
  }

  async put(picture) {
    this.known.add(picture.id);
    if (this.viewer) return this.viewer.offer(picture);
    this.early = [...(this.early ?? []).filter(({ id }) => id !== picture.id), picture];
    if (picture.id === "raster") await this.open();
    return true;
  }

  /** A picture that is not made yet: asked for once somebody looks at it. */
  later(id) {
    const [label, caption] = TAUGHT[id];
    return { id, label, alt: label, caption, source: this.awaited(id), light: id !== "difference", ...this.place };
  }

  /** A source that is asked for when it is needed. */
  awaited(id) {
    return () => new Promise((resolve) => {
      this.waiting.set(id, [...(this.waiting.get(id) ?? []), resolve]);
      tell("look");
    });
  }

  async open() {
    const have = new Set(this.early.map(({ id }) => id));
    const rest = ["glass", "difference"].filter((id) => !have.has(id)).map((id) => this.later(id));
    const order = ["source", "raster", "glass", "difference"];
    const pictures = [...this.early, ...rest].sort((a, b) => order.indexOf(a.id) - order.indexOf(b.id));
    const there = this.wanted.filter((picture) => pictures.some(({ id }) => id === picture));
    const panes = (there.length ? there : ["raster"]).map((picture) => ({ picture }));
    const options = { pictures, panes, source: "source", contestants: ["raster", "glass"], label: "the bench", help: false };
    this.viewer = createViewer(this.host, { ...options, mode: this.mode, start: this.seen ?? this.start(panes.length) });
    this.viewer.overlays.add(this.overlays);
    this.follow();
    this.viewer.onChange(() => tell("view"));
    on("view", () => this.sliced && !this.raster.looks && tell("look"));
    await this.viewer.load("raster"); // a glass that is on its way must not hold it up
    this.viewer.draw();
    tell("view");
  }

  /** On a narrow screen the picture stays in sight while its dials are turned: the page scrolls what is above it away. */
  follow() {
    const { viewer, host } = this;
    new ResizeObserver(() => {
      const above = viewer.panes[0]?.stage.getBoundingClientRect().top - host.getBoundingClientRect().top;
      if (above >= 0) host.style.setProperty("--above", `${Math.round(above)}px`);
    }).observe(host);
  }

  /** Where to look first: at the whole picture where all its lines fit in, else at its middle, line for line. */
  start(panes) {
    const { x, y, width, height } = this.raster;
    const { lines, samples } = lab.frames.get(lab.frame);
    const scale = Math.max(1, Math.ceil(samples / width), Math.ceil(lines / height));
    const dots = (this.host.clientWidth / panes) * devicePixelRatio;
    return dots >= width * scale ? "fit" : { centreX: x + width / 2, centreY: y + height / 2, scale };
  }

  /** What nobody looks at is out of date after a change: it is made again when it is looked at. */
  stale() {
    if (!this.viewer) return;
    const { shown } = this;
    const fields = this.two ? FIELDS : [];
    for (const id of ["glass", "difference", ...fields]) if (!shown.includes(id)) this.viewer.offer(this.later(id));
  }

  /** A raster without fields has no pictures of them. */
  async facts(facts) {
    const before = this.two;
    this.two = facts.fields?.length > 1 ? facts : null;
    if (this.two) {
      for (const id of FIELDS) if (!this.known.has(id)) this.put(this.later(id));
      if (!before) await this.put((this.raster = { ...this.raster, fields: this.inTurn(facts) }));
      return;
    }
    if (!this.viewer || !before) return;
    const gone = this.viewer.panes.map(({ wanted }) => (FIELDS.has(wanted[0]) ? "raster" : wanted[0]));
    if (this.shown.some((id) => FIELDS.has(id))) await this.viewer.setPanes(gone);
    FIELDS.forEach((id) => (this.viewer.forget(id), this.known.delete(id)));
  }

  offerVariants() {
    const wanted = new Set(lab.variants.filter(({ blob }) => blob).map(({ uid }) => `pin-${uid}`));
    for (const { uid, name, text, blob, place } of lab.variants) {
      if (blob) this.put({ id: `pin-${uid}`, label: `Pinned: ${name}`, source: blob, caption: text, why: "On the bench its slice tells which source lines make it.", ...place });
    }
    for (const id of this.known) if (id.startsWith("pin-") && !wanted.has(id)) (this.viewer?.forget(id), this.known.delete(id));
  }

  setCount(count) {
    if (!this.viewer) return;
    const have = this.viewer.panes.map(({ ids }) => ids[0]).filter(Boolean);
    const more = ["raster", "glass", "source", "difference"].filter((id) => !have.includes(id));
    this.viewer.mode = "beside";
    return this.viewer.setPanes([...have, ...more].slice(0, count));
  }

  show(ids) {
    this.wanted = ids;
    return this.viewer?.setPanes(ids);
  }
}

export { Pictures, TAUGHT };
