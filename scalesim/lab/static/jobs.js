/** Any job, from its own description: a form, its progress, its answer. */

import { controlOf } from "./control.js";
import { given } from "./given.js";
import { named } from "./given_files.js";
import { Runner } from "./result.js";
import { lab } from "./store.js";
import { element } from "./viewer/dom.js";

const SEEN = 3; // settings that are seen at once; the others once they are opened

/** What most can do without. */
const folded = (words, inside) => (inside.length ? [element("details", {}, element("summary", {}, words), ...inside)] : []);

class JobForm {
  constructor(host, job) {
    const [first, ...rest] = job.about.split("\n\n");
    this.job = job;
    this.inputs = job.inputs.map((input) => ({ ...input, ...given({ ...input, doc: this.plain(input.doc) }) }));
    this.keys = {};
    const settings = [...job.keys.map((key) => this.setting(key)), ...(job.moded ? [this.modeSetting()] : [])];
    const asked = this.inputs.some(({ required }) => required) ? this.inputs.filter(({ required }) => required) : this.inputs.slice(0, 1);
    const besides = this.inputs.filter((input) => !asked.includes(input));
    const roots = (inputs) => inputs.map(({ root }) => root);
    const run = new Runner("Run", () => this.asked(), { plain: (text) => this.plain(text) });
    const form = element("div", { className: "job-form" }, ...roots(asked), ...folded("What else can be given", roots(besides)),
      ...settings.slice(0, SEEN), ...folded("More settings", settings.slice(SEEN)),
      run.button, run.bar, run.status);
    const [examples, words] = [/^Example/, /^(?!Example)/].map((which) => rest.filter((text) => which.test(text)));
    host.append(element("h2", {}, this.plain(first)), ...words.map((text) => element("p", {}, this.plain(text))), form, run.answers,
      ...examples.map((text) => element("p", { className: "example" }, text.replace(/^Examples?:/, "On the command line:"))));
  }

  setting(key) {
    const heard = (text) => (text === "" ? delete this.keys[key.name] : (this.keys[key.name] = text));
    const unit = named(key.name).toLowerCase() === key.unit ? "" : key.unit;
    const usual = key.name === "by" ? lab.start.metrics.map((each) => each.key) : [];
    const choices = key.type === "text" ? [...key.choices, ...usual] : key.choices;
    const control = controlOf({ ...key, doc: this.plain(key.doc), unit, choices, label: named(key.name), open: key.type === "text" }, heard);
    control.show(key.optional ? "" : (key.default ?? ""));
    return control.root;
  }

  modeSetting() {
    const doc = "such as 720p60 or 480i, where the size does not tell";
    const key = { name: "mode", label: "Mode", type: "text", unit: "", doc, default: "by its size", optional: true, choices: lab.start.modes, open: true };
    const control = controlOf(key, (text) => (this.mode = text || null));
    control.show("");
    return control.root;
  }

  /** A text written for the command line, with the names that this form has, and without its exit codes. */
  plain(text) {
    const { inputs, keys, moded } = this.job;
    const names = new Set([...inputs, ...keys, ...(moded ? [{ name: "mode" }] : [])].map(({ name }) => name));
    const option = (all, name) => (names.has(name.replaceAll("-", "_")) || names.has(name) ? `“${named(name)}”` : all);
    const file = (all) => ([all, `${all}s`].some((name) => names.has(name.toLowerCase())) ? `“${named(all.toLowerCase())}”` : all);
    const said = text.replace(/\s*\bEnds with 1 when\s[^.]*\./g, "");
    return said.replace(/--([a-z][\w-]*)/g, option).replace(/\b[A-Z]{3,}\b/g, file);
  }

  asked() {
    const inputs = Object.fromEntries(this.inputs.map(({ name, value }) => [name, value()]).filter(([, value]) => value !== null));
    return [`/api/jobs/${this.job.name}`, { inputs, keys: this.keys, mode: this.mode ?? null }];
  }
}

export { JobForm };
