/** Variants: up to eight chains that are kept, seen beside each other, compared and saved as one lab file. */

import { postJson } from "./api.js";
import { changed, lab, on, schemaOf, setChain, setFrame, tell } from "./store.js";
import { frameOf } from "./frames.js";
import { fill } from "./refill.js";
import { fragmentNow } from "./link.js";
import { said, unitOf, MAIN } from "./numbers.js";
import { Runner } from "./result.js";
import { benchOf, chainText } from "./text.js";
import { saveText } from "./textform.js";
import { element, write } from "./viewer/dom.js";

const MOST = 8;
let made = 0;

const live = (stages) => stages.filter(({ off }) => !off);
const kindsOf = (stages) => live(stages).map(({ kind }) => kind).join(" + ");

/** What the keys of one chain are where another of the same boxes has them otherwise. */
function changes(before, now) {
  return now.flatMap(({ kind, keys }, at) => {
    const names = [...new Set([...Object.keys(keys), ...Object.keys(before[at].keys)])];
    const other = names.filter((name) => keys[name] !== before[at].keys[name]);
    return other.map((name) => `${kind} ${name}=${keys[name] ?? schemaOf(kind).keys.find((each) => each.name === name)?.default}`);
  });
}

class Variants {
  constructor(host, pictures, say) {
    Object.assign(this, { pictures, say, cards: new Map() });
    this.pin = element("button", { type: "button", className: "main" }, "Pin this chain");
    this.pin.onclick = () => this.keep();
    this.comparison = new Runner("Compare them on this frame", () => this.askComparison());
    this.export = new Runner("Export this chain", () => this.askExport());
    this.about = element("p", { className: "quiet" });
    this.list = element("ul", { className: "pins" });
    this.table = element("div", { className: "scroll", tabIndex: 0, role: "region", "aria-label": "The variants' numbers" });
    const buttons = element("div", { className: "row" }, this.pin, this.comparison.button, this.export.button);
    const ran = [this.comparison, this.export].flatMap(({ bar, status, answers }) => [bar, status, answers]);
    host.append(element("h2", { id: "variants-title" }, "Variants"), this.about, buttons, this.list, this.table, ...ran);
    on("variants against", () => this.show());
    on("numbers", () => this.tabulate());
    on("view rest", () => this.draw());
    on("frame", () => lab.variants.forEach((each) => Object.assign(each, { blob: null, numbers: null })));
    on("rest", ({ numbers, failed }) => numbers && !failed && fill(() => tell("variants")));
    this.files();
    this.show();
  }

  /** Keep what is on the bench. */
  async keep() {
    if (lab.variants.length >= MOST || !chainText(lab)) return;
    const { raster } = this.pictures;
    const uid = this.free();
    const blob = raster?.source ?? null;
    const place = raster && { x: raster.x, y: raster.y, width: raster.width, height: raster.height };
    const base = lab.variants.find(({ name }) => name === lab.name)?.base ?? (lab.name || kindsOf(lab.stages));
    lab.variants.push({ ...benchOf(lab), uid, base, name: this.name(base), note: "", text: chainText({ stages: lab.stages }), numbers: lab.late ? null : lab.numbers, blob, place });
    lab.against ??= lab.variants.at(-1);
    tell("variants");
    tell("against");
    this.say(`Pinned as ${lab.variants.at(-1).name}`);
  }

  free() {
    do made += 1;
    while (lab.variants.some(({ uid }) => uid === made));
    return made;
  }

  /** The chain's name or its boxes, with what differs from the first variant of the same boxes. */
  name(base) {
    const first = lab.variants.find(({ stages }) => kindsOf(stages) === kindsOf(lab.stages));
    const differs = first ? changes(live(first.stages), live(lab.stages)) : [];
    const whole = [base, ...differs.slice(0, 2)].join(", ");
    const taken = new Set(lab.variants.map(({ name }) => name));
    for (let number = 1; ; number += 1) {
      const name = number === 1 ? whole : `${whole} ${number}`;
      if (!taken.has(name)) return name;
    }
  }

