/** Elements and small numbers that every part of the viewer uses. */

const clamp = (value, low, high) => Math.min(Math.max(value, low), high);

/** Make an element; strings among the children become text, never markup. */
function element(tag, properties = {}, ...children) {
  const made = document.createElement(tag);
  for (const [name, value] of Object.entries(properties)) {
    if (name in made) made[name] = value;
    else made.setAttribute(name, value);
  }
  made.append(...children);
  return made;
}

/** Make an element of a drawing (SVG). */
function shape(tag, attributes = {}, text = "") {
  const made = document.createElementNS("http://www.w3.org/2000/svg", tag);
  for (const [name, value] of Object.entries(attributes)) made.setAttribute(name, value);
  made.textContent = text;
  return made;
}

/** Write a text only where it differs, so that a status is not read out again. */
function write(node, text) {
  if (node.textContent !== text) node.textContent = text;
}

/** A button that is on or off. */
function toggle(text, onclick, more = {}) {
  const made = element("button", { type: "button", onclick, ...more }, text);
  made.setAttribute("aria-pressed", "false");
  return made;
}

export { clamp, element, shape, toggle, write };
