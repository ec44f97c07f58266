/* The tables as they were: those of data/bench.js, counted over the first so many past faults
   alone. Of today stay the weights of the evidence and the usual minutes of a check.

   reckoning.asItWas(tables, rows, known) gives { tables, today, then }: places of causes in the
   old tables to places in today's, and back (-1 for a cause that nobody had had). A row is
   [family, cause, bits, [symptom, ...], [check, outcome, ...]], as kb/site/study_data.py has it. */
(function () {
  "use strict";

  var r = window.reckoning, ASSUMED = 1, CAME_AND_WENT = 2, STAYED = 4, EVERY = 1e6;
  if (!r) { return; }

  r.asItWas = function (tables, rows, known) {
    var size = tables.causes.length, totals = new Float64Array(size), faults = 0;
    var families = tables.families.map(function () { return { causes: null, made: new Set() }; });
    var symptoms = tables.symptoms.map(function () { return { causes: null, some: 0, told: 0 }; });
    var checks = tables.checks.map(function (c) { return c[7].map(function () { return null; }); });
    var lines = tables.symptoms.map(function (s, place) {
      var line = [place], parent = s[4];
      while (parent >= 0 && line.indexOf(parent) < 0) {
        line.push(parent);
        parent = tables.symptoms[parent][4];
      }
      return line;
    });

    function row() { return new Float64Array(size); }

    function count(past) {
      var family = families[past[0]], cause = past[1], bits = past[2], there = new Set();
      var weight = bits & ASSUMED ? 0.5 : 1, made = past[4];
      past[3].forEach(function (symptom) {
        lines[symptom].forEach(function (s) { there.add(s); });
      });
      there.forEach(function (s) {
        var own = symptoms[s];
        if (bits & (CAME_AND_WENT | STAYED)) { own.told += 1; }
        if (bits & CAME_AND_WENT) { own.some += 1; }
        if (cause >= 0) { (own.causes = own.causes || row())[cause] += weight; }
      });
      for (var i = 0; i < made.length; i += 2) {
        var outcomes = checks[made[i]], at = made[i + 1];
        family.made.add(made[i]);
        if (cause >= 0 && at >= 0) { (outcomes[at] = outcomes[at] || row())[cause] += weight; }
      }
      if (cause < 0) { return; }
      (family.causes = family.causes || row())[cause] += weight;
      totals[cause] += weight;
      faults += 1;
    }

    for (var i = 0; i < known; i += 1) { count(rows(i)); }

    var then = new Map(), today = [];
    totals.forEach(function (n, cause) {
      if (n > 0) { then.set(cause, today.push(cause) - 1); }
    });

    function pairs(amounts) {
      var found = [];
      if (amounts) {
        today.forEach(function (cause, place) {
          if (amounts[cause] > 0) { found.push(place, amounts[cause]); }
        });
      }
      return found;
    }

    function inOrder(made) { return Array.from(made).sort(function (a, b) { return a - b; }); }

    function changed(own, changes) {
      var copy = own.slice();
      Object.keys(changes).forEach(function (place) { copy[place] = changes[place]; });
      return copy;
    }

    var madeOnKind = tables.kinds.map(function () { return new Set(); });
    tables.families.forEach(function (f, family) {
      if (f[4] < 0) { return; }
      families[family].made.forEach(function (check) { madeOnKind[f[4]].add(check); });
    });
    var old = Object.assign({}, tables, {
      figures: Object.assign({}, tables.figures, { faults: faults, proposed: EVERY }),
      kinds: tables.kinds.map(function (kind, k) { return changed(kind, { 1: inOrder(madeOnKind[k]) }); }),
      families: tables.families.map(function (f, family) {
        var own = families[family];
        return changed(f, { 5: pairs(own.causes), 7: f[4] < 0 ? inOrder(own.made) : [] });
      }),
      symptoms: tables.symptoms.map(function (s, symptom) {
        var own = symptoms[symptom];
        return changed(s, { 6: pairs(own.causes), 11: own.some, 12: own.told });
      }),
      causes: today.map(function (cause) { return tables.causes[cause]; }),
      checks: tables.checks.map(function (c, check) {
        return changed(c, {
          7: c[7].map(function (outcome, o) { return changed(outcome, { 2: pairs(checks[check][o]) }); })
        });
      })
    });
    return {
      tables: old, today: today,
      then: function (cause) { return then.has(cause) ? then.get(cause) : -1; }
    };
  };
})();
