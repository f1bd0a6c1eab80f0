// Runs and their faces: one row a face, in the order in which one walks round, seen from the soil side.

import {el} from "./dom.js";
import {button, called, faultLine, field, fieldOf, focusOn, parts, remove} from "./fields.js";
import {at, change, name, store} from "./store.js";
import {freeTag, lastLevel, profileKind, profileWords, typed} from "./values.js";

const open = new Set();
const CORNERS = {outside: "outside ⌐", inside: "inside ∟", none: "none —"};
const WAYS = {right: "runs right", left: "runs left"};
const COLUMNS = [["name", "Face"], ["length", "Length"], ["corner", "Corner, right end"], ["angle", "Angle"],
  ["top", "Wall top"], ["footing", "Footing top"], ["ledge", "Ledge"], ["footing_depth", "Footing depth"],
  ["grade", "Grade"]];
const LEVELS = {top: "Wall top", footing: "Footing top", grade: "Grade"};
const PROFILES = Object.keys(LEVELS);
const HEADS = {corner: "Corner", top: "Top", footing: "Footing", footing_depth: "Depth"};

export function walls() {
  const runs = at(["runs"]) || [];
  return [
    runs.some((run) => run?.faces?.length > 1) ? null : el("p", {class: "lead"}, "Stand outside, in the soil, and walk with the wall on your left: each face from its left end "
      + "to its right. Enter goes on to the next face."),
    faultLine(["runs"]),
    runs.map((run, index) => runOf(run || {}, index, runs.length)),
    button("+ run of walls", () => addRun(runs), {class: "add", "data-add": "runs"}),
    el("datalist", {id: "angles"}, [90, 45, 135, 30, 60].map((value) => el("option", {value}))),
    el("datalist", {id: "kinds"}, ["window", "door", "vent", "hatch", "opening"].map((value) => el("option", {value}))),
  ];
}

function addRun(runs) {
  const names = new Set(runs.map((run) => run?.name));
  const letters = [..."ABCDEFGHIJKLMNOPQRSTUVWXYZ"];
  const fresh = letters.find((letter) => !names.has(letter)) || `R${runs.length + 1}`;
  change([{do: "insert", path: ["runs", runs.length], value: {name: fresh, closed: false, faces: []}}], "add a run")
    .then(() => focusOn(["runs", runs.length, "name"]));
}

function runOf(run, index, count) {
  const path = ["runs", index];
  const faces = run.faces || [];
  const water = ["lows", "highs", "drain"].filter((key) => run[key] !== undefined);
  return el("section", {class: "run", "aria-label": `Run ${run.name || index + 1}`},
    el("div", {class: "run-head"},
      field(fieldOf("RunPart", "name"), [...path, "name"], {label: "Run"}),
      el("div", {class: "checks"},
        field(fieldOf("RunPart", "closed"), [...path, "closed"], {label: "goes all the way round", class: "check", apart: true}),
        run.allow_gap || store.state.runs[index]?.gap
          ? field(fieldOf("RunPart", "allow_gap"), [...path, "allow_gap"], {label: "the gap is really there", class: "check", apart: true}) : null),
      field(fieldOf("RunPart", "flow"), [...path, "flow"],
        {label: "Water at the footing", empty: water.length ? "as its points say" : "runs right (usual)", words: WAYS,
          also: () => water.map((key) => ({do: "remove", path: [...path, key]}))}),
      water.filter((key) => key !== "drain").map((key) => field(fieldOf("RunPart", key), [...path, key])),
      run.drain === undefined ? null : drainOf(run.drain, [...path, "drain"]),
      water.length ? null : button("give its low points instead", () => change(
        [{do: "set", path: [...path, "lows"], value: [0]}, ...(run.flow === undefined ? [] : [{do: "remove", path: [...path, "flow"]}])],
        "low points").then(() => focusOn([...path, "lows"])), {class: "quiet"}),
      faultLine([...path, "closed"]), faultLine([...path, "allow_gap"]), faultLine(path)),
    faultLine([...path, "faces"]),
    faces.length ? el("div", {class: "heads", "aria-hidden": "true"},
      COLUMNS.map(([key, label]) => el("span", {class: `c-${key}`, text: HEADS[key] || label})), el("span")) : null,
    el("ol", {class: "faces"}, faces.map((face, number) => faceOf(face || {}, [...path, "faces", number], faces.length,
      number === faces.length - 1 && !run.closed))),
    button("+ face", () => addFace(path), {class: "add wide", "data-add": name([...path, "faces"])}),
    count > 1 ? button(`Remove run ${run.name || index + 1}`, () => remove(["runs"], index, `run ${run.name || ""}`), {class: "quiet"}) : null);
}

