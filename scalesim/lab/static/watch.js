/**
 * The bench loop: a capture that arrives in the watched folder is shown, held against the frame that was
 * sent, and the presses to its best place are told; the next capture confirms them.
 */

import { getJson, records } from "./api.js";
import { keep } from "./frames.js";
import { lab, on, tell } from "./store.js";
import { chainToml } from "./text.js";
import { element, write } from "./viewer/dom.js";

const MOST = 6; // arrivals that stay in the list

class Watch {
  constructor(host, pictures) {
    Object.assign(this, { host, pictures, ending: null, last: null, count: 0 });
    on("ready", () => this.begin());
  }

  begin() {
    const events = new EventSource("/api/events"); // it comes back by itself after the server was started again
    events.onerror = () => getJson("/api/frames").catch(() => {}); // asking finds out, and says so, if the server is gone
    events.onmessage = ({ data }) => this.take(JSON.parse(data));
    if (!lab.start.watch) return;
    this.status = element("p", { role: "status" }, `Waiting for a picture in ${lab.start.watch} …`);
    this.told = element("ul", { className: "loop-told" });
    this.list = element("ol", { className: "loop-list" });
    this.again = element("button", { type: "button", onclick: () => this.last && this.locate(this.last) }, "Look again with this chain");
    this.again.hidden = true;
    this.host.append(element("h2", { id: "loop-title" }, "Bench loop"),
      element("p", { className: "quiet" }, "Put the frame that the console sends on the bench, build the box's chain, and save a capture into the folder: it is told where the picture sits and how far it is from its best place."),
      this.status, this.told, this.again, (this.sofar = element("details", { hidden: true }, element("summary", {}, "Captures so far"), this.list)));
    this.host.hidden = false;
  }

  take(message) {
    if (message.kind === "watch-error") write(this.status, message.message);
    if (message.kind !== "watched" || !this.status) return;
    const frame = keep(message.frame);
    tell("frames");
    this.show(frame);
    if (message.position) this.tell(message.position.sentences ?? [], message.position);
    else this.locate(frame);
  }

  /** Show the capture where the raster lies. */
  async show(frame) {
    this.last = frame;
    this.sofar.hidden = false;
    write(this.status, `${frame.name} arrived: ${frame.lines} lines, ${frame.samples} samples.`);
    this.list.prepend(element("li", { value: ++this.count }, frame.name));
    while (this.list.children.length > MOST) this.list.lastChild.remove();
    const { pictures } = this;
    const place = pictures.place ?? { x: 0, y: 0, width: 1280, height: 960 };
    const source = `/api/frames/${encodeURIComponent(frame.id)}/picture`;
    await pictures.put({ id: "capture", label: "Capture", alt: `Capture: ${frame.name}`, caption: `The capture that came last: ${frame.name}.`, source, ...place });
    const { viewer } = pictures;
    if (!viewer || viewer.mode !== "beside" || pictures.shown.includes("capture")) return;
    const ids = viewer.panes.map(({ wanted }) => wanted[0]);
    viewer.setPanes(ids.includes("raster") ? ["capture", ...ids.filter((id) => id !== "source")] : ["capture", ...ids.slice(1)]);
  }

  /** Ask where the picture sits. */
  async locate(frame) {
    if (!lab.frame || !lab.stages.length) return write(this.status, `${frame.name} arrived. Put the frame that was sent on the bench, and its chain: then its place can be told.`);
    this.ending?.abort();
    this.ending = new AbortController();
    this.again.hidden = false;
    const body = { inputs: { capture: frame.id, source: lab.frame, chain: { toml: chainToml(lab) } }, keys: {}, mode: null };
    try {
      for await (const record of records("/api/jobs/position", body, this.ending.signal)) {
        if (record.kind === "progress") write(this.status, `${frame.name}: ${record.what} …`);
        if (record.kind === "error") write(this.status, `${frame.name}: ${record.error}`);
        if (record.kind === "result") this.tell(record.sentences, record, frame);
      }
    } catch (reason) {
      if (reason.name !== "AbortError") write(this.status, reason.message);
    }
  }

  tell(sentences, { page }, frame = this.last) {
    write(this.status, `${frame.name}:`);
    const entry = [...this.list.children].find(({ textContent }) => textContent === frame.name);
    if (entry && sentences.length) write(entry, `${frame.name}: ${sentences[0]}`); // the next one confirms it, or not
    const link = page ? [element("li", {}, element("a", { href: page, target: "_blank", rel: "noopener" }, "Its page"))] : [];
    this.told.replaceChildren(...sentences.map((each) => element("li", {}, each)), ...link);
  }
}

export { Watch };
