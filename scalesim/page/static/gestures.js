/** Pointers, fingers and the wheel on a pane. */

const WHEEL_STEP = 50; // CSS pixels of wheel travel to a zoom step; a mouse notch is more than this
const GRAB = 14; // CSS pixels by which a finger or pointer may miss a divider
const TAP = 8; // CSS pixels that a finger may move in a tap

function listenToGestures(pane, signal) {
  const { viewer, stage, canvas, wipe } = pane;
  const pointers = new Map();
  let wiping = false;
  let tapped = null;
  const listen = (kind, heard, more = {}) => stage.addEventListener(kind, heard, { signal, ...more });
  const dotAt = (event) => {
    const box = canvas.getBoundingClientRect();
    const dots = canvas.width / box.width;
    return { x: (event.clientX - box.left) * dots, y: (event.clientY - box.top) * dots, dots };
  };
  const overDivider = ({ x, dots }) => pane.ids.length === 2 && Math.abs(x - wipe.cut) < GRAB * dots;
  const look = (at) => viewer.look &&
    viewer.setPlace(pane.placeAt({ x: Math.floor(at.x) + 0.5, y: Math.floor(at.y) + 0.5 }));
  const end = (event) => {
    pointers.delete(event.pointerId);
    wiping = wiping && pointers.size > 0;
  };
  const drag = (event, before, at) => {
    const other = [...pointers].find(([id]) => id !== event.pointerId)?.[1];
    pointers.set(event.pointerId, at);
    if (wiping) wipe.set(at.x / canvas.width);
    else if (other) viewer.pinch(pane, before, at, other);
    else viewer.pan(before.x - at.x, before.y - at.y);
  };
  listen("pointerdown", (event) => {
    if (event.button !== 0) return;
    stage.setPointerCapture(event.pointerId);
    const at = dotAt(event);
    tapped = pointers.size ? null : at;
    if (!pointers.size) wiping = overDivider(at);
    pointers.set(event.pointerId, at);
    look(at);
  });
  listen("pointermove", (event) => {
    const at = dotAt(event);
    look(at);
    if (tapped && Math.hypot(at.x - tapped.x, at.y - tapped.y) > TAP * at.dots) tapped = null;
    stage.classList.toggle("viewer-over-divider", wiping || overDivider(at));
    const before = pointers.get(event.pointerId);
    if (before && (!tapped || wiping)) drag(event, before, at);
  });
  listen("pointerup", (event) => {
    if (tapped && event.pointerType !== "mouse" && viewer.mode === "flip" && !viewer.look) pane.flip.back();
    tapped = null;
  });
  ["pointerup", "pointercancel", "lostpointercapture"].forEach((kind) => listen(kind, end));
  listen("dblclick", (event) => viewer.zoom(event.shiftKey ? -1 : 1, pane, dotAt(event)));
  listenToWheel(pane, dotAt, listen);
}

function listenToWheel(pane, dotAt, listen) {
  const { viewer, stage } = pane;
  let travel = 0;
  listen("wheel", (event) => {
    if (!event.ctrlKey && document.activeElement !== stage) return;
    event.preventDefault();
    const pixels = event.deltaMode === 0 ? event.deltaY : event.deltaY * WHEEL_STEP;
    travel = pixels * travel < 0 ? pixels : travel + pixels;
    if (Math.abs(travel) < WHEEL_STEP) return;
    viewer.zoom(travel < 0 ? 1 : -1, pane, dotAt(event));
    travel = 0;
  }, { passive: false });
}

export { listenToGestures };
