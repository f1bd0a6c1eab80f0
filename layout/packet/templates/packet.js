"use strict";
(function () {
  const root = document.documentElement;
  const packet = JSON.parse(document.getElementById("packet-data").textContent);
  const known = new Set(packet.tags);
  const storeKey = "lapwright:" + packet.plan;
  const state = { cut: new Set(), hung: new Set() };
  const status = document.getElementById("status");
  let kept = true;
  let quiet = 0;

  function say(words) {
    status.textContent = words;
    clearTimeout(quiet);
    quiet = setTimeout(function () { status.textContent = ""; }, 6000);
  }

  // --- progress: what is cut and hung -------------------------------------------------------

  function progress() {
    const listed = function (set) { return packet.tags.filter(function (tag) { return set.has(tag); }); };
    return { format: packet.format, job: packet.job, plan: packet.plan, cut: listed(state.cut), hung: listed(state.hung) };
  }

  // Returns how many tags are of no piece here, or throws when it is no progress file.
  function take(data) {
    if (data === null || typeof data !== "object" || data.format !== packet.format
        || !Array.isArray(data.cut) || !Array.isArray(data.hung)) {
      throw new Error("not a progress file");
    }
    const tags = data.cut.concat(data.hung);
    state.cut = new Set(tags.filter(function (tag) { return known.has(tag); }));
    state.hung = new Set(data.hung.filter(function (tag) { return known.has(tag); }));
    return tags.filter(function (tag) { return !known.has(tag); }).length;
  }

  function load() {
    try {
      const text = localStorage.getItem(storeKey);
      if (text) { take(JSON.parse(text)); }
    } catch (error) {
      kept = false;
    }
  }

  function keep() {
    try {
      localStorage.setItem(storeKey, JSON.stringify(progress()));
      kept = true;
    } catch (error) {
      kept = false;
    }
    if (!kept) { say("This browser does not keep ticks: save the progress file before you close the page."); }
  }

  const boxes = new Map();
  const shown = new Map();
  function put(map, tag, element) {
    if (!map.has(tag)) { map.set(tag, []); }
    map.get(tag).push(element);
  }
  document.querySelectorAll("input[data-tick]").forEach(function (box) { put(boxes, box.dataset.piece, box); });
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
    document.getElementById("sum").textContent = state.cut.size + " of " + packet.tags.length + " pieces cut, "
      + state.hung.size + " hung.";
    document.getElementById("text").value = JSON.stringify(progress());
  }

  function paintAll() {
    packet.tags.forEach(paint);
    groups.forEach(count);
    sum();
  }

  document.addEventListener("change", function (event) {
    const box = event.target;
    if (!box.dataset || !box.dataset.tick) { return; }
    const tag = box.dataset.piece;
    const set = state[box.dataset.tick];
    if (box.checked) { set.add(tag); } else { set.delete(tag); }
    // what hangs has been cut
    if (box.dataset.tick === "hung" && box.checked) { state.cut.add(tag); }
    if (box.dataset.tick === "cut" && !box.checked) { state.hung.delete(tag); }
    keep();
    paint(tag);
    (groupsOf.get(tag) || []).forEach(count);
    sum();
    if (kept) { say(tag + (box.checked ? " is " : " is not ") + box.dataset.tick + "."); }
  });

  window.addEventListener("storage", function (event) {
    if (event.key === storeKey) { load(); paintAll(); }
  });

  document.getElementById("export").addEventListener("click", function () {
    const url = URL.createObjectURL(new Blob([JSON.stringify(progress(), null, 1) + "\n"], { type: "application/json" }));
    const link = document.createElement("a");
    link.href = url;
    link.download = packet.file;
    document.body.append(link);
    link.click();
    link.remove();
    setTimeout(function () { URL.revokeObjectURL(url); }, 10000);
    say("Progress saved as " + packet.file + ".");
  });

  document.getElementById("import").addEventListener("change", function (event) {
    const file = event.target.files[0];
    if (!file) { return; }
    file.text().then(function (text) {
      const data = JSON.parse(text);
      const strangers = take(data);
      keep();
      paintAll();
      const other = data.plan && data.plan !== packet.plan ? " It was saved from another plan: check the ticks." : "";
      say("Progress loaded." + (strangers ? " " + strangers + " tags are of no piece here." : "") + other);
    }).catch(function () {
      say("That is not a progress file of this program; nothing was changed.");
    });
    event.target.value = "";
  });

  // --- views and cards ------------------------------------------------------------------------

  const views = Array.from(document.querySelectorAll(".view"));
  const cards = new Map();
  document.querySelectorAll("[data-card]").forEach(function (card) { cards.set(card.dataset.card, card); });
  const pieces = document.getElementById("pieces");
  let before = "#wall";
  let opened = "";

  function show(name) {
    views.forEach(function (view) { view.classList.toggle("on", view.id === name); });
    document.querySelectorAll("nav a").forEach(function (link) {
      if (link.dataset.view === name) { link.setAttribute("aria-current", "page"); } else { link.removeAttribute("aria-current"); }
    });
    fitNew();
  }

  function text(hash) {
    try { return decodeURIComponent(hash.slice(1)); } catch (error) { return hash.slice(1); }
  }

  function openCard(tag, focus) {
    if (opened) {
      cards.get(opened).classList.remove("current");
      (shown.get(opened) || []).forEach(function (part) { part.classList.remove("is-current"); });
    }
    opened = tag;
    const card = cards.get(tag);
    card.classList.add("current");
    pieces.classList.add("one");
    (shown.get(tag) || []).forEach(function (part) { part.classList.add("is-current"); });
    show("pieces");
    window.scrollTo(0, 0);
    if (focus) { card.querySelector("h3").focus({ preventScroll: true }); }
  }

  function route(focus) {
    const name = text(location.hash || "#wall");
    if (name.startsWith("piece-") && cards.has(name.slice(6))) {
      openCard(name.slice(6), focus);
      return;
    }
    before = location.hash || "#wall";
    pieces.classList.remove("one");
    if (name.startsWith("roll-")) {
      show("cut");
      const roll = document.getElementById(name);
      if (roll) {
        roll.scrollIntoView();
        if (focus) { roll.querySelector("h3").focus({ preventScroll: true }); }
      }
      return;
    }
    if (name === "main") { return; }
    const view = views.some(function (one) { return one.id === name; }) ? name : "wall";
    show(view);
    if (focus) { window.scrollTo(0, 0); }
  }

  function open(tag) { location.hash = "#piece-" + encodeURIComponent(tag); }

  window.addEventListener("hashchange", function () { route(true); });
  document.getElementById("back").addEventListener("click", function () { location.hash = before; });

  // --- find by tag ------------------------------------------------------------------------------

  const find = document.getElementById("find");
  const found = document.getElementById("found");

  function matches(words) {
    const mark = words.indexOf("#piece-");
    if (mark >= 0) {
      const tag = text("#" + words.slice(mark + 7));
      return known.has(tag) ? [tag] : [];
    }
    const wanted = words.trim().toLocaleLowerCase();
    if (!wanted) { return []; }
    const hit = packet.tags.filter(function (tag) { return tag.toLocaleLowerCase().includes(wanted); });
    hit.sort(function (a, b) { return (b.toLocaleLowerCase() === wanted) - (a.toLocaleLowerCase() === wanted); });
    return hit.slice(0, 12);
  }

  find.addEventListener("input", function () {
    const hit = matches(find.value);
    found.replaceChildren.apply(found, hit.map(function (tag) {
      const item = document.createElement("li");
      const link = document.createElement("a");
      link.href = "#piece-" + encodeURIComponent(tag);
      link.textContent = tag;
      item.append(link);
      return item;
    }));
    found.hidden = hit.length === 0;
    if (find.value.trim() && !hit.length) { say("No piece has that tag."); }
  });
  function closeFound() { found.hidden = true; }
  found.addEventListener("click", function () { closeFound(); find.value = ""; });
  document.getElementById("search").addEventListener("submit", function (event) {
    event.preventDefault();
    const hit = matches(find.value);
    if (hit.length) { closeFound(); find.value = ""; open(hit[0]); }
  });
  find.addEventListener("keydown", function (event) { if (event.key === "Escape") { closeFound(); } });

  // --- drawings: pan, pinch, tap, keys -----------------------------------------------------------

  const pans = Array.from(document.querySelectorAll(".pan")).map(function (element) {
    const box = element.querySelector(".pan-window");
    const svg = box.querySelector("svg");
    return makePan(element, box, svg);
  });

  function fitNew() { pans.forEach(function (pan) { pan.first(); }); }

  function makePan(element, box, svg) {
    const wide = svg.viewBox.baseVal.width ? parseFloat(svg.getAttribute("width")) : box.clientWidth;
    const high = parseFloat(svg.getAttribute("height"));
    const strip = svg.classList.contains("strip");
    const inset = strip ? 52 : 0;
    const fingers = new Map();
    let x = 0, y = 0, scale = 0, moved = false, start = null;

    function fit() { return Math.min(1.5, box.clientWidth / wide); }

    function draw() {
      const least = Math.min(0, box.clientWidth - wide * scale);
      const low = Math.min(0, box.clientHeight - inset - high * scale);
      x = Math.max(least, Math.min(0, x));
      y = Math.max(low, Math.min(0, y));
      svg.style.transform = "translate(" + x + "px," + y + "px) scale(" + scale + ")";
      box.classList.toggle("moved", high * scale > box.clientHeight - inset + 1);
    }

    function size() {
      const tall = Math.max(120, Math.min(high * scale + inset, window.innerHeight * 0.62));
      box.style.height = (strip ? high * scale + inset : tall) + "px";
    }

    function zoom(factor, cx, cy) {
      const next = Math.max(Math.min(fit(), 0.3), Math.min(12, scale * factor));
      x = cx - (cx - x) * next / scale;
      y = cy - (cy - y) * next / scale;
      scale = next;
      size();
      draw();
    }

    const api = {
      // a first look: all of it, but no drop narrower than a finger
      first: function () {
        if (scale || !box.clientWidth) { return; }
        scale = strip ? 1 : Math.max(fit(), 0.62);
        size();
        draw();
      }
    };

    element.querySelectorAll("[data-zoom]").forEach(function (button) {
      button.addEventListener("click", function () {
        const cx = box.clientWidth / 2, cy = (box.clientHeight - inset) / 2;
        if (button.dataset.zoom === "fit") { scale = fit(); x = 0; y = 0; size(); draw(); return; }
        zoom(button.dataset.zoom === "in" ? 1.4 : 1 / 1.4, cx, cy);
      });
    });

    function place(event) {
      const edge = box.getBoundingClientRect();
      return { x: event.clientX - edge.left, y: event.clientY - edge.top - inset };
    }

    box.addEventListener("pointerdown", function (event) {
      if (event.pointerType === "mouse" && event.button !== 0) { return; }
      fingers.set(event.pointerId, place(event));
      if (fingers.size === 1) { moved = false; start = place(event); }
    });
    box.addEventListener("pointermove", function (event) {
      if (!fingers.has(event.pointerId)) { return; }
      const was = fingers.get(event.pointerId);
      const now = place(event);
      if (fingers.size === 1) {
        if (!moved && Math.hypot(now.x - start.x, now.y - start.y) < 8) { return; }
        if (!moved) { moved = true; box.setPointerCapture(event.pointerId); }
        x += now.x - was.x;
        y += now.y - was.y;
        draw();
      } else {
        const other = Array.from(fingers.entries()).find(function (entry) { return entry[0] !== event.pointerId; })[1];
        const far = Math.hypot(was.x - other.x, was.y - other.y);
        const near = Math.hypot(now.x - other.x, now.y - other.y);
        moved = true;
        if (far > 10) { zoom(near / far, other.x, other.y); }
      }
      fingers.set(event.pointerId, now);
    });
    function lift(event) { fingers.delete(event.pointerId); }
    box.addEventListener("pointerup", lift);
    box.addEventListener("pointercancel", lift);
    box.addEventListener("pointerleave", lift);
    box.addEventListener("wheel", function (event) {
      if (!event.ctrlKey && !event.metaKey) { return; }
      event.preventDefault();
      const at = place(event);
      zoom(Math.exp(-event.deltaY / 300), at.x, at.y);
    }, { passive: false });
    box.addEventListener("click", function (event) {
      if (moved) { moved = false; return; }
      const part = event.target.closest(".piece");
      if (part) { open(part.dataset.piece); }
    });

    const parts = Array.from(svg.querySelectorAll(".piece"));
    let at = -1;
    function go(next) {
      if (!parts.length) { return; }
      at = Math.max(0, Math.min(parts.length - 1, next));
      const part = parts[at];
      const edge = box.getBoundingClientRect(), seen = part.getBoundingClientRect();
      if (seen.left < edge.left) { x += edge.left - seen.left + 20; }
      if (seen.right > edge.right) { x -= seen.right - edge.right + 20; }
      draw();
      part.focus({ preventScroll: true });
    }
    box.addEventListener("keydown", function (event) {
      const keys = { ArrowRight: at + 1, ArrowLeft: at - 1, Home: 0, End: parts.length - 1 };
      if (event.key in keys) { event.preventDefault(); go(keys[event.key]); }
      if ((event.key === "Enter" || event.key === " ") && at >= 0 && event.target.closest(".piece")) {
        event.preventDefault();
        open(parts[at].dataset.piece);
      }
      if (event.key === "+" || event.key === "-") { zoom(event.key === "+" ? 1.4 : 1 / 1.4, box.clientWidth / 2, box.clientHeight / 2); }
    });
    // a page that scrolls a focused part into view must not shift the window inside its frame
    box.addEventListener("scroll", function () { box.scrollTo(0, 0); });
    return api;
  }

  const faceButtons = Array.from(document.querySelectorAll("[data-face]"));
  function showFace(number) {
    faceButtons.forEach(function (button) { button.setAttribute("aria-pressed", String(button.dataset.face === number)); });
    document.querySelectorAll(".elevation").forEach(function (face) { face.classList.toggle("on", face.id === "face-" + number); });
    fitNew();
  }
  faceButtons.forEach(function (button) { button.addEventListener("click", function () { showFace(button.dataset.face); }); });

  // --- dark and light, printing --------------------------------------------------------------------

  const theme = document.getElementById("theme");
  const dark = window.matchMedia("(prefers-color-scheme: dark)");
  function isDark() { return root.dataset.theme ? root.dataset.theme === "dark" : dark.matches; }
  function showTheme() { theme.setAttribute("aria-pressed", String(isDark())); }
  theme.addEventListener("click", function () { root.dataset.theme = isDark() ? "light" : "dark"; showTheme(); });
  dark.addEventListener("change", showTheme);

  // a code is a number of squares a side and the squares themselves, a bit each
  function drawCode(element) {
    if (element.firstChild) { return; }
    const parts = element.dataset.code.split(":");
    const side = Number(parts[0]);
    const bytes = atob(parts[1]);
    let path = "";
    for (let i = 0; i < side * side; i += 1) {
      if (bytes.charCodeAt(i >> 3) & (128 >> (i & 7))) { path += "M" + (i % side + 4) + "," + (Math.floor(i / side) + 4) + "h1v1h-1z"; }
    }
    const svg = document.createElementNS("http://www.w3.org/2000/svg", "svg");
    svg.setAttribute("viewBox", "0 0 " + (side + 8) + " " + (side + 8));
    svg.setAttribute("shape-rendering", "crispEdges");
    const squares = document.createElementNS("http://www.w3.org/2000/svg", "path");
    squares.setAttribute("d", path);
    svg.append(squares);
    element.append(svg);
  }
  const tagbox = document.querySelector(".tagbox");
  function drawCodes() { tagbox.querySelectorAll(".code").forEach(drawCode); }
  tagbox.addEventListener("toggle", function () { if (tagbox.open) { drawCodes(); } });
  let tagsOpen = false;
  window.addEventListener("beforeprint", function () { tagsOpen = tagbox.open; drawCodes(); tagbox.open = true; });
  window.addEventListener("afterprint", function () { tagbox.open = tagsOpen; });

  // the browser scrolls to what an address names; here that is the page's own business
  function settle() { if (!location.hash.startsWith("#roll-")) { window.scrollTo(0, 0); } }
  window.addEventListener("load", function () { settle(); requestAnimationFrame(settle); });

  root.classList.add("js");
  load();
  paintAll();
  showFace("1");
  route(false);
  showTheme();
}());
