/** The chain as text, to be read, copied and written; what is wrong is shown at its place. And as a file. */

import { postJson } from "./api.js";
import { lab, on, setChain } from "./store.js";
import { about, benchOf, chainText } from "./text.js";
import { write } from "./viewer/dom.js";

const TYPING_MS = 300;

/** Give a text to the browser as a file to keep. */
function saveText(name, text) {
  const link = document.createElement("a");
  link.href = URL.createObjectURL(new Blob([text], { type: "application/toml" }));
  link.download = name;
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 10_000);
}

const fileName = (name, end) => `${name.replace(/[^\w .-]+/g, "-").trim() || "chain"}${end}`;

/** The boxes that are off stay where they were: the text does not name them. */
function withOff(stages) {
  const all = [...stages];
  lab.stages.forEach((stage, at) => stage.off && all.splice(Math.min(at, all.length), 0, stage));
  return all;
}

/** Where in a text its stage of a number begins and ends: commas in quotes part nothing. */
function stageSpan(text, number) {
  const parts = [...text.matchAll(/(?:'(?:[^']|'')*'|[^,'])+/g)];
  const part = parts[number];
  if (!part) return [null, null];
  const begin = part.index + part[0].length - part[0].trimStart().length;
  return [begin, part.index + part[0].length];
}

class TextForm {
  constructor(host) {
    this.area = host.querySelector("textarea");
    this.error = host.querySelector("[data-error]");
    this.file = host.querySelector("input[type=file]");
    this.timer = null;
    this.area.oninput = () => {
      clearTimeout(this.timer);
      this.timer = setTimeout(() => this.read(), TYPING_MS);
    };
    this.area.onblur = () => this.error.hidden && this.show();
    host.querySelector("[data-save]").onclick = () => this.save();
    host.querySelector("[data-open]").onclick = () => this.file.click();
    this.file.onchange = () => this.open(this.file.files[0]).finally(() => (this.file.value = ""));
    on("chain", () => this.show());
    on("checked", (found) => found.text === this.area.value && this.fail(found.ok ? null : found));
  }

  show() {
    if (document.activeElement === this.area) return;
    this.area.value = chainText(lab);
    this.fail(null);
  }

  async read() {
    const text = this.area.value;
    await this.adopt({ text }).catch((reason) => this.fail({ error: reason.message }));
  }

  async adopt(given) {
    const found = await postJson("/api/chain", given);
    if (!found.ok) return this.fail(found);
    this.fail(null);
    setChain(given.text === undefined ? found : { ...found, stages: withOff(found.stages), dials: null });
    return true;
  }

  /** Show an error, and mark its place in the text where it has one. */
  fail(found) {
    this.error.hidden = !found;
    this.area.setAttribute("aria-invalid", String(Boolean(found)));
    write(this.error, found ? found.error : "");
    const { stage = null, begin: at = null } = found?.place ?? {};
    const [begin, end] = at === null && stage !== null ? stageSpan(this.area.value, stage) : [at, at];
    const marked = this.error.parentNode.querySelector("[data-marked]");
    marked.hidden = begin === null;
    if (begin === null) return;
    const text = this.area.value;
    const upTo = Math.max(end ?? 0, begin + 1);
    const mark = document.createElement("mark");
    mark.textContent = text.slice(begin, upTo) || "⎵";
    marked.replaceChildren(text.slice(Math.max(0, begin - 40), begin), mark, text.slice(upTo, upTo + 40));
  }

  async save() {
    try {
      const found = await postJson("/api/chain", benchOf(lab));
      if (found.ok) saveText(fileName(lab.name, ".toml"), found.toml);
      else this.fail(found);
    } catch (reason) {
      this.fail({ error: reason.message });
    }
  }

  async open(file) {
    if (!file) return;
    try {
      await this.adopt({ toml: await file.text() });
    } catch (reason) {
      this.fail({ error: about(file.name, reason.message) });
    }
  }
}

export { fileName, saveText, TextForm };
