/** What is to be seen before there is a picture: frames to begin with, three ready chains, what each pane shows. */

import { postJson } from "./api.js";
import { lab, on, setChain, setFrame } from "./store.js";
import { TAUGHT } from "./pictures.js";
import { element } from "./viewer/dom.js";

const PANES = ["source", "raster", "glass", "difference"];
const THUMB = { width: 480, height: 117 }; // as wide as a card may get; a narrower one shows the middle

class Welcome {
  constructor(host) {
    Object.assign(this, { host, waiting: [] });
    on("frame", () => this.leave());
    on("ready", () => lab.frame || this.show());
  }

  show() {
    const { frames, chains } = lab.start;
    const title = element("h2", { id: "welcome-title" }, "Put a picture on the bench");
    const lead = element("p", {}, "A console's picture goes through boxes, one after another, and out on a tube. Turn a dial and see what it does to every line. Choose a frame to begin, or drop one of your own anywhere.");
    const choice = element("ul", { className: "welcome-frames" }, ...frames.filter(({ kind }) => kind !== "upload").map((frame) => element("li", {}, this.card(frame))));
    const ready = element("ul", { className: "welcome-chains" }, ...chains.slice(0, 3).map((each) => element("li", {}, this.chain(each))));
    const panes = PANES.flatMap((id) => [element("dt", {}, TAUGHT[id][0]), element("dd", {}, TAUGHT[id][1])]);
    this.host.replaceChildren(title, lead, choice,
      element("h3", {}, "Three ways down, ready to turn"), ready,
      element("h3", {}, "What the panes show"), element("dl", { className: "welcome-panes" }, ...panes));
    this.host.hidden = false;
    this.draw();
  }

  /** Draw the cards' pieces one after another: a frame that is chosen meanwhile must not wait for all of them. */
  async draw() {
    while (this.waiting.length) await draw(...this.waiting.shift()).catch(() => {});
  }

  leave() {
    this.host.hidden = true;
    this.waiting = [];
    if (!lab.stages.length) this.load(lab.start.chains[0]);
  }

  card(frame) {
    const canvas = element("canvas", { ...THUMB, "aria-hidden": "true" });
    this.waiting.push([canvas, frame.id]);
    const made = element("button", { type: "button" }, canvas, element("span", {}, frame.name.replace(/\.\w+$/, "").replaceAll("_", " ")));
    made.onclick = () => setFrame(frame.id);
    return made;
  }

  chain(each) {
    const made = element("button", { type: "button" }, element("strong", {}, each.name), element("span", {}, each.teach), element("code", {}, each.text));
    made.onclick = async () => {
      await this.load(each);
      if (!lab.frame) setFrame(lab.start.frames[0].id);
    };
    return made;
  }

  async load({ text, name }) {
    const found = await postJson("/api/chain", { text });
    if (found.ok) setChain({ ...found, name: found.name || name });
  }
}

/** A piece of a frame, dot by dot: the middle of it, never shrunk. */
async function draw(canvas, id) {
  const context = canvas.getContext("2d");
  const answer = await fetch(`/api/frames/${encodeURIComponent(id)}/picture`);
  const bitmap = await createImageBitmap(await answer.blob(), { colorSpaceConversion: "none" });
  const [x, y] = [(bitmap.width - canvas.width) >> 1, (bitmap.height - canvas.height) >> 1];
  context.drawImage(bitmap, -x, -y);
  bitmap.close();
}

export { Welcome };
