// Puts the page together: tabs, drawings, figures, undo, and what moves the eye to what was just entered.

import {el, find, show} from "./dom.js";
import {drawElevation, startElevation} from "./elevation.js";
import {focusOn, whileRebuilding} from "./fields.js";
import {drop, notice} from "./notices.js";
import * as panels from "./panels.js";
import {drawPlan} from "./plan.js";
import {ask, at, busy, listen, name, overwrite, redo, start, store, undo} from "./store.js";
import {forgetOpen, moveByKey, walls} from "./walls.js";

const TABS = [
  ["job", "Job", panels.job, ["job", "units", "film_side_up"]], ["walls", "Walls", walls, ["runs"]],
  ["sheet", "Sheet", panels.sheet, ["sheet"]], ["rules", "Rules", panels.rules, ["rules"]],
  ["takeoff", "Takeoff", panels.takeoff, []], ["packet", "Packet", panels.packet, null],
];
const WIDE = matchMedia("(min-width: 1100px)");
const heldBy = {};
let tab = "walls";
let selected = "0/0";
let shape = "";
let told = 0;
let firstView = true;

const tabOf = (path) => {
  const found = TABS.find(([, , , keys]) => keys && keys.includes(path[0]));
  return found ? found[0] : path.length ? "takeoff" : "job";
};

// --- entries

// What of the job decides which fields there are; while it stays, only values change.
function shapeOf(value) {
  if (Array.isArray(value)) return `[${value.map(shapeOf).join()}]`;
  if (value && typeof value === "object") {
    return `{${Object.entries(value).filter(([, inner]) => inner && typeof inner === "object").map(([key, inner]) => key + shapeOf(inner)).join()}}`;
  }
  return "";
}

const looks = () => `${tab} ${store.state.unit} ${shapeOf(store.state.job)} ${store.state.runs.map((run) => Boolean(run.gap))} ${(store.state.job.runs || []).map((run) =>
  `${run?.name} ${run?.closed} ${run?.allow_gap} ${["lows", "highs", "drain"].map((key) => run?.[key] !== undefined)} ${(run?.faces || []).map((face) => [face?.name, face?.corner === "none"])}`)}`;

function render(force = false) {
  const now = looks();
  if (tab === "packet") {
    rebuild();
  } else if (now !== shape || force) {
    shape = now;
    rebuild();
  } else {
    for (const control of find("panels").querySelectorAll("[data-path]")) control.refresh?.();
  }
  marks();
}

function rebuild() {
  const panel = find("panels").querySelector(`#panel-${tab}`);
  const held = hold(panel);
  forgetOpen((key) => at(key.split(".").map((step) => (/^\d+$/.test(step) ? Number(step) : step))) !== undefined);
  whileRebuilding(() => panel.replaceChildren(...TABS.find(([key]) => key === tab)[2]().flat(Infinity).filter(Boolean)));
  restore(panel, held);
}

// Remember what is typed and where the cursor is, to have it back in the new fields.
function hold(panel) {
  const typing = [...panel.querySelectorAll("input[data-typing]")].map((input) => [input.id, input.value]);
  const here = document.activeElement;
  const inside = panel.contains(here) ? here : null;
  return {typing, id: inside?.id, label: inside?.getAttribute("aria-label"), add: inside?.dataset?.add,
    place: inside?.selectionStart ?? null, end: inside?.selectionEnd ?? null, top: panel.scrollTop};
}

function restore(panel, held) {
  for (const [id, words] of held.typing) {
    const input = document.getElementById(id);
    if (input && input.value !== words) {
      input.value = words;
      input.dispatchEvent(new Event("input"));
    }
  }
  const again = (held.id && document.getElementById(held.id))
    || (held.add && panel.querySelector(`[data-add="${CSS.escape(held.add)}"]`))
    || (held.label && panel.querySelector(`[aria-label="${CSS.escape(held.label)}"]`));
  if (again && panel.contains(again)) {
    again.focus({preventScroll: true});
    if (held.place !== null && again.setSelectionRange) again.setSelectionRange(held.place, held.end);
  }
  panel.scrollTop = held.top;
}

// --- faults

