/** The buttons about the pictures and those of the head: panes, overlays, undo and redo, and their keys. */

import { canRedo, canUndo, on, redo, undo } from "./store.js";
import { toggle, write } from "./viewer/dom.js";

const OVER = [["ruler", "Line ruler"], ["safe", "Safe areas"], ["hidden", "Hidden by the tube"]];

class Tools {
  constructor(pictures, say) {
    Object.assign(this, { pictures, say });
    const bar = document.querySelector(".view-tools");
    const [counts, over] = bar.querySelectorAll(".group");
    this.counts = [1, 2, 3, 4].map((count) => toggle(String(count), () => pictures.setCount(count), { value: count, "aria-label": `${count} ${count === 1 ? "pane" : "panes"}` }));
    counts.append("Panes ", ...this.counts);
    this.over = OVER.map(([name, words]) => toggle(words, () => this.overlay(name), { value: name }));
    over.append(...this.over);
    this.facts = bar.querySelector(".facts");
    on("view", () => this.show(bar));
    on("facts", ({ sentence }) => write(this.facts, sentence ?? ""));
    this.history();
    document.querySelector(".keys div").textContent =
      "On a dial: arrow up and down one step, Page up and down ten; on its slider the arrows. " +
      "On a box's handle ⠿: arrow up and down move the box. Ctrl + Z undoes, Ctrl + Shift + Z does again. " +
      "On a picture: arrows or dragging move it, wheel, + and − zoom, 0 shows the whole, X is exact, M is the magnifier, S a slice, " +
      "Shift + arrow moves them by a line or sample, Space held shows the source, Escape lets go. " +
      "On the tuning curve: arrow left and right set the dial.";
  }

  overlay(name) {
    this.pictures.overlays.toggle(name);
    this.over.forEach((each) => each.setAttribute("aria-pressed", String(this.pictures.overlays.on.has(each.value))));
    this.pictures.viewer?.draw();
  }

  show(bar) {
    const { viewer } = this.pictures;
    if (!viewer) return;
    bar.hidden = false;
    const count = viewer.mode === "beside" ? viewer.panes.length : 0;
    this.counts.forEach((each) => each.setAttribute("aria-pressed", String(Number(each.value) === count)));
  }

  history() {
    const button = (name) => document.querySelector(`[data-do=${name}]`);
    const [back, forth] = [button("undo"), button("redo")];
    const go = (how, words) => () => {
      how();
      this.say(words);
    };
    back.onclick = go(undo, "Undone");
    forth.onclick = go(redo, "Done again");
    on("history", () => {
      back.disabled = !canUndo();
      forth.disabled = !canRedo();
    });
    document.addEventListener("keydown", (event) => {
      if (!(event.ctrlKey || event.metaKey) || event.key.toLowerCase() !== "z" || event.target.tagName === "TEXTAREA") return;
      event.preventDefault();
      if (event.shiftKey) redo();
      else undo();
    });
  }
}

export { Tools };
