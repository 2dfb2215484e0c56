/** A control for any key of a schema: a dial, a list of choices, a switch or a text. */

import { Dial, stepsOf } from "./dial.js";
import { uploadFile } from "./frames.js";
import { lab, on } from "./store.js";
import { element, write } from "./viewer/dom.js";

const NUMBERS = new Set(["whole", "number", "exact"]);
const USUAL = { taps: ["1/2/1", "1/6/1", "1/2/2/2/1", "paired", "1"], aspect: ["4:3", "16:9"] };
let made = 0;

/** A text of the register with what stands in backticks as code. */
function prose(text) {
  return text.split("`").map((part, at) => (at % 2 ? element("code", {}, part) : part));
}

/** A key's name in words, without the unit at its end that is written behind it. */
function unitOnce({ name, unit }) {
  const words = name.replaceAll("_", " ");
  return unit && words.endsWith(` ${unit}`) ? words.slice(0, -unit.length - 1) : words;
}

/**
 * Return {root, show(text), invalid(message)}.
 *
 * Parameters: key : of the register; `label` calls it something else, `open` takes other words than its choices
 *   heard(text, done) : the value changed, "" for not given; dial : of the box, or null
 */
function controlOf(key, heard, dial = null) {
  const id = `key-${++made}`;
  const name = dial?.label || key.label || unitOnce(key);
  const inside = innards(key, id, heard, dial, name);
  const help = element("small", { id: `${id}-help`, className: "key-doc" }, ...prose(key.doc ?? ""));
  const error = element("small", { id: `${id}-error`, className: "key-error", role: "alert", hidden: true });
  const unit = key.unit && key.unit !== name ? element("span", { className: "key-unit" }, ` ${key.unit}`) : "";
  const label = element("label", { htmlFor: id, className: "key-name" }, name, unit);
  inside.field.setAttribute("aria-describedby", `${help.id} ${error.id}`);
  const root = element("div", { className: `key key-${key.type}` }, label, inside.root, error, help);
  const invalid = (message) => {
    error.hidden = !message;
    error.textContent = message ?? "";
    inside.field.setAttribute("aria-invalid", String(Boolean(message)));
  };
  return { root, show: inside.show, invalid, focus: () => inside.field.focus() };
}

function innards(key, id, heard, dial, name) {
  if (NUMBERS.has(key.type)) {
    const made = new Dial(key, { id, name, heard, label: dial?.label, steps: dial && stepsOf(dial) });
    return { root: made.root, field: made.number, show: (text) => made.show(text ?? "") };
  }
  if (key.type === "switch") return switched(key, id, heard);
  if (key.type === "file") return fileChosen(id, heard);
  if (key.choices?.length && key.type !== "taps" && !key.open) return chosen(key, id, heard);
  return written(key, id, heard);
}

function switched(key, id, heard) {
  const field = element("input", { type: "checkbox", id });
  field.onchange = () => heard(field.checked ? "on" : "off", true);
  const show = (text) => (field.checked = ["on", "true"].includes(text || key.default));
  return { root: field, field, show };
}

function chosen(key, id, heard) {
  const none = key.optional ? [new Option("not set", "")] : [];
  const field = element("select", { id }, ...none, ...key.choices.map((each) => new Option(each, each)));
  field.onchange = () => heard(field.value, true);
  return { root: field, field, show: (text) => (field.value = text || (key.default ?? "")) };
}

/** One of the files that chains may name: those of the command line, and what is given here. */
function fileChosen(id, heard) {
  const field = element("select", { id });
  const status = element("small", { role: "status" });
  const input = element("input", { type: "file", accept: ".json", "aria-label": "Give an operator's file" });
  const show = (text) => {
    const names = [...new Set([...lab.start.files, text].filter(Boolean))];
    field.replaceChildren(...(text ? [] : [new Option(names.length ? "choose a file" : "give a file below", "")]), ...names.map((each) => new Option(each, each)));
    field.value = text ?? "";
  };
  field.onchange = () => field.value && heard(field.value, true);
  input.onchange = () => uploadFile(input.files[0])
    .then((name) => (write(status, ""), show(name), heard(name, true)), (reason) => write(status, reason.message))
    .finally(() => (input.value = ""));
  on("files", () => show(field.value));
  return { root: element("div", { className: "key-file" }, field, input, status), field, show };
}

function written(key, id, heard) {
  const field = element("input", { type: "text", id, autocomplete: "off", spellcheck: false, placeholder: key.default ?? "" });
  const usual = [...(key.choices ?? []), ...(USUAL[key.type] ?? [])];
  const list = element("datalist", { id: `${id}-list` }, ...[...new Set(usual)].map((each) => element("option", { value: each })));
  if (usual.length) field.setAttribute("list", list.id);
  field.onchange = () => heard(field.value.trim(), true);
  return { root: element("div", { className: "key-text" }, field, list), field, show: (text) => (field.value = text ?? "") };
}

export { controlOf, NUMBERS, prose };