function marks() {
  const faults = store.state.faults;
  const lines = new Map([...document.querySelectorAll("[data-fault]")].map((line) => [line.dataset.fault, line]));
  const words = new Map();
  const doubts = store.answer?.revision === store.state.revision ? store.answer.warnings : [];
  for (const fault of [...faults, ...doubts.map((warning) => ({...warning, doubt: true, empty: false}))]) {
    const path = [...fault.path];
    if (tabOf(path) !== tab) continue;
    while (path.length && !lines.has(name(path))) path.pop();
    const key = name(path);
    const deeper = path.length < fault.path.length - 1 && tab === tabOf(fault.path) ? `${fault.where}: ` : "";
    const doubt = fault.doubt ? "look again: " : "";
    const text = fault.empty && path.length === fault.path.length ? "to fill in"
      : `${doubt}${deeper}${fault.what}${fault.got ? ` (got ${fault.got})` : ""}${fault.hint ? `; ${fault.hint}` : ""}`;
    words.set(key, {text: [...(words.get(key)?.text || []), text], empty: (words.get(key)?.empty ?? true) && fault.empty,
      doubt: (words.get(key)?.doubt ?? true) && Boolean(fault.doubt)});
  }
  for (const [key, line] of lines) {
    const said = words.get(key);
    show(line, said ? `${line.dataset.label ? `${line.dataset.label}: ` : ""}${said.text.join(". ")}` : "");
    line.classList.toggle("needed", Boolean(said?.empty));
    line.classList.toggle("doubt", Boolean(said?.doubt));
    const control = document.getElementById(`f:${key}`);
    if (control) {
      if (said && !said.empty && !said.doubt) control.setAttribute("aria-invalid", "true");
      else control.removeAttribute("aria-invalid");
      control.closest(".field").classList.toggle("wrong", Boolean(said && !said.empty && !said.doubt));
      control.closest(".field").classList.toggle("needs", Boolean(said?.empty));
    }
  }
  for (const [key] of TABS) {
    const mine = faults.filter((fault) => tabOf(fault.path) === key);
    const wrong = mine.filter((fault) => !fault.empty).length;
    const badge = find(`tab-${key}`).querySelector(".badge");
    if (badge.dataset.count !== String(mine.length)) {
      badge.dataset.count = mine.length;
      badge.replaceChildren(...(mine.length ? [String(mine.length), el("span", {class: "sr", text: " to look at"})] : []));
    }
    badge.className = `badge${wrong ? " wrong" : ""}`;
  }
  const wrong = faults.filter((fault) => !fault.empty).length + store.state.more;
  const next = find("next-fault");
  next.hidden = !faults.length;
  show(next, [wrong && `${wrong} ${wrong === 1 ? "fault" : "faults"}`, faults.length - wrong > 0 && `${faults.length - wrong} to fill in`]
    .filter(Boolean).join(", "));
}

function toFault() {
  const faults = store.state.faults;
  if (!faults.length) return;
  const here = document.activeElement?.dataset?.path;
  const keys = faults.map((fault) => name(fault.path));
  const next = faults[(keys.indexOf(here) + 1) % faults.length];
  pickTab(tabOf(next.path), false);
  const [runs, run, faces, face] = next.path;
  if (runs === "runs" && faces === "faces" && face !== undefined) openUp(run, face, next.path.length > 5);
  requestAnimationFrame(() => {
    const path = [...next.path];
    let control = null;
    while (path.length && !control) {
      control = document.getElementById(`f:${name(path)}`) || document.querySelector(`[data-fault="${CSS.escape(name(path))}"]`)?.parentElement
        ?.querySelector("input,select,button");
      path.pop();
    }
    const closed = control?.closest("details:not([open])");
    if (closed) closed.open = true;
    control?.focus();
    control?.scrollIntoView({block: "center"});
  });
}

function openUp(run, face, deep) {
  const row = document.querySelector(`[data-face="${run}/${face}"]`);
  if (row && (deep || !WIDE.matches) && !row.classList.contains("open")) row.querySelector(".more").click();
}

// --- tabs

function makeTabs() {
  find("tabs").append(...TABS.map(([key, label]) => el("button", {
    type: "button", role: "tab", id: `tab-${key}`, "aria-controls": `panel-${key}`, "aria-selected": "false", tabindex: "-1",
    onclick: () => pickTab(key), onkeydown: (event) => turnTab(event, key),
  }, el("span", {text: label}), " ", el("span", {class: "badge"}))));
  find("panels").append(...TABS.map(([key]) => el("div", {role: "tabpanel", id: `panel-${key}`, "aria-labelledby": `tab-${key}`,
    class: "panel", tabindex: "-1", hidden: true})));
}

