/* The parts that a studied case is told with: values in, elements out. Text of the book reaches the
   page as text nodes only. */
(function () {
  "use strict";

  if (!window.benchParts) { return; }

  var add = window.pageParts.add, link = window.pageParts.linked, percent = window.pageParts.percent;
  var SVG = "http://www.w3.org/2000/svg", SHOWN = 3, LABEL = 1, PAGE = 2;

  function meter(parent, share, name) {
    var svg = document.createElementNS(SVG, "svg");
    svg.setAttribute("class", "meter " + name);
    svg.setAttribute("aria-hidden", "true");
    svg.setAttribute("focusable", "false");
    [["track", 1], ["level", share]].forEach(function (part) {
      var rect = document.createElementNS(SVG, "rect");
      rect.setAttribute("class", part[0]);
      rect.setAttribute("width", 100 * part[1] + "%");
      rect.setAttribute("height", "100%");
      svg.append(rect);
    });
    parent.append(svg);
  }

  window.studyParts = function (tables) {
    var labels = window.benchParts(tables);

    function field(list, label, text) {
      var row = add(list, "div");
      add(row, "dt", "", label);
      var value = add(row, "dd", "", text);
      value.dir = "auto";
      return value;
    }

    function fields(parent, pairs) {
      var list = add(parent, "dl", "fields");
      for (var i = 0; i < pairs.length; i += 2) { field(list, pairs[i], pairs[i + 1]); }
      return list;
    }

    function terms(parent, kind, places) {
      var list = add(parent, "ul", "terms");
      places.forEach(function (place) {
        link(add(list, "li"), tables[kind][place][LABEL], tables[kind][place][PAGE]);
      });
    }

    function symptoms(list, label, places) {
      if (places.length) { terms(field(list, label), "symptoms", places); }
    }

    function jobCard(parent, entry, story, stage) {
      var card = add(parent, "header", "jobcard"), stub = add(card, "div", "stub");
      var face = add(card, "div", "face");
      add(stub, "p", "label", "Case");
      add(stub, "p", "number", entry.number);
      add(stub, "p", "state", stage);
      if (entry.fault) { add(stub, "p", "aside", "fault " + entry.fault + " of " + story.faults); }
      var heading = add(face, "h1", "", "Case " + entry.name);
      heading.tabIndex = -1;
      if (entry.complaint) {
        add(add(face, "blockquote", "complaint"), "p", "", entry.complaint).dir = "auto";
      }
      var list = fields(face, story.about), family = tables.families[entry.family];
      link(field(list, "Family"), family[LABEL], family[PAGE]);
      field(list, "Received", entry.received);
      symptoms(list, "At the counter", story.there);
      return heading;
    }

    /* A symptom that demands checks before anything else. */
    function danger(parent, places, firstOf) {
      var named = places.filter(function (place) { return firstOf([place]).length; });
      if (!named.length) { return; }
      var box = add(parent, "div", "warning danger");
      add(box, "p", "sign", "Danger");
      named.forEach(function (place) {
        add(box, "p", "", labels.labelOf("symptoms", place) + ": a unit that does this stays off and " +
          "unplugged until the checks for it are made and have cleared it.");
      });
    }

    /* ---- cautions: spelt out where they are new, named where this page did before */

    function caution(parent, level, keys, told) {
      var key = tables.accessKeys[level], inside = level > 0, isNew = inside && !told.has(key);
      var hazards = tables.hazards.filter(function (h) { return keys.indexOf(h[0]) >= 0; });
      var fresh = hazards.filter(function (h) { return !told.has(h[0]); });
      var before = hazards.filter(function (h) { return told.has(h[0]); });
      var place = parent, line;
      if (fresh.length || isNew) {
        var box = add(parent, "div", "caution");
        box.setAttribute("role", "note");
        box.setAttribute("aria-label", "Caution");
        add(box, "p", "sign", "Caution");
        place = add(box, "ul");
        if (isNew) {
          line = add(place, "li");
          add(line, "b", "", tables.access[level] + ".");
          line.append(" First read ");
          link(line, "what to do before " + (key === "live" ? "working on it live" :
            "reaching into an open unit"), "safety.html#" + key);
          line.append(".");
        }
        fresh.forEach(function (h) {
          line = add(place, "li");
          add(line, "b", "", h[1] + ".");
          line.append(" " + h[2]);
        });
      }
      var named = before.map(function (h) { return [h[1].toLowerCase(), "safety.html#" + h[0]]; });
      if (inside && !isNew) { named.unshift([tables.access[level].toLowerCase(), "safety.html#" + key]); }
      if (named.length) {
        line = place === parent ? add(parent, "p", "reminded" + (inside ? " inside" : "")) : add(place, "li");
        add(line, "b", "", place === parent ? "Caution, as above:" : "As above:");
        named.forEach(function (entry, at) {
          line.append(at ? ", " : " ");
          link(line, entry[0], entry[1]);
        });
        line.append(".");
      }
      told.add(key);
      hazards.forEach(function (h) { told.add(h[0]); });
    }

    /* ---- an answer beside the book's */

    function sameCause(cause) { return function (entry) { return entry[0] === cause; }; }

    /* `point` holds the answer and the ranking of one moment; `real` is told once it may be. */
    function compared(parent, point, real) {
      var rows = point.named.map(function (entry) { return entry.slice(); });
      point.ranking.order.slice(0, SHOWN).forEach(function (place) {
        var cause = point.past.today[place];
        if (!rows.some(sameCause(cause))) { rows.push([cause, null]); }
      });
      if (real !== undefined && point.past.then(real) >= 0 && !rows.some(sameCause(real))) {
        rows.push([real, null]);
      }
      var table = add(parent, "table", "compared"), head = add(add(table, "thead"), "tr");
      ["Likely to be", "You", "Book"].forEach(function (text, at) {
        var cell = add(head, "th", at ? "figure" : "", text);
        cell.scope = "col";
      });
      var body = add(table, "tbody"), mine = 1, books = 1;
      rows.forEach(function (row) {
        var place = point.past.then(row[0]), own = place < 0 ? null : point.ranking.p[place];
        if (row[1] !== null) { mine -= row[1]; }
        if (own !== null) { books -= own; }
        line(body, tables.causes[row[0]], row[1], own, row[0] === real);
      });
      var rest = line(body, [null, "Something else"], Math.max(mine, 0), Math.max(books, 0), false);
      add(rest, "span", "under", "book: " + percent(point.ranking.unseen) + " for what is new to it");
    }

    function line(body, cause, mine, books, isReal) {
      var row = add(body, "tr", isReal ? "right" : ""), name = add(row, "th");
      name.scope = "row";
      name.append(cause[LABEL]);
      if (isReal) { add(name, "span", "it-was", "it was this"); }
      [[mine, "mine"], [books, "books"]].forEach(function (pair) {
        var cell = add(row, "td", "figure");
        if (pair[0] === null) {
          add(cell, "span", "unseen", pair[1] === "mine" ? "not named" : "not known");
          add(cell, "span", "nothing", "–").setAttribute("aria-hidden", "true");
          return;
        }
        meter(cell, pair[0], pair[1]);
        cell.append(percent(pair[0]));
      });
      return name;
    }

    /* What was chosen, what the book would have chosen, what was made; each with what it promised. */
    function nextCompared(parent, point, made) {
      var list = add(parent, "dl", "next-compared"), best = point.next.first.concat(point.next.checks)[0];
      function row(label, check) {
        var pair = add(list, "div");
        add(pair, "dt", "", label);
        var value = add(pair, "dd");
        if (check === undefined) {
          value.textContent = "nothing that would tell the likely causes apart";
          return;
        }
        value.append(labels.labelOf("checks", check));
        add(value, "span", "aside", " " + promised(point, check));
      }
      row("You", point.check);
      row("The book", best && best.check);
      row("Done", made);
    }

    function promised(point, check) {
      var next = point.next;
      if (next.first.some(function (offer) { return offer.check === check; })) { return "must come first"; }
      var offer = next.checks.concat(next.held).find(function (o) { return o.check === check; });
      if (!offer) { return "little to be expected of it"; }
      var told = offer.expected.told;
      return (told < 0.005 ? "less than 0.01 bits, " : told.toFixed(2) + " bits, ") + Math.round(offer.spent) + "\u202fmin" +
        (next.held.indexOf(offer) >= 0 ? ", held back: it applies power" : "");
    }

    /* ---- one step of the trace */

    function step(parent, number, made, context) {
      var item = add(parent, "li", "step " + tables.accessKeys[context.level]);
      add(item, "span", "node", String(number)).setAttribute("aria-hidden", "true");
      var done = add(item, "div", "done"), heading = add(done, "h2");
      add(heading, "span", "unseen", "Step " + number + ": ");
      heading.append(tables.checks[made.check][LABEL]);
      heading.tabIndex = -1;
      var outcome = add(done, "p", "outcome");
      add(outcome, "span", "label", "Outcome");
      outcome.append(" ");
      add(outcome, "strong", "", labels.outcomeSaid(made.check, made.outcome));
      var meta = add(done, "p", "meta");
      add(meta, "span", "access " + tables.accessKeys[context.level], tables.access[context.level]);
      if (made.at) { add(meta, "span", "", "at " + made.at).dir = "auto"; }
      if (made.minutes) { add(meta, "span", "", made.minutes); }
      caution(done, context.level, context.hazards, context.told);
      if (made.note) { add(done, "p", "note", made.note).dir = "auto"; }
      return { item: item, done: done, heading: heading };
    }

    return {
      add: add, link: link, field: field, fields: fields, symptoms: symptoms, terms: terms, meter: meter,
      jobCard: jobCard, danger: danger, caution: caution, compared: compared, nextCompared: nextCompared,
      pieceSaid: window.benchSaid(tables, labels).pieceSaid, step: step, labelOf: labels.labelOf, outcomeSaid: labels.outcomeSaid,
      quoted: labels.quoted
    };
  };
})();
