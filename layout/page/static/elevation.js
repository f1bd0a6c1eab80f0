// One face as it is seen from the soil side, drawn by the server; in a shadow tree, so that its style stays its own.

import {el, find, show} from "./dom.js";
import {ask, at, store} from "./store.js";

const MOST_DRAWN = 200; // faces that the server draws
const LEAST = 0.25;
const LEGIBLE = 0.7; // the smallest size at which a phone shows a drawing unasked
const NARROW = matchMedia("(max-width: 1099px)");
let zoom = 0; // 0 fits the pane
let shown = "";
let size = [1, 1];

export function startElevation() {
  const place = find("elevation");
  place.attachShadow({mode: "open"});
  find("fit").addEventListener("click", () => scaled(0));
  find("larger").addEventListener("click", () => scaled((zoom || fitted()) * 1.4));
  find("smaller").addEventListener("click", () => scaled(Math.max((zoom || fitted()) / 1.4, LEAST)));
  new ResizeObserver(() => scaled(zoom)).observe(place);
}

export async function drawElevation(selected) {
  const [run, face] = selected.split("/").map(Number);
  const told = at(["runs", run, "faces", face]);
  const drawn = store.answer?.drawings[selected];
  const key = `${selected} ${store.answer?.revision}`;
  show(find("face-title"), told ? `${at(["runs", run, "name"]) ?? ""} · ${told.name || `face ${face + 1}`}${drawn?.drops ? `: ${drawn.drops}` : ""}` : "Elevation");
  if (!drawn) {
    shown = "";
    put(el("p", {text: store.state.job.runs.flatMap((each) => each?.faces || []).length > MOST_DRAWN
      ? "Elevations of a job of so many faces are seen in its packet." : told?.length && told.top && store.answer?.revision !== store.state.revision ? "This face is being drawn."
        : told ? "A length and a wall top draw this face." : "Each face appears here as it is seen from the soil side."}), "");
    return;
  }
  if (key === shown) return;
  shown = key;
  let made;
  try {
    made = await ask(`drawing/${selected}`);
  } catch {
    if (shown === key) shown = "";
    return;
  }
  if (shown !== key) return;
  const parsed = new DOMParser().parseFromString(made.markup.replace("<svg", '<svg xmlns="http://www.w3.org/2000/svg"'), "image/svg+xml");
  const picture = document.importNode(parsed.documentElement, true);
  if (picture.localName !== "svg") return;
  for (const piece of picture.querySelectorAll("[tabindex]")) {
    piece.removeAttribute("tabindex");
    piece.removeAttribute("role");
  }
  picture.setAttribute("role", "img");
  size = [Number(picture.getAttribute("width")), Number(picture.getAttribute("height"))];
  put(picture, made.css);
  scaled(zoom);
}

function put(child, css) {
  const tree = find("elevation").shadowRoot;
  const sheet = new CSSStyleSheet();
  sheet.replaceSync(`${css}\n:host{display:block} svg{display:block;margin:auto} p{margin:1rem;color:#55524a}`);
  tree.adoptedStyleSheets = [sheet];
  tree.replaceChildren(child);
}

function fitted() {
  const place = find("elevation");
  const high = place.clientHeight / size[1];
  // on a phone the height is filled and the rest is a swipe away, or nothing could be read
  return (NARROW.matches ? Math.max(high, LEGIBLE) : Math.min(place.clientWidth / size[0], high, 1.6)) || 1;
}

function scaled(to) {
  zoom = to;
  const picture = find("elevation").shadowRoot.querySelector("svg");
  if (!picture) return;
  const by = zoom || fitted();
  picture.style.width = `${size[0] * by}px`;
  picture.style.height = `${size[1] * by}px`;
}
