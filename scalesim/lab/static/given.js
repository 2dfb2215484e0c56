/** What a job is given on the page: frames of the lab, files, chains. */

import { fill, upload, uploadTrace } from "./frames.js";
import { lab, on } from "./store.js";
import { chainText, chainToml } from "./text.js";
import { element, write } from "./viewer/dom.js";

let made = 0;

/** The name of an input or a key, as a form says it. */
const named = (name) => (name[0].toUpperCase() + name.slice(1)).replace(/[-_]/g, " ");

/** What frames an input takes: only clips and several pictures may move. */
const fitting = ({ reads }) => (["clip", "clips"].includes(reads) ? () => true : ({ still }) => still);

/** A labelled part of a form. */
function part(words, doc, required, ...inside) {
  const id = `given-${++made}`;
  inside[0].id = id;
  const label = element("label", { htmlFor: id, className: "key-name" }, named(words), element("span", { className: "key-unit" }, required ? "" : " (can be left out)"));
  return element("div", { className: "key" }, label, element("small", { className: "key-doc" }, doc), ...inside);
}

/** A file given in place: uploaded, then passed on. */
function fileInput(multiple, got, status) {
  const input = element("input", { type: "file", accept: "image/*,video/*", multiple, "aria-label": "Give a file" });
  const take = async (files) => {
    for (const file of files) {
      write(status, `Reading ${file.name} …`);
      try {
        got(await upload(file));
        write(status, "");
      } catch (reason) {
        write(status, `${file.name}: ${reason.message}`);
      }
    }
  };
  input.onchange = () => take([...input.files]).finally(() => (input.value = ""));
  return { input, take };
}

/** One frame. Returns {root, value}. */
function oneFrame(of, chosen = "") {
  const { name, doc, required } = of;
  const select = element("select");
  const status = element("small", { role: "status" });
  const show = (id = select.value) => {
    fill(select, id, fitting(of));
    if (!id) select.value = "";
  };
  const { input } = fileInput(false, ({ id }) => show(id), status);
  on("frames", () => show());
  show(chosen);
  const root = part(name, doc, required, select, input, status);
  return { root, value: () => select.value || null };
}

/** Several frames in order. Returns {root, value, drop(files)}. */
function manyFrames(of) {
  const { name, doc, required } = of;
  const chosen = [];
  const list = element("ol", { className: "chosen" });
  const status = element("small", { role: "status" });
  const select = element("select");
  const show = () => {
    fill(select, "", fitting(of));
    const row = (id, at) => {
      const drop = element("button", { type: "button", "aria-label": `Leave out ${lab.frames.get(id)?.name}` }, "×");
      drop.onclick = () => (chosen.splice(at, 1), show());
      return element("li", {}, `${lab.frames.get(id)?.name ?? id} `, drop);
    };
    list.replaceChildren(...chosen.map(row));
  };
  const add = ({ id }) => {
    if (!chosen.includes(id)) chosen.push(id);
    show();
  };
  select.onchange = () => select.value && add({ id: select.value });
  const { input, take } = fileInput(true, add, status);
  on("frames", show);
  show();
  const root = part(name, doc, required, select, input, list, status);
  root.dataset.ownDrop = "";
  root.classList.add("drop-here");
  root.addEventListener("drop", (event) => {
    event.preventDefault();
    take([...event.dataTransfer.files]);
  });
  return { root, value: () => (chosen.length ? [...chosen] : null) };
}

/** Traces of an oscilloscope, or logs of lag, given as files. Returns {root, value}. */
function manyTraces({ name, doc, required, reads }) {
  const chosen = [];
  const list = element("ol", { className: "chosen" });
  const status = element("small", { role: "status" });
  const show = () => {
    const row = (trace, at) => {
      const drop = element("button", { type: "button", "aria-label": `Leave out ${trace.name}` }, "×");
      drop.onclick = () => (chosen.splice(at, 1), show());
      return element("li", {}, `${trace.name}: ${trace.told} `, drop);
    };
    list.replaceChildren(...chosen.map(row));
  };
  const input = element("input", { type: "file", accept: ".csv,.txt,.tsv,.npy,.npz,.wav", multiple: true });
  const take = async (files) => {
    for (const file of files) {
      write(status, `Reading ${file.name} …`);
      try {
        const found = await uploadTrace(file, reads === "logs" ? "log" : "trace");
        if (!chosen.some(({ id }) => id === found.id)) chosen.push(found);
        show();
        write(status, "");
      } catch (reason) {
        write(status, `${file.name}: ${reason.message}`);
      }
    }
  };
  input.onchange = () => take([...input.files]).finally(() => (input.value = ""));
  const root = part(name, doc, required, input, list, status);
  root.dataset.ownDrop = "";
  root.classList.add("drop-here");
  root.addEventListener("drop", (event) => {
    event.preventDefault();
    take([...event.dataTransfer.files]);
  });
  return { root, value: () => (chosen.length ? chosen.map(({ id }) => id) : null) };
}

/** A chain's text. Returns {root, value}. */
function oneChain({ name, doc, required }) {
  const area = element("textarea", { rows: 2, spellcheck: false, value: required ? chainText(lab) : "" });
  const take = element("button", { type: "button", onclick: () => (area.value = chainText(lab)) }, "From the bench");
  const value = () => {
    const text = area.value.trim();
    const bench = text === chainText(lab) && lab.dials.length; // then it has the steps of its dials, too
    return bench ? { toml: chainToml(lab) } : text || null;
  };
  return { root: part(name, doc, required, area, take), value };
}

/** What a job's input is made by. */
function given(input) {
  if (input.reads === "chain") return oneChain(input);
  if (input.reads === "clips") return manyFrames(input);
  if (input.reads === "traces" || input.reads === "logs") return manyTraces(input);
  if (input.reads === "displays") return { root: element("div", { hidden: true }), value: () => null }; // files
  return oneFrame(input, input.required && input.reads === "frame" ? (lab.frame ?? "") : "");
}

export { given, manyFrames, named };
