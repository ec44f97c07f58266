/* The answer on the bench page: likely causes, what to try next, and in a sentence. */
(function () {
  "use strict";

  var add = window.pageParts.add, percent = window.pageParts.percent;
  var counted = window.pageParts.counted, button = window.pageParts.button, FEW = 6, MORE = 12;

  function by(id) { return document.getElementById(id); }

  /* `on` holds { whole, tickOutcome }; `whole` calls back once all is there. Returns what shows `asked`: { card, ranking, answer, bench };
     `later` is { said, rules } once they are there. */
  window.benchAnswer = function (tables, parts, on) {
    var now = null, later = null, shown = FEW, opened = new Set();

    /* Why a cause is as likely as it is: at once, or when somebody asks and it has come. */
    function reasons(list, place, isAsked) {
      var its = now.ranking;
      if (!list.children.length && (later || isAsked)) {
        on.whole(function (rest) { if (!list.children.length) { rest.said.reasons(list, its, place); } });
      }
    }

    function showCauses() {
      var list = by("causes"), rest = by("rest"), others = now.ranking.order.slice(shown);
      list.replaceChildren();
      rest.replaceChildren();
      now.ranking.order.slice(0, shown).forEach(function (place) {
        parts.causeItem(list, now.ranking, place, opened, reasons);
      });
      if (others.length) {
        var share = others.reduce(function (sum, place) { return sum + now.ranking.p[place]; }, 0);
        parts.restItem(rest, share, "", counted(others.length, "other known cause", "other known causes together"));
        button(rest.lastChild, "plain-button", "Show more", function () {
          var from = shown;
          shown += MORE;
          showCauses();
          var link = list.children[from] && list.children[from].querySelector("a, summary");
          if (link) { link.focus(); }
        });
      }
      parts.restItem(rest, now.ranking.unseen, "not-in-book", "Not in this book yet");
    }

    function showNotes() {
      var list = by("notes");
      list.replaceChildren();
      if (now.card.family >= 0 && !tables.families[now.card.family][5].length) {
        add(list, "li", "", "No finished fault of " + parts.quoted(parts.labelOf("families", now.card.family)) +
          " yet: its line, its kind and the rest stand in.");
      }
      now.ranking.notes.forEach(function (note) { add(list, "li", "", later.said.noteSaid(note)); });
    }

    function hazardsInside() { return now.card.family < 0 ? tables.unknown[0] : tables.families[now.card.family][8]; }

    function levelOf(offer) {
      return Math.max.apply(null, offer.before.concat(offer.check).map(function (check) {
        return now.bench.accessOf(check, now.card.family);
      }));
    }

    function showChecks() {
      var list = by("proposals"), every = now.answer.first.concat(now.answer.checks);
      /* An empty sheet proposes nothing that takes a cover off: the page says so as it is. */
      var inBox = later ? later.rules.show(Math.max.apply(null, [0].concat(every.map(levelOf))), now.card.family, hazardsInside()) : new Set();
      list.replaceChildren();
      every.forEach(function (offer, at) {
        var own = tables.checks[offer.check], level = levelOf(offer), sentences = offer.before.map(function (check) {
          return "Make " + parts.quoted(parts.labelOf("checks", check)) + " first.";
        });
        if (now.answer.alarming.has(offer.check)) {
          sentences.unshift("It came out as " + parts.quoted(parts.outcomeSaid(offer.check, now.answer.alarming.get(offer.check))) +
            ": put that right first, then make it again.");
        }
        if (now.answer.comesAndGoes && own[11]) {
          sentences.push("This fault comes and goes: gone counts only once it has stayed away for " +
            tables.figures.prove + " min.");
        }
        parts.proposal(list, offer, {
          first: at < now.answer.first.length, level: level, inBox: inBox, said: sentences, act: on.tickOutcome,
          ranking: now.ranking, whole: on.whole,
          hazards: Array.from(new Set(own[8].concat(level > 0 ? hazardsInside() : [])))
        });
      });
      if (!every.length) {
        add(list, "li", "none", "Nothing that this book has seen within this access would tell the likely causes " +
          "apart. A young book knows few checks: begin with what needs no tool.");
      }
      showWithheld();
    }

    function showWithheld() {
      var list = by("withheld");
      list.replaceChildren();
      now.answer.notes.forEach(function (note) { add(list, "li", "", later.said.noteSaid(note)); });
      if (now.answer.held.length) {
        add(list, "li", "", "Held back until what must come first is done, because they apply power: " +
          parts.offersNamed(now.answer.held) + ".");
      }
      [1, 2].forEach(function (level) {
        var there = now.answer.beyond.filter(function (offer) { return offer.access === level; });
        if (there.length) {
          add(list, "li", "", "Not proposed, because it takes “" + tables.access[level].toLowerCase() + "”: " +
            parts.offersNamed(there) + ".");
        }
      });
    }

    function say() {
      var first = now.ranking.order[0], lead = "", proposed = now.answer.first.concat(now.answer.checks)[0];
      if (first !== undefined) {
        lead = parts.labelOf("causes", first) + ", " + percent(now.ranking.p[first]);
      }
      window.benchAnswer.sayIfNew(by("strip-says"), lead || "nothing to go by yet");
      by("said").textContent = (lead ? "Likeliest now: " + lead + ". Not in this book yet: " +
        percent(now.ranking.unseen) + "." : "This book has no finished fault of known cause yet.") +
        (proposed ? " Next: " + parts.labelOf("checks", proposed.check) + "." : "");
    }

    return function (asked, more) {
      now = asked;
      later = more;
      shown = FEW;
      showCauses();
      showNotes();
      showChecks();
      say();
    };
  };

  window.benchAnswer.sayIfNew = function (element, text) {
    if (element.textContent !== text) { element.textContent = text; }
  };
})();
