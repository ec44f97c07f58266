/* The end of a studied case: the cause, why the others were wrong, and what the answers cost. */
(function () {
  "use strict";

  if (!window.pageParts || !window.studyScore) { return; }

  var add = window.pageParts.add, percent = window.pageParts.percent, score = window.studyScore;
  var LABEL = 1, PAGE = 2, ON_A_MIND = 0.1, WORTH_LOSING = 0.03, OTHERS = 4, REASONS = 2, TELLING = Math.log(1.25);

  function verdict(parts, tables, list, story, told) {
    var item = add(list, "li", "verdict"), heading = add(item, "h2"), cause = tables.causes[story.cause];
    add(heading, "span", "label", "Root cause");
    heading.append(" ");
    parts.link(heading, cause[LABEL], cause[PAGE]);
    heading.tabIndex = -1;
    parts.fields(item, story.verdict);
    parts.caution(item, 0, story.hazards, told);
    var more = add(item, "p", "from");
    parts.link(more, "The whole case, with its notes and readings", story.page);
    return heading;
  }

  /* ---- why the wrong ones were wrong */

  function logOf(odds) { return odds > 0 ? -Math.log1p(Math.exp(-odds)) : odds - Math.log1p(Math.exp(odds)); }

  /* What each piece of evidence did to the odds of a wrong cause against the real one. */
  function reasonsAgainst(ranking, wrong, real) {
    return ranking.pieces.map(function (piece, at) {
      function lead(row) { return logOf(row[wrong]) - logOf(row[real]); }
      return [lead(ranking.odds[at + 1]) - lead(ranking.odds[at]), piece];
    });
  }

  function times(logRatio) {
    var factor = Math.exp(Math.min(Math.abs(logRatio), 20));
    return factor < 10 ? factor.toFixed(1) : String(Math.round(factor));
  }

  /* The wrong causes that somebody had in mind, the book or the reader, by the most they had. */
  function inMind(points, real) {
    var most = new Map();
    function heard(cause, share) {
      if (cause !== real && share > (most.get(cause) || 0)) { most.set(cause, share); }
    }
    points.forEach(function (point) {
      point.named.forEach(function (entry) { heard(entry[0], entry[1]); });
      point.ranking.order.forEach(function (place, at) {
        if (at < 1 || point.ranking.p[place] >= ON_A_MIND) { heard(point.past.today[place], point.ranking.p[place]); }
      });
    });
    return Array.from(most.keys()).sort(function (a, b) { return most.get(b) - most.get(a) || a - b; }).slice(0, OTHERS);
  }

  function why(parts, tables, parent, story, points) {
    var section = add(parent, "section", "why-not"), last = points[points.length - 1], past = last.past;
    add(section, "h2", "", "Why it was none of the others");
    var place = past.then(story.cause), real = place < 0 ? past.today.length : place;
    if (place < 0) {
      add(section, "p", "remark", "Nobody here had had this cause before, so the book could not name it. At the end it kept " +
        percent(last.ranking.unseen) + " back for what it did not know.");
    }
    var list = add(section, "ul", "others");
    inMind(points, story.cause).forEach(function (cause) {
      var item = add(list, "li"), wrong = past.then(cause);
      var heading = add(item, "h3");
      parts.link(heading, tables.causes[cause][LABEL], tables.causes[cause][PAGE]);
      if (wrong < 0) {
        add(item, "p", "", "Nobody here had had it then either: the book cannot say what speaks against it.");
        return;
      }
      var way = points.map(function (point) { return percent(point.ranking.p[wrong]); });
      var line = add(item, "p", "went"), same = way.every(function (share) { return share === way[0]; });
      add(line, "span", "label", "The book gave it");
      add(line, "span", "value", " " + (same ? way[0] : way.join(", ")));
      if (same && way.length > 1) { line.append(" from first to last"); }
      against(parts, add(item, "ul", "against-it"), story, {
        lost: losses(points, wrong), reasons: reasonsAgainst(last.ranking, wrong, real),
        than: place < 0 ? "with a cause that the book does not know" : "with what it was"
      });
    });
    if (!list.children.length) { list.remove(); }
  }

  /* The steps that took more than half of what a cause had, as the page of the case counts them. */
  function losses(points, wrong) {
    var found = [];
    points.forEach(function (point, at) {
      var before = at ? points[at - 1].ranking.p[wrong] : 0, after = point.ranking.p[wrong];
      if (before >= WORTH_LOSING && after < before / 2) { found.push([at, before, after]); }
    });
    return found;
  }

  function noted(item, made) {
    if (made.note) { add(item, "q", "", made.note).dir = "auto"; }
  }

  function against(parts, list, story, told) {
    var said = new Set();
    told.lost.forEach(function (loss) {
      var made = story.steps[loss[0] - 1], item = add(list, "li");
      said.add(made.check);
      item.append("Step " + loss[0] + ", " + parts.labelOf("checks", made.check) + ": " +
        parts.outcomeSaid(made.check, made.outcome).toLowerCase() + ". It fell from " + percent(loss[1]) +
        " to " + percent(loss[2]) + (loss[0] === 1 ? ", with what the unit did on the bench." : "."));
      noted(item, made);
    });
    var speaking = told.reasons.filter(function (reason) { return reason[0] <= -TELLING; })
      .sort(function (a, b) { return a[0] - b[0]; }).slice(0, REASONS);
    speaking.forEach(function (reason) {
      var item = add(list, "li"), piece = reason[1];
      item.append(parts.pieceSaid(piece) + " ");
      add(item, "span", "aside", "(" + times(reason[0]) + " times less likely with this than " + told.than + ")");
      story.steps.forEach(function (made) {
        if (piece.sort === "check" && made.check === piece.term && made.outcome === piece.outcome && !said.has(made.check)) {
          noted(item, made);
        }
      });
    });
    if (speaking.length || told.lost.length) { return; }
    add(list, "li", "", "Nothing noted here speaks clearly against it, going by past faults. " +
      (story.confirmed ? "What settled it was the proof of the other: " + story.confirmed + "." :
        "What settled it was finding the other."));
  }

  /* ---- what the answers cost */

  function costs(parent, points, total) {
    var section = add(parent, "section", "costs");
    add(section, "h2", "", "What the answers cost");
    add(section, "p", "remark", "One point for each time that the share of the real cause was halved: 100\u202f% costs nothing, " +
      "50\u202f% costs 1, 25\u202f% costs 2. Less is better.");
    var table = add(section, "table", "costing"), head = add(add(table, "thead"), "tr");
    ["Answer", "You", "The book"].forEach(function (text, at) { add(head, "th", at ? "figure" : "", text).scope = "col"; });
    var body = add(table, "tbody");
    function row(text, mine, books, name) {
      var line = add(body, "tr", name);
      add(line, "th", "", text).scope = "row";
      [mine, books].forEach(function (figure) {
        var cell = add(line, "td", "figure");
        add(cell, "span", "value", score.points(figure[0]));
        if (figure[1] !== undefined) { add(cell, "span", "under", percent(figure[1])); }
      });
    }
    points.forEach(function (point, at) {
      row(at ? "After step " + at : "At the counter", [score.cost(point.shares.mine), point.shares.mine],
        [score.cost(point.shares.books), point.shares.books], "");
    });
    row("On average", [total.mine], [total.books], "result");
    var difference = total.books - total.mine;
    add(section, "p", "told", Math.abs(difference) < 0.05 ? "You and the book did equally well." :
      difference > 0 ? "You did better than the book." : "The book did better.");
  }

  window.studyEnd = { verdict: verdict, why: why, costs: costs };
})();
