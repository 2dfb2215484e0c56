/** The controls above the panes, the panes' grid and the line of keys. */

import { element, toggle, write } from "./dom.js";
import { HELP } from "./keys.js";
import { fragmentOf } from "./link.js";

const MODES = [["beside", "Side by side"], ["wipe", "Wipe"], ["flip", "Flip"]];
const LOOKS = [["magnifier", "Magnifier"], ["slice", "Slice"]];

class Tools {
  constructor(viewer, help) {
    this.viewer = viewer;
    const button = (text, onclick, name = text) =>
      element("button", { type: "button", onclick, "aria-label": name }, text);
    const group = (label, ...inside) =>
      element("div", { className: "viewer-group", role: "group", "aria-label": label }, ...inside);
    this.modes = MODES.map(([mode, words]) => toggle(words, () => viewer.setMode(mode), { value: mode }));
    this.looks = LOOKS.map(([look, words]) => toggle(words, () => viewer.lookBy(look), { value: look }));
    this.status = element("span", { className: "viewer-status", role: "status" });
    this.said = element("span", { className: "viewer-unseen", role: "status" });
    const tools = [
      group("Arrangement", ...this.modes),
      group("Size",
        button("−", () => viewer.zoom(-1), "Zoom out"),
        button("+", () => viewer.zoom(1), "Zoom in"),
        button("Whole picture", () => viewer.fit()),
        button("Exact", () => viewer.exact())),
      group("Closer", ...this.looks),
    ];
    if (viewer.name) tools.push(this.link());
    const bar = element("div", { className: "viewer-tools" }, ...tools, this.status, this.said);
    const keys = HELP.flatMap(([key, does]) => ["; ", element("kbd", {}, key), ` ${does}`]).slice(1);
    const seen = help ? "viewer-help" : "viewer-unseen";
    const helpLine = element("p", { id: viewer.helpId, className: seen }, ...keys);
    this.grid = element("div", { className: "viewer-panes" });
    const whole = { className: "viewer", role: "group", "aria-label": viewer.label };
    this.root = element("div", whole, bar, viewer.marks.root, this.grid, helpLine);
  }

  /** A button that copies the address of what is on show. */
  link() {
    const made = element("button", { type: "button", className: "viewer-link" }, "Copy link");
    made.onclick = async () => {
      const address = `${location.href.split("#")[0]}#${fragmentOf(this.viewer)}`;
      history.replaceState(history.state, "", address);
      const done = await navigator.clipboard?.writeText(address).then(() => true, () => false);
      made.textContent = done ? "Copied" : "In the address";
      setTimeout(() => (made.textContent = "Copy link"), 2500);
    };
    return made;
  }

  /** Show which of the choices are taken. */
  describe() {
    const { viewer } = this;
    this.root.dataset.mode = viewer.mode;
    this.modes.forEach((each) => each.setAttribute("aria-pressed", String(each.value === viewer.mode)));
    this.looks.forEach((each) => each.setAttribute("aria-pressed", String(each.value === viewer.look)));
  }

  /** Say how large it is. */
  tell() {
    write(this.status, this.viewer.scaleInWords());
  }
}

export { Tools };
