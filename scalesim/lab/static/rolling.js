/** Scrolling while something is dragged: a place that is out of sight comes into it at the edges. */

const EDGE = 48; // pixels from the edge of what scrolls
const PER_FRAME = 12;

/** What scrolls about an element: the nearest box that does, else the page. */
function scrolled(element) {
  for (let each = element.parentElement; each; each = each.parentElement) {
    if (each.scrollHeight > each.clientHeight && /auto|scroll/.test(getComputedStyle(each).overflowY)) return each;
  }
  return document.scrollingElement;
}

/** Return {at(clientY), end()}; moved(clientY) is called after each step of the scroll. */
function rollAtEdges(element, moved) {
  const host = scrolled(element);
  let clientY = null;
  let frame = requestAnimationFrame(function step() {
    frame = requestAnimationFrame(step);
    if (clientY === null) return;
    const { top, bottom } = host === document.scrollingElement ? { top: 0, bottom: innerHeight } : host.getBoundingClientRect();
    const over = Math.min(clientY - Math.max(top, 0) - EDGE, 0) + Math.max(clientY - Math.min(bottom, innerHeight) + EDGE, 0);
    const before = host.scrollTop;
    host.scrollTop += Math.sign(over) * Math.min(Math.abs(over), PER_FRAME);
    if (host.scrollTop !== before) moved(clientY);
  });
  return { at: (y) => (clientY = y), end: () => cancelAnimationFrame(frame) };
}

export { rollAtEdges };