  askComparison() {
    const variants = lab.variants.map(({ name, text }) => ({ name, chain: text }));
    return lab.frame && variants.length ? ["/api/compare", { frames: [lab.frame], variants }] : null;
  }

  askExport() {
    return lab.frame ? ["/api/export", { frame: lab.frame, chain: chainText(lab), display: lab.display, views: ["raster", "seen", "screen"] }] : null;
  }

  show() {
    const full = lab.variants.length >= MOST;
    this.pin.disabled = full;
    write(this.about, full ? `${MOST} variants are kept, as many as there can be: remove one to pin another.` : `Keep up to ${MOST} chains, look at any in a pane, and read the numbers against one of them.`);
    this.comparison.button.disabled = !lab.variants.length;
    const wanted = new Set(lab.variants.map(({ uid }) => uid));
    for (const [uid, { root }] of this.cards) if (!wanted.has(uid)) (root.remove(), this.cards.delete(uid));
    for (const variant of lab.variants) {
      if (!this.cards.has(variant.uid)) {
        this.cards.set(variant.uid, this.card(variant));
        this.list.append(this.cards.get(variant.uid).root);
      }
      const { against, name, named } = this.cards.get(variant.uid);
      named.forEach(([made, words]) => made.setAttribute("aria-label", words + variant.name));
      against.setAttribute("aria-pressed", String(lab.against === variant));
      if (document.activeElement !== name) name.value = variant.name;
    }
    this.draw();
    this.tabulate();
  }

  card(variant) {
    const own = () => lab.variants.find(({ uid }) => uid === variant.uid);
    const named = []; // what says the variant's name, which may be another one later
    const called = (made, words) => (named.push([made, words]), made);
    const button = (words, onclick, name) => called(element("button", { type: "button", onclick }, words), `${name}: `);
    const canvas = called(element("canvas", { width: 640, height: 160, role: "img" }), "The piece that is looked at, in the raster of ");
    const name = element("input", { type: "text", "aria-label": "Name of the variant", maxLength: 80 });
    name.onchange = () => {
      own().name = name.value.trim() || own().name;
      tell("variants");
    };
    const note = element("input", { type: "text", placeholder: "a note", value: variant.note ?? "", maxLength: 200 });
    called(note, "Note on ");
    note.onchange = () => {
      own().note = note.value;
      tell("variants");
    };
    const against = button("Against it", () => {
      lab.against = lab.against === own() ? null : own();
      tell("against");
    }, "Numbers and difference against");
    const take = button("On the bench", () => setChain(own()), "Put on the bench");
    const drop = button("×", () => this.remove(own()), "Remove");
    const root = element("li", {}, canvas, name, element("code", {}, variant.text), note, element("div", { className: "row" }, take, against, drop));
    return { root, canvas, against, name, named, bitmap: null, blob: null };
  }

  remove(variant) {
    lab.variants.splice(lab.variants.indexOf(variant), 1);
    if (lab.against === variant) lab.against = null;
    tell("variants");
    tell("against");
    this.pin.focus();
  }

  /** Draw of every variant the piece that the panes look at, dot for dot. */
  async draw() {
    const view = this.pictures.viewer?.view;
    if (!view) return;
    for (const variant of lab.variants) {
      const card = this.cards.get(variant.uid);
      if (!card || !variant.blob) continue;
      if (card.blob !== variant.blob) {
        card.blob = variant.blob;
        const bitmap = await createImageBitmap(variant.blob, { colorSpaceConversion: "none" });
        card.bitmap?.close();
        card.bitmap = bitmap;
      }
      if (card.bitmap) paintPiece(card.canvas, card.bitmap, variant.place, view);
    }
  }