// The drain's points take much room and are seldom touched: they open when asked for.
function drainOf(drain, path) {
  const key = name(path);
  const made = el("details", {class: "drain", open: open.has(key)},
    el("summary", {text: `Drain along the run: ${Array.isArray(drain) ? drain.length : 0} points`}), points("Drain along the run", path));
  made.addEventListener("toggle", () => (made.open ? open.add(key) : open.delete(key)));
  return made;
}

function faceOf(face, path, count, ends) {
  const key = name(path);
  const number = path[path.length - 1];
  const shown = open.has(key);
  const title = face.name || `face ${number + 1}`;
  const features = (face.openings?.length || 0) + (face.sleeves?.length || 0);
  const row = el("li", {class: `face${shown ? " open" : ""}`, "data-face": `${path[1]}/${number}`,
    "aria-label": title});
  const cells = COLUMNS.map(([what, label]) => {
    const here = [...path, what];
    const column = `${name(path.slice(0, 3))}/${what}`;
    const more = {label, column, class: `cell c-${what}`, apart: true};
    if (what === "corner") return field(fieldOf("FacePart", what), here, {...more, words: CORNERS,
      empty: ends ? "none (end)" : "outside ⌐",
      also: (before, value) => (value === "none" && face.angle !== undefined ? [{do: "remove", path: [...path, "angle"]}] : [])});
    if (what === "angle") return field(fieldOf("FacePart", what), here, {...more, list: "angles",
      empty: face.corner === "none" || (ends && !face.corner) ? "—" : "90"});
    if (Array.isArray(face[what])) return el("div", {class: `field cell c-${what}`},
      el("span", {class: "label", text: label}),
      button(profileKind(face[what]), () => { openFace(row, key, true); focusOn([...here, 0, 0]); },
        {class: "profile", "aria-label": `${profileKind(face[what])}: ${label} of ${title}, ${profileWords(face[what])}. Open its points.`}));
    const level = fieldOf("FacePart", what);
    return field(level.kind === "profile" ? {...level, kind: "length"} : level, here,
      {...more, ...(what === "length" ? {also: (before, value) => stretch(face, path, before, value)} : {})});
  });
  const more = el("button", {type: "button", class: "more", "aria-expanded": String(shown), "aria-controls": `m:${key}`,
    "aria-label": `${features || ""} ${title}: openings, sleeves, points`.trim()},
    el("span", {class: "count", text: features ? String(features) : ""}), el("span", {class: "turn", "aria-hidden": "true", text: "▾"}));
  const rest = el("div", {class: "rest", id: `m:${key}`, hidden: !shown});
  if (shown) rest.append(...restOf(face, path, count, title));
  more.addEventListener("click", () => openFace(row, key, !open.has(key)));
  row.append(...[el("span", {class: "number", "aria-hidden": "true", text: String(number + 1)}), ...cells, more,
    COLUMNS.map(([what, label]) => faultLine([...path, what], label)), faultLine(path), rest].flat());
  return row;
}

function openFace(row, key, is) {
  if (is) open.add(key); else open.delete(key);
  row.classList.toggle("open", is);
  const control = row.querySelector(".more");
  const rest = row.querySelector(".rest");
  if (is && !rest.childElementCount) {
    const path = key.split(".").map((step) => (/^\d+$/.test(step) ? Number(step) : step));
    rest.append(...restOf(at(path) || {}, path, at(path.slice(0, -1)).length, at(path)?.name || "face"));
    row.dispatchEvent(new CustomEvent("made", {bubbles: true}));
  }
  rest.hidden = !is;
  control.setAttribute("aria-expanded", String(is));
}

