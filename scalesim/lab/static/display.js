/** The display at the end of the path: which one, and its quantities. */

import { controlOf } from "./control.js";
import { changed, lab, on } from "./store.js";
import { element } from "./viewer/dom.js";

class Display {
  constructor(host) {
    this.select = host.querySelector("select");
    this.body = host.querySelector("[data-keys]");
    this.reset = host.querySelector("[data-reset]");
    this.controls = new Map();
    this.built = null;
    const { displays } = lab.start;
    this.select.replaceChildren(...displays.map(({ key, name }) => new Option(name, key)));
    this.select.onchange = () => {
      lab.display = { key: this.select.value, values: {} };
      changed("display", { done: true });
    };
    this.reset.onclick = () => {
      lab.display = { ...lab.display, values: {} };
      changed("display", { done: true });
    };
    on("display", () => this.show());
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

  show() {
    if (!lab.display) return;
    this.build();
    this.select.value = lab.display.key;
    for (const [name, control] of this.controls) control.show(lab.display.values[name] ?? this.kind.values[name] ?? "");
    this.reset.hidden = !Object.keys(lab.display.values).length;
  }
}

export { Display };
