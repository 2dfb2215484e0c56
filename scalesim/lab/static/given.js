/** What a job is given on the page: frames of the lab here, everything else in given_files.js. */

import { fill, upload } from "./frames.js";
import { chosenThing, dropped, manyChains, oneChain, part, readings, READINGS } from "./given_files.js";
import { lab, on } from "./store.js";
import { about } from "./text.js";
import { element, write } from "./viewer/dom.js";

/** What frames an input takes: only clips and several pictures may move. */
const fitting = ({ reads }) => (["clip", "clips"].includes(reads) ? () => true : ({ still }) => still);

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
        write(status, about(file.name, reason.message));
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
  dropped(root, take);
  return { root, value: () => (chosen.length ? [...chosen] : null) };
}

/** What a job's input is made by. */
function given(input) {
  const { reads, required } = input;
  if (reads in READINGS) return readings(input);
  if (reads === "chain") return oneChain(input);
  if (reads === "chains") return manyChains(input);
  if (["display", "displays", "camera"].includes(reads)) return chosenThing(input);
  if (reads === "clips") return manyFrames(input);
  return oneFrame(input, required && reads === "frame" ? (lab.frame ?? "") : "");
}

export { given, manyFrames };
