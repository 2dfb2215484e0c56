/** The drawing of a tuning curve: a slider to a screen reader, a plot to the eye. */

import { numberOf, same } from "./text.js";
import { shape } from "./viewer/dom.js";

const HEIGHT = 230;
const [LEFT, RIGHT, TOP, BOTTOM] = [62, 18, 26, 42];

/** Pleasant numbers between two, about `count` of them. */
function ticks(low, high, count) {
  const rough = (high - low || 1) / count;
  const ten = 10 ** Math.floor(Math.log10(rough));
  const by = [1, 2, 5, 10].map((each) => each * ten).find((each) => each >= rough);
  const found = [];
  for (let at = Math.ceil(low / by - 1e-9) * by; at <= high + by * 1e-9; at += by) found.push(+at.toPrecision(10));
  return found;
}

/**
 * Return the drawing. Parameters: found : the curve's record; now : the dial's text, "" where the chain stands beside
 * the curve; set(point) : turns it
 */
function drawCurve(found, { now, width, unit, share, set }) {
  const points = found.points.map(({ value, set, score }) => ({ text: value, set, value: numberOf(value), score: score === null ? null : score * (share ? 100 : 1) }));
  const known = points.filter(({ score }) => score !== null);
  const [low, high] = [points[0].value, points.at(-1).value];
  const least = Math.min(...known.map(({ score }) => score));
  const top = Math.max(...known.map(({ score }) => score));
  const most = top - least > 1e-9 * Math.abs(top) ? top : least + (Math.abs(least) || 1); // all the same is a flat line
  const down = found.better === "lower"; // words stand where the curve is not: below the lowest, above the highest
  const bottom = least - (down ? 0.2 : 0.08) * (most - least);
  const x = (value) => LEFT + ((value - low) / (high - low || 1)) * (width - LEFT - RIGHT);
  const y = (score) => TOP + ((most - score) / (most - bottom)) * (HEIGHT - TOP - BOTTOM);
  const wordAt = (score) => y(score) + (down ? 20 : -11);
  const here = Number.isNaN(numberOf(now)) ? null : nearest(points, numberOf(now));
  const said = here ? `${here.text} : ${here.score === null ? "no value" : `${here.score.toFixed(1)} ${unit}`}${mark(found, here)}` : "beside the curve";
  const root = shape("svg", {
    viewBox: `0 0 ${width} ${HEIGHT}`, width, height: HEIGHT, role: "slider", tabindex: 0, class: "curve-plot",
    "aria-label": `${found.key}, along the curve of ${found.label}`, "aria-valuemin": low, "aria-valuemax": high,
    "aria-valuenow": here?.value ?? low, "aria-valuetext": said,
  });
  root.append(...axes({ low, high, bottom, most, x, y, width, found, unit }));
  const line = known.map(({ value, score }) => `${x(value).toFixed(1)},${y(score).toFixed(1)}`).join(" ");
  root.append(shape("polyline", { points: line, class: "curve-line" }));
  const few = known.length < 90;
  for (const point of known) {
    const word = mark(found, point);
    if (!few && !word) continue;
    root.append(shape("circle", { cx: x(point.value), cy: y(point.score), r: word ? 6 : 2.5, class: word.includes("best") ? "curve-best" : word ? "curve-tie" : "curve-dot" }));
    if (word.includes("best")) root.append(shape("text", { x: x(point.value), y: wordAt(point.score), "text-anchor": "middle", class: "curve-word" }, "best"));
  }
  const tied = known.filter((point) => mark(found, point).includes("tie"));
  const first = tied.find(({ value }) => x(value) > LEFT + 50) ?? tied[0]; // clear of the axis's numbers
  if (first) root.append(shape("text", { x: x(first.value), y: wordAt(first.score), "text-anchor": "middle" }, tied.length > 1 ? `tie (1 of ${tied.length})` : "tie"));
  if (!Number.isNaN(numberOf(now))) {
    const at = Math.min(Math.max(x(numberOf(now)), LEFT), width - RIGHT);
    root.append(shape("line", { x1: at, x2: at, y1: TOP - 8, y2: HEIGHT - BOTTOM, class: "curve-now" }));
    root.append(shape("text", { x: at, y: 12, "text-anchor": "middle", class: "curve-word" }, `now ${now.replace("-", "−")}`));
  }
  listen(root, points, { width, low, high, here, set });
  return root;
}

function mark(found, point) {
  if (!point) return "";
  if (same(found.best, point.text)) return ", best";
  return found.ties.some((tie) => same(tie, point.text)) ? ", a tie" : "";
}

const nearest = (points, value) =>
  points.reduce((best, each) => (Math.abs(each.value - value) < Math.abs(best.value - value) ? each : best), points[0]);

function axes({ low, high, bottom, most, x, y, width, found, unit }) {
  const made = [];
  for (const at of ticks(bottom, most, 4)) {
    made.push(shape("line", { x1: LEFT, x2: width - RIGHT, y1: y(at), y2: y(at), class: "curve-grid" }));
    made.push(shape("text", { x: LEFT - 8, y: y(at) + 4, "text-anchor": "end" }, `${at}`.replace("-", "−")));
  }
  for (const at of ticks(low, high, Math.max(4, Math.min(10, width / 90)))) {
    made.push(shape("line", { x1: x(at), x2: x(at), y1: HEIGHT - BOTTOM, y2: HEIGHT - BOTTOM + 5, class: "curve-axis" }));
    made.push(shape("text", { x: x(at), y: HEIGHT - BOTTOM + 18, "text-anchor": "middle" }, `${at}`.replace("-", "−")));
  }
  made.push(shape("line", { x1: LEFT, x2: width - RIGHT, y1: HEIGHT - BOTTOM, y2: HEIGHT - BOTTOM, class: "curve-axis" }));
  made.push(shape("text", { x: width - RIGHT, y: HEIGHT - 6, "text-anchor": "end" }, found.dial));
  const better = { lower: "lower is better", higher: "higher is better" }[found.better] ?? "";
  made.push(shape("text", { x: 4, y: HEIGHT - 6 }, [found.label, unit, better].filter(Boolean).join(", ")));
  return made;
}

function listen(root, points, { width, low, high, here, set }) {
  const at = (event) => {
    const box = root.getBoundingClientRect();
    const share = ((event.clientX - box.left) * (width / box.width) - LEFT) / (width - LEFT - RIGHT);
    return nearest(points, low + share * (high - low));
  };
  root.onclick = (event) => set(at(event));
  root.onkeydown = (event) => {
    const from = points.indexOf(here);
    const to = { ArrowLeft: from - 1, ArrowDown: from - 1, ArrowRight: from + 1, ArrowUp: from + 1, Home: 0, End: points.length - 1 }[event.key];
    if (to === undefined) return;
    event.preventDefault();
    set(points[Math.min(Math.max(to, 0), points.length - 1)]);
  };
}

export { drawCurve };
