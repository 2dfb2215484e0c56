/** The lab: starts, brings the parts of the page together, and keeps them in step. */

import { getJson, onHealth, postJson } from "./api.js";
import { Display } from "./display.js";
import { Explore } from "./explore.js";
import { Frames, giveAgain, keep } from "./frames.js";
import { Numbers } from "./numbers.js";
import { Path } from "./path.js";
import { Pictures } from "./pictures.js";
import { lab, on, setChain, setFrame, tell } from "./store.js";
import { chainText } from "./text.js";
import { TextForm } from "./textform.js";
import { write } from "./viewer/dom.js";
import { restore } from "./link.js";
import { Tools } from "./tools.js";
import { Welcome } from "./welcome.js";
import { Curve } from "./curve.js";
import { Variants } from "./variants.js";
import { Tabs } from "./tabs.js";
import { Watch } from "./watch.js";

const CHECK_MS = 150;
const find = (selector) => document.querySelector(selector);
const say = (words) => write(find("#said"), words);

/** Keep what is written about the path in step: what runs on its cables, and what is wrong with it. */
function checkPath(path) {
  let timer = null;
  let ending = null;
  const check = async () => {
    ending?.abort();
    ending = new AbortController();
    const text = chainText(lab);
    if (!text) return path.label([]);
    try {
      const found = await postJson("/api/chain", { text, frame: lab.frame }, ending.signal);
      path.fail(found.ok ? null : (found.place?.stage ?? null), found.ok ? null : found.error);
      tell("checked", { ...found, text });
      if (found.ok) path.label(found.rasters ?? []);
    } catch {
      // said elsewhere, or overtaken by a later change
    }
  };
  on("chain frame", () => {
    clearTimeout(timer);
    timer = setTimeout(check, CHECK_MS);
  });
}

/** Say what the server refused; pictures stay as they were. */
function showRefusals() {
  const place = find(".refused");
  on("refused", ({ error }) => {
    place.hidden = false;
    write(place, error);
  });
  on("facts", () => (place.hidden = true));
}

/** Before there is a frame nothing can be tuned, pinned or exported. */
function showEmpty() {
  on("frame variants", () => find(".view").classList.toggle("empty", !lab.frame && !lab.variants.length));
}

function showHealth(explore) {
  const place = find(".gone");
  onHealth(async (there) => {
    place.hidden = there;
    write(place, there ? "" : "The lab's server does not answer. Nothing is lost: start it again at the same address (scalesim lab --port), and this page goes on by itself.");
    if (!there) return;
    await giveAgain();
    say("The server is back.");
    if (lab.frame && !lab.frames.has(lab.frame)) say("Its frame came as a file: give it again.");
    explore.ask();
  });
}

async function begin() {
  lab.start = await getJson("/api/start");
  lab.start.frames.forEach(keep);
  lab.display = { key: lab.start.displays[0]?.key, values: {} };
  write(find("[data-out]"), `Exports lie in ${lab.start.out}. Version ${lab.start.version}.`);
  const pictures = new Pictures(find("#panes"));
  const explore = new Explore(() => pictures.want(), (record, of) => pictures.take(record, of));
  const path = new Path(find(".path"), say);
  new Frames(find("[data-path=source]"));
  new Display(find("[data-path=display]"));
  new TextForm(find(".text-form"));
  new Numbers(find(".numbers"));
  new Tools(pictures, say);
  new Welcome(find(".welcome"));
  new Curve(find(".curve"));
  new Variants(find(".variants"), pictures, say);
  new Tabs(find(".tabs"), find("main"), say);
  new Watch(find(".bench-loop"), pictures);
  checkPath(path);
  showRefusals();
  showEmpty();
  showHealth(explore);
  on("chain display against", () => (pictures.stale(), explore.ask()));
  on("look", () => explore.look());
  on("facts", (facts) => pictures.facts(facts));
  on("frame", async () => {
    lab.numbers = null;
    const frame = lab.frames.get(lab.frame);
    if (!frame) return;
    pictures.setSource(frame, pictures.place && { ...pictures.place });
    pictures.stale();
    explore.ask();
  });
  await restore(pictures);
  tell("display");
  const { named, chains } = lab.start;
  if (!lab.stages.length) {
    const asked = named.toml ? { toml: named.toml } : named.frame ? { text: chains[0].text } : null;
    const found = asked && (await postJson("/api/chain", asked));
    if (found?.ok) setChain(found);
  }
  if (lab.frame) setFrame(lab.frame);
  else if (named.frame) setFrame(named.frame);
  tell("ready");
  document.documentElement.dataset.ready = "";
}

begin().catch((reason) => {
  const place = find(".gone");
  place.hidden = false;
  write(place, `The lab did not start: ${reason.message}`);
  console.warn(reason);
});
