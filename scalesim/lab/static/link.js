/**
 * The address's fragment holds the chain, the frame and the view; the session keeps the rest, so that a
 * reload loses nothing.
 *
 *   #chain=…&off=2&frame=ID&display=KEY&show=raster,glass&as=beside&at=640,480&zoom=3
 */

import { postJson } from "./api.js";
import { frameOf } from "./frames.js";
import { lab, on, setChain, tell } from "./store.js";
import { chainText } from "./text.js";

const KEEP_MS = 250;
const STORE = "scalesim-lab";
let missing = ""; // a frame of the address that came as a file: named until there is another
const places = (value) => Math.round(value * 100) / 100;

/** Return the fragment, without "#". */
function fragmentOf(pictures) {
  const off = lab.stages.flatMap((stage, at) => (stage.off ? [at + 1] : []));
  const { viewer } = pictures;
  const parts = [
    ["chain", chainText(lab, true)],
    ["off", off.join(",")],
    ["frame", lab.frame ?? missing],
    ["tab", lab.tab === "explore" ? "" : (lab.tab ?? "")],
    ["display", lab.display?.key ?? ""],
    ["tube", Object.entries(lab.display?.values ?? {}).map(([key, value]) => `${key}:${value}`).join(";")],
  ];
  if (viewer) {
    const { centreX, centreY, scale, fitted } = viewer.view;
    parts.push(["show", (viewer.mode === "beside" ? viewer.panes.map(({ wanted }) => wanted[0]) : viewer.pair).join(",")], ["as", viewer.mode]);
    if (!fitted) parts.push(["at", `${places(centreX)},${places(centreY)}`], ["zoom", places(scale)]);
  }
  return parts.filter(([, value]) => value !== "").map(([key, value]) => `${key}=${encodeURIComponent(value)}`).join("&");
}

/** What of the session no fragment holds. */
const session = () => JSON.stringify({
  variants: lab.variants.map(({ blob, place, ...each }) => each),
  against: lab.variants.indexOf(lab.against),
  captures: lab.captures,
  displays: lab.start.displays.filter(({ toml }) => toml),
  dials: lab.dials.map(({ uid, ...dial }) => ({ ...dial, at: lab.stages.findIndex((each) => each.uid === uid) })),
});

/** Put on the bench what the address and the session hold, then keep both in step. */
async function restore(pictures) {
  const asked = new URLSearchParams(location.hash.slice(1));
  restoreDisplays();
  await restoreChain(asked).catch((reason) => tell("refused", { error: reason.message }));
  restoreView(asked, pictures);
  restoreSession();
  let timer = null;
  let last = location.hash;
  on("chain display frame view variants against captures", () => {
    clearTimeout(timer);
    timer = setTimeout(() => {
      last = `#${fragmentOf(pictures)}`;
      history.replaceState(history.state, "", last);
      keepSession();
    }, KEEP_MS);
  });
  window.addEventListener("hashchange", () => location.hash !== last && location.reload());
  shareLink(pictures);
}

async function restoreChain(asked) {
  if (asked.get("chain")) {
    const found = await postJson("/api/chain", { text: asked.get("chain") });
    if (!found.ok) throw new Error(`The address's chain: ${found.error}`);
    const off = new Set((asked.get("off") ?? "").split(",").map(Number));
    found.stages.forEach((stage, at) => (stage.off = off.has(at + 1)));
    setChain(found);
  }
  const display = lab.start.displays.find(({ key }) => key === asked.get("display"));
  if (display) {
    const values = (asked.get("tube") ?? "").split(";").filter(Boolean).map((pair) => [pair.slice(0, pair.indexOf(":")), pair.slice(pair.indexOf(":") + 1)]);
    lab.display = { key: display.key, values: Object.fromEntries(values), ...(display.toml ? { toml: display.toml } : {}) };
  }
  const frame = asked.get("frame");
  if (!frame) return;
  if (await frameOf(frame).catch(() => null)) return void (lab.frame = frame);
  missing = frame;
  tell("refused", { error: "The frame of this address came as a file and is not kept: give the file again, below “Source”." });
}

function restoreView(asked, pictures) {
  const show = (asked.get("show") ?? "").split(",").filter(Boolean);
  if (show.length) pictures.wanted = show;
  if (["beside", "wipe", "flip"].includes(asked.get("as"))) pictures.mode = asked.get("as");
  const [centreX, centreY] = (asked.get("at") ?? "").split(",").map(Number);
  const scale = Number(asked.get("zoom"));
  if ([centreX, centreY, scale].every(Number.isFinite) && scale > 0) pictures.seen = { centreX, centreY, scale };
}

/** What the session kept, {} for nothing. */
function kept() {
  try {
    return JSON.parse(sessionStorage.getItem(STORE) ?? "{}");
  } catch {
    return {}; // an older page kept something else there
  }
}

/** Displays that came as files. */
function restoreDisplays() {
  lab.start.displays.push(...(kept().displays ?? []));
}

function restoreSession() {
  try {
    const { variants = [], captures = [], against = -1, dials = [] } = kept();
    Object.assign(lab, { variants, captures });
    lab.against = variants[against] ?? null;
    lab.dials = dials.filter(({ at }) => lab.stages[at]).map((dial) => ({ ...dial, uid: lab.stages[dial.at].uid }));
    tell("variants");
  } catch {
    // an older page kept something else there
  }
}

function keepSession() {
  try {
    sessionStorage.setItem(STORE, session());
  } catch {
    // full, or not allowed: the address still holds the bench
  }
}

function shareLink(pictures) {
  const button = document.querySelector("[data-do=link]");
  button.onclick = async () => {
    history.replaceState(history.state, "", `#${fragmentOf(pictures)}`);
    const done = await navigator.clipboard?.writeText(location.href).then(() => true, () => false);
    button.textContent = done ? "Copied" : "In address";
    setTimeout(() => (button.textContent = "Link"), 2500);
  };
}

export { fragmentOf as fragmentNow, restore };
