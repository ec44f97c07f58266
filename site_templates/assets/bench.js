/* The bench page: what is ticked, and the address that keeps it. */
(function () {
  "use strict";

  var sheet = document.getElementById("worksheet"), tables = window.benchTables;
  if (!sheet || !tables || !window.reckoning) { return; }

  var book = window.reckoning.book(tables), bench = window.reckoning.nextChecks(tables, book);
  var parts = window.benchParts(tables), later = null, kept, ticked, finding, showNote;
  var show = window.benchAnswer(tables, parts, { whole: whole, tickOutcome: tickOutcome });
  var add = window.pageParts.add, percent = window.pageParts.percent, counted = window.pageParts.counted;
  var sayIfNew = window.benchAnswer.sayIfNew, KEY = 0, LABEL = 1, LISTED = 10, LIVE = 2;

  function by(id) { return document.getElementById(id); }

  /* ---- what an empty sheet does without is loaded when somebody turns to it */

  var waiting = [];

  function whole(then) {
    if (later) { then(later); } else if (waiting.push(then) === 1) {
      window.pageParts.load(sheet.dataset.later.split(" "), function () {
        window.benchFilled();
        book = window.reckoning.book(tables);
        bench = window.reckoning.nextChecks(tables, book);
        kept = window.benchAddress(tables);
        later = { said: window.benchSaid(tables, parts), rules: window.benchRules(tables) };
        showNote = window.benchNote(noted);
        ticked = window.benchTicked(tables, parts, { firstOf: bench.firstOf, update: update });
        finding = window.benchFind(tables);
        waiting.forEach(function (each) { each(later); });
      }, missing);
    }
  }

  function missing() {
    ["causes", "rest", "proposals", "withheld", "strip-says"].forEach(function (id) { by(id).replaceChildren(); });
    by("likely-basis").textContent = by("said").textContent =
      "A file of this site is missing beside the page: what is ticked cannot be counted.";
  }

  ["focusin", "pointerdown"].forEach(function (turn) {
    sheet.addEventListener(turn, function () { whole(function () {}); }, { once: true });
  });

  /* ---- the sheet */

  /* Places in the tables; `seen` are symptoms ticked once checks had been made. */
  function blank() { return { family: -1, access: 0, there: [], seen: [], absent: [], made: [] }; }

  function isBlank() {
    return card.family < 0 && !card.access && !card.there.concat(card.seen, card.absent, card.made).length;
  }

  var card = blank(), beforeLive = 0;

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

  /* ---- the address */

  function keysOf(list) { return list.map(function (place) { return tables.symptoms[place][KEY]; }); }

  var remembering = 0;

  function remember() {
    clearTimeout(remembering);
    remembering = 0;
    var words = isBlank() ? "" : kept.write(card);
    history.replaceState(null, "", words ? "#" + words : location.pathname + location.search);
  }

  /* A browser takes longer to write an address than this page to work everything out. */
  function rememberSoon() {
    clearTimeout(remembering);
    remembering = setTimeout(remember, 100);
  }

  /* ---- showing the answer */

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

  /* What is ticked is answered with everything that belongs to the answer, or not yet. */
  function update() {
    if (later || isBlank()) {
      showAnswer();
    } else {
      by("proposals").replaceChildren();
      whole(showAnswer);
    }
  }

  function showAnswer() {
    var asked = question(), ranking = book.rank(asked);
    showCard();
    if (ticked) { ticked.show(card); }
    show({ card: card, ranking: ranking, answer: bench.next(asked, ranking), bench: bench }, later);
    if (showNote) { showNote(); }
    rememberSoon();
  }

  /* ---- the started note */

  function noted() {
    return {
      family: card.family < 0 ? "" : tables.families[card.family][KEY],
      symptom: keysOf(card.there), seen: keysOf(card.seen), absent: keysOf(card.absent),
      checks: card.made.map(function (pair) { return [tables.checks[pair[0]][KEY], kept.outcomeKey(pair)]; })
    };
  }

  by("start-note").addEventListener("click", function () {
    whole(function () {
      by("note-form").hidden = !by("note-form").hidden;
      by("start-note").setAttribute("aria-expanded", String(!by("note-form").hidden));
      showNote();
      if (!by("note-form").hidden) { by("note-case").focus(); }
    });
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
        by("not-yet").scrollIntoView({ block: "nearest" });
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
    card = blank();
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
    whole: whole, above: book.above,
    find: function (sections, rows) { finding.find(sections, rows); }, findCheck: function () { finding.findCheck(); },
    anyCheck: function (list, check) { later.said.anyCheck(list, check, tickOutcome); }, tickSymptom: tickSymptom,
    isDangerous: function (s) { return bench.firstOf([s]).length > 0; }
  });

  function fromAddress() {
    whole(function () {
      card = kept.read(location.hash.slice(1));
      showAnswer();
    });
  }

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
    fromAddress();
  });
  window.addEventListener("pagehide", function () { if (remembering) { remember(); } });
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
  if (location.hash.indexOf("=") < 0) { update(); } else { fromAddress(); }
})();
