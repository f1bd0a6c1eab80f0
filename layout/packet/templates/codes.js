
  // --- codes: squares to scan (ISO/IEC 18004, byte mode, level M, mask 3) --------------------------

  // a code is a number of squares a side and the squares themselves, a bit each
  function squares(side, isDark) {
    let path = "";
    for (let y = 0; y < side; y += 1) {
      for (let x = 0; x < side; x += 1) { if (isDark(x, y)) { path += "M" + (x + 4) + "," + (y + 4) + "h1v1h-1z"; } }
    }
    const svg = document.createElementNS("http://www.w3.org/2000/svg", "svg");
    svg.setAttribute("viewBox", "0 0 " + (side + 8) + " " + (side + 8));
    svg.setAttribute("shape-rendering", "crispEdges");
    const part = document.createElementNS("http://www.w3.org/2000/svg", "path");
    part.setAttribute("d", path);
    svg.append(part);
    return svg;
  }

  function drawCode(element) {
    if (element.firstChild) { return; }
    const parts = element.dataset.code.split(":");
    const side = Number(parts[0]);
    const bytes = atob(parts[1]);
    element.append(squares(side, function (x, y) {
      const i = y * side + x;
      return bytes.charCodeAt(i >> 3) & (128 >> (i & 7));
    }));
  }

  // error-correction bytes of each block, and how many blocks, by version from 1
  const EC_BYTES = [10, 16, 26, 18, 24, 16, 18, 22, 22, 26, 30, 22, 22, 24, 24, 28, 28, 26, 26, 26];
  const EC_BLOCKS = [1, 1, 1, 2, 2, 4, 4, 4, 5, 5, 5, 8, 9, 9, 10, 10, 11, 13, 14, 16];

  function allBytes(version) {
    let bits = (16 * version + 128) * version + 64;
    if (version >= 2) {
      const marks = Math.floor(version / 7) + 2;
      bits -= (25 * marks - 10) * marks - 55;
      if (version >= 7) { bits -= 36; }
    }
    return bits >> 3;
  }

  function times(x, y) {
    let z = 0;
    for (let i = 7; i >= 0; i -= 1) {
      z = (z << 1) ^ ((z >>> 7) * 0x11D);
      z ^= ((y >>> i) & 1) * x;
    }
    return z;
  }

  function divisor(degree) {
    const found = new Array(degree).fill(0);
    found[degree - 1] = 1;
    let base = 1;
    for (let i = 0; i < degree; i += 1) {
      for (let j = 0; j < degree; j += 1) {
        found[j] = times(found[j], base);
        if (j + 1 < degree) { found[j] ^= found[j + 1]; }
      }
      base = times(base, 2);
    }
    return found;
  }

  function remainder(data, by) {
    const rest = by.map(function () { return 0; });
    data.forEach(function (byte) {
      const factor = byte ^ rest.shift();
      rest.push(0);
      by.forEach(function (part, i) { rest[i] ^= times(part, factor); });
    });
    return rest;
  }

  // Returns the rows of a code that holds a text of bytes 0 to 255, each row true and false; throws when it is too long.
  function codeOf(words) {
    let version = 1;
    const room = function () { return allBytes(version) - EC_BYTES[version - 1] * EC_BLOCKS[version - 1]; };
    const head = function () { return version < 10 ? 8 : 16; };
    while (version <= EC_BYTES.length && 4 + head() + 8 * words.length > 8 * room()) { version += 1; }
    if (version > EC_BYTES.length) { throw new Error("too long for a code"); }
    const bits = [];
    const add = function (value, length) { for (let i = length - 1; i >= 0; i -= 1) { bits.push((value >>> i) & 1); } };
    add(4, 4);
    add(words.length, head());
    for (let i = 0; i < words.length; i += 1) { add(words.charCodeAt(i), 8); }
    add(0, Math.min(4, 8 * room() - bits.length));
    add(0, (8 - bits.length % 8) % 8);
    for (let pad = 0xEC; bits.length < 8 * room(); pad ^= 0xEC ^ 0x11) { add(pad, 8); }
    const data = [];
    for (let i = 0; i < bits.length; i += 8) { data.push(parseInt(bits.slice(i, i + 8).join(""), 2)); }
    return placed(version, interleaved(version, data));
  }

  function interleaved(version, data) {
    const blocks = EC_BLOCKS[version - 1], extra = EC_BYTES[version - 1];
    const all = allBytes(version), short = blocks - all % blocks, length = Math.floor(all / blocks);
    const by = divisor(extra);
    const parts = [];
    let at = 0;
    for (let i = 0; i < blocks; i += 1) {
      const own = data.slice(at, at + length - extra + (i < short ? 0 : 1));
      at += own.length;
      parts.push({ data: own, check: remainder(own, by) });
    }
    const found = [];
    for (let i = 0; i <= length - extra; i += 1) {
      parts.forEach(function (part) { if (i < part.data.length) { found.push(part.data[i]); } });
    }
    for (let i = 0; i < extra; i += 1) { parts.forEach(function (part) { found.push(part.check[i]); }); }
    return found;
  }

  function placed(version, bytes) {
    const side = 17 + 4 * version;
    const rows = [], fixed = [];
    for (let i = 0; i < side; i += 1) { rows.push(new Array(side).fill(false)); fixed.push(new Array(side).fill(false)); }
    const set = function (x, y, dark) {
      if (x >= 0 && y >= 0 && x < side && y < side) { rows[y][x] = Boolean(dark); fixed[y][x] = true; }
    };
    for (let i = 0; i < side; i += 1) { set(6, i, i % 2 === 0); set(i, 6, i % 2 === 0); }
    [[3, 3], [side - 4, 3], [3, side - 4]].forEach(function (centre) {
      for (let dy = -4; dy <= 4; dy += 1) {
        for (let dx = -4; dx <= 4; dx += 1) {
          const far = Math.max(Math.abs(dx), Math.abs(dy));
          set(centre[0] + dx, centre[1] + dy, far !== 2 && far !== 4);
        }
      }
    });
    const marks = [];
    if (version > 1) {
      const count = Math.floor(version / 7) + 2;
      const step = Math.floor((version * 8 + count * 3 + 5) / (count * 4 - 4)) * 2;
      for (let at = side - 7; marks.length < count - 1; at -= step) { marks.unshift(at); }
      marks.unshift(6);
    }
    marks.forEach(function (y, i) {
      marks.forEach(function (x, j) {
        const last = marks.length - 1;
        if ((i === 0 && j === 0) || (i === 0 && j === last) || (i === last && j === 0)) { return; }
        for (let dy = -2; dy <= 2; dy += 1) {
          for (let dx = -2; dx <= 2; dx += 1) { set(x + dx, y + dy, Math.max(Math.abs(dx), Math.abs(dy)) !== 1); }
        }
      });
    });
    const level = 3; // level M, mask 3
    let rest = level;
    for (let i = 0; i < 10; i += 1) { rest = (rest << 1) ^ ((rest >>> 9) * 0x537); }
    const format = (level << 10 | rest) ^ 0x5412;
    const bit = function (value, i) { return (value >>> i) & 1; };
    for (let i = 0; i <= 5; i += 1) { set(8, i, bit(format, i)); }
    set(8, 7, bit(format, 6));
    set(8, 8, bit(format, 7));
    set(7, 8, bit(format, 8));
    for (let i = 9; i < 15; i += 1) { set(14 - i, 8, bit(format, i)); }
    for (let i = 0; i < 8; i += 1) { set(side - 1 - i, 8, bit(format, i)); }
    for (let i = 8; i < 15; i += 1) { set(8, side - 15 + i, bit(format, i)); }
    set(8, side - 8, true);
    if (version >= 7) {
      let code = version;
      for (let i = 0; i < 12; i += 1) { code = (code << 1) ^ ((code >>> 11) * 0x1F25); }
      const words = version << 12 | code;
      for (let i = 0; i < 18; i += 1) {
        const a = side - 11 + i % 3, b = Math.floor(i / 3);
        set(a, b, bit(words, i));
        set(b, a, bit(words, i));
      }
    }
    let at = 0;
    for (let right = side - 1; right >= 1; right -= 2) {
      if (right === 6) { right = 5; }
      for (let down = 0; down < side; down += 1) {
        for (let j = 0; j < 2; j += 1) {
          const x = right - j, y = ((right + 1) & 2) === 0 ? side - 1 - down : down;
          if (fixed[y][x]) { continue; }
          if (at < bytes.length * 8) { rows[y][x] = Boolean((bytes[at >> 3] >>> (7 - (at & 7))) & 1); at += 1; }
          if ((x + y) % 3 === 0) { rows[y][x] = !rows[y][x]; }
        }
      }
    }
    return rows;
  }

  // --- a progress file as a chain of codes -----------------------------------------------------------

  const PART = 300;

  function checkOf(words) {
    let found = 0xFFFFFFFF;
    for (let i = 0; i < words.length; i += 1) {
      found ^= words.charCodeAt(i);
      for (let j = 0; j < 8; j += 1) { found = (found >>> 1) ^ (0xEDB88320 & -(found & 1)); }
    }
    return ((found ^ 0xFFFFFFFF) >>> 0).toString(16).padStart(8, "0");
  }

  function asText(bytes) {
    let found = "";
    bytes.forEach(function (byte) { found += String.fromCharCode(byte); });
    return btoa(found).replaceAll("+", "-").replaceAll("/", "_").replace(/=+$/, "");
  }

  function through(stream, bytes) {
    return new Response(new Blob([bytes]).stream().pipeThrough(stream)).arrayBuffer().then(function (buffer) {
      return new Uint8Array(buffer);
    });
  }

  // Returns a promise of the texts of the codes: each says its number, how many there are, and a check of the whole.
  function chained(words) {
    const bytes = new TextEncoder().encode(words);
    const packed = typeof CompressionStream === "function" ? through(new CompressionStream("deflate"), bytes) : Promise.resolve(null);
    return packed.then(function (small) {
      const all = (small ? "z" : "j") + asText(small || bytes);
      const count = Math.ceil(all.length / PART);
      const found = [];
      for (let i = 0; i < count; i += 1) {
        found.push("LAPWRIGHT2 " + (i + 1) + "/" + count + " " + checkOf(all) + " " + all.slice(i * PART, (i + 1) * PART));
      }
      return found;
    });
  }

  function unchained(words) {
    const parts = [];
    let count = 0, sum = "";
    words.split(/\s*\n\s*/).forEach(function (line) {
      const match = /^LAPWRIGHT2 ([0-9]+)\/([0-9]+) ([0-9a-f]{8}) (\S+)$/.exec(line.trim());
      if (!match) { return; }
      parts[Number(match[1]) - 1] = match[4];
      count = Number(match[2]);
      sum = match[3];
    });
    const all = parts.join("");
    if (!count || parts.filter(Boolean).length !== count || checkOf(all) !== sum) { throw new Error("no whole chain"); }
    const bytes = Uint8Array.from(atob(all.slice(1).replaceAll("-", "+").replaceAll("_", "/")), function (one) { return one.charCodeAt(0); });
    const plain = all[0] === "z" ? through(new DecompressionStream("deflate"), bytes) : Promise.resolve(bytes);
    return plain.then(function (found) { return new TextDecoder().decode(found); });
  }

  const chain = { texts: [], at: 0 };
  function showChain() {
    const holder = byId("chain-code");
    const rows = codeOf(chain.texts[chain.at]);
    holder.replaceChildren(squares(rows.length, function (x, y) { return rows[y][x]; }));
    holder.dataset.text = chain.texts[chain.at];
    byId("chain-count").textContent = "Code " + (chain.at + 1) + " of " + chain.texts.length;
  }
  byId("codes").addEventListener("click", function () {
    chained(JSON.stringify(progress())).then(function (texts) {
      chain.texts = texts;
      chain.at = 0;
      showChain();
      byId("chain").showModal();
      byId("chain-h").focus();
    });
  });
  byId("chain-next").addEventListener("click", function () {
    chain.at = (chain.at + 1) % chain.texts.length;
    showChain();
  });
  byId("chain-close").addEventListener("click", function () { byId("chain").close(); });

  const tagbox = document.querySelector(".tagbox");
  function drawCodes() { tagbox.querySelectorAll(".code").forEach(drawCode); }
  tagbox.addEventListener("toggle", function () { if (tagbox.open) { drawCodes(); } });
  let tagsOpen = false;
  window.addEventListener("beforeprint", function () { tagsOpen = tagbox.open; drawCodes(); tagbox.open = true; });
  window.addEventListener("afterprint", function () { tagbox.open = tagsOpen; root.classList.remove("only-tags"); });
  byId("print-tags").addEventListener("click", function () { root.classList.add("only-tags"); window.print(); });
  byId("print-work").addEventListener("click", function () { window.print(); });
