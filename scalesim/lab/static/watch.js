/**
 * The bench loop: a capture that arrives in the watched folder is shown, held against the frame that was
 * sent, and the presses to its best place are told; the next capture confirms them.
 */

import { getJson, records } from "./api.js";
import { listen } from "./events.js";
import { keep } from "./frames.js";
import { confirmed, pressesTo, SAT } from "./loop_words.js";
import { documentOf } from "./result.js";
import { lab, on, tell } from "./store.js";
import { about, atAddress, chainText, chainToml } from "./text.js";
import { element, write } from "./viewer/dom.js";

const MOST = 6; // captures that stay in the list

/** The box's own dial of a key, by its address. */
function dialAt(address) {
  const found = atAddress(lab.stages, address);
  return found && lab.dials.find(({ uid, key }) => uid === found.stage.uid && key === found.key);
}

class Watch {
  constructor(host, pictures) {
    Object.assign(this, { host, pictures, ending: null });
    on("ready", () => this.begin());
  }

  begin() {
    listen((message) => this.take(message));
    if (!lab.start.watch) return;
    this.status = element("p", { role: "status" }, `Waiting for a picture in ${lab.start.watch} …`);
    this.told = element("ul", { className: "loop-told" });
    this.list = element("ol", { className: "loop-list", reversed: true });
    this.again = element("button", { type: "button", hidden: true, onclick: () => this.locate(this.last) }, "Look again with this chain");
    this.sofar = element("details", { hidden: true }, element("summary", {}, "Captures so far"), this.list);
    this.host.append(element("h2", { id: "loop-title" }, "Bench loop"),
      element("p", { className: "quiet" }, "Put the frame that the console sends on the bench, build the box's chain, and save a capture into the folder: it is told where the picture sits and how far it is from its best place."),
      this.status, this.told, this.again, this.sofar);
    this.host.hidden = false;
    this.resume();
  }

  get last() {
    return lab.captures.at(-1);
  }

  /** After a reload: the captures that came before it, and what was told of the last. */
  resume() {
    const known = new Set(lab.captures.map(({ id }) => id));
    const watched = [...lab.frames.values()].filter(({ kind }) => kind === "watched");
    const since = watched.slice(watched.findLastIndex(({ id }) => known.has(id)) + 1);
    lab.captures = [...lab.captures, ...since.map(({ id, name }) => ({ id, name }))].slice(-MOST);
    if (!this.last) return;
    write(this.status, `${this.last.name} came last.`);
    if (this.last.told) this.show(this.last);
    this.listAll();
    if (!lab.frames.has(this.last.id)) return; // the server was started again
    this.again.hidden = false;
    this.picture(this.last);
    if (!this.last.told && lab.frame) this.locate(this.last);
  }

  take(message) {
    if (message.kind === "lost") getJson("/api/frames").catch(() => {}); // asking finds out, and says so, if the server is gone
    if (!this.status) return;
    if (message.kind === "opened") this.catchUp();
    if (message.kind === "watch-error") this.fail(message.message);
    if (message.kind === "watched") this.arrive(message.frame);
  }

  /** What arrived while nobody listened. */
  async catchUp() {
    const frames = await getJson("/api/frames").catch(() => []);
    const missed = frames.filter(({ id, kind }) => kind === "watched" && !lab.frames.has(id));
    missed.forEach((frame) => this.arrive(frame));
  }

  arrive(found) {
    const { id, name, lines, samples } = keep(found);
    tell("frames");
    lab.captures = [...lab.captures.slice(1 - MOST), { id, name }];
    this.fail(`${name} arrived: ${lines} lines, ${samples} samples.`);
    this.listAll();
    this.picture(this.last);
    this.locate(this.last);
  }

  /** Say something that leaves nothing to tell of an earlier capture. */
  fail(words) {
    write(this.status, words);
    this.told.replaceChildren();
  }

  /** Show a capture where the raster lies. */
  async picture({ id, name }) {
    const { pictures } = this;
    const place = pictures.place ?? { x: 0, y: 0, width: 1280, height: 960 };
    const source = `/api/frames/${encodeURIComponent(id)}/picture`;
    await pictures.put({ id: "capture", label: "Capture", alt: `Capture: ${name}`, caption: `The capture that came last: ${name}.`, source, ...place });
    const { viewer } = pictures;
    if (!viewer || viewer.mode !== "beside" || pictures.shown.includes("capture")) return;
    const ids = viewer.panes.map(({ wanted }) => wanted[0]);
    viewer.setPanes(ids.includes("raster") ? ["capture", ...ids.filter((each) => each !== "source")] : ["capture", ...ids.slice(1)]);
  }

  /** Ask where the picture sits. */
  async locate(capture) {
    const { name } = capture;
    if (!lab.frame || !chainText(lab)) return this.fail(`${name} arrived. Put the frame that was sent on the bench, and its chain: then its place can be told.`);
    this.ending?.abort();
    this.ending = new AbortController();
    this.again.hidden = false;
    const asked = { frame: lab.frame, chain: chainText(lab) };
    const body = { inputs: { capture: capture.id, source: lab.frame, chain: { toml: chainToml(lab) } }, keys: {}, mode: null };
    try {
      for await (const record of records("/api/jobs/position", body, this.ending.signal)) {
        if (record.kind === "progress") write(this.status, `${name}: ${record.what} …`);
        if (record.kind === "error") this.fail(about(name, record.error));
        if (record.kind === "result") await this.found(capture, record, asked);
      }
    } catch (reason) {
      if (reason.name !== "AbortError") this.fail(reason.message);
    }
  }

  /** Take where a capture sits: the move first, then whether the last move did what it was to do. */
  async found(capture, { sentences, page, files }, asked) {
    const sat = (await documentOf(files)) ?? {};
    const before = lab.captures.slice(0, lab.captures.indexOf(capture)).findLast(({ sat: earlier }) => earlier);
    capture.sat = { ...Object.fromEntries(SAT.map((key) => [key, sat[key]])), ...asked };
    capture.told = [pressesTo(capture.sat, dialAt(sat.position_key)?.label), confirmed(before, capture), ...sentences].filter(Boolean);
    capture.page = page;
    this.show(capture);
    this.listAll();
    tell("captures");
  }

  show({ name, told, page }) {
    write(this.status, `${name}:`);
    const link = element("li", {}, element("a", { href: page, target: "_blank", rel: "noopener" }, "Its page"));
    this.told.replaceChildren(...told.map((each) => element("li", {}, each)), ...(page ? [link] : []));
  }

  listAll() {
    this.sofar.hidden = !lab.captures.length;
    const newest = [...lab.captures].reverse();
    this.list.replaceChildren(...newest.map(({ name, told }) => element("li", {}, told ? `${name}: ${told[0]}` : name)));
  }
}

export { Watch };
