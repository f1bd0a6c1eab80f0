// Elements made from names and properties; nothing is ever parsed as markup here.

export function el(name, given = {}, ...children) {
  const made = document.createElement(name);
  fill(made, given);
  made.append(...children.flat(Infinity).filter((child) => child !== null && child !== undefined && child !== false));
  return made;
}

export function svg(name, given = {}, ...children) {
  const made = document.createElementNS("http://www.w3.org/2000/svg", name);
  for (const [key, value] of Object.entries(given)) made.setAttribute(key, value);
  made.append(...children.flat(Infinity).filter(Boolean));
  return made;
}

function fill(made, given) {
  for (const [key, value] of Object.entries(given)) {
    if (value === undefined || value === null || value === false) continue;
    if (key.startsWith("on")) made.addEventListener(key.slice(2), value);
    else if (key === "class") made.className = value;
    else if (key === "text") made.textContent = value;
    else if (key === "value") made.value = value;
    else made.setAttribute(key, value === true ? "" : value);
  }
}

export const find = (id) => document.getElementById(id);

export function show(element, words) {
  if (element.textContent !== words) element.textContent = words;
}
