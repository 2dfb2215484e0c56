/**
 * What the lab holds: the frame, the chain's stages, the display, the variants; with undo and redo.
 *
 * A stage is {uid, kind, keys: {name: text}, off}. Keys that are not given have their default.
 * Whoever changes something calls `changed(what)`; parts of the page listen by `on(what, callback)`.
 */

import { atAddress } from "./text.js";

const MOST_STEPS = 200;
const SETTLE_MS = 600;

const lab = {
  start: null, // what /api/start gave
  frames: new Map(), // id -> frame
  givenFiles: new Map(), // name -> File of an operator, likewise
  uploads: new Map(), // id -> File, to be given again to a server that was started anew
  frame: null,
  name: "",
  stages: [],
  dials: [],
  display: null, // {key, values}
  variants: [],
  captures: [], // that came into the watched folder, the last at the end
  against: null, // a variant that numbers and the difference are held against
  facts: null,
  numbers: null,
};

const listeners = new Map();
let made = 0;

function on(what, callback) {
  what.split(" ").forEach((each) => listeners.set(each, [...(listeners.get(each) ?? []), callback]));
}

function tell(what, detail) {
  (listeners.get(what) ?? []).forEach((callback) => callback(detail));
}

const stageOf = ({ kind, keys = {}, off = false }) => ({ uid: ++made, kind, keys: { ...keys }, off });

// Undo and redo

const past = [];
let future = [];
let now = null;
let timer = null;

const snapshot = () => JSON.stringify({ name: lab.name, stages: lab.stages, display: lab.display, dials: lab.dials });

/** Take the present state as one step of undo, if it differs from the last. */
function settle() {
  clearTimeout(timer);
  const next = snapshot();
  if (next === now) return;
  if (now !== null) past.push(now);
  if (past.length > MOST_STEPS) past.shift();
  now = next;
  future = [];
  tell("history");
}

/** The chain or the display changed; a step of undo is taken once it rests. */
function changed(what, { done = false } = {}) {
  tell(what);
  clearTimeout(timer);
  if (done) settle();
  else timer = setTimeout(settle, SETTLE_MS);
}

function travel(from, to) {
  settle();
  if (!from.length) return;
  to.push(now);
  now = from.pop();
  Object.assign(lab, JSON.parse(now));
  tell("chain");
  tell("display");
  tell("history");
}

const undo = () => travel(past, future);
const redo = () => travel(future, past);
const canUndo = () => past.length > 0;
const canRedo = () => future.length > 0;

/**
 * Put another chain in place of the present one.
 *
 * Parameters: dials : the steps of boxes, by a key's address; null keeps those of the boxes that stay
 */
function setChain({ name = "", stages, dials = [] }) {
  const before = lab.stages;
  lab.name = name;
  const left = [...before];
  lab.stages = stages.map((stage) => {
    const same = left.findIndex(({ kind }) => kind === stage.kind); // the same box, set anew
    return { ...stageOf(stage), ...(same < 0 ? {} : { uid: left.splice(same, 1)[0].uid }) };
  });
  const stays = ({ uid }) => lab.stages.some((each) => each.uid === uid);
  lab.dials = dials === null ? lab.dials.filter(stays) : dials.flatMap((dial) => {
    const found = atAddress(lab.stages, dial.key, true);
    return found ? [{ ...dial, key: found.key, uid: found.stage.uid }] : [];
  });
  changed("chain", { done: true });
}

function setFrame(id) {
  lab.frame = id;
  tell("frame");
}

const schemaOf = (kind) => lab.start.stages.find((each) => each.kind === kind);

export { canRedo, canUndo, changed, lab, on, redo, schemaOf, setChain, setFrame, settle, stageOf, tell, undo };
