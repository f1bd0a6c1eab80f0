// The runs from above, as far as they can be drawn, with what is missing for a closed one to close.

import {el, find, show, svg} from "./dom.js";
import {at, change, store} from "./store.js";

const UP = 44; // room for names above and below the walls [px]
const LETTER = 7.8; // the width of one in a name [px]
const MOST_LETTERS = 20; // of a name that are shown
const LINE = 15; // from one line of a name to the next [px]

export function drawPlan(selected, pick) {
  const place = find("plan");
  const runs = store.state.runs;
  const shown = runs.map((run, index) => ({...run, index})).filter((run) => run.legs.length);
  words(runs);
  if (!shown.length) {
    place.replaceChildren(el("p", {class: "empty", text: "The walls appear here, seen from above, as their lengths are typed."}));
    return;
  }
  const width = Math.max(place.clientWidth, 200);
  const height = Math.max(place.clientHeight, 120);
  const drawing = svg("svg", {viewBox: `0 0 ${width} ${height}`, width, height, "aria-hidden": "true"});
  const boxes = shown.map(boxOf);
  const longest = Math.max(...shown.flatMap((run) => run.legs.map((leg) =>
    Math.max(leg.words.length, String(at(["runs", run.index, "faces", leg.face, "name"]) || "").slice(0, MOST_LETTERS).length))));
  const edge = Math.min(24 + longest * LETTER, width / 3.4);
  const across = boxes.reduce((sum, box) => sum + box.width, 0);
  const up = Math.max(...boxes.map((box) => box.height));
  const room = [width - (shown.length + 1) * edge, height - UP * 2];
  const scale = Math.max(Math.min(room[0] / (across || 1), room[1] / (up || 1)), 1e-6);
  let left = (width - across * scale - (shown.length - 1) * edge) / 2;
  shown.forEach((run, number) => {
    const box = boxes[number];
    const base = (height + box.height * scale) / 2;
    const start = left - box.left * scale;
    const put = ([x, y]) => [start + x * scale, base - (y - box.bottom) * scale];
    drawing.append(...drawRun(run, put, scale, selected, pick));
    left += box.width * scale + edge;
  });
  place.replaceChildren(drawing);
}

function boxOf(run) {
  const points = run.legs.flatMap((leg) => [leg.start, leg.end]);
  const xs = points.map((point) => point[0]);
  const ys = points.map((point) => point[1]);
  const left = Math.min(...xs);
  const bottom = Math.min(...ys);
  return {left, bottom, width: Math.max(...xs) - left, height: Math.max(...ys) - bottom};
}

function drawRun(run, put, scale, selected, pick) {
  const parts = [];
  const faces = at(["runs", run.index, "faces"]) || [];
  const seams = store.answer?.revision === store.state.revision ? store.answer.seams[run.index] : null;
  const taken = run.legs.map((leg) => around(put(leg.start), put(leg.end)));
  let from = 0;
  for (const leg of run.legs) {
    const [x0, y0] = put(leg.start);
    const [x1, y1] = put(leg.end);
    const out = [leg.out[0], -leg.out[1]];
    const key = `${run.index}/${leg.face}`;
    const chosen = key === selected;
    const line = (cls, by = 0) => svg("line", {x1: x0 + out[0] * by, y1: y0 + out[1] * by, x2: x1 + out[0] * by, y2: y1 + out[1] * by, class: cls});
    const group = svg("g", {class: chosen ? "leg chosen" : "leg"}, line("reach"), line("wall"));
    if (seams) {
      const ticks = seams.filter((seam) => seam > from && seam < from + leg.length).map((seam) => {
        const share = (seam - from) / leg.length;
        const [x, y] = [x0 + (x1 - x0) * share, y0 + (y1 - y0) * share];
        return `M${x + out[0] * 3},${y + out[1] * 3}l${out[0] * 7},${out[1] * 7}`;
      });
      if (ticks.length * 4 < Math.hypot(x1 - x0, y1 - y0)) group.append(svg("path", {d: ticks.join(""), class: "seam"}));
    }
    from += leg.length;
    const long = Math.hypot(x1 - x0, y1 - y0);
    const label = labelFor(faces[leg.face]?.name, leg.words, [x0, y0], [x1, y1], out, taken);
    if (label && (long > 24 || chosen)) {
      group.append(svg("text", {x: label.x, y: label.y, "text-anchor": "middle", class: "name"}, label.name),
        svg("text", {x: label.x, y: label.y + LINE, "text-anchor": "middle", class: "size"}, leg.words));
    }
    group.addEventListener("click", () => pick(run.index, leg.face));
    parts.push(group);
  }
  for (const leg of run.legs) {
    const [x, y] = put(leg.end);
    if (leg.corner !== "none") parts.push(svg("circle", {cx: x, cy: y, r: leg.corner === "inside" ? 5 : 4, class: `corner ${leg.corner}`}));
  }
  const [x, y] = put(run.legs[0].start);
  parts.push(svg("circle", {cx: x, cy: y, r: 6, class: "start"}));
  if (run.gap) {
    const [gx0, gy0] = put(run.gap.from);
    const [gx1, gy1] = put(run.gap.to);
    parts.push(svg("line", {x1: gx0, y1: gy0, x2: gx1, y2: gy1, class: "gap"}),
      svg("circle", {cx: gx0, cy: gy0, r: 7, class: "gap-end"}), svg("circle", {cx: gx1, cy: gy1, r: 7, class: "gap-end"}),
      svg("text", {x: (gx0 + gx1) / 2, y: (gy0 + gy1) / 2 - 9, "text-anchor": "middle", class: "gap-words"}, `open by ${run.gap.length}`));
  }
  return parts;
}

