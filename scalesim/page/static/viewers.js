// The viewers of a page: which of them open, and what a link asks of one.

/** Open the viewer of a place in the page, if it is not open yet. */
function viewerIn(host) {
  if (!host.viewer) {
    host.replaceChildren();
    host.viewer = createViewer(host, JSON.parse(document.getElementById(host.dataset.viewer).textContent));
  }
  return host.viewer;
}
for (const host of document.querySelectorAll("[data-viewer]")) {
  host.querySelector("button").addEventListener("click", () => {
    viewerIn(host);
    host.querySelector("button").focus({ preventScroll: true }); // the pressed one is gone
  }, { once: true });
}
// Only the first viewer opens by itself: thirty frames need not be decoded for one.
const firstViewer = document.querySelector("[data-viewer]");
if (firstViewer) viewerIn(firstViewer);

/** Show what a link asks for. */
function followAddress() {
  const asked = fragmentRead(location.hash);
  const host = asked && [...document.querySelectorAll("[data-viewer]")].find((each) => each.dataset.viewer === asked.name);
  if (!host) return;
  viewerIn(host).restore(asked);
  host.scrollIntoView();
}
followAddress();
addEventListener("hashchange", followAddress);

// A figure opens what it rests on, in the viewer of its frame.
document.addEventListener("click", ({ target }) => {
  const button = target.closest?.("[data-opens]");
  if (!button) return;
  const [part, measure, layer] = button.dataset.opens.split(" ");
  const host = [...document.querySelectorAll("[data-viewer]")].find((each) => each.dataset.viewer === `${part}-viewer`);
  if (!host) return;
  const viewer = viewerIn(host);
  history.pushState(history.state, ""); // so that "back" returns to the figure
  viewer.ready.then(() => viewer.marks.light(measure, layer, { at: 0 })).then(() => {
    host.scrollIntoView();
    viewer.panes[0].stage.focus({ preventScroll: true });
  });
});
