
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
