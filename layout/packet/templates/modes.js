
  // --- one screen a piece: cutting in cutting order, hanging in the one order over all faces --------

  const NS = "http://www.w3.org/2000/svg";
  const orders = { cut: packet.cut, hang: packet.hang };
  const turnOf = { cut: new Map(), hang: new Map() };
  Object.keys(orders).forEach(function (name) { orders[name].forEach(function (tag, i) { turnOf[name].set(tag, i); }); });
  const rollOrder = new Map();
  packet.cut.forEach(function (tag) { put(rollOrder, packet.pieces[tag].roll, tag); });
  const mode = { name: "", tag: "", awake: null, leaving: false };

  function doneIn(name) { return name === "cut" ? state.cut : state.hung; }

  function firstOpen(name, from) {
    const order = orders[name];
    for (let i = 0; i < order.length; i += 1) {
      const tag = order[(from + i) % order.length];
      if (!doneIn(name).has(tag)) { return tag; }
    }
    return "";
  }

  function modeHash(name, tag) { return "#" + name + ":" + encodeURIComponent(tag); }

  document.querySelectorAll("button[data-mode]").forEach(function (button) {
    button.addEventListener("click", function () {
      const name = button.dataset.mode;
      location.hash = modeHash(name, firstOpen(name, 0) || orders[name][0]);
    });
  });

  function enter(name, tag) {
    if (!turnOf[name].has(tag)) { return false; }
    mode.name = name;
    mode.tag = tag;
    root.classList.add("doing");
    byId("mode").hidden = false;
    byId("mode").dataset.mode = name;
    screen();
    byId("mode-body").scrollTop = 0;
    byId("mode-h").focus({ preventScroll: true });
    stayAwake();
    return true;
  }

  function leave() {
    if (!mode.name) { return; }
    mode.name = "";
    root.classList.remove("doing");
    byId("mode").hidden = true;
    if (mode.awake) { mode.awake.release().catch(function () {}); mode.awake = null; }
  }

  function stayAwake() {
    if (!navigator.wakeLock || mode.awake) { return; }
    navigator.wakeLock.request("screen").then(function (lock) {
      mode.awake = lock;
      lock.addEventListener("release", function () { mode.awake = null; });
    }).catch(function () {});
  }
  document.addEventListener("visibilitychange", function () {
    if (document.visibilityState === "visible" && mode.name) { stayAwake(); }
  });

  function placeOf(piece) { return piece.face ? piece.run + " · " + piece.face : piece.run; }

  function kindOf(piece) { return (piece.drop && piece.layer !== "membrane" ? piece.layer + " " : "") + piece.kind; }

  function screen() {
    const piece = packet.pieces[mode.tag], done = doneIn(mode.name).has(mode.tag);
    const order = orders[mode.name];
    byId("mode-h").textContent = mode.tag;
    byId("mode-h").classList.toggle("is-done", done);
    byId("mode-count").textContent = (turnOf[mode.name].get(mode.tag) + 1) + " of " + order.length + ", "
      + (mode.name === "cut" ? piece.roll : placeOf(piece)) + (done ? mode.name === "cut" ? " · cut" : " · hung" : "");
    byId("mode-done").textContent = done ? mode.name === "cut" ? "Not cut" : "Not hung" : mode.name === "cut" ? "Cut" : "Hung";
    byId("mode-done").classList.toggle("undo", done);
    byId("mode-strip").replaceChildren.apply(byId("mode-strip"), mode.name === "cut" ? [rollStrip(piece)] : []);
    byId("mode-picture").replaceChildren.apply(byId("mode-picture"), mode.name === "cut" ? [sketch()] : [faceMap(piece), fold()].filter(Boolean));
    byId("mode-words").replaceChildren.apply(byId("mode-words"), mode.name === "cut" ? cutWords(piece) : hangWords(piece));
    byId("mode-size").replaceChildren.apply(byId("mode-size"), mode.name === "cut"
      ? [make("span", piece.long.replace(/ mm$/, ""), "long"), " ", make("span", "× " + piece.wide, "wide")] : piece.left ? [make("span", piece.left, "long"), " ", make("span", "from the left of " + piece.face, "wide")]
        : [make("span", bound(piece.near || placeOf(piece)), "words")]);
    clocks();
  }
  painters.push(function () { if (mode.name && !mode.leaving) { screen(); } });

  function sketch() {
    const copy = cards.get(mode.tag).querySelector(".sketch").cloneNode(true);
    copy.classList.toggle("alone", !copy.querySelector(".corners"));
    return copy;
  }

  function fold() {
    const picture = cards.get(mode.tag).querySelector(".fold");
    return picture ? picture.cloneNode(true) : null;
  }

  function rollStrip(piece) {
    const strip = byId("roll-" + piece.roll).querySelector(".rollstrip").cloneNode(true);
    strip.setAttribute("preserveAspectRatio", "none");
    strip.querySelectorAll("[data-state]").forEach(function (part) {
      part.classList.toggle("is-here", part.dataset.state === mode.tag);
      part.querySelectorAll("text").forEach(function (words) { words.remove(); });
    });
    return strip;
  }

  // A length never breaks in itself: where a line ends, 2 3/16" would read as 3/16".
  function bound(words) { return words.replace(/(\d) (\d+\/\d|mm\b)/g, "$1\u00a0$2"); }

  function line(words, name) { return make("p", bound(words), name); }

  function cutWords(piece) {
    const found = [line("From " + piece.at + " to " + piece.to + " of " + piece.roll
      + (piece.across ? ", " + piece.across + " to " + piece.acrossTo + " across" : "") + (piece.turned ? ", turned" : ""), "from")];
    if (piece.lines) {
      const list = make("ul", "", "lines");
      piece.lines.forEach(function (words) { list.append(make("li", bound(words))); });
      found.push(list);
    }
    (piece.notes || []).forEach(function (words) { found.push(line(words, "note")); });
    found.push(line(kindOf(piece) + " for " + placeOf(piece) + ", pile " + piece.pile, "for"));
    return found;
  }

  // --- what must be on first -----------------------------------------------------------------------

  function faceKey(piece) { return JSON.stringify([piece.run, piece.face || ""]); }

  function isPrimed(piece) {
    const tick = state.primed.get(faceKey(piece));
    return Boolean(tick && tick.done);
  }

  function lacking(tag) {
    const piece = packet.pieces[tag], found = [];
    if (!state.cut.has(tag)) { found.push(tag + " is not ticked cut"); }
    if (piece.layer === "membrane" && !isPrimed(piece)) { found.push(placeOf(piece) + " is not ticked primed"); }
    (packet.before[tag] || []).forEach(function (other) {
      if (!state.hung.has(other) && !elsewhere(other)) { found.push(other + ", which must be on before it, does not hang"); }
    });
    return found;
  }

  function elsewhere(tag) { return state.told.some(function (one) { return one.what === "hung elsewhere" && one.piece === tag; }); }

  // Ticks a piece hung when nothing it needs is lacking; else asks, and says why it was done all the same.
  function tryHang(tag, then) {
    const found = lacking(tag);
    const hang = function () {
      tick("hung", tag, true);
      buzz();
      if (kept) { say(tag + " is hung."); }
      if (then) { then(); }
    };
    if (!found.length) { hang(); return; }
    const list = make("ul", "", "lacking");
    found.slice(0, 12).forEach(function (words) { list.append(make("li", words)); });
    if (found.length > 12) { list.append(make("li", "and " + (found.length - 12) + " more")); }
    const why = input("text", "Hang it anyway, because");
    ask("Stop: " + tag, [list, why.label], "Hang anyway", function () {
      if (!why.field.value.trim()) { return "Say why."; }
      state.told.push({ what: "hung anyway", piece: tag, why: why.field.value.trim().slice(0, 200), lacking: found.slice(0, 20), at: now() });
      hang();
      return "";
    }, function () { if (mode.name) { screen(); } });
  }

  function hangWords(piece) {
    const found = [];
    const where = [];
    if (piece.left) { where.push("left edge " + piece.left + " from the left end of " + piece.face); }
    if (piece.near) { where.push(piece.near); }
    if (!piece.left && piece.station) { where.push("left edge at station " + piece.station); }
    if (where.length) { found.push(line(where.join("; "), "from")); }
    const list = make("ul", "", "needs"), met = [];
    const need = function (words, good) {
      if (good) { met.push(words); return; }
      list.append(make("li", "✗ " + bound(words), "not"));
    };
    need(state.cut.has(mode.tag) ? "is cut" : "is not cut yet, from " + piece.roll, state.cut.has(mode.tag));
    if (piece.layer === "membrane") {
      const primed = isPrimed(piece);
      const item = make("li", (primed ? "✓ " : "✗ ") + "primer on " + placeOf(piece), primed ? "ok" : "not");
      const button = make("button", primed ? "Primed again now" : "Primed now", "prime");
      button.type = "button";
      button.addEventListener("click", function () { prime(piece); });
      item.append(" ", button);
      list.append(item);
    }
    const over = new Map((piece.edges || []).map(function (edge) { return [edge[2], edge]; }));
    (packet.before[mode.tag] || []).forEach(function (other) {
      const lies = packet.pieces[other], edge = over.get(lies.drop) || over.get(other);
      const words = edge && edge[1] === "over" ? "over " + other + ", " + edge[0] + " edge, lap " + edge[3]
        : edge ? "after " + other + ", " + edge[0] + " edge" : lies.kind + " " + other;
      need(words, state.hung.has(other) || elsewhere(other));
    });
    if (met.length) { list.append(make("li", "✓ " + bound(met.join("; ")), "ok")); }
    found.push(list);
    (piece.edges || []).forEach(function (edge) {
      if (edge[1] === "under") { found.push(line(edge[0] + " edge goes under " + edge[2] + ", lap " + edge[3], "under")); }
    });
    const notes = (piece.notes || []).filter(function (words) { return !/^(rip |turned:)/.test(words); });
    notes.concat(piece.dabs || []).forEach(function (words) { found.push(line(words, "note")); });
    found.push(line(kindOf(piece) + ", " + piece.long + " × " + piece.wide + ", pile " + piece.pile, "for"));
    return found;
  }

  function prime(piece) {
    state.primed.set(faceKey(piece), { done: true, at: now() });
    keep();
    sum();
    if (kept) { say(placeOf(piece) + " is primed."); }
  }

  // --- countdowns --------------------------------------------------------------------------------------

  function span(hours) {
    const whole = Math.floor(Math.abs(hours)), minutes = Math.floor(Math.abs(hours) * 60) % 60;
    if (whole >= 48) { return Math.floor(whole / 24) + " d " + whole % 24 + " h"; }
    return whole ? whole + " h " + minutes + " min" : minutes + " min";
  }

  function clockOf(run, face) {
    const words = [], primed = state.primed.get(JSON.stringify([run, face]));
    const since = function (at) { return (Date.now() - Date.parse(at)) / 3600000; };
    const own = packet.hang.filter(function (tag) {
      const piece = packet.pieces[tag];
      return piece.run === run && (piece.face || "") === face && piece.layer === "membrane";
    });
    const open = own.some(function (tag) { return !state.hung.has(tag); });
    if (primed && primed.done && primed.at && open) {
      const left = packet.primerHours === null ? null : packet.primerHours - since(primed.at);
      words.push(left === null ? "primed " + span(since(primed.at)) + " ago: its open time is on the primer's data sheet"
        : left > 0 ? "primer open for " + span(left) : "primer's open time over since " + span(left) + ": prime again");
    }
    const first = own.filter(function (tag) { return packet.pieces[tag].drop && state.hung.has(tag); })
      .map(function (tag) { return state.ticks.get("hung|" + tag).at; }).filter(Boolean).sort()[0];
    if (first) {
      const left = packet.coverDays === null ? null : 24 * packet.coverDays - since(first);
      words.push(left === null ? "bare for " + span(since(first)) + ": cover it as the maker's data sheet says"
        : left > 0 ? "cover within " + span(left) : "should have been covered " + span(left) + " ago");
    }
    return words.join(" · ");
  }

  function clocks() {
    document.querySelectorAll("[data-clock]").forEach(function (element) {
      if (!element.checkVisibility || !element.checkVisibility()) { return; }
      const at = element.dataset.clock.indexOf("|");
      const words = clockOf(element.dataset.clock.slice(0, at), element.dataset.clock.slice(at + 1));
      if (element.textContent !== words) { element.textContent = words; }
    });
    if (mode.name) {
      const piece = packet.pieces[mode.tag];
      byId("mode-clock").textContent = mode.name === "hang" ? clockOf(piece.run, piece.face || "") : "";
    }
  }
  setInterval(clocks, 20000);

  // --- Done, Back, Next ----------------------------------------------------------------------------------

  function go(step) {
    const order = orders[mode.name];
    const next = order[Math.max(0, Math.min(order.length - 1, turnOf[mode.name].get(mode.tag) + step))];
    if (next !== mode.tag) { turnTo(next); }
  }

  function turnTo(tag) {
    history.replaceState(null, "", modeHash(mode.name, tag));
    enter(mode.name, tag);
  }

  function onward() {
    const next = firstOpen(mode.name, turnOf[mode.name].get(mode.tag));
    if (!next) {
      say(mode.name === "cut" ? "Everything is cut." : "Everything hangs.");
      screen();
      return;
    }
    turnTo(next);
  }

  byId("mode-done").addEventListener("click", function () {
    const tag = mode.tag;
    if (doneIn(mode.name).has(tag)) {
      tick(mode.name === "cut" ? "cut" : "hung", tag, false);
      return;
    }
    if (mode.name === "cut") {
      mode.leaving = true; // the screen that comes next is drawn, not this one once more
      tick("cut", tag, true);
      mode.leaving = false;
      buzz();
      onward();
      return;
    }
    tryHang(tag, onward);
  });
  byId("mode-back").addEventListener("click", function () { go(-1); });
  byId("mode-next").addEventListener("click", function () { go(1); });
  byId("mode-close").addEventListener("click", function () {
    const piece = packet.pieces[mode.tag];
    location.hash = mode.name === "cut" ? "#roll-" + encodeURIComponent(piece.roll) : "#hang";
  });
  byId("mode-more").addEventListener("click", function () { whatHappened(mode.tag); });
  document.addEventListener("keydown", function (event) {
    if (!mode.name || document.querySelector("dialog[open]")) { return; }
    if (event.key === "ArrowRight") { go(1); }
    if (event.key === "ArrowLeft") { go(-1); }
    if (event.key === "Escape") { byId("mode-close").click(); }
  });

  function buzz() {
    const touched = navigator.userActivation && navigator.userActivation.hasBeenActive;
    if (navigator.vibrate && touched) { navigator.vibrate(40); }
    if (!look.sound || !window.AudioContext) { return; }
    try {
      const sound = new AudioContext(), tone = sound.createOscillator(), level = sound.createGain();
      level.gain.value = 0.15;
      tone.frequency.value = 880;
      tone.connect(level).connect(sound.destination);
      tone.start();
      tone.stop(sound.currentTime + 0.08);
      tone.onended = function () { sound.close(); };
    } catch (error) { look.sound = false; }
  }

  // --- the wall around a piece, to scale ------------------------------------------------------------------

  function part(parent, kind, attributes, words) {
    const element = document.createElementNS(NS, kind);
    Object.keys(attributes).forEach(function (key) { element.setAttribute(key, attributes[key]); });
    if (words !== undefined) { element.textContent = words; }
    parent.append(element);
    return element;
  }

  function faceMap(piece) {
    const wall = packet.walls[piece.run];
    if (!wall) { return null; }
    const foot = packet.unit === "mm" ? 305 : 192;
    const face = wall.faces.find(function (one) { return one[0] === piece.face; });
    const spot = piece.spot;
    const ends = piece.box || (spot !== undefined ? [spot, 0, spot, 0] : face ? [face[1], 0, face[2], 0] : [0, 0, wall.length, 0]);
    let left = Math.max(ends[0] - 6 * foot, wall.closed ? -wall.length : 0);
    let right = Math.min(ends[2] + 6 * foot, wall.closed ? 2 * wall.length : wall.length);
    const turns = wall.closed ? [-wall.length, 0, wall.length] : [0];
    const ys = wall.top.concat(wall.bottom).map(function (point) { return point[1]; });
    const high = Math.max.apply(null, ys), low = Math.min.apply(null, ys);
    const wide = 360, scale = Math.min(wide / (right - left), 230 / (high - low));
    const X = function (x) { return Math.round((x - left) * scale * 10) / 10; };
    const Y = function (y) { return Math.round((high - y) * scale * 10) / 10 + 18; };
    const tall = (high - low) * scale + 48;
    const svg = document.createElementNS(NS, "svg");
    svg.setAttribute("viewBox", "0 0 " + Math.round((right - left) * scale) + " " + Math.round(tall));
    svg.setAttribute("class", "map");
    svg.setAttribute("role", "img");
    svg.setAttribute("aria-label", mode.tag + " on the wall, seen from the soil side");
    const path = function (points, turn) {
      return points.map(function (point, i) { return (i ? "L" : "M") + X(point[0] + turn) + "," + Y(point[1]); }).join("");
    };
    turns.forEach(function (turn) {
      if (turn + wall.length < left || turn > right) { return; }
      const round = wall.top.concat(wall.bottom.slice().reverse());
      part(svg, "path", { "class": "wall", d: path(round, turn) + "Z" });
    });
    const nearBox = function (box, turn) { return box && box[2] + turn > left && box[0] + turn < right; };
    packet.hang.forEach(function (tag) {
      const other = packet.pieces[tag];
      if (tag === mode.tag || other.run !== piece.run || !other.box) { return; }
      if (piece.drop ? other.layer !== piece.layer || !other.drop : other.kind !== piece.kind) { return; }
      turns.forEach(function (turn) {
        if (!nearBox(other.box, turn)) { return; }
        const b = other.box;
        const group = part(svg, "g", { "class": "other" + (state.hung.has(tag) ? " is-hung" : "") });
        part(group, "rect", { x: X(b[0] + turn), y: Y(b[1]), width: Math.max(1, (b[2] - b[0]) * scale), height: Math.max(1, (b[1] - b[3]) * scale) });
        const middle = X((b[0] + b[2]) / 2 + turn);
        if (piece.drop && middle > 12 && middle < (right - left) * scale - 12) {
          part(group, "text", { x: middle, y: Y((b[1] + b[3]) / 2), "text-anchor": "middle" }, tag.replace(/^.*?-/, ""));
        }
      });
    });
    turns.forEach(function (turn) {
      if (turn + wall.length < left || turn > right) { return; }
      part(svg, "path", { "class": "foot", d: path(wall.footing, turn) });
      wall.holes.forEach(function (hole) {
        const head = Math.min(hole[2], high);
        part(svg, "rect", { "class": "hole", x: X(hole[1] + turn), y: Y(head), width: (hole[3] - hole[1]) * scale, height: Math.max(1, (head - hole[4]) * scale) });
      });
      wall.rounds.forEach(function (one) {
        part(svg, "circle", { "class": "hole", cx: X(one[1] + turn), cy: Y(one[2]), r: Math.max(2, one[3] * scale / 2) });
      });
      wall.faces.forEach(function (one) {
        if (one[2] + turn <= left || one[1] + turn >= right) { return; }
        part(svg, "path", { "class": "corner", d: "M" + X(one[2] + turn) + ",4V" + Y(low) });
        part(svg, "text", { "class": "face", x: Math.max(4, X(one[1] + turn) + 4), y: 13 }, one[0]);
      });
    });
    if (piece.box) {
      const b = piece.box;
      const here = part(svg, "g", { "class": "here" });
      part(here, "rect", { x: X(b[0]), y: Y(b[1]), width: Math.max(3, (b[2] - b[0]) * scale), height: Math.max(3, (b[1] - b[3]) * scale) });
      const middle = X((b[0] + b[2]) / 2);
      part(svg, "text", { "class": "name", x: middle, y: Math.max(30, Y((b[1] + b[3]) / 2) + 5), "text-anchor": "middle" }, mode.tag.replace(/^.*?-/, ""));
      if (piece.left && face) {
        const from = Math.max(face[1], left), at = Y(low) + 10;
        part(svg, "path", { "class": "dim", d: "M" + X(from) + "," + at + "H" + X(b[0]) + "M" + X(b[0]) + "," + (at - 5) + "v10"
          + (from === face[1] ? "M" + X(from) + "," + (at - 5) + "v10" : "") });
        const place = Math.max(40, Math.min((right - left) * scale - 40, (X(from) + X(b[0])) / 2));
        part(svg, "text", { "class": "measure", x: place, y: at + 15, "text-anchor": "middle" }, piece.left);
      }
    } else if (spot !== undefined && piece.high !== undefined) {
      part(svg, "circle", { "class": "ring", cx: X(spot), cy: Y(piece.high), r: 11 });
    } else if (spot !== undefined) {
      part(svg, "path", { "class": "spot", d: "M" + X(spot) + "," + Y(low) + "m-12,16l12,-16l12,16z" });
    }
    return svg;
  }
