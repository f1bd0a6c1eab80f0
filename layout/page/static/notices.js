// What the user must know of and may answer: the file changed on disk, another tab wrote in the same field.

import {el, find} from "./dom.js";

const shown = new Map();

export function notice(key, words, answers = []) {
  const old = shown.get(key);
  if (old && old.dataset.words === words) return;
  drop(key);
  if (!words) return;
  const made = el("div", {class: "notice", "data-words": words}, el("p", {text: words}),
    el("div", {class: "inline"}, answers.map(([label, does]) => el("button", {type: "button", onclick: () => {
      drop(key);
      if (does) does();
    }}, label))));
  shown.set(key, made);
  find("notices").append(made);
}

export function drop(key) {
  const old = shown.get(key);
  if (old) old.remove();
  shown.delete(key);
}

// Someone else wrote in a field while it was typed in: nothing is overwritten unseen.
export function clash(place, there, mine, use, leave) {
  notice(`clash ${place}`, `${place}: meanwhile “${there || "nothing"}” was written there. You typed “${mine}”.`,
    [["Use mine", use], ["Keep that", leave]]);
}
