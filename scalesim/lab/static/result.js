/** A job that runs, and its answer: sentences, the page, the files, where they lie. */

import { records } from "./api.js";
import { arrived } from "./frames.js";
import { shownParts } from "./parts.js";
import { element, write } from "./viewer/dom.js";

const FIRST = ["page", "csv", "json"];

/** The answer as the command line gives it. Parameters: more : elements after the sentences */
function shownResult(record, more = [], plain = (text) => text) {
  const { title, sentences, remarks = [], parts = [], page, files, out, undecided } = record;
  const link = (href, words) => element("a", { href, target: "_blank", rel: "noopener" }, words);
  const order = ([a], [b]) => (FIRST.indexOf(b) > -1) - (FIRST.indexOf(a) > -1);
  const all = Object.entries(files).sort(order).map(([name, href]) => element("li", {}, link(href, name)));
  const told = undecided ? [element("p", {}, "It cannot be told.")] : [];
  return element("article", { className: "result" },
    element("h3", {}, title), ...told,
    element("ul", {}, ...[...sentences, ...remarks].map(plain).map((each) => element("li", {}, each))), ...more,
    ...shownParts(parts),
    element("p", {}, link(page, "Open its page"), ` – it lies in ${out}`),
    element("details", {}, element("summary", {}, `Files (${all.length})`), element("ul", { className: "files" }, ...all)));
}

/** A button that runs something and stops it; progress in words; answers, the newest first. */
class Runner {
  /**
   * Parameters: asked() : returns [path, body], or null for nothing; more(record) : resolves to elements
   *   plain(text) : a text written for the command line in the page's own words
   */
  constructor(words, asked, { more = async () => [], plain = (text) => text } = {}) {
    Object.assign(this, { words, asked, more, plain, ending: null });
    this.button = element("button", { type: "button", className: "main" }, words);
    this.button.onclick = () => (this.ending ? this.ending.abort() : this.run());
    this.bar = element("progress", { hidden: true, "aria-label": words });
    this.status = element("p", { className: "quiet", role: "status" });
    this.answers = element("div", { className: "answers" });
  }

  async run() {
    const ending = (this.ending = new AbortController());
    await arrived();
    const asked = this.asked();
    if (!asked || ending.signal.aborted) return void (this.ending = null);
    this.button.textContent = "Stop";
    this.bar.hidden = false;
    this.bar.removeAttribute("value");
    write(this.status, "At work …");
    try {
      for await (const record of records(...asked, ending.signal)) await this.take(record);
    } catch (reason) {
      write(this.status, reason.name === "AbortError" ? "Stopped." : reason.message);
    }
    this.ending = null;
    this.bar.hidden = true;
    this.button.textContent = this.words;
  }

  async take(record) {
    if (record.kind === "progress") {
      write(this.status, `${record.what} …`);
      if (record.total) Object.assign(this.bar, { max: record.total, value: record.done });
    } else if (record.kind === "error") write(this.status, this.plain(record.error));
    else if (record.kind === "result") {
      write(this.status, "Done.");
      this.answers.prepend(shownResult(record, await this.more(record), this.plain));
    }
  }
}

/** The document of an answer, as the command line prints it; null where it cannot be had. */
async function documentOf(files) {
  const place = files.json ?? files.result ?? Object.values(files).find((each) => each.endsWith("result.json"));
  const answer = place && (await fetch(place).catch(() => null));
  return answer?.ok ? answer.json() : null;
}

export { documentOf, Runner, shownResult };
