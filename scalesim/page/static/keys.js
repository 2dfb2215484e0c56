/** What keys mean in a picture that has the focus. */

const ARROWS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
const HELP = [
  ["Click, tap, Tab", "give a picture the wheel, fingers and keys"],
  ["Escape", "lets go"],
  ["1 to 9", "show that chain"],
  ["Space", "held, shows the source"],
  ["Enter", "goes back to the picture before"],
  ["drag, arrows", "move"],
  ["wheel, +, −", "zoom"],
  ["double click", "zooms in, with Shift out"],
  ["0", "whole picture"],
  ["X", "exact"],
  ["M", "magnifier"],
  ["S", "slice"],
  ["Shift + arrow", "moves magnifier and slice by one line or sample"],
  ["Ctrl + wheel", "zooms without a click first"],
];

/** Do what keys mean, until the signal. */
function listenToKeys(pane, signal) {
  const { stage } = pane;
  const listen = (kind, heard) => stage.addEventListener(kind, heard, { signal });
  listen("keydown", (event) => {
    if (event.ctrlKey || event.altKey || event.metaKey || !pressed(pane, event)) return;
    event.preventDefault();
  });
  listen("keyup", ({ key }) => key === " " && pane.peek(null));
  listen("blur", () => pane.peek(null));
}

/** Do what a key means in a pane; true if it means something. */
function pressed(pane, { key, shiftKey, repeat }) {
  const { viewer, stage, canvas } = pane;
  const letter = key.toLowerCase();
  if (key in ARROWS) {
    const [across, down] = ARROWS[key];
    if (shiftKey) pane.movePlace(across, down);
    else viewer.pan((across * canvas.width) / 8, (down * canvas.height) / 8);
  } else if (key === "+" || key === "=") viewer.zoom(1);
  else if (key === "-" || key === "_") viewer.zoom(-1);
  else if (key === "0") viewer.fit();
  else if (key >= "1" && key <= "9") showNumber(pane, Number(key));
  else if (key === " ") repeat || pane.peek(viewer.source);
  else if (key === "Enter") {
    if (viewer.mode !== "flip") return false;
    if (!repeat) pane.flip.back();
  } else if (letter === "x") viewer.exact();
  else if (letter === "m") viewer.lookBy("magnifier");
  else if (letter === "s") viewer.lookBy("slice");
  else if (key === "Escape") stage.blur();
  else return false;
  return true;
}

function showNumber(pane, number) {
  const id = pane.viewer.contestants[number - 1];
  if (id) pane.flip.to(id);
}

export { HELP, listenToKeys };
