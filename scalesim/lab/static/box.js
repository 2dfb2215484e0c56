/** One box of the path: its kind, its dials, and the handle that moves it. */

import { controlOf, NUMBERS, prose } from "./control.js";
import { changed, lab, schemaOf } from "./store.js";
import { rollAtEdges } from "./rolling.js";
import { stageText } from "./text.js";
import { element, write } from "./viewer/dom.js";

const FEW = 3; // keys that are all shown at once

class Box {
  constructor(stage, path) {
    Object.assign(this, { path, uid: stage.uid, schema: schemaOf(stage.kind), controls: new Map(), dialled: "" });
    const button = (className, text, onclick, name) =>
      element("button", { type: "button", className, onclick, "aria-label": name }, text);
    this.handle = button("box-handle", "⠿", () => {}, `Move ${stage.kind}: arrow up, arrow down, or drag`);
    this.title = element("button", { type: "button", className: "box-title" });
    this.kind = element("strong", {}, stage.kind);
    this.summary = element("span", { className: "box-summary" });
    this.title.append(this.kind, this.summary);
    this.title.onclick = () => this.open(this.body.hidden);
    this.live = element("input", { type: "checkbox", "aria-label": `${stage.kind} is in the path` });
    this.live.onchange = () => this.change((own) => (own.off = !this.live.checked));
    const remove = button("box-remove", "×", () => path.remove(this.stage), `Remove ${stage.kind}`);
    const onOff = element("label", { className: "box-live", title: "In the path" }, this.live);
    const head = element("div", { className: "box-head" }, this.handle, this.title, onOff, remove);
    this.error = element("p", { className: "box-error", role: "alert", hidden: true });
    this.body = element("div", { className: "box-body", hidden: true });
    this.root = element("li", { className: "box" }, head, this.error, this.body);
    this.open(lab.stages.length <= 3 || Object.keys(stage.keys).length > 0);
    this.listen();
  }

  get stage() {
    return lab.stages.find(({ uid }) => uid === this.uid);
  }

  change(how, done = true) {
    how(this.stage);
    changed("chain", { done });
  }

  open(whether) {
    this.body.hidden = !whether;
    this.title.setAttribute("aria-expanded", String(whether));
  }

  focus() {
    this.title.focus();
  }

  /** Build the controls of the keys; again where the box's own steps changed. */
  build() {
    const dials = lab.dials.filter(({ uid }) => uid === this.uid);
    const key = JSON.stringify(dials);
    if (this.controls.size && key === this.dialled) return;
    this.dialled = key;
    this.controls.clear();
    for (const own of this.schema.keys) {
      const dial = dials.find((each) => each.key === own.name) ?? null;
      this.controls.set(own.name, controlOf(own, (text, done) => this.heard(own.name, text, done), dial));
    }
    const weight = ({ name, required, optional, type }) =>
      dials.some((each) => each.key === name) ? 3 : required ? 2 : name in this.stage.keys || (NUMBERS.has(type) && !optional) ? 1 : 0;
    const order = [...this.schema.keys].sort((a, b) => weight(b) - weight(a));
    const few = order.length <= FEW;
    const roots = (chosen) => order.filter(chosen).map(({ name }) => this.controls.get(name).root);
    const first = roots((own) => few || weight(own) > 0);
    const more = roots((own) => !few && weight(own) === 0);
    const doc = element("p", { className: "box-doc" }, ...prose(this.schema.doc));
    this.body.replaceChildren(doc, ...first);
    if (more.length) this.body.append(element("details", {}, element("summary", {}, "More of its keys"), ...more));
    if (!order.length) doc.append(" It has nothing to set.");
  }

  heard(name, text, done) {
    const known = this.schema.keys.find((each) => each.name === name);
    this.change((own) => {
      if (text === "" || (text === known.default && !known.required)) delete own.keys[name]; // a text leaves it out, too
      else own.keys[name] = text;
    }, done);
  }

  show(stage, at) {
    this.build();
    this.live.checked = !stage.off;
    this.root.classList.toggle("box-off", stage.off);
    this.root.setAttribute("aria-label", `Box ${at + 1}: ${stage.kind}${stage.off ? ", switched off" : ""}`);
    write(this.summary, stageText(stage).slice(stage.kind.length));
    for (const [name, control] of this.controls) control.show(stage.keys[name] ?? this.shownDefault(name));
  }

  /** A default is shown as a value where a dial can turn from there; other controls show it by themselves. */
  shownDefault(name) {
    const own = this.schema.keys.find((each) => each.name === name);
    return own.optional ? "" : (own.default ?? "");
  }

  /** Say what is wrong, at the key that the message names where there is one. */
  fail(message) {
    const [, key] = message?.split(`${this.schema.kind}: `) ?? [];
    const named = [...this.controls].find(([name]) => new RegExp(`^${name}\\b`).test(key ?? ""));
    for (const [name, control] of this.controls) control.invalid(named?.[0] === name && !this.body.hidden ? message : null);
    const here = message && (!named || this.body.hidden);
    this.error.hidden = !here;
    write(this.error, here ? message : "");
  }

  listen() {
    const { handle, path } = this;
    handle.onkeydown = (event) => {
      const by = { ArrowUp: -1, ArrowDown: 1 }[event.key];
      if (!by) return;
      event.preventDefault();
      path.move(this.stage, lab.stages.indexOf(this.stage) + by);
    };
    let slot = null;
    let rolling = null;
    const follow = (clientY) => {
      slot = path.slotAt(clientY, lab.stages.indexOf(this.stage));
      path.markSlot(slot);
    };
    handle.onpointerdown = (event) => {
      if (event.button !== 0) return;
      event.preventDefault();
      handle.focus({ preventScroll: true });
      handle.setPointerCapture(event.pointerId);
      slot = lab.stages.indexOf(this.stage);
      this.root.classList.add("box-dragged");
      rolling = rollAtEdges(this.root, follow);
    };
    handle.onpointermove = ({ clientY }) => {
      if (slot === null) return;
      follow(clientY);
      rolling.at(clientY);
    };
    handle.onpointerup = () => {
      if (slot === null) return;
      const from = lab.stages.indexOf(this.stage);
      const to = slot > from ? slot - 1 : slot;
      rolling.end();
      this.letGo();
      slot = null;
      path.move(this.stage, to);
    };
    handle.onpointercancel = () => (rolling?.end(), this.letGo(), (slot = null));
  }

  letGo() {
    this.root.classList.remove("box-dragged");
    this.path.markSlot(null);
  }
}

export { Box };
