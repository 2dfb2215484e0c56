/** Identify: captures of the kernel chart, what the box does, and the found chain sent to the bench. */

import { postJson } from "./api.js";
import { controlOf } from "./control.js";
import { manyFrames } from "./given.js";
import { lab, setChain, tell } from "./store.js";
import { documentOf, Runner } from "./result.js";
import { element, write } from "./viewer/dom.js";

const KEYS = [
  { name: "mode", label: "Mode", type: "text", unit: "", doc: "Mode the chart was played in, such as 720p60.", default: "720p60", required: true, choices: ["1080p60", "720p60", "480p60", "1080i60", "720p50", "576p50"] },
  { name: "lines", label: "Lines", type: "text", unit: "", doc: "Lines of one field or of the progressive picture that the box gives, when known.", default: null, optional: true, choices: ["240", "288", "480", "576"] },
  { name: "scan", label: "Scan", type: "choice", unit: "", doc: "How the box sends its lines, when known.", default: null, optional: true, choices: ["progressive", "interlaced"] },
];

class Identify {
  constructor(host) {
    this.keys = { mode: "720p60" };
    this.captures = manyFrames({ name: "Captures", doc: "Drop captures of the chart here: one, or several frames of it, which are averaged. Line-locked and unscaled, as the box gives them.", required: true });
    const controls = KEYS.map((key) => {
      const control = controlOf(key, (text) => (text === "" ? delete this.keys[key.name] : (this.keys[key.name] = text)));
      control.show(key.default ?? "");
      return control.root;
    });
    const chart = new Runner("Make the chart of this mode", () => ["/api/jobs/chart", { mode: this.keys.mode ?? null }]);
    chart.button.classList.remove("main");
    const [mode, ...more] = controls;
    const run = new Runner("Identify the box", () => this.asked(), { more: (record) => this.more(record) });
    host.append(
      element("h2", {}, "What a box really does"),
      element("p", {}, "Play the kernel chart through the box, capture what comes out, and the capture tells which lines it keeps, drops or mixes, with errors. The answer shows the weights with their errors, the operator as a picture, and the capture against what the answer predicts."),
      element("p", { className: "example" }, "Its clips are made by scalesim chart kernel --mode 720p60"),
      element("div", { className: "job-form" }, mode, chart.button, chart.bar, chart.status, this.captures.root, ...more, run.button, run.bar, run.status),
      chart.answers, run.answers);
  }

  asked() {
    const { mode, ...keys } = this.keys;
    return ["/api/jobs/identify", { inputs: { captures: this.captures.value() }, keys, mode: mode ?? null }];
  }

  /** The found chain, ready for the bench. */
  async more({ files, chain: told }) {
    const chain = told ?? (await documentOf(files))?.chain;
    if (!chain) return [];
    const status = element("small", { role: "status" });
    const send = element("button", { type: "button", className: "main" }, "Put the found chain on the bench");
    send.onclick = async () => {
      const found = await postJson("/api/chain", { text: chain }).catch((reason) => ({ ok: false, error: reason.message }));
      if (!found.ok) return write(status, found.error);
      setChain({ ...found, name: found.name || "found" });
      tell("tab", "explore");
      return lab.stages.length;
    };
    return [element("p", {}, element("code", {}, chain)), element("p", {}, send, " ", status)];
  }
}

export { Identify };
