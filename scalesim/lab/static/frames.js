/** Frames: chosen from those the lab has, given as files, dropped on the page. */

import { getJson, send } from "./api.js";
import { lab, on, setFrame, tell } from "./store.js";
import { about } from "./text.js";
import { element } from "./viewer/dom.js";

const KINDS = [["demo", "Drawn frames of the demonstration"], ["named", "From the command line"], ["upload", "Given on this page"], ["watched", "From the watched folder"]];

const keep = (frame) => {
  lab.frames.set(frame.id, frame);
  return frame;
};

const flying = new Set(); // files on their way

/** Send a file; resolve to what the lab tells of it. */
async function sendFile(place, file) {
  const sent = send(`${place}?name=${encodeURIComponent(file.name)}`, { body: file }).then((answer) => answer.json());
  flying.add(sent);
  return sent.finally(() => flying.delete(sent));
}

/** Resolve when every file that was given has arrived, or was refused. */
async function arrived() {
  do {
    await Promise.allSettled([...flying]);
    await new Promise((done) => setTimeout(done)); // whoever gave one takes note first, and gives the next
  } while (flying.size);
}

/** Send a file to the lab; resolve to its frame. The file is kept, for a server that is started again. */
async function upload(file) {
  const frame = keep(await sendFile("/api/frames", file));
  lab.uploads.set(frame.id, file);
  tell("frames");
  return frame;
}

/** Send a file of readings to the lab; resolve to what it is: {id, name, told}. */
const uploadReading = (file, kind) => sendFile(`/api/readings/${kind}`, file);

/** Send an operator's file to the lab; resolve to the name that chains call it by. */
async function uploadFile(file) {
  const { name } = await sendFile("/api/files", file);
  if (!lab.start.files.includes(name)) lab.start.files.push(name);
  lab.givenFiles.set(name, file);
  tell("files");
  return name;
}

/** The frame without the mode that its id may end in. */
const baseOf = (id) => (id ?? "").split("@")[0];

/** Resolve to a frame by its id, asked for where it is a known one in another mode; null for none. */
async function frameOf(id) {
  if (!lab.frames.has(id) && lab.frames.has(baseOf(id))) keep(await getJson(`/api/frames/${encodeURIComponent(id)}`));
  return lab.frames.get(id) ?? null;
}

/** Take all files; the first becomes the frame on the bench. Parameters: told(words) : says what goes on */
async function give(files, told) {
  let first = null;
  for (const file of files) {
    told(`Reading ${file.name} …`);
    try {
      first ??= await upload(file);
      told("");
    } catch (reason) {
      if (reason.name !== "AbortError") told(about(file.name, reason.message));
      return null;
    }
  }
  if (first && !first.still) told(`${first.name} is a clip: the bench takes stills; jobs that take clips find it in their lists.`);
  else if (first) setFrame(first.id);
  return first;
}

/** After the server was started again: give it again what it had by upload. */
async function giveAgain() {
  for (const frame of await getJson("/api/frames")) keep(frame);
  const there = new Set((await getJson("/api/frames")).map(({ id }) => id));
  for (const [id, file] of lab.uploads) if (!there.has(id)) await upload(file).catch(() => {});
  for (const file of lab.givenFiles.values()) await uploadFile(file).catch(() => {});
  const missing = [...lab.frames.keys()].filter((id) => !there.has(baseOf(id)) && !lab.uploads.has(baseOf(id)));
  missing.forEach((id) => lab.frames.delete(id));
  tell("frames");
}

const titled = ({ id, name, mode, lines, samples, still }) =>
  `${name} (${samples} × ${lines}${still ? "" : ", a clip"}${id.includes("@") ? `, as ${mode}` : ""})`;

/** Fill a select with all frames, by kind. Parameters: fits(frame) : which of them */
function fill(select, chosen = select.value, fits = ({ still }) => still) {
  const group = ([kind, label]) => {
    const own = [...lab.frames.values()].filter((frame) => frame.kind === kind && fits(frame));
    const options = own.map((frame) => new Option(titled(frame), frame.id));
    return own.length ? [element("optgroup", { label }, ...options)] : [];
  };
  const unset = chosen && lab.frames.has(chosen) ? [] : [new Option(fits({ still: false, id: "" }) ? "choose a clip or a frame" : "choose a frame", "")];
  select.replaceChildren(...unset, ...KINDS.flatMap(group));
  select.value = chosen && lab.frames.has(chosen) ? chosen : "";
}

/** The source at the head of the path: which frame, and another by file. */
class Frames {
  constructor(host) {
    this.select = host.querySelector("select");
    this.file = host.querySelector("input[type=file]");
    this.told = host.querySelector("[data-told]");
    [this.modes, this.mode] = [host.querySelector("[data-modes]"), host.querySelector("#frame-mode")];
    this.mode.onchange = () => this.read(this.mode.value);
    this.facts = host.querySelector("[data-facts]");
    this.select.onchange = () => this.select.value && setFrame(this.select.value);
    this.file.onchange = () => {
      give([...this.file.files], (words) => this.say(words));
      this.file.value = "";
    };
    on("frame frames", () => this.show());
    this.listenToDrops();
    this.show();
  }

  say(words) {
    this.told.textContent = words;
  }

  show() {
    fill(this.select, baseOf(lab.frame), ({ still, id }) => still && !id.includes("@"));
    const frame = lab.frames.get(lab.frame);
    const first = lab.frames.get(baseOf(lab.frame));
    const other = (frame?.modes ?? []).filter((mode) => mode !== first?.mode);
    this.modes.hidden = !other.length;
    this.mode.replaceChildren(new Option(first?.mode ?? "", ""), ...other.map((mode) => new Option(mode, mode)));
    this.mode.value = frame === first ? "" : frame?.mode;
    this.facts.textContent = frame ? [`${frame.mode}: ${frame.lines} lines, ${frame.samples} samples`, ...frame.notes.map(ofThePage)].map(asSentence).join(" ") : "";
  }

  /** Take the frame in another of the modes that it may be of. */
  async read(mode) {
    const id = `${baseOf(lab.frame)}${mode && "@"}${mode}`;
    if (await frameOf(id).catch((reason) => this.say(reason.message))) setFrame(id);
  }

  listenToDrops() {
    const files = (event) => [...(event.dataTransfer?.types ?? [])].includes("Files");
    document.addEventListener("dragover", (event) => {
      if (!files(event)) return;
      event.preventDefault();
      document.body.classList.add("dropping");
    });
    const over = () => document.body.classList.remove("dropping");
    document.addEventListener("dragleave", (event) => event.relatedTarget ?? over());
    document.addEventListener("drop", (event) => {
      if (!files(event)) return;
      event.preventDefault();
      over();
      if (!event.target.closest("[data-own-drop]")) give([...event.dataTransfer.files], (words) => this.say(words));
    });
  }
}

const asSentence = (words) => `${words[0].toUpperCase()}${words.slice(1)}${words.endsWith(".") ? "" : "."}`;

/** A note written for the command line, with the name that this page has. */
function ofThePage(note) {
  return note.replace(/--mode\b/g, "“Read as”");
}

export { arrived, baseOf, fill, frameOf, Frames, give, giveAgain, keep, upload, uploadFile, uploadReading };
