/**
 * The address's fragment: which viewer, how it is arranged, what it shows, where and how large.
 *
 *   #see=frame-1-viewer&as=flip&show=01-01,01-02&at=640,480.5&zoom=3&closer=slice&on=650,482
 */

const places = (value) => Math.round(value * 100) / 100;

/** Return what a viewer shows, as a fragment without "#". */
function fragmentOf(viewer) {
  const { centreX, centreY, scale, fitted } = viewer.view;
  const parts = [
    ["see", viewer.name],
    ["as", viewer.mode],
    ["show", viewer.pair.join(",")],
    ...(fitted ? [["zoom", "whole"]] : [["at", `${places(centreX)},${places(centreY)}`], ["zoom", places(scale)]]),
    ...(viewer.look ? [["closer", viewer.look], ["on", `${places(viewer.place.x)},${places(viewer.place.y)}`]] : []),
    ...(viewer.marks.seen ? [["lit", viewer.marks.seen]] : []),
  ];
  return parts.map(([key, value]) => `${key}=${encodeURIComponent(value).replaceAll("%2C", ",")}`).join("&");
}

/** Return what a fragment asks for, null when it is none of ours. */
function fragmentRead(hash) {
  const found = new URLSearchParams(hash.replace(/^#/, ""));
  if (!found.get("see")) return null;
  const pairOf = (key) => (found.get(key) ?? "").split(",").map(Number);
  const [centreX, centreY] = pairOf("at");
  const [x, y] = pairOf("on");
  return {
    name: found.get("see"),
    mode: found.get("as"),
    pair: (found.get("show") ?? "").split(",").filter(Boolean),
    whole: found.get("zoom") === "whole",
    view: { centreX, centreY, scale: Number(found.get("zoom")) },
    look: found.get("closer"),
    place: { x, y },
    lit: found.get("lit"),
  };
}

/** Keep the address as the viewer is, from the first change of it on. */
function keepAddress(viewer, signal) {
  let before = fragmentOf(viewer);
  let timer = null;
  const keep = () => {
    const now = fragmentOf(viewer);
    if (now === before || signal.aborted) return;
    before = now;
    history.replaceState(history.state, "", `#${now}`);
  };
  viewer.onChange(() => {
    clearTimeout(timer);
    timer = setTimeout(keep, 200);
  });
}

export { fragmentOf, fragmentRead, keepAddress };
