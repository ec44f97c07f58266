/* Which check to make next, as kb/faults/next_checks.py has it: what must come first, what is held
   back because it applies power, and the others by what they are expected to tell for their time.

   reckoning.nextChecks(tables, book) takes the question of `book.rank` with its `access`, 0 to 2:
   outside, open, live. Safety stands here, once. */
(function () {
  "use strict";

  var r = window.reckoning, NOT_SHOWING = -1, LIVE = 2;

  r.nextChecks = function (tables, book) {
    var figures = tables.figures, size = tables.causes.length;
    var families = book.families, symptoms = book.symptoms, checks = book.checks;

    /* ---- what a check can be expected to tell */

    function expect(ranking, beliefs, check) {
      var rows = book.ratesOfCheck(check), first = rows.find(Boolean), after = [];
      if (!first) { return { after: after, told: 0 }; }
      var p = first.which.map(function (c) { return ranking.p[c]; });
      var plogp = first.which.map(function (c) { return beliefs.plogp[c]; });
      var share = r.total(p), left = 0;
      rows.forEach(function (row, outcome) {
        if (!row) { return; }
        var found = afterOutcome(ranking, beliefs, row, check, p, plogp);
        found.outcome = outcome;
        left += found.chance * found.entropy;
        after.push(found);
      });
      var known = share > 0 ? Math.min(share / (1 - ranking.unseen), 1) : 0;
      return { after: after, told: Math.max(beliefs.entropy - left, 0) / Math.log(2) * known };
    }

    function afterOutcome(ranking, beliefs, row, check, p, plogp) {
      var t = r.tempered(row, checks[check].weight, figures.weight), chance = 0, sum = 0, spent = 0;
      for (var i = 0; i < p.length; i += 1) {
        chance += p[i] * t.means[i];
        sum += p[i] * t.powers[i];
        spent += plogp[i] * t.powers[i] + p[i] * t.logs[i];
      }
      [
        [Math.max(1 - ranking.unseen - r.total(p), 0), beliefs.known - r.total(plogp), row.typical, t.typical],
        [ranking.unseen, r.xLogX(ranking.unseen), t.pooled, t.ofUnseen]
      ].forEach(function (group) {
        chance += group[0] * group[2];
        sum += group[0] * group[3];
        spent += group[3] * group[1] + group[0] * r.xLogX(group[3]);
      });
      return { chance: chance, entropy: Math.log(sum) - spent / sum, total: sum, rates: t };
    }

    /* The causes that would lead after an outcome: [cause, probability], … */
    function leadingAfter(ranking, after) {
      var best = [], t = after.rates;
      ranking.order.some(function (c) {
        var p = ranking.p[c];
        if (best.length === figures.leading && p * t.most < best[best.length - 1][1]) { return true; }
        best.push([c, p * t.likelihoods[c]]);
        best.sort(function (a, b) { return b[1] - a[1] || a[0] - b[0]; });
        best.length = Math.min(best.length, figures.leading);
        return false;
      });
      return best.map(function (entry) { return [entry[0], entry[1] / after.total]; });
    }

    /* ---- the unit on the bench */

    function accessOf(check, family) {
      var own = family < 0 ? undefined : families[family].access.get(check);
      return own === undefined ? checks[check].access : own;
    }

    function firstOf(there) {
      var found = [];
      there.forEach(function (symptom) {
        [symptom].concat(book.above(symptom)).forEach(function (s) { found = found.concat(symptoms[s].first); });
      });
      return Array.from(new Set(found));
    }

    /* The checks that can be made on this unit; which of them says what was made on its kind. */
    function optionsOf(family, first) {
      var made = family < 0 ? [] : families[family].kind < 0 ? families[family].own :
        tables.kinds[families[family].kind][1];
      var every = Array.from(checks.keys());
      return made.length ? every.filter(function (c) {
        return made.indexOf(c) >= 0 || first.indexOf(c) >= 0;
      }) : every;
    }

    function comesAndGoes(question) {
      var some = 0, told = 0;
      question.there.forEach(function (s) {
        some += symptoms[s].some;
        told += symptoms[s].told;
      });
      return question.made.some(function (pair) { return pair[1] === NOT_SHOWING; }) ||
        told >= figures.few && some / told >= figures.mostly;
    }

    function handsOn(check) {
      return Math.max(checks[check].minutes, figures.least) + figures.wait * checks[check].wait;
    }

    /* What must be made before a check, in order. */
    function neededBefore(check, options, done, seen) {
      var needed = [];
      checks[check].needs.forEach(function (need) {
        if (!options.has(need) || done.has(need) || seen.has(need)) { return; }
        seen.add(need);
        needed = needed.concat(neededBefore(need, options, done, seen), need);
      });
      return needed;
    }

    /* What must come first, and every other check as an offer: with what it takes now, or held
       back because it applies power, or beyond the access that is allowed. */
    function survey(question) {
      var family = question.family, first = firstOf(question.there);
      var options = new Set(optionsOf(family, first)), last = book.lastOutcomes(question.made);
      var notes = [], leading = [], alarming = new Map();
      last.forEach(function (outcome, check) {
        var clears = outcome >= 0 && checks[check].outcomes[outcome][3];
        if (first.indexOf(check) >= 0 && options.has(check) && !clears) { alarming.set(check, outcome); }
      });
      var pending = first.filter(function (c) { return !last.has(c) || alarming.has(c); });
      function appliesPower(c) { return accessOf(c, family) === LIVE || checks[c].powered === 1; }
      pending.forEach(function (c) {
        if (!options.has(c)) { notes.push(["first-elsewhere", c]); }
        else if (accessOf(c, family) > question.access) { notes.push(["first-beyond", c, accessOf(c, family)]); }
        else if (notes.length && appliesPower(c)) { notes.push(["first-waits", c]); }
        else { leading.push(c); }
      });
      var done = new Set(question.made.map(function (pair) { return pair[0]; }).concat(leading));
      var closed = Array.from(done).every(function (c) { return !options.has(c) || !accessOf(c, family); });
      var chases = comesAndGoes(question);
      var found = {
        leading: leading, alarming: alarming, notes: notes, comesAndGoes: chases,
        offered: [], held: [], beyond: []
      };
      options.forEach(function (check) {
        if (last.has(check) || pending.indexOf(check) >= 0) { return; }
        var before = neededBefore(check, options, done, new Set([check])), steps = before.concat(check);
        var most = Math.max.apply(null, steps.map(function (c) { return accessOf(c, family); }));
        var spent = r.total(steps.map(handsOn)), minutes = spent;
        if (chases && steps.some(function (c) { return checks[c].disturbs; })) { minutes *= figures.disturbs; }
        var cover = closed && most > 0 ? figures.cover : 0;
        var offer = {
          check: check, before: before, access: most, spent: spent + cover, minutes: minutes + cover
        };
        if (most > question.access) { found.beyond.push(offer); }
        else if (pending.length && steps.some(appliesPower)) { found.held.push(offer); }
        else { found.offered.push(offer); }
      });
      return found;
    }

    /* The checks to make, in order: what must come first, then the bits for their minutes. */
    function next(question, ranking) {
      var plogp = ranking.p.map(r.xLogX), known = r.total(plogp) - plogp[size];
      var beliefs = { plogp: plogp, known: known, entropy: -known - plogp[size] };
      var now = survey(question);

      function weighed(offers) {
        offers.forEach(function (offer) { offer.expected = expect(ranking, beliefs, offer.check); });
        return offers.filter(function (offer) { return offer.expected.told >= figures.told; })
          .sort(function (a, b) {
            return b.expected.told / b.minutes - a.expected.told / a.minutes || a.check - b.check;
          });
      }

      function proposed(offer) {
        offer.own = accessOf(offer.check, question.family);
        offer.outcomes = offer.expected.after.map(function (after) {
          return {
            outcome: after.outcome, chance: after.chance, leading: leadingAfter(ranking, after),
            unseen: ranking.unseen * after.rates.ofUnseen / after.total
          };
        });
        return offer;
      }

      return {
        first: now.leading.map(function (check) {
          return proposed({ check: check, before: [], expected: expect(ranking, beliefs, check) });
        }),
        checks: weighed(now.offered).slice(0, figures.proposed).map(proposed),
        held: weighed(now.held), beyond: weighed(now.beyond), alarming: now.alarming,
        notes: now.notes, comesAndGoes: now.comesAndGoes
      };
    }

    return { next: next, accessOf: accessOf, firstOf: firstOf, optionsOf: optionsOf };
  };
})();
