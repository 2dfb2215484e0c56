/** Pictures of the viewer from whatever they are given as to decoded bitmaps. */

import { element } from "./dom.js";

/** Keep a picture handed over by a lazily loaded script until it is decoded. */
function registerPicture(key, dataUri) {
  registerPicture.waiting.set(key, dataUri);
}
registerPicture.waiting = new Map();
globalThis.registerPicture ??= registerPicture; // one store, also for two copies of this module

/** Load a script that registers a picture; resolve to the data URI. */
async function loadScript({ script, key }) {
  const { waiting } = globalThis.registerPicture;
  if (!waiting.has(key)) {
    const tag = element("script", { src: script });
    await new Promise((resolve, reject) => {
      tag.onload = resolve;
      tag.onerror = () => reject(new Error(`${script} did not load`));
      document.head.append(tag);
    }).finally(() => tag.remove());
  }
  if (!waiting.has(key)) throw new Error(`${script} holds no picture “${key}”`);
  const uri = waiting.get(key);
  waiting.delete(key);
  return uri;
}

/** Decode any source. No colour conversion: the bitmap holds the file's own codes. */
async function decode(source) {
  if (source instanceof ImageBitmap) return source;
  if (typeof source === "function") source = await source();
  if (source?.script) source = await loadScript(source);
  if (typeof source === "string") source = element("img", { src: source });
  if (source instanceof HTMLImageElement) await source.decode();
  return createImageBitmap(source, { colorSpaceConversion: "none", premultiplyAlpha: "none" });
}

/** Decode a picture or field once; fill in its place. */
function load(picture) {
  picture.loading ??= decode(picture.source).then(
    (bitmap) => {
      picture.bitmap = bitmap;
      picture.width ??= bitmap.width;
      picture.height ??= bitmap.height;
    },
    (reason) => {
      picture.loading = null; // may be tried again
      throw reason;
    },
  );
  return picture.loading;
}

/** Free a decoded picture that this module made. */
function release(picture) {
  if (picture.bitmap !== picture.source) picture.bitmap?.close();
  picture.fields?.forEach(release);
}

export { load, registerPicture, release };