function turnTab(event, key) {
  const by = {ArrowRight: 1, ArrowLeft: -1}[event.key];
  if (!by) return;
  event.preventDefault();
  const keys = TABS.map(([each]) => each);
  const next = keys[(keys.indexOf(key) + by + keys.length) % keys.length];
  pickTab(next);
  find(`tab-${next}`).focus();
}

function pickTab(key, again = true) {
  if (key === tab && !again) return;
  tab = key;
  for (const [each] of TABS) {
    const on = each === key;
    find(`tab-${each}`).setAttribute("aria-selected", String(on));
    find(`tab-${each}`).tabIndex = on ? 0 : -1;
    find(`panel-${each}`).hidden = !on;
    if (!on) find(`panel-${each}`).replaceChildren();
  }
  shape = "";
  render();
}

// --- drawings

function pick(run, face, jump = true) {
  selected = `${run}/${face}`;
  draw();
  if (jump) {
    pickTab("walls", false);
    focusOn(["runs", run, "faces", face, "length"]);
  }
}

function draw() {
  const runs = at(["runs"]) || [];
  const [run, face] = selected.split("/").map(Number);
  if (!runs[run]?.faces?.[face]) selected = "0/0";
  const chips = runs.flatMap((each, i) => (each?.faces || []).map((inner, j) => [`${i}/${j}`,
    `${runs.length > 1 ? `${each.name} · ` : ""}${inner?.name || `face ${j + 1}`}`]));
  const place = find("chips");
  const key = JSON.stringify(chips);
  if (heldBy.chips !== key) {
    heldBy.chips = key;
    place.replaceChildren(...chips.map(([each, words]) => el("button", {type: "button", "data-chip": each, "aria-pressed": "false",
      onclick: () => pick(...each.split("/").map(Number), false)}, words)));
  }
  for (const chip of place.children) {
    const on = chip.dataset.chip === selected;
    if (on && chip.getAttribute("aria-pressed") !== "true") {
      place.scrollLeft = chip.offsetLeft - place.offsetLeft - place.clientWidth / 3;
    }
    chip.setAttribute("aria-pressed", String(on));
  }
  drawPlan(selected, pick);
  drawElevation(selected);
  for (const row of document.querySelectorAll("[data-face]")) row.classList.toggle("chosen", row.dataset.face === selected);
}

function view(which) {
  document.body.dataset.view = which;
  for (const each of document.querySelectorAll("[data-view]")) {
    if (each.tagName === "BUTTON") each.setAttribute("aria-pressed", String(each.dataset.view === which));
  }
  draw();
}

function follow(event) {
  const path = event.target.dataset?.path?.split(".") || [];
  const row = event.target.closest?.("[data-face]");
  if (!row) {
    if (path[0] === "runs" && document.body.dataset.view === "face") view("plan");
    return;
  }
  if (row.dataset.face !== selected) pick(...row.dataset.face.split("/").map(Number), false);
  if (!WIDE.matches && document.body.dataset.view !== "none") {
    const close = path.length > 5 || ["top", "footing", "grade"].includes(path[4]);
    const wanted = close ? "face" : "plan";
    if (document.body.dataset.view !== wanted && path.length > 4) view(wanted);
  }
}

// --- figures and the packet

function figures() {
  const place = find("figures");
  const {answer, state} = store;
  const fresh = answer && answer.revision === state.revision;
  place.classList.toggle("stale", !fresh);
  place.setAttribute("aria-busy", String(!fresh));
  const parts = [];
  if (answer?.figures) {
    const {rolls, of, cost, waste, drops} = answer.figures;
    parts.push(el("dl", {}, [["rolls", rolls, `: ${of}`], ["cost", cost, ""], ["waste", waste, "cut away and scrap"], ["drops", drops, ""]]
      .map(([key, figure, more]) => el("div", {class: `figure ${key}`}, el("dt", {text: key}), el("dd", {}, figure,
        more && el("small", {text: more.startsWith(":") ? more : ` ${more}`}))))));
    if (answer.exceptions.length) {
      parts.push(el("details", {}, el("summary", {text: `${answer.exceptions.length} ${answer.exceptions.length === 1 ? "rule" : "rules"} not kept`}),
        el("ul", {}, answer.exceptions.map((words) => el("li", {text: words})))));
    }
    parts.push(el("p", {class: "quick", text: fresh ? "quick answer; Plan looks for less" : "working it out …"}));
  } else if (answer?.why && answer.why !== "faults") parts.push(el("p", {class: "why", text: answer.why}));
  else if (state.faults.length) parts.push(el("p", {class: "quick", text: "Rolls, cost and waste follow when nothing is missing."}));
  else parts.push(el("p", {class: "quick", text: "working it out …"}));
  const key = parts.map((part) => part.textContent).join("|");
  const open = place.querySelector("details")?.open;
  if (heldBy.figures !== key) {
    heldBy.figures = key;
    place.replaceChildren(...parts);
    if (open && place.querySelector("details")) place.querySelector("details").open = true;
  }
}

