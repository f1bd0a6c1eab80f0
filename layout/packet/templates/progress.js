  const root = document.documentElement;
  const packet = JSON.parse(document.getElementById("packet-data").textContent);
  const known = new Set(packet.tags);
  const stampOf = new Map(packet.tags.map(function (tag, i) { return [tag, packet.stamps[i]]; }));
  const ownKey = "lapwright:" + packet.plan;
  const jobKey = "lapwright-job:" + packet.job + "|" + packet.number;
  const status = document.getElementById("status");
  // ticks: "cut|TAG" and "hung|TAG" -> { done, at }; primed: "RUN|FACE" -> { done, at }; at is when, as text
  const state = { cut: new Set(), hung: new Set(), ticks: new Map(), primed: new Map(), told: [] };
  const painters = [];
  let kept = true;
  let quiet = 0;

  function byId(name) { return document.getElementById(name); }

  function make(kind, words, name) {
    const element = document.createElement(kind);
    if (words) { element.textContent = words; }
    if (name) { element.className = name; }
    return element;
  }

  function say(words) {
    status.textContent = words;
    clearTimeout(quiet);
    quiet = setTimeout(function () { status.textContent = ""; }, 6000);
  }

  function now() { return new Date().toISOString(); }

  // --- progress: what is cut, hung and primed, and what happened ---------------------------------

  function progress() {
    const listed = function (set) { return packet.tags.filter(function (tag) { return set.has(tag); }); };
    const ticks = [], stamps = {};
    state.ticks.forEach(function (tick, key) {
      const tag = key.slice(key.indexOf("|") + 1);
      ticks.push({ piece: tag, what: key.slice(0, key.indexOf("|")), done: tick.done, at: tick.at });
      stamps[tag] = stampOf.get(tag);
    });
    const primed = Array.from(state.primed.entries()).map(function (entry) {
      const names = JSON.parse(entry[0]);
      return { run: names[0], face: names[1], done: entry[1].done, at: entry[1].at };
    });
    return { format: packet.format, version: packet.version, job: packet.job, number: packet.number, plan: packet.plan,
      cut: listed(state.cut), hung: listed(state.hung), ticks: ticks, stamps: stamps, primed: primed, told: state.told };
  }

  function setTick(what, tag, done, at) {
    state.ticks.set(what + "|" + tag, { done: done, at: at });
    if (done) { state[what].add(tag); } else { state[what].delete(tag); }
  }

  // What hangs has been cut, and what is not cut does not hang.
  function tick(what, tag, done) {
    const at = now();
    setTick(what, tag, done, at);
    if (what === "hung" && done && !state.cut.has(tag)) { setTick("cut", tag, true, at); }
    if (what === "cut" && !done && state.hung.has(tag)) { setTick("hung", tag, false, at); }
    keep();
    paint(tag);
    (groupsOf.get(tag) || []).forEach(count);
    sum();
  }

  function isText(value) { return typeof value === "string"; }

  function check(data) {
    const good = data !== null && typeof data === "object" && data.format === packet.format
      && (data.version === undefined || data.version === 1 || data.version === 2)
      && Array.isArray(data.cut) && Array.isArray(data.hung) && data.cut.concat(data.hung).every(isText)
      && [data.ticks, data.primed, data.told].every(function (list) { return list === undefined || Array.isArray(list); })
      && (data.ticks || []).every(function (one) {
        return one && isText(one.piece) && (one.what === "cut" || one.what === "hung") && typeof one.done === "boolean" && isText(one.at);
      })
      && (data.primed || []).every(function (one) {
        return one && isText(one.run) && isText(one.face) && typeof one.done === "boolean" && isText(one.at);
      })
      && (data.told || []).every(function (one) { return one && isText(one.what) && isText(one.at); });
    if (!good) { throw new Error("not a progress file"); }
  }

  // Takes what another file says into what is here; of two words on one thing the later stands. Returns tags that are
  // of no piece here, tags whose piece has another shape here, and how many words were contradicted.
  function take(data) {
    check(data);
    const same = data.plan === undefined || data.plan === packet.plan;
    const strangers = new Set(), reshaped = new Set();
    let against = 0;
    const fits = function (tag) {
      if (!known.has(tag)) { strangers.add(tag); return false; }
      if (!same && data.stamps && data.stamps[tag] !== stampOf.get(tag)) { reshaped.add(tag); return false; }
      return true;
    };
    const ticks = (data.ticks || []).slice();
    const spoken = new Set(ticks.map(function (one) { return one.what + "|" + one.piece; }));
    [["cut", data.cut.concat(data.hung)], ["hung", data.hung]].forEach(function (pair) {
      pair[1].forEach(function (tag) {
        if (!spoken.has(pair[0] + "|" + tag)) { ticks.push({ what: pair[0], piece: tag, done: true, at: "" }); }
      });
    });
    ticks.forEach(function (one) {
      if (!fits(one.piece)) { return; }
      const here = state.ticks.get(one.what + "|" + one.piece);
      if (here && here.done !== one.done) { against += 1; }
      if (!here || one.at > here.at) { setTick(one.what, one.piece, one.done, one.at); }
    });
    packet.tags.forEach(function (tag) {
      if (state.hung.has(tag) && !state.cut.has(tag)) { setTick("hung", tag, false, now()); }
    });
    (data.primed || []).forEach(function (one) {
      const key = JSON.stringify([one.run, one.face]);
      const here = state.primed.get(key);
      if (!here || one.at > here.at) { state.primed.set(key, { done: one.done, at: one.at }); }
    });
    if (same) {
      const have = new Set(state.told.map(function (one) { return JSON.stringify(one); }));
      (data.told || []).forEach(function (one) { if (!have.has(JSON.stringify(one))) { state.told.push(one); } });
      state.told.sort(function (a, b) { return a.at < b.at ? -1 : a.at > b.at ? 1 : 0; });
    }
    return { strangers: strangers.size, reshaped: Array.from(reshaped), against: against };
  }

  // Storage of its own for each plan, and a word on which plan of the job was worked from last. A browser that keeps
  // nothing may still keep the tab's name over a reload.
  function read(key) {
    try {
      return localStorage.getItem(key);
    } catch (error) {
      kept = false;
      try {
        const all = JSON.parse(window.name || "{}");
        return typeof all[key] === "string" ? all[key] : null;
      } catch (fault) { return null; }
    }
  }

  function write(key, text) {
    try {
      localStorage.setItem(key, text);
      kept = true;
    } catch (error) {
      kept = false;
      let all = {};
      try { all = JSON.parse(window.name || "{}"); } catch (fault) { all = {}; }
      all[key] = text;
      window.name = JSON.stringify(all);
    }
  }

  function load() {
    try {
      const own = read(ownKey), last = read(jobKey);
      if (own) { take(JSON.parse(own)); return; }
      const before = last && last !== packet.plan ? read("lapwright:" + last) : null;
      if (!before) { return; }
      const told = take(JSON.parse(before));
      if (!state.ticks.size) { return; }
      const lost = told.reshaped.length ? " Not taken, since their shape is another now: " + told.reshaped.slice(0, 8).join(", ")
        + (told.reshaped.length > 8 ? " and more." : ".") : "";
      carried = "Ticks of the plan before are kept where a piece has the same tag and shape." + lost
        + " Load the progress file of the new plan if it came with one.";
    } catch (error) {
      say("What this browser kept cannot be read; nothing was taken.");
    }
  }
  let carried = "";

  function keep() {
    write(ownKey, JSON.stringify(progress()));
    write(jobKey, packet.plan);
    if (!kept) { say("This browser does not keep ticks: save the progress file before you close the page."); }
  }

  const boxes = new Map();
  const shown = new Map();
  function put(map, tag, element) {
    if (!map.has(tag)) { map.set(tag, []); }
    map.get(tag).push(element);
  }
  document.querySelectorAll("input[data-tick]").forEach(function (box) { put(boxes, box.dataset.piece, box); });
  // a card has the ticks of its piece in the lists
  document.querySelectorAll("[data-card]").forEach(function (card) {
    const ticks = make("div", "", "ticks"), tag = card.dataset.card;
    ticks.append.apply(ticks, boxes.get(tag).map(function (box) { return box.closest("label").cloneNode(true); }));
    card.append(ticks);
    ticks.querySelectorAll("input").forEach(function (box) { put(boxes, tag, box); });
  });
  document.querySelectorAll("svg .piece").forEach(function (part) {
    const tags = part.dataset.all ? JSON.parse(part.dataset.all) : [part.dataset.piece];
    part.tags = tags;
    tags.forEach(function (tag) { put(shown, tag, part); });
  });
  document.querySelectorAll("[data-state]").forEach(function (part) {
    part.tags = [part.dataset.state];
    put(shown, part.dataset.state, part);
  });
  const groups = Array.from(document.querySelectorAll("[data-group]")).map(function (element) {
    const rows = Array.from(element.querySelectorAll("[data-row]"));
    return { done: element.dataset.done, rows: rows, tags: rows.map(function (row) { return row.dataset.row; }),
      bar: element.querySelector("progress"), count: element.querySelector("[data-count]") };
  });
  const groupsOf = new Map();
  groups.forEach(function (group) { group.tags.forEach(function (tag) { put(groupsOf, tag, group); }); });

  function every(set, tags) { return tags.every(function (tag) { return set.has(tag); }); }

  function paint(tag) {
    (boxes.get(tag) || []).forEach(function (box) { box.checked = state[box.dataset.tick].has(tag); });
    (shown.get(tag) || []).forEach(function (part) {
      part.classList.toggle("is-hung", every(state.hung, part.tags));
      part.classList.toggle("is-cut", every(state.cut, part.tags) && !every(state.hung, part.tags));
    });
  }

  function count(group) {
    const done = group.tags.filter(function (tag) { return state[group.done].has(tag); }).length;
    group.bar.value = done;
    group.count.textContent = done + " of " + group.tags.length + " " + group.done;
    group.rows.forEach(function (row) { row.classList.toggle("is-done", state[group.done].has(row.dataset.row)); });
  }

  function sum() {
    byId("sum").textContent = state.cut.size + " of " + packet.tags.length + " pieces cut, " + state.hung.size + " hung.";
    if (byId("more").classList.contains("on")) { byId("text").value = JSON.stringify(progress()); }
    painters.forEach(function (painter) { painter(); });
  }

  function paintAll() {
    packet.tags.forEach(paint);
    groups.forEach(count);
    sum();
  }

  document.addEventListener("change", function (event) {
    const box = event.target;
    if (!box.dataset || !box.dataset.tick) { return; }
    const tag = box.dataset.piece, what = box.dataset.tick;
    if (what === "hung" && box.checked) {
      box.checked = false;
      tryHang(tag, null);
      return;
    }
    tick(what, tag, box.checked);
    if (kept) { say(tag + (box.checked ? " is " : " is not ") + what + "."); }
  });

  window.addEventListener("storage", function (event) {
    if (event.key === ownKey && event.newValue) { load(); paintAll(); }
  });

  // --- the progress file, out and in ---------------------------------------------------------------

  function progressText() { return JSON.stringify(progress(), null, 1) + "\n"; }

  byId("export").addEventListener("click", function () {
    const url = URL.createObjectURL(new Blob([progressText()], { type: "application/json" }));
    const link = document.createElement("a");
    link.href = url;
    link.download = packet.file;
    document.body.append(link);
    link.click();
    link.remove();
    setTimeout(function () { URL.revokeObjectURL(url); }, 10000);
    say("Progress saved as " + packet.file + ".");
  });

  function sharedFile() { return new File([progressText()], packet.file, { type: "application/json" }); }

  try {
    byId("share").hidden = !(navigator.canShare && navigator.canShare({ files: [sharedFile()] }));
  } catch (error) { byId("share").hidden = true; }
  byId("share").addEventListener("click", function () {
    navigator.share({ files: [sharedFile()], title: packet.file }).catch(function (error) {
      if (error.name !== "AbortError") { say("It could not be shared; save the file instead."); }
    });
  });

  byId("import").addEventListener("change", function (event) {
    const file = event.target.files[0];
    if (!file) { return; }
    file.text().then(function (text) { return text.trimStart().startsWith("{") ? text : unchained(text); }).then(function (text) {
      const data = JSON.parse(text);
      const told = take(data);
      keep();
      paintAll();
      const other = data.plan && data.plan !== packet.plan ? " It was saved from another plan: check the ticks." : "";
      const reshaped = told.reshaped.length ? " Not taken, of another shape here: " + told.reshaped.slice(0, 8).join(", ") + "." : "";
      const against = told.against ? " " + told.against + " times it said something else: the later word stands." : "";
      say("Progress loaded." + (told.strangers ? " " + told.strangers + " tags are of no piece here." : "") + other + reshaped + against);
    }).catch(function () {
      say("That is not a progress file of this program; nothing was changed.");
    });
    event.target.value = "";
  });
