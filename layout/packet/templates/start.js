
  // --- the look: light, dark or sun; large figures; left hand; sound -------------------------------

  const look = { theme: "", large: false, left: false, sound: false };
  const LOOK = "lapwright-look";
  const looks = ["light", "dark", "sun"];
  const theme = byId("theme");
  const dark = window.matchMedia("(prefers-color-scheme: dark)");

  function showLook() {
    if (look.theme) { root.dataset.theme = look.theme; } else { delete root.dataset.theme; }
    ["large", "left"].forEach(function (name) { root.classList.toggle("look-" + name, look[name]); });
    document.querySelectorAll("[data-look]").forEach(function (box) { box.checked = look[box.dataset.look]; });
    theme.textContent = look.theme || (dark.matches ? "dark" : "light");
  }
  function keepLook() { write(LOOK, JSON.stringify(look)); }
  theme.addEventListener("click", function () {
    const here = look.theme || (dark.matches ? "dark" : "light");
    look.theme = looks[(looks.indexOf(here) + 1) % looks.length];
    showLook();
    keepLook();
  });
  dark.addEventListener("change", showLook);
  document.querySelectorAll("[data-look]").forEach(function (box) {
    box.addEventListener("change", function () { look[box.dataset.look] = box.checked; showLook(); keepLook(); });
  });
  try {
    const saved = JSON.parse(read(LOOK) || "{}");
    if (looks.includes(saved.theme)) { look.theme = saved.theme; }
    ["large", "left", "sound"].forEach(function (name) { look[name] = saved[name] === true; });
  } catch (error) { look.theme = ""; }

  // the browser scrolls to what an address names; here that is the page's own business
  function settle() { if (!/^#(roll|hang)-/.test(location.hash)) { window.scrollTo(0, 0); } }
  window.addEventListener("load", function () { settle(); requestAnimationFrame(settle); });

  root.classList.add("js");
  load();
  paintAll();
  if (carried) { say(carried); }
  showFace("1");
  route(false);
  showLook();
  clocks();

  // served, the page can be put on the home screen and keeps itself; as a bare file it needs neither
  if (location.protocol.startsWith("http")) {
    const link = make("link");
    link.rel = "manifest";
    link.href = "packet.webmanifest";
    document.head.append(link);
    if (navigator.serviceWorker) { navigator.serviceWorker.register("packet-worker.js").catch(function () {}); }
  }
