/** Any job, from its own description: a form, its progress, its answer. */

import { controlOf } from "./control.js";
import { given } from "./given.js";
import { Runner } from "./result.js";
import { element } from "./viewer/dom.js";

class JobForm {
  constructor(host, job) {
    const [first, ...rest] = job.about.split("\n\n");
    this.job = job;
    this.inputs = job.inputs.map((input) => ({ ...input, ...given(input) }));
    this.keys = {};
    const controls = job.keys.map((key) => {
      const control = controlOf(key, (text) => (text === "" ? delete this.keys[key.name] : (this.keys[key.name] = text)));
      control.show(key.optional ? "" : (key.default ?? ""));
      return control.root;
    });
    this.mode = element("input", { type: "text", id: `mode-${job.name}`, placeholder: "by its size", autocomplete: "off" });
    const mode = element("div", { className: "key" }, element("label", { htmlFor: this.mode.id, className: "key-name" }, "mode"),
      element("small", { className: "key-doc" }, "such as 720p60 or 480i, where the size does not tell"), this.mode);
    const run = new Runner("Run", () => this.asked());
    const form = element("div", { className: "job-form" }, ...this.inputs.map(({ root }) => root), ...controls, ...(job.moded ? [mode] : []),
      run.button, run.bar, run.status);
    const words = rest.map((text) => element("p", { className: text.startsWith("Example:") ? "example" : "" }, text));
    host.append(element("h2", {}, first), ...words, form, run.answers);
  }

  asked() {
    const inputs = Object.fromEntries(this.inputs.map(({ name, value }) => [name, value()]).filter(([, value]) => value !== null));
    return [`/api/jobs/${this.job.name}`, { inputs, keys: this.keys, mode: this.mode.value.trim() || null }];
  }
}

export { JobForm };