const around = ([x0, y0], [x1, y1]) => [Math.min(x0, x1) - 4, Math.min(y0, y1) - 4, Math.max(x0, x1) + 4, Math.max(y0, y1) + 4];
const apart = (one, other) => one[2] <= other[0] || other[2] <= one[0] || one[3] <= other[1] || other[3] <= one[1];

// Where a face's name and length stand: outside it if there is room, else inside, along it where they are clear.
function labelFor(name, size, [x0, y0], [x1, y1], out, taken) {
  const shown = String(name || "").slice(0, MOST_LETTERS);
  const half = Math.max(shown.length, size.length) * LETTER / 2 + 2;
  for (const side of [1, -1]) {
    for (const share of [0.5, 0.35, 0.65, 0.2, 0.8]) {
      const reach = 14 + Math.abs(out[0]) * half + Math.abs(out[1]) * LINE;
      const x = x0 + (x1 - x0) * share + out[0] * side * reach;
      const middle = y0 + (y1 - y0) * share + out[1] * side * reach;
      const box = [x - half, middle - LINE, x + half, middle + LINE];
      if (taken.every((other) => apart(box, other))) {
        taken.push(box);
        return {x, y: middle - 3, name: shown};
      }
    }
  }
  return null;
}

const lengthen = (run, way) => change(way.map((face) => ({do: "set", path: ["runs", run, "faces", face.face, "length"], value: face.length})),
  `length of ${way.map((face) => face.name).join(" and ")}`);

function words(runs) {
  const lines = [];
  const ways = [];
  const told = [];
  runs.forEach((run, index) => {
    const name = at(["runs", index, "name"]) || index + 1;
    const faces = at(["runs", index, "faces"]) || [];
    told.push(`Run ${name}: ${run.legs.map((leg) => `${faces[leg.face]?.name || leg.face + 1} ${leg.words}, ${leg.corner} corner`).join("; ")}.`);
    if (run.gap) {
      lines.push(`Run ${name} does not close: ${run.gap.length} apart. ${run.gap.words[0].toUpperCase()}${run.gap.words.slice(1)}.${run.gap.allowed ? " The job says that this is so." : ""}`);
      if (!run.gap.allowed) ways.push(...run.gap.ways.map((way) => [index, way]));
    }
    else if (run.closed && run.missing.length && run.legs.length) lines.push(`Run ${name}: ${run.missing.length === 1 ? "one face has" : `${run.missing.length} faces have`} no length yet.`);
  });
  const closing = find("closing");
  const key = JSON.stringify([lines, ways]);
  if (closing.dataset.key !== key) {
    closing.dataset.key = key;
    closing.replaceChildren(...(lines.length ? [el("p", {text: lines.join(" ")})] : []), ...(ways.length ? [el("div", {class: "inline"},
      "It closes with", ways.map(([index, way]) => el("button", {type: "button", onclick: () => lengthen(index, way)},
        way.map((face) => `${face.name} ${face.length}`).join(" and "))))] : []));
  }
  closing.classList.toggle("open", runs.some((run) => run.gap));
  show(find("plan-words"), told.join(" "));
}
