
  // --- views and cards ------------------------------------------------------------------------

  const views = Array.from(document.querySelectorAll(".view"));
  const cards = new Map();
  document.querySelectorAll("[data-card]").forEach(function (card) { cards.set(card.dataset.card, card); });
  const pieces = byId("pieces");
  let before = "#wall";
  let opened = "";

  function show(name) {
    views.forEach(function (view) { view.classList.toggle("on", view.id === name); });
    document.querySelectorAll("nav a").forEach(function (link) {
      if (link.dataset.view === name) { link.setAttribute("aria-current", "page"); } else { link.removeAttribute("aria-current"); }
    });
    if (name === "more") { sum(); }
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
    if (name.startsWith("cut:") || name.startsWith("hang:")) {
      const at = name.indexOf(":");
      if (enter(name.slice(0, at), name.slice(at + 1))) { return; }
    }
    leave();
    if (name.startsWith("piece-") && cards.has(name.slice(6))) {
      openCard(name.slice(6), focus);
      return;
    }
    before = location.hash || "#wall";
    pieces.classList.remove("one");
    const part = name.startsWith("roll-") ? "cut" : name.startsWith("hang-") ? "hang" : "";
    if (part) {
      show(part);
      const place = byId(name);
      if (place) {
        place.scrollIntoView();
        if (focus) { place.querySelector("h3").focus({ preventScroll: true }); }
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
  byId("back").addEventListener("click", function () { location.hash = before; });

  document.querySelectorAll("select[data-jump]").forEach(function (choice) {
    choice.addEventListener("change", function () {
      const place = byId(choice.value);
      if (place) { place.scrollIntoView(); place.querySelector("h3").focus({ preventScroll: true }); }
    });
  });
  document.querySelectorAll("input[data-hide]").forEach(function (box) {
    box.addEventListener("change", function () {
      byId(box.dataset.hide === "cut" ? "cut" : "hang").classList.toggle("hide-done", box.checked);
    });
  });

  // --- find: pieces, rolls, faces, openings and sleeves, and bare numbers --------------------------

  const find = byId("find");
  const found = byId("found");
  const index = packet.tags.map(function (tag) { return { name: tag, words: tag, href: "#piece-" + encodeURIComponent(tag) }; });
  packet.rolls.forEach(function (roll) {
    index.push({ name: roll.tag, words: roll.tag + " · roll", href: "#roll-" + encodeURIComponent(roll.tag) });
  });
  document.querySelectorAll(".face-list").forEach(function (face) {
    const name = face.querySelector("h3").textContent.trim();
    index.push({ name: name, words: name + " · face", href: "#" + face.id });
  });
  (function () {
    const holders = packet.hang.filter(function (tag) { return packet.pieces[tag].near; });
    Object.keys(packet.walls).forEach(function (run) {
      const wall = packet.walls[run];
      [[wall.holes, "opening"], [wall.rounds, "sleeve"]].forEach(function (pair) {
        pair[0].forEach(function (one) {
          const near = holders.filter(function (tag) {
            const piece = packet.pieces[tag];
            return piece.run === run && (" " + piece.near + ",").includes(" " + one[0] + ",");
          });
          near.forEach(function (tag) {
            index.push({ name: one[0], words: one[0] + " · " + pair[1] + " · " + tag, href: "#piece-" + encodeURIComponent(tag) });
          });
        });
      });
    });
  }());

  // how well a name answers: 0 is best, -1 not at all
  function fit(name, wanted) {
    const here = name.toLocaleLowerCase();
    if (here === wanted) { return 0; }
    if (/^[0-9]+$/.test(wanted)) {
      const numbers = (here.match(/[0-9]+/g) || []).map(Number);
      if (numbers.includes(Number(wanted))) { return 1; }
    }
    if (here.startsWith(wanted)) { return 2; }
    if (here.includes(wanted)) { return 3; }
    const bare = function (words) { return words.replace(/[^0-9a-z]/g, "").replace(/([a-z])0+/g, "$1"); };
    return bare(wanted) && bare(here).includes(bare(wanted)) ? 4 : -1;
  }

  function matches(words) {
    const mark = words.indexOf("#piece-");
    if (mark >= 0) {
      const tag = text("#" + words.slice(mark + 7));
      return index.filter(function (one) { return one.words === tag && known.has(tag); });
    }
    const wanted = words.trim().toLocaleLowerCase();
    if (!wanted) { return []; }
    const hit = index.map(function (one) { return { one: one, fit: fit(one.name, wanted) }; })
      .filter(function (entry) { return entry.fit >= 0; });
    hit.sort(function (a, b) { return a.fit - b.fit; });
    return hit.slice(0, 12).map(function (entry) { return entry.one; });
  }

  find.addEventListener("input", function () {
    const hit = matches(find.value);
    found.replaceChildren.apply(found, hit.map(function (one) {
      const item = document.createElement("li");
      const link = make("a", one.words);
      link.href = one.href;
      item.append(link);
      return item;
    }));
    found.hidden = hit.length === 0;
    if (find.value.trim() && !hit.length) { say("No piece has that tag."); }
  });
  function closeFound() { found.hidden = true; }
  found.addEventListener("click", function () { closeFound(); find.value = ""; });
  byId("search").addEventListener("submit", function (event) {
    event.preventDefault();
    const hit = matches(find.value);
    if (hit.length) { closeFound(); find.value = ""; location.hash = hit[0].href; }
  });
  find.addEventListener("keydown", function (event) { if (event.key === "Escape") { closeFound(); } });
