/* The list of cases to study: by number and complaint, never by what they turned out to be. */
(function () {
  "use strict";

  if (!window.pageParts || !window.studyScore) { return; }

  var add = window.pageParts.add, counted = window.pageParts.counted, score = window.studyScore;
  var FEW = 40, KEPT = "study collection", EVERY = "-1";

  function by(id) { return document.getElementById(id); }

  function chosenBefore() {
    try { return sessionStorage.getItem(KEPT) || EVERY; } catch (error) { return EVERY; }
  }

  function keepChosen(value) {
    try { sessionStorage.setItem(KEPT, value); } catch (error) { /* it is chosen anew then */ }
  }

  window.studyList = function (entries, memory) {
    var shown = FEW, radios = Array.from(document.getElementsByName("collection")), collection = chosenBefore();
    if (!radios.some(function (radio) { return radio.value === collection; })) { collection = EVERY; }

    function chosen() {
      var value = Number(collection);
      return entries.filter(function (entry) { return value < 0 || entry.themes.indexOf(value) >= 0; });
    }

    function isDone(entry) { return memory.of(entry.name).mine !== undefined; }

    /* The next one that is not studied yet, from the place of `after` on. */
    function following(after) {
      var list = chosen(), from = after ? list.indexOf(after) + 1 : 0;
      return list.slice(from).concat(list.slice(0, from)).find(function (entry) {
        return entry !== after && !isDone(entry);
      });
    }

    function state(entry) {
      var kept = memory.of(entry.name);
      if (kept.mine !== undefined) {
        return "Studied: it cost you " + score.points(kept.mine) + ", the book " + score.points(kept.books);
      }
      return kept.answers.length ? "Begun" : "";
    }

    function row(list, entry) {
      var item = add(list, "li");
      add(item, "span", "number", entry.number);
      var link = add(add(item, "span", "what"), "a", "", entry.complaint || "Case " + entry.number);
      link.href = entry.address;
      link.dir = "auto";
      add(item, "span", "found", state(entry));
      add(item, "span", "from", entry.familyName + ", received " + entry.received +
        (entry.fault ? ", fault " + entry.fault + " of that visit" : ""));
    }

    function tally() {
      var done = entries.filter(isDone), own = done.map(function (e) { return memory.of(e.name).mine; });
      by("tally").hidden = !done.length;
      if (!done.length) { return; }
      var books = done.map(function (e) { return memory.of(e.name).books; });
      by("tally").textContent = counted(done.length, "fault", "faults") + " studied of " + entries.length +
        ". An answer cost you " + score.points(score.mean(own)) + " on average, the book " +
        score.points(score.mean(books)) + ". ";
    }

    function show() {
      var list = by("study-cases"), cases = chosen(), next = following(null);
      list.replaceChildren();
      cases.slice(0, shown).forEach(function (entry) { row(list, entry); });
      by("more-cases").hidden = cases.length <= shown;
      by("next-new").hidden = !next;
      if (next) { by("next-new").href = next.address; }
      radios.forEach(function (radio) {
        radio.checked = radio.value === collection;
        radio.parentNode.classList.toggle("chosen", radio.checked);
      });
      tally();
    }

    radios.forEach(function (radio) {
      radio.addEventListener("change", function () {
        collection = radio.value;
        keepChosen(collection);
        shown = FEW;
        show();
        by("said").textContent = counted(chosen().length, "case", "cases") + " in this collection.";
      });
    });
    by("more-cases").addEventListener("click", function () {
      var from = shown;
      shown += FEW;
      show();
      by("study-cases").children[from].querySelector("a").focus();
    });
    return { show: show, following: following };
  };
})();
