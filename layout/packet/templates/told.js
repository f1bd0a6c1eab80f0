
  // --- what happened: told with the time, kept with the ticks -----------------------------------------

  const dialog = byId("ask");
  let answer = null, refuse = null;

  function ask(title, parts, yes, onYes, onNo) {
    byId("ask-h").textContent = title;
    byId("ask-body").replaceChildren.apply(byId("ask-body"), parts);
    byId("ask-fault").textContent = "";
    byId("ask-yes").textContent = yes;
    byId("ask-yes").hidden = !yes;
    answer = onYes;
    refuse = onNo || null;
    if (!dialog.open) { dialog.showModal(); }
    byId("ask-h").focus();
  }
  byId("ask-form").addEventListener("submit", function (event) {
    event.preventDefault();
    const before = answer;
    const fault = answer ? answer() : "";
    if (fault) { byId("ask-fault").textContent = fault; return; }
    if (answer === before) { dialog.close(); }
  });
  byId("ask-no").addEventListener("click", function () { dialog.close(); if (refuse) { refuse(); } });
  dialog.addEventListener("cancel", function () { if (refuse) { refuse(); } });

  let fieldNumber = 0;
  function input(type, words) {
    fieldNumber += 1;
    const label = make("label", words, "field"), field = make("input");
    field.type = type;
    field.id = "field-" + fieldNumber;
    field.autocomplete = "off";
    if (type === "number") { field.min = "0"; field.step = "1"; field.inputMode = "numeric"; }
    label.append(field);
    return { label: label, field: field };
  }

  function choice(words, options) {
    const label = make("label", words, "field"), field = make("select");
    options.forEach(function (option) {
      const one = make("option", option[1]);
      one.value = option[0];
      field.append(one);
    });
    label.append(field);
    return { label: label, field: field };
  }

  function tape(ticks) {
    if (packet.unit === "mm") { return ticks + " mm"; }
    const feet = Math.floor(ticks / 192), rest = ticks % 192, whole = Math.floor(rest / 16);
    let top = rest % 16, bottom = 16;
    while (top && top % 2 === 0) { top /= 2; bottom /= 2; }
    const inches = (whole || !top ? whole : feet ? 0 : "") + (top ? (whole || feet ? " " : "") + top + "/" + bottom : "") + "\"";
    return feet ? feet + "'-" + inches : inches;
  }

  // fields for one length, as it is read off a tape; ticks() is null when nothing good is in them
  function measure(words) {
    const set = make("fieldset", "", "measure");
    set.append(make("legend", words));
    const parts = packet.unit === "mm" ? [input("number", "mm")] : [input("number", "ft"), input("number", "in")];
    parts.forEach(function (one) { set.append(one.label); });
    let sixteenths = null;
    if (packet.unit === "in") {
      sixteenths = choice("1/16", Array.from({ length: 16 }, function (_, i) { return [String(i), i ? tape(i).replace("\"", "") : "0"]; }));
      set.append(sixteenths.label);
    }
    return { element: set, ticks: function () {
      const values = parts.map(function (one) { return one.field.value.trim() === "" ? null : Number(one.field.value); });
      if (values.every(function (value) { return value === null; }) && (!sixteenths || sixteenths.field.value === "0")) { return null; }
      if (values.some(function (value) { return value !== null && (!Number.isInteger(value) || value < 0 || value > 1e6); })) { return null; }
      return packet.unit === "mm" ? values[0] : (values[0] || 0) * 192 + (values[1] || 0) * 16 + Number(sixteenths.field.value);
    } };
  }

  function tell(record) {
    record.at = now();
    state.told.push(record);
    keep();
    paintAll();
    if (kept) { say("Told: " + toldWords(record) + "."); }
  }

  function toldWords(one) {
    const words = {
      "spoilt": one.piece + " is spoilt: cut it again",
      "cut wrong": one.piece + " was cut wrong: it is now " + one.length + " × " + one.width,
      "hung elsewhere": one.piece + " hangs elsewhere: " + one.run + " · " + one.face + ", left edge " + one.left + " from its left end",
      "hung anyway": one.piece + " was hung all the same: " + one.why,
      "roll short": one.roll + " is short: " + one.length,
      "roll damaged": one.roll + " is damaged from " + one.from + " to " + one.to,
      "roll lost": one.roll + " is lost",
      "delivered": one.count + " rolls of " + one.stock + " were delivered",
      "remnant": "new remnant " + one.tag + ", " + one.length + " × " + one.width
    };
    return words[one.what] || one.what;
  }

  function pick(title, options) {
    const holder = make("div", "", "options");
    options.forEach(function (option) {
      const button = make("button", option[0], "option");
      button.type = "button";
      button.addEventListener("click", option[1]);
      holder.append(button);
    });
    ask(title, [holder], "", null);
  }

  function whatHappened(tag) {
    const roll = packet.pieces[tag].roll;
    pick("What happened with " + tag + "?", [
      ["Spoilt: it must be cut again", function () { askSpoilt(tag); }],
      ["Cut wrong: give what it is now", function () { askWrong(tag); }],
      ["Hung elsewhere", function () { askElsewhere(tag); }],
      ["Roll " + roll + " is short, damaged or lost", function () { askRoll(roll); }]
    ]);
  }

  function askSpoilt(tag) {
    ask(tag + " is spoilt", [make("p", "It is no longer cut. The new plan cuts it again from what is left.")], "Spoilt", function () {
      setTick("cut", tag, false, now());
      setTick("hung", tag, false, now());
      tell({ what: "spoilt", piece: tag });
      return "";
    });
  }

  function askWrong(tag) {
    const long = measure("Length now"), wide = measure("Width now");
    ask(tag + " was cut wrong", [long.element, wide.element], "Save", function () {
      if (!long.ticks() || !wide.ticks()) { return "Give its length and its width, each more than 0."; }
      setTick("cut", tag, false, now());
      setTick("hung", tag, false, now());
      tell({ what: "cut wrong", piece: tag, length: tape(long.ticks()), width: tape(wide.ticks()) });
      return "";
    });
  }

  function askElsewhere(tag) {
    const face = choice("Face", packet.faces.map(function (one, i) { return [String(i), one[0] + " · " + one[1]]; }));
    const left = measure("Left edge, from the face's left end");
    ask(tag + " hangs elsewhere", [face.label, left.element], "Save", function () {
      if (left.ticks() === null) { return "Give how far its left edge is from the face's left end."; }
      const names = packet.faces[Number(face.field.value)];
      setTick("cut", tag, true, now());
      setTick("hung", tag, false, now());
      tell({ what: "hung elsewhere", piece: tag, run: names[0], face: names[1], left: tape(left.ticks()) });
      return "";
    });
  }

  function askRoll(known) {
    const roll = choice("Roll", packet.rolls.map(function (one) { return [one.tag, one.tag + " · " + one.stock + " " + one.product]; }));
    if (known) { roll.field.value = known; }
    pick("A roll", []);
    const next = function (then) { return function () { then(roll.field.value); }; };
    const holder = make("div", "", "options");
    [["Short", next(askShort)], ["Damaged", next(askDamaged)], ["Lost", next(askLost)]].forEach(function (option) {
      const button = make("button", option[0], "option");
      button.type = "button";
      button.addEventListener("click", option[1]);
      holder.append(button);
    });
    ask("What is wrong with the roll?", [roll.label, holder], "", null);
  }

  function askShort(tag) {
    const long = measure("True length of the whole roll");
    ask(tag + " is short", [long.element], "Save", function () {
      if (!long.ticks()) { return "Give its true length."; }
      tell({ what: "roll short", roll: tag, length: tape(long.ticks()) });
      return "";
    });
  }

  function askDamaged(tag) {
    const from = measure("Damaged from, measured from the roll's end"), to = measure("to");
    ask(tag + " is damaged", [from.element, to.element], "Save", function () {
      if (from.ticks() === null || to.ticks() === null || from.ticks() >= to.ticks()) { return "Give from where to where."; }
      tell({ what: "roll damaged", roll: tag, from: tape(from.ticks()), to: tape(to.ticks()) });
      return "";
    });
  }

  function askLost(tag) {
    ask(tag + " is lost", [make("p", "What is cut from it stays; the rest of it is gone.")], "Lost", function () {
      tell({ what: "roll lost", roll: tag });
      return "";
    });
  }

  function askDelivered() {
    const stock = choice("Roll", packet.stocks.map(function (one) { return [one, one]; }));
    const count = input("number", "How many were delivered in all");
    ask("Fewer rolls delivered", [stock.label, count.label], "Save", function () {
      const number = Number(count.field.value);
      if (count.field.value.trim() === "" || !Number.isInteger(number) || number < 0) { return "Give a whole number."; }
      tell({ what: "delivered", stock: stock.field.value, count: number });
      return "";
    });
  }

  function askRemnant() {
    const tag = input("text", "What is written on it"), long = measure("Length"), wide = measure("Width");
    ask("New remnant", [tag.label, long.element, wide.element], "Save", function () {
      if (!tag.field.value.trim() || !long.ticks() || !wide.ticks()) { return "Give its tag, length and width."; }
      tell({ what: "remnant", tag: tag.field.value.trim().slice(0, 40), length: tape(long.ticks()), width: tape(wide.ticks()) });
      return "";
    });
  }

  const tellers = { delivered: askDelivered, remnant: askRemnant, roll: function () { askRoll(""); } };
  document.querySelectorAll("button[data-tell]").forEach(function (button) {
    button.addEventListener("click", function () { tellers[button.dataset.tell](); });
  });

  painters.push(function () {
    if (!byId("more").classList.contains("on")) { return; }
    byId("told").replaceChildren.apply(byId("told"), state.told.map(function (one) {
      const item = make("li", toldWords(one) + " ");
      item.append(make("small", one.at.slice(0, 16).replace("T", " ")));
      const back = make("button", "take back", "take-back");
      back.type = "button";
      back.addEventListener("click", function () {
        state.told.splice(state.told.indexOf(one), 1);
        keep();
        paintAll();
      });
      item.append(" ", back);
      return item;
    }));
  });