  tabulate() {
    const { variants } = lab;
    this.table.hidden = !variants.some(({ numbers }) => numbers);
    if (this.table.hidden) return;
    const metrics = lab.start.metrics.filter(({ key }) => MAIN.includes(key));
    const cell = (metric, numbers) => {
      const text = said(metric, numbers?.metrics[metric.key]);
      return element("td", { className: "right" }, text === null ? "–" : `${text} ${unitOf(metric).replace(/^% .*/, "%")}`);
    };
    const labelled = ({ label, unit }) => `${label}${/^% /.test(unit) ? ` (${unit.slice(2)})` : ""}`; // percent of what is said once
    const row = (metric) => {
      const cells = variants.map(({ numbers }) => cell(metric, numbers));
      return element("tr", {}, element("th", { scope: "row" }, labelled(metric)), cell(metric, lab.numbers), ...cells);
    };
    const head = element("tr", {}, element("th", { scope: "col" }, "what"), element("th", { scope: "col", className: "right" }, "on the bench"),
      ...variants.map(({ name }) => element("th", { scope: "col", className: "right" }, name)));
    const rows = metrics.map(row);
    this.table.replaceChildren(element("table", {}, element("caption", {}, "The variants' numbers on this frame"), element("thead", {}, head), element("tbody", {}, ...rows)));
  }

  files() {
    const input = document.querySelector("[data-lab-file]");
    const refused = (reason) => tell("refused", { error: reason.message });
    document.querySelector("[data-do=open]").onclick = () => input.click();
    document.querySelector("[data-do=save]").onclick = () => this.save().catch(refused);
    input.onchange = () => this.open(input.files[0]).catch(refused).finally(() => (input.value = ""));
  }

  /** One file holds all variants, the frame's id and the view; what is on the bench too, as the view's chain. */
  async save() {
    const variants = lab.variants.map(({ name, note, stages, dials }) => ({ name, note, stages, dials }));
    const { toml } = await postJson("/api/lab", { variants, frame: lab.frame, view: fragmentNow(this.pictures) });
    saveText("lab.toml", toml);
  }

  async open(file) {
    if (!file) return;
    const { variants, frame, view } = await postJson("/api/lab/open", { toml: await file.text() });
    lab.variants = variants.map(({ name, note, text, stages, dials }) => ({ uid: this.free(), name, note, text, stages, dials, numbers: null, blob: null }));
    lab.against = null;
    const asked = new URLSearchParams(view);
    const found = asked.get("chain") && (await postJson("/api/chain", { text: asked.get("chain") }));
    if (found?.ok) {
      const off = new Set((asked.get("off") ?? "").split(",").map(Number));
      setChain({ ...found, stages: found.stages.map((stage, at) => ({ ...stage, off: off.has(at + 1) })) });
    } else if (variants.length) setChain(variants[0]);
    if (await frameOf(frame).catch(() => null)) setFrame(frame);
    else if (frame) tell("refused", { error: "The lab's frame came as a file: give it again, below “Source”." });
    tell("variants");
    changed("chain", { done: true });
  }
}

/** The piece of a raster about the middle of the view, at the view's scale or the next whole one. */
function paintPiece(canvas, bitmap, place, { centreX, centreY, scale }) {
  const context = canvas.getContext("2d");
  const zoom = Math.max(1, Math.round(scale));
  const [across, down] = [(bitmap.width / place.width) / zoom, (bitmap.height / place.height) / zoom];
  const left = ((centreX - place.x) / place.width) * bitmap.width - (canvas.width / 2) * across;
  const top = ((centreY - place.y) / place.height) * bitmap.height - (canvas.height / 2) * down;
  context.clearRect(0, 0, canvas.width, canvas.height);
  context.imageSmoothingEnabled = false;
  const from = Math.round(left), line = Math.round(top);
  context.drawImage(bitmap, from, line, canvas.width * across, canvas.height * down, 0, 0, canvas.width, canvas.height);
}

export { Variants };
