/** The parts of an answer as its page has them: plots, pictures, tables, texts, linked pictures. */

import { element } from "./viewer/dom.js";
import { createViewer } from "./viewer/viewer.js";

const OPEN = 2; // parts that are seen at once; the others once they are opened

const link = (href, ...inside) => element("a", { href, target: "_blank", rel: "noopener" }, ...inside);

function picture({ source, opens, label, alt, caption, size }) {
  const [height, width] = size ?? [];
  const image = element("img", { src: source, alt, loading: "lazy", ...(size ? { height, width } : {}) });
  const words = element("figcaption", {}, element("strong", {}, label), label && caption ? ". " : "", caption);
  return element("figure", { className: "scroll", tabIndex: 0 }, opens ? link(opens, image) : image, words);
}

/** Drawn on paper, in both themes. */
const plot = ({ source, label, caption }) =>
  element("figure", { className: "on-paper" }, element("img", { src: source, alt: label, loading: "lazy" }),
    element("figcaption", {}, element("strong", {}, label), ". ", caption));

function table({ label, columns, rows, align, head, notes }) {
  const words = ({ text, quiet, best }) => [best ? element("strong", {}, text) : text, ...(quiet ? [" ", element("small", {}, quiet)] : [])];
  const side = (at) => (align[at] === "right" ? "right" : "");
  const cell = (each, at) => element(at === head ? "th" : "td", { className: side(at), ...(at === head ? { scope: "row" } : {}) }, ...words(each));
  const heads = columns.map((each, at) => element("th", { scope: "col", className: side(at) }, ...words(each)));
  const made = element("table", {}, element("caption", {}, label), element("thead", {}, element("tr", {}, ...heads)),
    element("tbody", {}, ...rows.map((row) => element("tr", {}, ...row.map(cell)))));
  const below = notes.map((note) => element("p", { className: "quiet" }, note));
  return element("div", { className: "scroll", tabIndex: 0, role: "region", "aria-label": label || "Table" }, made, ...below);
}

function viewer({ label, text, options }) {
  const host = element("div", { className: "result-viewer" });
  const start = Number.isFinite(options.start?.scale) ? options.start : "fit";
  queueMicrotask(() => createViewer(host, { ...options, start, help: false }));
  return element("div", {}, element("h5", {}, label), ...text.map((each) => element("p", {}, each)), host);
}

const code = ({ text, label }) => element("div", {}, label ? element("strong", {}, label) : "", element("pre", { className: "scroll", tabIndex: 0 }, text));

const links = ({ text, links: all }) => element("p", {}, text, ...all.flatMap(([place, words]) => [" ", link(place, words)]));

const MADE = { plot, picture, table, code, links, viewer };

/** Elements that show the parts, each under its title. */
function shownParts(parts) {
  return parts.map(({ title, text, items }, at) => {
    const inside = () => [...text.map((each) => element("p", {}, each)), ...items.map((item) => MADE[item.is](item))];
    const heading = element("h4", {}, title);
    if (at < OPEN) return element("section", { className: "part" }, heading, ...inside());
    const more = element("details", { className: "part" }, element("summary", {}, heading));
    more.addEventListener("toggle", () => more.append(...inside()), { once: true });
    return more;
  });
}

export { shownParts };