// A last point at the face's end goes with its length.
function stretch(face, path, before, value) {
  return PROFILES.filter((key) => Array.isArray(face[key]) && value !== undefined).flatMap((key) => {
    const last = face[key].length - 1;
    return last > 0 && Array.isArray(face[key][last]) && typed(face[key][last][0]) === typed(before)
      ? [{do: "set", path: [...path, key, last, 0], value}] : [];
  });
}

// What opens under a face: its place in the run, its points, openings and sleeves.
function restOf(face, path, count, title) {
  const number = path[path.length - 1];
  const list = path.slice(0, -1);
  const move = (to, words) => change([{do: "move", path, to}], `move ${title} ${words}`)
    .then(() => focusOn([...list, to, "name"]));
  return [
    el("div", {class: "inline", role: "group", "aria-label": `${title} in its run`},
      button("↑ earlier", () => move(number - 1, "earlier"), {disabled: number === 0, "aria-label": `↑ earlier: ${title}`}),
      button("↓ later", () => move(number + 1, "later"), {disabled: number === count - 1, "aria-label": `↓ later: ${title}`}),
      button("+ face after it", () => addFace(path.slice(0, 2), number + 1), {"aria-label": `+ face after it: ${title}`}),
      button("✕ remove", () => remove(list, number, title), {class: "quiet", "aria-label": `✕ remove ${title}`})),
    el("div", {class: "inline"}, PROFILES.filter((key) => !Array.isArray(face[key])).map((key) => profileOf(face, path, key))),
    ...PROFILES.filter((key) => Array.isArray(face[key])).map((key) => points(`${LEVELS[key]} of ${title}`, [...path, key])),
    parts(fieldOf("FacePart", "openings"), [...path, "openings"], {
      one: "opening", focus: "left", each: (inner) => (inner.key === "kind" ? {list: "kinds"} : {}),
      fresh: (items) => copied(items, ["kind", "sill", "width", "height"], {tag: freeTag("W", tags()), kind: "window"}),
    }),
    parts(fieldOf("FacePart", "sleeves"), [...path, "sleeves"], {
      one: "sleeve", focus: "at",
      fresh: (items) => copied(items, ["diameter"], {tag: freeTag("P", tags())}),
    }),
  ];
}

function copied(items, keys, fresh) {
  const last = items[items.length - 1] || {};
  for (const key of keys) if (last[key] !== undefined) fresh[key] = last[key];
  return fresh;
}

function tags() {
  const found = new Set();
  for (const run of at(["runs"]) || []) {
    for (const face of run?.faces || []) {
      for (const item of [...(face?.openings || []), ...(face?.sleeves || [])]) found.add(item?.tag);
    }
  }
  return found;
}

// What makes points of a level.
function profileOf(face, path, key) {
  const here = [...path, key];
  return button(`${LEVELS[key]}: slope or steps`, () => {
    const level = face[key] ?? (key === "footing" ? 0 : "");
    change([{do: "set", path: here, value: [[0, level], [face.length ?? 0, level]]}], called(here))
      .then(() => focusOn([...here, 1, 1]));
  });
}

