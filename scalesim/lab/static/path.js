/**
 * The signal's path: source, boxes in the order the picture meets them, display; what runs on the cable
 * between them is written there. Boxes are added, removed, switched off and put in another order here.
 */

import { Box } from "./box.js";
import { prose } from "./control.js";
import { changed, lab, on, schemaOf, stageOf } from "./store.js";
import { element, write } from "./viewer/dom.js";

const NEAR = 24; // pixels into a box

class Path {
  /** Parameters: host : an ol; say(words) : tells a screen reader */
  constructor(host, say) {
    Object.assign(this, { host, say, boxes: new Map(), cables: new Map(), rasters: [] });
    this.first = host.querySelector("[data-path=source]");
    this.last = host.querySelector("[data-path=add]");
    this.build();
    on("chain", () => this.show());
  }

  build() {
    const select = this.last.querySelector("select");
    select.append(...lab.start.stages.map(({ kind }) => new Option(kind, kind)));
    const about = this.last.querySelector("[data-about]");
    select.onchange = () => about.replaceChildren(...(select.value ? prose(schemaOf(select.value).doc) : []));
    this.last.querySelector("button").onclick = () => {
      if (select.value) this.add(select.value);
      else select.focus();
    };
  }

  add(kind) {
    const made = stageOf({ kind, keys: this.needed(kind) });
    lab.stages.push(made);
    changed("chain", { done: true });
    this.boxes.get(made.uid).open(true);
    this.boxes.get(made.uid).focus();
    this.say(`${kind} added as box ${lab.stages.length}`);
  }

  /** What a new box must be given, from the register's example. */
  needed(kind) {
    const { keys, example = {} } = schemaOf(kind);
    const wanted = keys.filter(({ required, optional, name }) => name in example && (required || optional));
    const begins = ({ name, type }) => (type === "file" ? (lab.start.files[0] ?? "") : String(example[name]));
    return Object.fromEntries(wanted.map((key) => [key.name, begins(key)]));
  }

  move(stage, to) {
    const from = lab.stages.indexOf(stage);
    const at = Math.min(Math.max(to, 0), lab.stages.length - 1);
    if (at === from) return;
    lab.stages.splice(at, 0, ...lab.stages.splice(from, 1));
    changed("chain", { done: true });
    this.boxes.get(stage.uid).handle.focus();
    this.say(`${stage.kind} is now box ${at + 1} of ${lab.stages.length}`);
  }

  remove(stage) {
    const at = lab.stages.indexOf(stage);
    lab.stages.splice(at, 1);
    if (!lab.stages.length) lab.name = ""; // it was that chain's
    changed("chain", { done: true });
    const next = lab.stages[Math.min(at, lab.stages.length - 1)];
    if (next) this.boxes.get(next.uid).focus();
    else this.last.querySelector("select").focus();
    this.say(`${stage.kind} removed; Undo brings it back`);
  }

  /**
   * Where among the boxes a height on the screen is: 0 before the first.
   *
   * A box that is dragged onto another takes its place once it is past that one's near end: open ones are tall.
   */
  slotAt(clientY, from) {
    const passed = lab.stages.filter(({ uid }, at) => {
      const { top, bottom, height } = this.boxes.get(uid).root.getBoundingClientRect();
      const near = Math.min(height / 2, NEAR);
      return clientY > (at > from ? top + near : at < from ? bottom - near : top + height / 2);
    });
    return passed.length;
  }

  markSlot(slot) {
    lab.stages.forEach(({ uid }, at) => {
      const { classList } = this.boxes.get(uid).root;
      classList.toggle("drop-before", slot === at);
      classList.toggle("drop-after", slot === lab.stages.length && at === slot - 1);
    });
  }

  /** Bring boxes and cables into the order of the stages; what is there already is kept, and its focus. */
  show() {
    const wanted = new Set(lab.stages.map(({ uid }) => uid));
    for (const [uid, { root }] of this.boxes) {
      if (wanted.has(uid)) continue;
      root.remove();
      this.cables.get(uid).remove();
      this.boxes.delete(uid);
      this.cables.delete(uid);
    }
    let after = this.first;
    for (const [at, stage] of lab.stages.entries()) {
      if (!this.boxes.has(stage.uid)) this.boxes.set(stage.uid, new Box(stage, this));
      if (!this.cables.has(stage.uid)) this.cables.set(stage.uid, element("li", { className: "cable" }));
      for (const next of [this.cables.get(stage.uid), this.boxes.get(stage.uid).root]) {
        if (after.nextElementSibling !== next) after.after(next);
        after = next;
      }
      this.boxes.get(stage.uid).show(stage, at);
    }
    this.last.querySelector(".path-empty").hidden = lab.stages.some(({ off }) => !off);
  }

  /** Write on the cables what runs there. Parameters: rasters : before the first box that is on, after each */
  label(rasters) {
    const words = [...rasters];
    let before = words.shift() ?? "";
    for (const { uid, off } of lab.stages) {
      write(this.cables.get(uid), before);
      if (!off) before = words.shift() ?? before;
    }
    write(this.host.querySelector("[data-path=end]"), before);
  }

  /** Show an error at the box it means; without one, nowhere. Parameters: at : among the stages that are on */
  fail(at, message) {
    const live = lab.stages.filter(({ off }) => !off);
    lab.stages.forEach((stage) => this.boxes.get(stage.uid)?.fail(message && stage === live[at] ? message : null));
  }
}

export { Path };
