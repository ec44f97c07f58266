/* The bench page: what is ticked, the address that keeps it, and what is shown of the answer. */
(function () {
  "use strict";

  var sheet = document.getElementById("worksheet"), tables = window.benchTables;
  if (!sheet || !tables || !window.reckoning) { return; }

  var book = window.reckoning.book(tables), bench = window.reckoning.nextChecks(tables, book);
  var kept = window.benchAddress(tables), parts = window.benchParts(tables);
  var add = window.benchParts.add, percent = window.benchParts.percent;
  var counted = window.benchParts.counted, button = window.benchParts.button;
  var KEY = 0, LABEL = 1, LISTED = 10, LIVE = 2, FEW = 6, MORE = 12;

  function by(id) { return document.getElementById(id); }

  /* ---- the sheet */

  var card = kept.blank(), shown = FEW, opened = new Set(), ranking = null, beforeLive = 0;
  var rulesFor = [0, -1];   /* access and family of the rules shown last */

  function question() {
    return {
      family: card.family, there: card.there.concat(card.seen), absent: card.absent,
      made: card.made, access: card.access
    };
  }

  function without(list, item) { return list.filter(function (other) { return other !== item; }); }

  function tickSymptom(symptom, isThere, on) {
    ["there", "seen", "absent"].forEach(function (list) { card[list] = without(card[list], symptom); });
    if (on) { card[isThere ? card.made.length ? "seen" : "there" : "absent"].push(symptom); }
    update();
  }

  /* One outcome per check; only that the fault was not showing before stays beside a later one. */
  function tickOutcome(check, outcome) {
    card.made = card.made.filter(function (pair) {
      return pair[0] !== check || (pair[1] < 0 && outcome >= 0);
    }).concat([[check, outcome]]);
    update();
    by("next-heading").focus();
  }

  function takeBack(at) {
    card.made = card.made.filter(function (pair, place) { return place !== at; });
    update();
    by("next-heading").focus();
  }

  /* ---- the address */

  function keysOf(list) { return list.map(function (place) { return tables.symptoms[place][KEY]; }); }

  var waiting = 0;

  function remember() {
    clearTimeout(waiting);
    waiting = 0;
    var words = kept.write(card);
    history.replaceState(null, "", words ? "#" + words : location.pathname + location.search);
  }

  /* A browser takes longer to write an address than this page to work everything out. */
  function rememberSoon() {
    clearTimeout(waiting);
    waiting = setTimeout(remember, 100);
  }

  /* ---- showing the answer */

  function sayIfNew(element, text) { if (element.textContent !== text) { element.textContent = text; } }

  function showDanger() {
    var sentences = card.there.concat(card.seen).filter(function (s) { return bench.firstOf([s]).length; })
      .map(function (s) {
        return parts.labelOf("symptoms", s) +
          ": leave it off and unplugged until everything marked FIRST is done and has cleared it.";
      });
    var box = by("danger"), key = sentences.join("\n");
    if (box.dataset.says !== key) {
      box.dataset.says = key;
      box.replaceChildren();
      add(box, "p", "sign", "Danger");
      by("danger-again").replaceChildren();
      sentences.forEach(function (sentence) {
        add(box, "p", "", sentence);
        add(add(by("danger-again"), "li"), "b", "", sentence);
      });
    }
    box.hidden = !sentences.length;
    by("ask-danger").hidden = sentences.length > 0;
  }

  function showCauses() {
    var list = by("causes"), rest = by("rest"), others = ranking.order.slice(shown);
    list.replaceChildren();
    rest.replaceChildren();
    ranking.order.slice(0, shown).forEach(function (place) {
      parts.causeItem(list, ranking, place, opened);
    });
    if (others.length) {
      var share = others.reduce(function (sum, place) { return sum + ranking.p[place]; }, 0);
      parts.restItem(rest, share, "", counted(others.length, "other known cause", "other known causes together"));
      button(rest.lastChild, "plain-button", "Show more", function () {
        var from = shown;
        shown += MORE;
        showCauses();
        var link = list.children[from] && list.children[from].querySelector("a, summary");
        if (link) { link.focus(); }
      });
    }
    parts.restItem(rest, ranking.unseen, "not-in-book", "Not in this book yet");
  }

  function showNotes(notes) {
    var list = by("notes");
    list.replaceChildren();
    if (card.family >= 0 && !tables.families[card.family][5].length) {
      add(list, "li", "", "No finished fault of " + parts.quoted(parts.labelOf("families", card.family)) +
        " yet: its line, its kind and the rest stand in.");
    }
    notes.forEach(function (note) { add(list, "li", "", parts.noteSaid(note)); });
  }

  function hazardsInside() { return card.family < 0 ? tables.unknown[0] : tables.families[card.family][8]; }

  /* The rules in full for the most access that any proposed check takes. */
  function showRules(most) {
    var topics = (card.family < 0 ? tables.unknown[1] : tables.families[card.family][9])[most];
    by("keep-closed").hidden = most > 0;
    by("rules-inside").hidden = most === 0;
    by("rules-heading").textContent = "Before you start" +
      (most > 0 ? ": " + tables.access[most].toLowerCase() : "");
    /* They may be folded away once read, and come back with another unit or more access. */
    if (most > rulesFor[0] || card.family !== rulesFor[1]) { by("rules-inside").open = true; }
    rulesFor = [most, card.family];
    Array.from(by("rules").querySelectorAll("[data-level]")).forEach(function (part) {
      part.hidden = tables.accessKeys.indexOf(part.dataset.level) > most;
    });
    Array.from(by("rules").querySelectorAll("[data-topic]")).forEach(function (part) {
      part.hidden = topics.indexOf(part.dataset.topic) < 0;
    });
    var inBox = new Set(most > 0 ? hazardsInside() : []);
    Array.from(by("rules").querySelectorAll("[data-hazard]")).forEach(function (part) {
      part.hidden = !inBox.has(part.dataset.hazard);
    });
    by("hazards-inside").hidden = !inBox.size;
    return inBox;
  }

  function levelOf(offer) {
    return Math.max.apply(null, offer.before.concat(offer.check).map(function (check) {
      return bench.accessOf(check, card.family);
    }));
  }

  function showChecks(answer) {
    var list = by("proposals"), all = answer.first.concat(answer.checks);
    var inBox = showRules(Math.max.apply(null, [0].concat(all.map(levelOf))));
    list.replaceChildren();
    all.forEach(function (offer, at) {
      var own = tables.checks[offer.check], level = levelOf(offer), said = offer.before.map(function (check) {
        return "Make " + parts.quoted(parts.labelOf("checks", check)) + " first.";
      });
      if (answer.alarming.has(offer.check)) {
        said.unshift("It came out as " + parts.quoted(parts.outcomeSaid(offer.check, answer.alarming.get(offer.check))) +
          ": put that right first, then make it again.");
      }
      if (answer.comesAndGoes && own[11]) {
        said.push("This fault comes and goes: gone counts only once it has stayed away for " +
          tables.figures.prove + " min.");
      }
      parts.proposal(list, offer, {
        first: at < answer.first.length, level: level, inBox: inBox, said: said, act: tickOutcome,
        ranking: ranking,
        hazards: Array.from(new Set(own[8].concat(level > 0 ? hazardsInside() : [])))
      });
    });
    if (!all.length) {
      add(list, "li", "none", "Nothing that this book has seen within this access would tell the likely causes " +
        "apart. A young book knows few checks: begin with what needs no tool.");
    }
    showWithheld(answer);
  }

  function showWithheld(answer) {
    var list = by("withheld");
    list.replaceChildren();
    answer.notes.forEach(function (note) { add(list, "li", "", parts.noteSaid(note)); });
    if (answer.held.length) {
      add(list, "li", "", "Held back until what must come first is done, because they apply power: " +
        parts.offersNamed(answer.held) + ".");
    }
    [1, 2].forEach(function (level) {
      var there = answer.beyond.filter(function (offer) { return offer.access === level; });
      if (there.length) {
        add(list, "li", "", "Not proposed, because it takes “" + tables.access[level].toLowerCase() + "”: " +
          parts.offersNamed(there) + ".");
      }
    });
  }

  function showMade() {
    var list = by("made");
    list.replaceChildren();
    by("made-block").hidden = !card.made.length;
    card.made.forEach(function (pair, at) {
      var item = add(list, "li"), name = parts.labelOf("checks", pair[0]);
      add(item, "span", "what", name);
      add(item, "strong", "", parts.outcomeSaid(pair[0], pair[1]));
      button(item, "plain-button", "Take back", function () { takeBack(at); })
        .setAttribute("aria-label", "Take back: " + name);
    });
  }

  function showCard() {
    var unit = card.family < 0 ? "Any family" : parts.labelOf("families", card.family);
    sayIfNew(by("stub-unit"), unit);
    sayIfNew(by("stub-count"), counted(card.there.length + card.seen.length + card.absent.length, "symptom", "symptoms") +
      ", " + counted(card.made.length, "check", "checks") + " ticked");
    by("family").value = String(card.family);
    Array.from(document.getElementsByName("access")).forEach(function (radio) {
      if (by("before-live").hidden) { radio.checked = Number(radio.value) === card.access; }
      radio.parentNode.classList.toggle("chosen", radio.checked);
    });
    ticks.show(card);
  }

  function say(answer) {
    var first = ranking.order[0], lead = "", proposed = answer.first.concat(answer.checks)[0];
    if (first !== undefined) {
      lead = parts.labelOf("causes", first) + ", " + percent(ranking.p[first]);
    }
    sayIfNew(by("strip-says"), lead || "nothing to go by yet");
    by("said").textContent = (lead ? "Likeliest now: " + lead + ". Not in this book yet: " +
      percent(ranking.unseen) + "." : "This book has no finished fault of known cause yet.") +
      (proposed ? " Next: " + parts.labelOf("checks", proposed.check) + "." : "");
  }

  function update() {
    var asked = question(), answer;
    ranking = book.rank(asked);
    answer = bench.next(asked, ranking);
    shown = FEW;
    showDanger();
    showCard();
    showCauses();
    showNotes(ranking.notes);
    showMade();
    showChecks(answer);
    say(answer);
    showNote();
    rememberSoon();
  }

  /* ---- the started note */

  function note() {
    return window.startedNote({
      number: by("note-case").value.trim(), complaint: by("note-complaint").value.trim(),
      family: card.family < 0 ? "" : tables.families[card.family][KEY],
      symptom: keysOf(card.there), seen: keysOf(card.seen), absent: keysOf(card.absent),
      checks: card.made.map(function (pair) { return [tables.checks[pair[0]][KEY], kept.outcomeKey(pair)]; })
    }, new Date());
  }

  function showNote() {
    if (by("note-form").hidden) { return; }
    by("note-text").value = note();
    by("note-text").rows = note().split("\n").length;
    by("note-told").textContent = "";
  }

  by("start-note").addEventListener("click", function () {
    by("note-form").hidden = !by("note-form").hidden;
    by("start-note").setAttribute("aria-expanded", String(!by("note-form").hidden));
    showNote();
    if (!by("note-form").hidden) { by("note-case").focus(); }
  });
  by("note-case").addEventListener("input", showNote);
  by("note-complaint").addEventListener("input", showNote);

  by("copy-note").addEventListener("click", function () {
    function told() { by("note-told").textContent = "Copied."; }
    function byHand() {
      by("note-text").select();
      by("note-told").textContent = document.execCommand("copy") ? "Copied." : "Marked: copy it by hand.";
    }
    if (navigator.clipboard) { navigator.clipboard.writeText(note()).then(told, byHand); } else { byHand(); }
  });

  by("save-note").addEventListener("click", function () {
    var link = document.createElement("a"), number = by("note-case").value.trim();
    link.href = URL.createObjectURL(new Blob([note()], { type: "text/markdown" }));
    link.download = (/^[\w.-]+$/.test(number) ? number : "new-case") + ".md";
    link.click();
    setTimeout(function () { URL.revokeObjectURL(link.href); }, 1000);
    by("note-told").textContent = "Saved as " + link.download + ".";
  });

  /* ---- the unit, and how far it may be opened */

  function leaveLive() {
    by("before-live").hidden = true;
    if (card.access === LIVE) { card.access = 0; }
  }

  by("family").addEventListener("change", function () {
    card.family = Number(by("family").value);
    leaveLive();
    update();
  });
  Array.from(document.getElementsByName("access")).forEach(function (radio) {
    radio.addEventListener("change", function () {
      var wanted = Number(radio.value);
      by("before-live").hidden = wanted !== LIVE;
      if (wanted === LIVE) {
        beforeLive = card.access;
        showCard();
        by("said").textContent = "Work with power on: read the rules below, then say that they are followed.";
      } else {
        card.access = wanted;
        update();
      }
    });
  });
  by("accept-live").addEventListener("click", function () {
    by("before-live").hidden = true;
    card.access = LIVE;
    update();
    by("next-heading").focus();
  });
  by("leave-live").addEventListener("click", function () {
    by("before-live").hidden = true;
    card.access = beforeLive;
    update();
    document.getElementsByName("access")[card.access].focus();
  });
  by("clear").addEventListener("click", function () {
    by("before-live").hidden = true;
    card = kept.blank();
    ["note-case", "note-complaint"].forEach(function (id) { by(id).value = ""; });
    update();
    by("family").focus();
  });

  /* ---- set up */

  add(by("family"), "option", "", "Not known, or none of these").value = "-1";
  tables.families.map(function (family, place) { return [family, place]; })
    .filter(function (entry) { return entry[0][LISTED]; })
    .sort(function (a, b) { return a[0][LABEL].localeCompare(b[0][LABEL], "en"); })
    .forEach(function (entry) { add(by("family"), "option", "", entry[0][LABEL]).value = String(entry[1]); });
  by("level").textContent = percent(tables.figures.level);
  by("likely-basis").textContent = tables.basis;

  var ticks = window.benchTicks(tables, {
    parts: parts, above: book.above, tickSymptom: tickSymptom, tickOutcome: tickOutcome,
    isDangerous: function (s) { return bench.firstOf([s]).length > 0; }
  });

  /* Links within the page move there without taking the sheet out of the address. */
  sheet.addEventListener("click", function (event) {
    var link = event.target.closest("a[href^='#']");
    if (!link) { return; }
    event.preventDefault();
    var goal = by(link.getAttribute("href").slice(1));
    goal.focus({ preventScroll: true });
    goal.scrollIntoView();
  });
  window.addEventListener("hashchange", function () {
    if (location.hash.indexOf("=") < 0) { remember(); return; }
    by("before-live").hidden = true;
    card = kept.read(location.hash.slice(1));
    update();
  });
  window.addEventListener("pagehide", function () { if (waiting) { remember(); } });
  /* A page that the browser kept comes back as it was left, but not with power on; of one that it
     loads again it may fill in the fields as they were, which is not what the address says. */
  window.addEventListener("pageshow", function (event) {
    if (event.persisted) {
      leaveLive();
      update();
    } else {
      showCard();
    }
  });

  sheet.hidden = false;
  document.documentElement.classList.add("has-strip");
  card = kept.read(location.hash.slice(1));
  update();
})();