async function makePlan() {
  const focused = document.activeElement;
  if (focused?.commit) focused.commit();
  while (busy()) await new Promise((wake) => setTimeout(wake, 50));
  if (store.state.faults.length) {
    toFault();
    return;
  }
  Object.assign(store.state, await ask("plan", {}));
  pickTab("packet");
  find("tab-packet").focus();
  status();
}

function status() {
  const {state} = store;
  show(find("job-name"), at(["job", "name"]) ? String(at(["job", "name"])) : state.file);
  show(find("file-name"), at(["job", "name"]) ? state.file : "");
  document.title = `${at(["job", "name"]) || state.file} · lapwright`;
  show(find("saved"), store.away ? "no answer from lapwright" : busy() ? "saving …" : state.trouble ? "not saved" : "saved");
  find("saved").title = `${state.folder}/${state.file}`;
  find("saved").className = store.away || state.trouble ? "bad" : "";
  notice("away", store.away ? "lapwright does not answer: is it still running? What you type is kept here and sent when it answers." : "");
  notice("trouble", state.trouble ? `Not saved: ${state.trouble}.` : "", state.trouble.includes("written over")
    ? [["Write over it", () => overwrite()]] : []);
  if (state.told[0] > told) {
    told = state.told[0];
    notice("told", state.told[1], [["Well", () => {}]]);
  }
  for (const [id, words] of [["undo", state.undoes], ["redo", state.redoes]]) {
    find(id).disabled = !words;
    find(id).title = words ? `${id === "undo" ? "Undo" : "Redo"}: ${words}` : "";
  }
  find("make-plan").disabled = Boolean(state.planning?.running);
  show(find("make-plan"), state.planning?.running ? "Planning …" : "Plan");
  figures();
}

// --- start

function keys(event) {
  if (!(event.ctrlKey || event.metaKey) || event.altKey || !["z", "y"].includes(event.key.toLowerCase())) return;
  if (document.activeElement?.dataset?.typing) return; // the field's own undo comes first
  event.preventDefault();
  if (event.key.toLowerCase() === "y" || event.shiftKey) redo();
  else undo();
}

function on(what) {
  if (what === "away" || what === "busy") {
    if (store.state) status();
    return;
  }
  if (what.refused) {
    if (what.job.body.session) return; // its field asks
    notice("refused", `${what.job.body.label || "The change"} was not made: ${what.refused.why}.`, [["Well", () => {}]]);
    return;
  }
  if (what === "state") {
    if (firstView) {
      firstView = false;
      told = store.state.told[0];
      pickTab(store.state.job.runs?.some((run) => run?.faces?.length) ? "walls" : "job");
      if (tab === "job") focusOn(["job", "name"]);
    } else render();
  } else if (what === "status" && tab === "packet") render();
  if (what === "answer") marks();
  status();
  draw();
}

async function begin() {
  makeTabs();
  startElevation();
  document.body.dataset.view = "plan";
  listen(on);
  find("undo").addEventListener("click", undo);
  find("redo").addEventListener("click", redo);
  find("next-fault").addEventListener("click", toFault);
  find("make-plan").addEventListener("click", makePlan);
  for (const each of document.querySelectorAll(".views [data-view]")) each.addEventListener("click", () => view(each.dataset.view));
  document.addEventListener("keydown", keys);
  find("panels").addEventListener("keydown", moveByKey);
  find("panels").addEventListener("focusin", follow);
  find("panels").addEventListener("made", marks);
  addEventListener("beforeunload", () => document.activeElement?.commit?.());
  new ResizeObserver(() => store.state && draw()).observe(find("plan"));
  new ResizeObserver(() => document.documentElement.style.setProperty("--above", WIDE.matches ? "0px" : `${find("seen").offsetHeight}px`))
    .observe(find("seen"));
  try {
    await start();
  } catch (error) {
    drop("away");
    notice("start", "The page could not be read from lapwright. Is it still running?", [["Try again", () => location.reload()]]);
  }
}

begin();
