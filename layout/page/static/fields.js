// Fields of the job: one for each value, with its label, what an empty one stands for, and its faults.

import {el, find} from "./dom.js";
import {clash} from "./notices.js";
import {at, change, name, store} from "./store.js";
import {meant, typed, typedRange} from "./values.js";

const PAUSE = 600; // from the last key to the drawing [ms]
const sent = new Map(); // what this tab wrote last in each place, as JSON
let sessions = 0;
let rebuilding = false;

// While fields are put in the place of others, the old ones have nothing more to say.
export function whileRebuilding(does) {
  rebuilding = true;
  does();
  rebuilding = false;
}

export const unit = () => store.state.unit;
export const fieldsOf = (part) => store.form[part];
export const fieldOf = (part, key) => fieldsOf(part).find((field) => field.key === key);

const shown = (field, value) => (field.kind === "range" ? typedRange(value) : typed(value));

export function fieldLabel(field) {
  return field.label;
}

// What a place is called where it is spoken of: "length of South".
export function called(path) {
  const words = [];
  let here = store.state.job;
  let owner = "";
  for (const step of path) {
    if (here === null || typeof here !== "object") break;
    here = here[step];
    if (here && typeof here === "object" && !Array.isArray(here)) owner = here.tag || here.name || owner;
  }
  const keys = path.filter((step) => typeof step === "string");
  words.push(keys[keys.length - 1].replaceAll("_", " "));
  if (owner && path[0] === "runs") words.push("of", owner);
  return words.join(" ");
}

// A whole field: label, control, faults.
export function field(what, path, more = {}) {
  const id = `f:${name(path)}`;
  const label = more.label || fieldLabel(what);
  const control = what.kind === "choice" ? choice(what, path, id, more)
    : what.kind === "flag" ? flag(what, path, id) : entry(what, path, id, more);
  control.dataset.path = name(path);
  if (more.column) control.dataset.column = more.column;
  control.setAttribute("aria-describedby", `e:${name(path)}${more.help ? ` h:${name(path)}` : ""}`);
  if (what.needed) control.setAttribute("aria-required", "true");
  const words = el("label", {for: id, text: label});
  return el("div", {class: `field kind-${what.kind}${more.class ? ` ${more.class}` : ""}`}, words, control,
    more.help && el("p", {class: "help", id: `h:${name(path)}`, text: what.help}), more.apart ? null : faultLine(path));
}

// Where the faults of a place are said; with the label of its field where that stands apart from it.
export const faultLine = (path, label) =>
  el("p", {class: "fault", id: `e:${name(path)}`, "data-fault": name(path), "data-label": label});

function entry(what, path, id, more) {
  const input = el("input", {
    id, type: "text", autocomplete: "off", autocapitalize: what.kind === "text" ? "words" : "off", spellcheck: "false",
    placeholder: more.empty ?? what.empty[unit()], value: shown(what, at(path)), list: more.list,
    inputmode: what.kind === "number" ? "decimal" : undefined, enterkeyhint: "next",
  });
  let timer = 0;
  let session = 0;
  let disputed = null; // words that someone else's stand against, until the user says which
  let known = JSON.stringify(at(path)); // what this field showed last, or has sent
  const commit = () => {
    clearTimeout(timer);
    if (rebuilding || !input.isConnected || input.value === input.dataset.sent) return;
    const value = meant(what, input.value);
    const before = at(path);
    if (JSON.stringify(value) === JSON.stringify(before ?? undefined)) {
      delete input.dataset.typing;
      known = JSON.stringify(before);
      return;
    }
    if (input.value === disputed) return;
    const changes = value === undefined ? [{do: "remove", path}] : [{do: "set", path, value}];
    if (more.also) changes.push(...more.also(before, value));
    const put = () => {
      disputed = null;
      input.dataset.sent = input.value;
      known = JSON.stringify(value);
      sent.set(name(path), known);
      change(changes, called(path), String(session)).then((made) => {
        if (made && input.value === input.dataset.sent) delete input.dataset.typing;
        delete input.dataset.sent;
        if (!made) dispute(put);
      });
    };
    const there = JSON.stringify(before);
    if (there === known || there === sent.get(name(path))) put();
    else dispute(put);
  };
  const dispute = (put) => {
    disputed = input.value;
    known = JSON.stringify(at(path));
    sent.delete(name(path));
    clash(called(path), shown(what, at(path)), input.value, put, () => {
      disputed = null;
      delete input.dataset.typing;
      input.refresh();
    });
  };
  input.addEventListener("focus", () => { session = ++sessions; });
  input.addEventListener("input", () => {
    input.dataset.typing = "yes";
    clearTimeout(timer);
    timer = setTimeout(commit, PAUSE);
  });
  input.addEventListener("change", commit);
  input.commit = commit;
  input.refresh = () => {
    const words = shown(what, at(path));
    if (!input.dataset.typing) {
      known = JSON.stringify(at(path));
      if (input.value !== words) input.value = words;
    }
    if (!more.empty) input.placeholder = what.empty[unit()];
  };
  return input;
}

