/** The display at the end of the path: which one, and its quantities. */

import { postJson } from "./api.js";
import { controlOf } from "./control.js";
import { changed, lab, on } from "./store.js";
import { about } from "./text.js";
import { element, write } from "./viewer/dom.js";

class Display {
  constructor(host) {
    this.select = host.querySelector("select");
    this.body = host.querySelector("[data-keys]");
    this.reset = host.querySelector("[data-reset]");
    this.controls = new Map();
    this.built = null;
    this.error = host.querySelector("[data-error]");
    this.file = host.querySelector("input[type=file]");
    this.offer();
    this.select.onchange = () => this.choose(this.select.value);
    this.file.onchange = () => this.open(this.file.files[0]).finally(() => (this.file.value = ""));
    this.reset.onclick = () => {
      lab.display = { ...lab.display, values: {} };
      changed("display", { done: true });
    };
    on("display", () => this.show());
    on("refused", ({ error }) => this.fail(error));
    on("facts", () => this.fail(""));
  }

  offer() {
    this.select.replaceChildren(...lab.start.displays.map(({ key, name }) => new Option(name, key)));
  }

  choose(key) {
    const { toml } = lab.start.displays.find((each) => each.key === key);
    lab.display = { key, values: {}, ...(toml ? { toml } : {}) };
    changed("display", { done: true });
  }

  /** A display of a file: one more to choose from. */
  async open(file) {
    if (!file) return;
    try {
      const toml = await file.text();
      const found = { ...(await postJson("/api/displays", { toml })), key: `file:${file.name}`, toml };
      lab.start.displays = [...lab.start.displays.filter(({ key }) => key !== found.key), found];
      this.built = null;
      this.offer();
      this.choose(found.key);
      this.error.hidden = true;
    } catch (reason) {
      this.error.hidden = false;
      write(this.error, about(file.name, reason.message));
    }
  }

  get kind() {
    return lab.start.displays.find(({ key }) => key === lab.display.key);
  }

  build() {
    if (this.built === lab.display.key) return;
    this.built = lab.display.key;
    this.controls.clear();
    for (const key of this.kind.keys) {
      if (key.name === "name") continue;
      this.controls.set(key.name, controlOf(key, (text, done) => this.heard(key.name, text, done)));
    }
    const doc = element("p", { className: "box-doc" }, "A tube by its physical quantities; change any, the glass follows.");
    this.body.replaceChildren(doc, ...[...this.controls.values()].map(({ root }) => root));
  }

  heard(name, text, done) {
    const values = { ...lab.display.values };
    if (text === "" || text === this.kind.values[name]) delete values[name];
    else values[name] = text;
    lab.display = { ...lab.display, values };
    changed("display", { done });
  }

  /** Say what is wrong with a quantity where it stands: the message names the display, then the quantity. */
  fail(message) {
    const key = /^display .*?: (\w+) /.exec(message)?.[1];
    for (const [name, control] of this.controls) control.invalid(name === key ? message : null);
  }

  show() {
    if (!lab.display) return;
    this.build();
    if (this.select.options.length !== lab.start.displays.length) this.offer();
    this.select.value = lab.display.key;
    for (const [name, control] of this.controls) control.show(lab.display.values[name] ?? this.kind.values[name] ?? "");
    this.reset.hidden = !Object.keys(lab.display.values).length;
  }
}

export { Display };
