/* A case that is studied: what has been written down, and what may be shown of it by now. */
(function () {
  "use strict";

  var tables = window.benchTables;
  if (!tables || !window.studyParts) { return; }

  var score = window.studyScore, parts = window.studyParts(tables), add = parts.add, LIVE = 2;
  var placeOf = {};

  function by(id) { return document.getElementById(id); }

  ["causes", "checks"].forEach(function (kind) {
    placeOf[kind] = new Map(tables[kind].map(function (term, place) { return [term[0], place]; }));
  });

  function storyOf(data, entry) {
    var row = data.told[Math.floor(entry.place / data.toldPart)][entry.place % data.toldPart];
    var verdict = row[7], at = verdict.indexOf("Confirmed by");
    return {
      about: row[0], there: row[1], seen: row[2], absent: row[3], onTheBench: row[4],
      steps: row[5].map(function (made) {
        return { check: made[0], outcome: made[1], at: made[2], minutes: made[3], note: made[4] };
      }),
      cause: row[6], verdict: verdict, hazards: row[8], page: row[9], faults: row[10],
      confirmed: at < 0 || at % 2 ? "" : verdict[at + 1]
    };
  }

  /* Tells a case as far as its answers go; `on` holds { data, memory, following }. */
  window.studyDesk = function (entry, on) {
    var data = on.data, memory = on.memory, story = storyOf(data, entry);
    var past = window.reckoning.asItWas(tables, function (place) {
      return data.past[Math.floor(place / data.pastPart)][place % data.pastPart];
    }, entry.known);
    var book = window.reckoning.book(past.tables), bench = window.reckoning.nextChecks(past.tables, book);
    var kept = memory.of(entry.name), stages = [];

    function question(made) {
      return {
        family: entry.family, there: made ? story.there.concat(story.seen) : story.there,
        absent: made ? story.absent : [], access: LIVE,
        made: story.steps.slice(0, made).map(function (step) { return [step.check, step.outcome]; })
      };
    }

    /* What the book says once so many checks are made. */
    function stage(made) {
      if (!stages[made]) {
        var asked = question(made), ranking = book.rank(asked);
        stages[made] = { ranking: ranking, next: bench.next(asked, ranking) };
      }
      return stages[made];
    }

    function point(answer, made) {
      var own = stage(made), real = past.then(story.cause);
      var named = answer.named.map(function (entry) { return [placeOf.causes.get(entry[0]), entry[1] / 100]; });
      return {
        past: past, ranking: own.ranking, next: own.next, named: named, check: placeOf.checks.get(answer.check),
        shares: score.shares(named.map(function (entry) {
          return [past.then(entry[0]), entry[1], entry[0] === story.cause];
        }), own.ranking, real)
      };
    }

    /* Answers that this book, which may have changed since, still knows what to do with. */
    function understood(answer, made) {
      return answer && Array.isArray(answer.named) && answer.named.every(function (entry) {
        return placeOf.causes.has(entry[0]) && entry[1] > 0;
      }) && (made === story.steps.length || placeOf.checks.has(answer.check));
    }

    function answers() {
      var found = kept.answers.slice(0, story.steps.length + 1);
      var bad = found.findIndex(function (answer, made) { return !understood(answer, made); });
      return bad < 0 ? found : found.slice(0, bad);
    }

    function hazardsOf(check, level) {
      return tables.checks[check][8].concat(level > 0 ? tables.families[entry.family][8] : []);
    }

    function compared(parent, at, point, real) {
      var box = add(parent, "div", "meant");
      add(box, "h3", "", (!at ? "At the counter" : at < story.steps.length ? "Before this step" : "Before the end") +
        ": you and the book");
      parts.compared(box, point, real);
      if (at < story.steps.length) { parts.nextCompared(box, point, story.steps[at].check); }
    }

    function onTheBench(parent) {
      if (!story.seen.length && !story.absent.length && !story.onTheBench.length) { return; }
      var fields = parts.fields(parent, story.onTheBench);
      parts.symptoms(fields, "On the bench it also did", story.seen);
      parts.symptoms(fields, "Looked for, not there", story.absent);
    }

    function show(moved) {
      var given = answers(), ended = given.length > story.steps.length, told = new Set(), heading;
      var points = given.map(point), real = ended ? story.cause : undefined, root = by("desk");
      root.replaceChildren();
      heading = parts.jobCard(root, entry, story, ended ? "Told to its end" : "Being studied");
      parts.danger(root, story.there.concat(given.length ? story.seen : []), bench.firstOf);
      add(root, "p", "remark quiet", "The book then held " +
        window.pageParts.counted(past.tables.figures.faults, "fault", "faults") + " of known cause.");
      var trace = add(root, "ol", "trace");
      story.steps.slice(0, given.length).forEach(function (made, at) {
        var level = bench.accessOf(made.check, entry.family);
        var step = parts.step(trace, at + 1, made, { level: level, hazards: hazardsOf(made.check, level), told: told });
        if (!at) { onTheBench(step.done); }
        compared(step.item, at, points[at], real);
        heading = step.heading;
      });
      if (ended) {
        heading = window.studyEnd.verdict(parts, tables, trace, story, told);
        compared(trace.lastChild, story.steps.length, points[points.length - 1], real);
        theEnd(root, points);
      } else { entryFor(root, given); }
      if (moved) {
        heading.focus({ preventScroll: true });
        (heading.closest("li") || heading).scrollIntoView({ block: "start" });
        say(given.length, ended, points);
      } else { by("desk").querySelector("h1").focus({ preventScroll: true }); }
    }

    function entryFor(root, given) {
      var made = given.length, over = made === story.steps.length, options = bench.optionsOf(entry.family, bench.firstOf(question(made).there));
      var done = story.steps.slice(0, made).map(function (step) { return step.check; });
      window.studyEntry(root, {
        tables: tables, before: given[made - 1],
        heading: over ? "All checks are made: what is it?" : made ? "And now: what do you think?" : "What do you think it is?",
        checks: over ? [] : Array.from(new Set(options.concat(story.steps.slice(made).map(function (step) { return step.check; }))))
          .filter(function (check) { return done.indexOf(check) < 0 || story.steps[made].check === check; }),
        accessOf: function (check) { return bench.accessOf(check, entry.family); },
        done: function (answer) {
          kept.answers = given.concat([answer]);
          memory.keep(entry.name, kept);
          show(true);
        }
      });
    }

    function theEnd(root, points) {
      var total = {
        mine: score.mean(points.map(function (point) { return score.cost(point.shares.mine); })),
        books: score.mean(points.map(function (point) { return score.cost(point.shares.books); }))
      };
      kept.mine = total.mine;
      kept.books = total.books;
      memory.keep(entry.name, kept);
      window.studyEnd.why(parts, tables, root, story, points);
      window.studyEnd.costs(root, points, total);
      var ways = add(root, "p", "buttons"), next = on.following(entry);
      if (next) { add(ways, "a", "key-button", "Study the next one").href = next.address; }
      window.pageParts.button(ways, "plain-button", "Study this one again", function () {
        memory.forget(entry.name);
        kept = { answers: [] };
        show(false);
        window.scrollTo(0, 0);
      });
      add(ways, "a", "plain-button", "All cases to study").href = "study.html";
    }

    function say(made, ended, points) {
      var before = points[points.length - 1], first = before.ranking.order[0], step = story.steps[made - 1];
      by("said").textContent = (ended ? "The end. Root cause: " + tables.causes[story.cause][1] :
        "Step " + made + ": " + parts.labelOf("checks", step.check) + ", " +
        parts.outcomeSaid(step.check, step.outcome).toLowerCase()) + ". " +
        (first === undefined ? "" : "Before it the book leaned to " + before.past.tables.causes[first][1] + ", " +
        window.pageParts.percent(before.ranking.p[first]) + ".");
    }

    return show;
  };
})();
