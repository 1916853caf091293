// Elements of the page, made from plain data; texts are always texts.

/** h("p", {class: "note"}, "text", child) */
export function h(tag, properties = {}, ...children) {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(properties)) {
    if (value === undefined || value === null || value === false) continue;
    if (name.startsWith("on")) element.addEventListener(name.slice(2), value);
    else if (name === "value") element.value = value;
    else if (name === "checked") element.checked = value;
    else if (value === true) element.setAttribute(name, "");
    else element.setAttribute(name, value);
  }
  element.append(...children.flat(Infinity).filter((child) => child !== null && child !== undefined && child !== false));
  return element;
}

export function fill(element, ...children) {
  element.replaceChildren(...children.flat(Infinity).filter((child) => child !== null && child !== undefined && child !== false));
  return element;
}

let count = 0;
export const unique = (name) => `${name.replace(/[^A-Za-z0-9_-]/g, "-")}-${++count}`;

/** A picture that the judgement drew, as an element: no script in it is ever run, its style is the page's own. */
export function picture(svg) {
  const read = new DOMParser().parseFromString(svg, "image/svg+xml").documentElement;
  if (read.localName !== "svg") return h("p", {});
  for (const inside of read.querySelectorAll("script, foreignObject, style")) inside.remove();
  return document.importNode(read, true);
}