function choice(what, path, id, more) {
  const first = more.empty ?? (what.empty[unit()] ? `${what.empty[unit()]} (usual)` : "—");
  const select = el("select", {id},
    el("option", {value: "", text: first}),
    what.words.map((word) => el("option", {value: word, text: more.words ? more.words[word] ?? word : word})));
  select.value = at(path) ?? "";
  select.addEventListener("change", () => change(
    select.value ? [{do: "set", path, value: select.value}, ...(more.also ? more.also(at(path), select.value) : [])]
      : [{do: "remove", path}], called(path)));
  select.refresh = () => { select.value = at(path) ?? ""; };
  return select;
}

function flag(what, path, id) {
  const usual = what.empty[unit()] === "yes";
  const box = el("input", {id, type: "checkbox"});
  box.refresh = () => { box.checked = at(path) ?? usual; };
  box.refresh();
  box.addEventListener("change", () => change(
    box.checked === usual && at(path) !== undefined && !what.needed ? [{do: "remove", path}]
      : [{do: "set", path, value: box.checked}], called(path)));
  return box;
}

export function button(words, does, more = {}) {
  return el("button", {type: "button", onclick: does, ...more}, words);
}

// A mapping whose every key is a plain field, or one that opens its own part further in.
export function part(of, path, more = {}) {
  return fieldsOf(of).filter((what) => !(more.without || []).includes(what.key)).map((what) => {
    const here = [...path, what.key];
    if (what.kind === "parts") return parts(what, here, more);
    if (what.kind === "part") return optional(what, here, more);
    if (what.kind === "profile") return field({...what, kind: "length"}, here, {help: more.help});
    return field(what, here, {help: more.help});
  });
}

// A part that a job need not have.
export function optional(what, path, more = {}) {
  const id = `p:${name(path)}`;
  if (at(path) === undefined || at(path) === null) {
    return el("div", {class: "optional", "data-path": name(path)},
      button(`Add ${what.label.toLowerCase()}`, () => change([{do: "set", path, value: {}}], `add ${what.label.toLowerCase()}`)
        .then(() => focusOn([...path, fieldsOf(what.of)[0].key]))),
      el("p", {class: "help", text: what.help}), faultLine(path));
  }
  return el("fieldset", {class: "group", id},
    el("legend", {text: what.label}), el("div", {class: "grid"}, part(what.of, path, more)), faultLine(path),
    button(`Remove ${what.label.toLowerCase()}`, () => change([{do: "remove", path}], `remove ${what.label.toLowerCase()}`),
      {class: "quiet"}));
}

// A list of mappings, each one row of fields.
export function parts(what, path, more = {}) {
  const items = at(path) || [];
  const one = more.one || what.label.toLowerCase().replace(/s$/, "");
  const fields = fieldsOf(what.of);
  return el("fieldset", {class: "rows"},
    el("legend", {text: more.legend || what.label}),
    faultLine(path),
    items.map((item, index) => el("div", {class: "row", role: "group", "aria-label": `${one} ${item?.tag || index + 1}`},
      fields.map((inner) => field(inner, [...path, index, inner.key],
        {column: `${name(path)}/${inner.key}`, apart: true, ...(more.each ? more.each(inner) : {})})),
      button("✕", () => remove(path, index, `${one} ${item?.tag || index + 1}`),
        {class: "quiet", "aria-label": `Remove ${one} ${item?.tag || index + 1}`}),
      fields.map((inner) => faultLine([...path, index, inner.key], inner.label)), faultLine([...path, index]))),
    button(`+ ${one}`, () => {
      const fresh = more.fresh ? more.fresh(items) : {};
      const start = items.length || !what.of ? items.length : 0;
      change([{do: "insert", path: [...path, start], value: fresh}], `add ${one}`)
        .then(() => focusOn([...path, start, more.focus || fields[0].key]));
    }, {class: "add", "data-add": name(path)}));
}

export function remove(path, index, words) {
  const items = at(path);
  const last = items.length === 1 && path[path.length - 1] !== "runs" && path[path.length - 1] !== "faces";
  return change([last ? {do: "remove", path} : {do: "remove", path: [...path, index]}], `remove ${words}`)
    .then(() => {
      const next = document.querySelector(`[data-add="${CSS.escape(name(path))}"]`);
      if (next) next.focus();
    });
}

export function focusOn(path) {
  requestAnimationFrame(() => {
    const control = find(`f:${name(path)}`);
    if (control) {
      control.focus();
      control.scrollIntoView({block: "nearest"});
    }
  });
}
