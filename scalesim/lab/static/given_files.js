/** What a job is given on the page and is no frame: readings by file, chains, displays, cameras. */

import { uploadReading } from "./frames.js";
import { lab } from "./store.js";
import { about, chainText, chainToml } from "./text.js";
import { element, write } from "./viewer/dom.js";

/** What is read from files of its own: which files, and whether several. */
const READINGS = {
  traces: { accept: ".csv,.txt,.tsv,.npy,.npz,.wav", many: true },
  logs: { accept: ".csv,.txt,.tsv", many: true },
  photos: { accept: "image/*,video/*", many: true },
  photo: { accept: "image/*", many: false },
};
let made = 0;

/** The name of an input or a key, as a form says it. */
const named = (name) => (name[0].toUpperCase() + name.slice(1)).replace(/[-_]/g, " ");

/** A labelled part of a form; the first inside is what the label is of. */
function part(words, doc, required, ...inside) {
  const id = `given-${++made}`;
  inside[0].id = id;
  const label = element("label", { htmlFor: id, className: "key-name" }, named(words), element("span", { className: "key-unit" }, required ? "" : " (can be left out)"));
  return element("div", { className: "key" }, label, element("small", { className: "key-doc" }, doc), ...inside);
}

/** Let files be dropped on a part. */
function dropped(root, take) {
  root.dataset.ownDrop = "";
  root.classList.add("drop-here");
  root.addEventListener("drop", (event) => {
    event.preventDefault();
    take([...event.dataTransfer.files]);
  });
}

/** Files of readings, sent as they are given. Returns {root, value}. */
function readings({ name, doc, required, reads }) {
  const { accept, many } = READINGS[reads];
  const chosen = [];
  const list = element("ol", { className: "chosen" });
  const status = element("small", { role: "status" });
  const show = () => {
    const row = (each, at) => {
      const drop = element("button", { type: "button", "aria-label": `Leave out ${each.name}` }, "×");
      drop.onclick = () => (chosen.splice(at, 1), show());
      return element("li", {}, `${each.name}: ${each.told} `, drop);
    };
    list.replaceChildren(...chosen.map(row));
  };
  const take = async (files) => {
    for (const file of files) {
      write(status, `Reading ${file.name} …`);
      try {
        const found = await uploadReading(file, reads);
        if (!many) chosen.length = 0;
        if (!chosen.some(({ id }) => id === found.id)) chosen.push(found);
        show();
        write(status, "");
      } catch (reason) {
        write(status, about(file.name, reason.message));
      }
    }
  };
  const input = element("input", { type: "file", accept, multiple: many });
  input.onchange = () => take([...input.files]).finally(() => (input.value = ""));
  const root = part(name, doc, required, input, list, status);
  dropped(root, take);
  const ids = () => chosen.map(({ id }) => id);
  return { root, value: () => (chosen.length ? (many ? ids() : ids()[0]) : null) };
}

/** A chain as the page has it: with the steps of its dials where it is the one on the bench. */
const chainOf = (text) => (text === chainText(lab) && lab.dials.length ? { toml: chainToml(lab) } : text || null);

/** A chain's text. Returns {root, value}. */
function oneChain({ name, doc, required }) {
  const area = element("textarea", { rows: 2, spellcheck: false, value: required ? chainText(lab) : "" });
  const take = element("button", { type: "button", onclick: () => (area.value = chainText(lab)) }, "From the bench");
  return { root: part(name, doc, required, area, take), value: () => chainOf(area.value.trim()) };
}

/** Several chains, one a line. Returns {root, value}. */
function manyChains({ name, doc, required }) {
  const area = element("textarea", { rows: 3, spellcheck: false, placeholder: "one chain a line" });
  const add = (texts) => (area.value = [...new Set([...area.value.split("\n"), ...texts].map((text) => text.trim()).filter(Boolean))].join("\n"));
  const bench = element("button", { type: "button", onclick: () => add([chainText(lab)]) }, "Add that of the bench");
  const pinned = element("button", { type: "button", onclick: () => add(lab.variants.map(({ text }) => text)) }, "Add the pinned ones");
  const value = () => {
    const texts = area.value.split("\n").map((text) => text.trim()).filter(Boolean);
    return texts.length ? texts.map(chainOf) : null;
  };
  return { root: part(name, doc, required, area, element("div", { className: "row" }, bench, pinned)), value };
}

/** A display or a camera: a shipped one, that of the bench, or a TOML file; of displays several. Returns {root, value}. */
function chosenThing({ name, doc, required, reads }) {
  const camera = reads === "camera";
  const known = camera ? lab.start.cameras : lab.start.displays;
  const bench = camera ? [] : [new Option("the one on the bench", "bench")];
  const select = element("select", {}, ...(required ? [] : [new Option("not set", "")]), ...bench, ...known.map((each) => new Option(each.name, each.key)));
  const files = new Map();
  const list = element("ol", { className: "chosen" });
  const status = element("small", { role: "status" });
  const input = element("input", { type: "file", accept: ".toml", multiple: reads === "displays", "aria-label": "Give a TOML file" });
  const chosen = [];
  const one = (value) => files.get(value) ?? (value === "bench" ? lab.display : value);
  const words = (value) => [...select.options].find((each) => each.value === value)?.text ?? value;
  const show = () => list.replaceChildren(...chosen.map((value, at) => {
    const drop = element("button", { type: "button", "aria-label": `Leave out ${words(value)}`, onclick: () => (chosen.splice(at, 1), show()) }, "×");
    return element("li", {}, `${words(value)} `, drop);
  }));
  const take = (value) => {
    if (reads !== "displays" || !value) return;
    if (!chosen.includes(value)) chosen.push(value);
    select.value = "";
    show();
  };
  select.onchange = () => take(select.value);
  input.onchange = async () => {
    for (const file of input.files) {
      if (file.size > 1e6) {
        write(status, `${file.name}: is over 1 MB; give a TOML file`);
        continue;
      }
      if (!files.has(file.name)) select.append(new Option(file.name, file.name));
      files.set(file.name, { toml: await file.text() });
      select.value = file.name;
      take(file.name);
    }
    input.value = "";
  };
  const value = () => (reads === "displays" ? (chosen.length ? chosen.map(one) : null) : select.value ? one(select.value) : null);
  return { root: part(name, doc, required, select, input, list, status), value };
}

export { chosenThing, dropped, manyChains, named, oneChain, part, readings, READINGS };
