/**
 * What the server tells by itself: arrivals, and signs of life.
 *
 * A browser opens six connections to a server and no more, and one that listens takes one for as long as it
 * is open: of all tabs of a lab one listens, and passes on to the others what it hears.
 */

const NAME = "scalesim-lab-events";
const LOST = { kind: "lost" };

/** Parameters: take(message) : called with each message; {kind: "lost"} when the server stopped talking */
function listen(take) {
  if (!navigator.locks || !globalThis.BroadcastChannel) return hear(take);
  const others = new BroadcastChannel(NAME);
  others.onmessage = ({ data }) => take(data);
  const pass = (message) => (take(message), others.postMessage(message));
  const forAsLongAsThisTabIsThere = new Promise(() => {});
  navigator.locks.request(NAME, () => (hear(pass), forAsLongAsThisTabIsThere));
}

function hear(take) {
  const events = new EventSource("/api/events"); // it comes back by itself after the server was started again
  events.onmessage = ({ data }) => take(JSON.parse(data));
  events.onerror = () => take(LOST);
  events.onopen = () => take({ kind: "opened" });
}

export { listen };
