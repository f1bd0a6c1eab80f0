// The other parts of the job, made from the fields that the reader knows, and the packet.

import {el} from "./dom.js";
import {button, faultLine, field, fieldOf, fieldsOf, optional, part, parts} from "./fields.js";
import {ask, at, store} from "./store.js";
import {freeTag} from "./values.js";

const PLACED = ["job", "units", "sheet", "rules", "runs", "film_side_up"];

export function job() {
  return [
    el("div", {class: "grid"}, part("InfoPart", ["job"])),
    el("div", {class: "grid"},
      field(fieldOf("JobPart", "units"), ["units"], {empty: "inches (usual)", words: {in: "feet and inches", mm: "millimetres"}}),
      field(fieldOf("JobPart", "film_side_up"), ["film_side_up"], {label: "Sheet is marked film side up", class: "check"})),
    el("p", {class: "help", text: "Lengths as on the drawing: 8'-4 1/2\", 100 1/2\", 7 ft, 2.44 m, 850 mm; a bare number is in inches, or in millimetres."}),
    faultLine(["job"]), faultLine([]),
  ];
}

export function sheet() {
  const remnants = () => new Set((at(["sheet", "remnants"]) || []).map((item) => item?.tag));
  return [
    el("div", {class: "grid"}, part("SheetPart", ["sheet"], {without: ["rolls", "remnants"]})),
    parts(fieldOf("SheetPart", "rolls"), ["sheet", "rolls"], {legend: "Rolls that can be bought", one: "roll", focus: "length"}),
    parts(fieldOf("SheetPart", "remnants"), ["sheet", "remnants"], {legend: "Remnants in stock, used first", one: "remnant",
      focus: "length", fresh: () => ({tag: freeTag("K", remnants())})}),
    faultLine(["sheet"]),
  ];
}

export function rules() {
  return [
    el("p", {class: "lead", text: "An empty field keeps the usual value, shown in grey. The laps and the collar's reach are published minimums; the sheet maker's instructions rule."}),
    el("div", {class: "grid helped"}, part("RulesPart", ["rules"], {help: true})), faultLine(["rules"]),
  ];
}

export function takeoff() {
  return [
    el("p", {class: "lead", text: "What else is counted and priced. What is left out is not counted; what has no price is listed as unpriced."}),
    fieldsOf("JobPart").filter((what) => !PLACED.includes(what.key)).map((what) => {
      if (what.kind === "part") return optional(what, [what.key], {help: true});
      if (what.kind === "parts") return parts(what, [what.key]);
      return el("div", {class: "grid"}, field(what, [what.key], {help: true}));
    }),
  ];
}

export function packet() {
  const {planning, planned, revision, folder, packet: place} = store.state;
  const parts = [];
  if (planning?.running) {
    parts.push(el("p", {class: "working", role: "status", text: `Planning: ${planning.words} …`}),
      el("p", {class: "help", text: "The rolls are counted as long as a cheaper plan is not ruled out."}),
      button("Take the best so far", () => ask("stop", {})));
  } else if (planning?.trouble) {
    parts.push(el("p", {class: "notice", role: "alert", text: planning.trouble}));
  }
  if (planned) {
    parts.push(
      el("p", {class: planned === revision ? "done" : "stale", text: planned === revision ? "The packet is written."
        : "The job was changed since this packet was written: plan it again."}),
      el("p", {class: "links"}, [["packet.html", "Open the packet"], ["packet.pdf", "PDF to print"], ["cut-list.csv", "Cut list"],
        ["takeoff.csv", "Takeoff"], ["elevations.dxf", "DXF"]].map(([file, words]) =>
        el("a", {href: `packet/${file}`, target: "_blank", rel: "noopener", class: file === "packet.html" ? "main" : ""}, words))),
      el("p", {class: "help", text: `It lies in ${folder}, folder ${place}. Ticks made on the page that opens here are kept only there: on site, open packet.html from its folder.`}),
      el("ul", {class: "summary"}, (planning?.lines || []).map((line) => el("li", {text: line}))));
  } else if (!planning) {
    parts.push(el("p", {class: "lead", text: `Plan works out every drop, lap, strip and roll and writes the packet to ${place}, beside the job file: cut list, roll cards, drawings, takeoff.`}));
  }
  return parts;
}