// Points of a profile: stations from the left end, and the level there.
function points(legend, path) {
  const items = at(path) || [];
  const station = {kind: "length", key: "station", label: "From left end", empty: {in: "", mm: ""}, needed: true};
  const level = {kind: "length", key: "level", label: "Level", empty: {in: "", mm: ""}, needed: true};
  const last = items[items.length - 1];
  return el("fieldset", {class: "rows points"},
    el("legend", {text: legend}), path.includes("faces") ? null : faultLine(path),
    el("p", {class: "help", text: "Straight from point to point; the same place twice is a step."}),
    items.map((item, index) => el("div", {class: "row", role: "group", "aria-label": `point ${index + 1}`},
      field(station, [...path, index, 0], {column: `${name(path)}/0`, apart: true}),
      field(level, [...path, index, 1], {column: `${name(path)}/1`, apart: true}),
      button("✕", () => change([{do: "remove", path: [...path, index]}], `remove a point of ${called(path)}`),
        {class: "quiet", "aria-label": `Remove point ${index + 1}`, disabled: items.length < 2}),
      faultLine([...path, index, 0], station.label), faultLine([...path, index, 1], level.label), faultLine([...path, index]))),
    el("div", {class: "inline"},
      button("+ point", () => change([{do: "insert", path: [...path, items.length], value: Array.isArray(last) ? [...last] : [0, 0]}],
        `add a point to ${called(path)}`).then(() => focusOn([...path, items.length, 0])), {class: "add", "data-add": name(path)}),
      path.includes("faces") ? button("make it level", () => {
        const first = Array.isArray(items[0]) ? items[0][1] : 0;
        change([{do: "set", path, value: first}], `${called(path)} level`).then(() => focusOn(path));
      }, {class: "quiet"}) : button("remove", () => change([{do: "remove", path}], "remove the drain"), {class: "quiet"})));
}

// A new face goes on at its neighbour's heights, and is named by the way it looks, the first one south.
export function addFace(runPath, after = null) {
  let number = 0;
  return change(() => {
    const faces = at([...runPath, "faces"]) || [];
    number = after ?? faces.length;
    const beside = faces[number - 1] || {};
    const fresh = {name: freeName(faces, number)};
    for (const key of ["top", "footing", "ledge", "footing_depth", "grade"]) {
      const value = key === "ledge" || key === "footing_depth" ? beside[key] : lastLevel(beside[key]);
      if (value !== undefined) fresh[key] = value;
    }
    return [{do: "insert", path: [...runPath, "faces", number], value: fresh}];
  }, "add a face").then(() => focusOn([...runPath, "faces", number, "length"]));
}

const LOOKS = ["South", "Southeast", "East", "Northeast", "North", "Northwest", "West", "Southwest"];

function freeName(faces, number) {
  let turned = 0;
  for (const face of faces.slice(0, number)) {
    const angle = Number(face?.angle ?? 90) || 0;
    turned += face?.corner === "none" ? 0 : face?.corner === "inside" ? -angle : angle;
  }
  const word = LOOKS[((Math.round(turned / 45) % 8) + 8) % 8];
  const names = new Set(faces.map((face) => face?.name));
  if (!names.has(word)) return word;
  for (let count = 2; ; count += 1) if (!names.has(`${word} ${count}`)) return `${word} ${count}`;
}

// Enter and the arrow keys go from row to row in one column; Enter below the last face begins another.
export function moveByKey(event) {
  const control = event.target;
  const column = control.dataset?.column;
  if (!column || event.altKey || event.ctrlKey || event.metaKey || !["Enter", "ArrowDown", "ArrowUp"].includes(event.key)) return;
  if (control.tagName === "SELECT" && event.key !== "Enter") return;
  if (control.list && event.key !== "Enter") return;
  event.preventDefault();
  const all = [...document.querySelectorAll(`[data-column="${CSS.escape(column)}"]`)];
  const by = event.key === "ArrowUp" || (event.key === "Enter" && event.shiftKey) ? -1 : 1;
  const next = all[all.indexOf(control) + by];
  if (control.commit) control.commit();
  if (next) {
    next.focus();
    if (next.select) next.select();
  } else if (by > 0 && event.key === "Enter") {
    const path = column.split("/")[0].split(".").map((step) => (/^\d+$/.test(step) ? Number(step) : step));
    if (path.length === 3) addFace(path.slice(0, 2));
    else document.querySelector(`[data-add="${CSS.escape(name(path))}"]`)?.click();
  }
}

export function forgetOpen(alive) {
  for (const key of [...open]) if (!alive(key)) open.delete(key);
}

export const hasFaces = () => (store.state.job.runs || []).some((run) => run?.faces?.length);
