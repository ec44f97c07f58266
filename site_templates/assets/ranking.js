/* How likely each cause is, from the tables of data/bench.js, as kb/faults/ranking.py has it.

   reckoning.book(tables).rank takes a question:
   { family: place or -1, there: [symptom], absent: [symptom], made: [[check, outcome], ...] };
   an outcome is a place among those of its check, or -1 where the fault was not showing. */
(function () {
  "use strict";

  var r = window.reckoning, NOT_SHOWING = -1;

  r.book = function (tables) {
    var figures = tables.figures, size = tables.causes.length;

    function spread(pairs) {
      var row = new Float64Array(size);
      for (var i = 0; i < pairs.length; i += 2) { row[pairs[i]] += pairs[i + 1]; }
      return row;
    }

    var families = tables.families.map(function (f) {
      return { lines: f[3], kind: f[4], faults: f[5], access: new Map(pairsOf(f[6])), own: f[7] };
    });
    var symptoms = tables.symptoms.map(function (s) {
      return {
        parent: s[4], first: s[5], known: s[6].length > 0, seen: spread(s[6]),
        weight: s[7], spread: s[8], absentWeight: s[9], absentSpread: s[10], some: s[11], told: s[12]
      };
    });
    var checks = tables.checks.map(function (c) {
      return {
        access: c[4], minutes: c[5], wait: c[6], outcomes: c[7], disturbs: c[11], powered: c[12],
        needs: c[13], weight: c[14], spread: c[15]
      };
    });
    var totals = new Float64Array(size);
    families.forEach(function (f) {
      pairsOf(f.faults).forEach(function (pair) { totals[pair[0]] += pair[1]; });
    });
    var tree = grow(), priors = new Map(), seenSymptoms = [], seenChecks = [];

    function pairsOf(flat) {
      var pairs = [];
      for (var i = 0; i < flat.length; i += 2) { pairs.push([flat[i], flat[i + 1]]); }
      return pairs;
    }

    /* ---- before any evidence */

    function wayDown(family) {
      var way = [["book", "/"]], path = "/";
      function step(level, place) {
        path += level + place + "/";
        way.push([level, path]);
      }
      if (family < 0) { return way; }
      if (families[family].kind >= 0) { step("kind", families[family].kind); }
      families[family].lines.slice().reverse().forEach(function (line) { step("line", line); });
      step("family", family);
      return way;
    }

    /* A family counts faults; a level above counts for a cause how many of its children know it. */
    function grow() {
      var grown = new Map();
      families.forEach(function (f, family) {
        var way = wayDown(family).reverse();
        pairsOf(f.faults).forEach(function (pair) {
          var cause = pair[0], step = pair[1];
          way.some(function (node) {
            if (!grown.has(node[1])) { grown.set(node[1], new Map()); }
            var table = grown.get(node[1]), known = table.has(cause);
            table.set(cause, (table.get(cause) || 0) + step);
            step = 1;
            return known;
          });
        });
      });
      return grown;
    }

    function prior(family) {
      if (priors.has(family)) { return priors.get(family); }
      var p = new Float64Array(size), unseen = 1, worth = tables.levels.book[0];
      wayDown(family).forEach(function (node) {
        var table = tree.get(node[1]) || new Map();
        var theta = tables.levels[node[0]][0], discount = tables.levels[node[0]][1];
        var count = 0, taken = 0;
        table.forEach(function (n) {
          count += n;
          taken += n > discount ? discount : n;
        });
        worth = count + theta;
        var passedUp = (theta + taken) / worth;
        for (var c = 0; c < size; c += 1) { p[c] *= passedUp; }
        unseen *= passedUp;
        table.forEach(function (n, cause) { p[cause] += (n - (n > discount ? discount : n)) / worth; });
      });
      var found = { p: p, unseen: unseen, size: worth };
      priors.set(family, found);
      return found;
    }

    /* ---- evidence */

    function above(symptom) {
      var found = [], parent = symptoms[symptom].parent;
      while (parent >= 0 && found.indexOf(parent) < 0 && parent !== symptom) {
        found.push(parent);
        parent = symptoms[parent].parent;
      }
      return found;
    }

    function isKnown(symptom) { return symptoms[symptom].known; }

    function symptomRates(symptom) {
      if (!seenSymptoms[symptom]) {
        var chain = [symptom].concat(above(symptom).filter(isKnown));
        var rows = chain.map(function (s) { return symptoms[s].seen; });
        seenSymptoms[symptom] = r.notedRates(rows, totals, figures.symptom);
      }
      return seenSymptoms[symptom];
    }

    function ratesOfCheck(check) {
      if (!seenChecks[check]) {
        var rows = checks[check].outcomes.map(function (o) { return spread(o[2]); });
        seenChecks[check] = r.checkRates(rows, figures.check, size);
      }
      return seenChecks[check];
    }

    function sorted(places) {
      return Array.from(new Set(places)).sort(function (a, b) { return a - b; });
    }

    /* The pieces of evidence that count, and of the others why they do not. Of a symptom and what
       it is a kind of the more specific counts, of absences the more general. */
    function readEvidence(question) {
      var pieces = [], notes = [];
      var there = new Set(), implied = new Set(), present = new Set(), absent = new Set();
      sorted(question.there).forEach(function (symptom) {
        var line = [symptom].concat(above(symptom)), known = line.find(isKnown);
        line.forEach(function (s) { there.add(s); });
        if (known === undefined) {
          notes.push(["symptom-unknown", symptom]);
          return;
        }
        if (known !== symptom) { notes.push(["symptom-as", symptom, known]); }
        present.add(known);
        above(known).forEach(function (s) { implied.add(s); });
      });
      sorted(present).forEach(function (s) {
        if (implied.has(s)) { return; }
        pieces.push({
          sort: "there", term: s, rates: symptomRates(s), weight: symptoms[s].weight, spread: symptoms[s].spread
        });
      });
      sorted(question.absent).forEach(function (s) {
        if (there.has(s)) { notes.push(["absent-there", s]); }
        else if (isKnown(s)) { absent.add(s); }
        else { notes.push(["absent-unknown", s]); }
      });
      sorted(absent).forEach(function (s) {
        if (above(s).some(function (a) { return absent.has(a); })) { return; }
        pieces.push({
          sort: "absent", term: s, rates: r.turned(symptomRates(s)),
          weight: symptoms[s].absentWeight, spread: symptoms[s].absentSpread
        });
      });
      var last = lastOutcomes(question.made, notes);
      sorted(last.keys()).forEach(function (check) {
        var outcome = last.get(check), rates = ratesOfCheck(check)[outcome];
        if (!rates) {
          notes.push(["outcome-unknown", check, outcome]);
          return;
        }
        pieces.push({
          sort: "check", term: check, outcome: outcome, rates: rates,
          weight: checks[check].weight, spread: checks[check].spread
        });
      });
      return { pieces: pieces, notes: notes };
    }

    function lastOutcomes(made, notes) {
      var last = new Map();
      made.forEach(function (pair) {
        if (pair[1] === NOT_SHOWING) { return; }
        if (notes && last.has(pair[0]) && last.get(pair[0]) !== pair[1]) {
          notes.push(["made-again", pair[0], pair[1]]);
        }
        last.set(pair[0], pair[1]);
      });
      return last;
    }

    function logLikelihoods(rates) {
      var means = r.meansOf(rates), logs = new Float64Array(size + 1);
      means.forEach(function (mean, c) { logs[c] = Math.log(mean); });
      logs[size] = Math.log(r.rateOfUnseen(rates.made, means, figures.weight));
      return logs;
    }

    /* ---- the ranking */

    /* All arrays run over the causes, the unseen last. `odds` holds the log odds before the
       evidence and after each piece of it: what a piece changed is the difference. */
    function rank(question) {
      var before = prior(question.family), found = readEvidence(question);
      var scores = new Float64Array(size + 1), sizes = new Float64Array(size + 1);
      for (var c = 0; c < size; c += 1) {
        scores[c] = Math.log(before.p[c]);
        sizes[c] = before.size * before.p[c];
      }
      scores[size] = Math.log(before.unseen);
      sizes[size] = before.size * before.unseen;
      var odds = [r.logOdds(scores)];
      var down = sizes.map(r.trigamma), up = sizes.map(function (s) { return Math.log1p(1 / s); });
      var logs = found.pieces.map(function (piece) {
        var row = logLikelihoods(piece.rates);
        for (var i = 0; i <= size; i += 1) { scores[i] += piece.weight * row[i]; }
        odds.push(r.logOdds(scores));
        addVariances(piece.rates, down, up);
        return row;
      });
      var p = r.probabilities(scores), weighing = new Float64Array(size + 1);
      logs.forEach(function (row, at) {
        var rivals = r.rivalMeans(p, row), weight = found.pieces[at].spread;
        row.forEach(function (own, i) { weighing[i] += Math.pow(weight * (own - rivals[i]), 2); });
      });
      var ranges = r.intervals(p, odds[odds.length - 1], down, up, weighing, figures.deviations);
      var order = Array.from(totals.keys()).sort(function (a, b) { return p[b] - p[a] || a - b; });
      return {
        order: order, p: p, unseen: p[size], low: ranges.low, high: ranges.high, odds: odds,
        pieces: found.pieces, notes: found.notes
      };
    }

    function addVariances(rates, down, up) {
      for (var i = 0; i <= size; i += 1) {
        var a = rates.pooled[0], b = rates.pooled[1];
        if (i < size) {
          var base = rates.shrinkage * (rates.expected ? rates.expected[i] : rates.typical);
          a = rates.seen[i] + base;
          b = rates.made[i] - rates.seen[i] + rates.shrinkage - base;
        }
        down[i] += r.trigamma(a) - r.trigamma(a + b);
        up[i] += Math.log1p(b / (a * (a + b + 1)));
      }
    }

    return {
      rank: rank, above: above, ratesOfCheck: ratesOfCheck, lastOutcomes: lastOutcomes,
      families: families, symptoms: symptoms, checks: checks
    };
  };
})();
