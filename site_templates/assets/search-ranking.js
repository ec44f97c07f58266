/* The order of the hits: the program's own sums of whole numbers, taken in the same order, so that
   even ties are the same. docs/search.md says what the sums are. */
(function () {
  "use strict";

  var K1 = 1.2, B = 0.75, SCALE = 10000000;
  var HITS = 10, LIKELY = 20, TAKEN = 10, RARE = 2, PARTS = 1000;
  var HALVES = [6, 4, 3, 2, 1];
  var MOST_BEGUN = 12;

  window.searchRanking = function (tables, words) {
    var count = tables.count, mean = tables.total ? tables.total / count : 1;
    var penalties = Float64Array.from(tables.lengths, function (length) {
      return K1 * (1 - B + B * length / mean);
    });
    var worths = new Map();

    function telling(found) { return Math.log1p((count - found + 0.5) / (found + 0.5)); }

    /* What a term or phrase is worth to each case that has it, in parts of SCALE. */
    function impacts(places, halves) {
      var idf = telling(places.length), found = new Float64Array(places.length);
      for (var i = 0; i < places.length; i += 1) {
        var weight = halves[i] / 2;
        found[i] = Math.max(Math.floor(SCALE * (idf * weight * (K1 + 1) / (weight + penalties[places[i]])) + 0.5), 1);
      }
      return found;
    }

    function worthOf(term) {
      var found = worths.get(term), own;
      if (!found && (own = tables.weightsOf(term))) {
        found = { places: own.places, worth: impacts(own.places, own.halves) };
        worths.set(term, found);
      }
      return found || null;
    }

    /* For a word still being typed: of it and of those that begin so the best one counts. */
    function worthOfAny(terms) {
      var all = terms.map(worthOf), best = new Float64Array(count), places = [];
      if (all.indexOf(null) >= 0) { return null; }
      all.forEach(function (own) {
        for (var i = 0; i < own.places.length; i += 1) {
          var place = own.places[i];
          if (!best[place]) { places.push(place); }
          best[place] = Math.max(best[place], own.worth[i]);
        }
      });
      return { places: places, worth: places.map(function (place) { return best[place]; }) };
    }

    /* The stems of the commonest words that begin so, and of the word itself. */
    function begun(word) {
      var found = word.length > 1 || word > "\u2e7f" ? tables.wordsFrom(word) : [];
      if (!found) { return null; }
      found = found.filter(function (own) { return !words.stop.has(own[0]); });
      found.sort(function (a, b) { return b[1] - a[1] || (tables.before(a[0], b[0]) ? -1 : 1); });
      var stems = new Set(words.stop.has(word) ? [] : [words.stem(word)]);
      found.forEach(function (own) { if (stems.size < MOST_BEGUN) { stems.add(words.stem(own[0])); } });
      return Array.from(stems);
    }

    /* The cases that have a phrase, with the summed weight of its places in each. */
    function phrase(stems) {
      var bounds = tables.bounds(), all = stems.map(tables.positionsOf);
      if (!bounds || all.indexOf(null) >= 0) { return null; }
      var places = [], halves = [];
      all[0].forEach(function (starts, place) {
        var others = all.slice(1).map(function (own) { return new Set(own.get(place)); });
        var free = 0, sum = 0;
        starts.forEach(function (start) {
          if (start < free || !others.every(function (own, at) { return own.has(start + at + 1); })) { return; }
          free = start + stems.length;
          var sort = 0;
          while (sort < 4 && start >= bounds[4 * place + sort]) { sort += 1; }
          sum += HALVES[sort];
        });
        if (sum) {
          places.push(place);
          halves.push(sum);
        }
      });
      return { places: places, worth: impacts(places, halves) };
    }

    function best(scores, limit) {
      var found = [];
      for (var place = 0; place < count; place += 1) { if (scores[place]) { found.push(place); } }
      /* Places stand in the order of the case numbers. */
      found.sort(function (a, b) { return scores[b] - scores[a] || a - b; });
      return limit ? found.slice(0, limit) : found;
    }

    /* The words that tell most about the first hits, each with its share in PARTS. */
    function tellingWords(scores) {
      var likely = new Map(), missing = false;
      best(scores, HITS).forEach(function (place) {
        var main = tables.mainOf(place), each = scores[place] / tables.lengths[place];
        missing = missing || !main;
        (main || []).forEach(function (own) {
          likely.set(own[0], (likely.get(own[0]) || 0) + each * own[1]);
        });
      });
      if (missing) { return null; }
      function byLess(a, b) { return a[0] - b[0] || (tables.before(a[1], b[1]) ? -1 : 1); }
      var first = Array.from(likely, function (own) { return [-own[1], own[0]]; }).sort(byLess).slice(0, LIKELY);
      var own = first.map(function (pair) { return worthOf(pair[1]); });
      if (own.indexOf(null) >= 0) { return null; }
      var taken = first.map(function (pair, at) {
        var found = own[at].places.length;
        return [pair[0] * telling(found), pair[1], found];
      }).filter(function (pair) { return pair[2] >= RARE; }).sort(byLess).slice(0, TAKEN);
      var total = taken.reduce(function (sum, pair) { return sum + pair[0]; }, 0);
      return taken.map(function (pair) { return [pair[1], toEven(PARTS * pair[0] / total)]; });
    }

    /* Halves go to the even number, as the program rounds them. */
    function toEven(number) {
      var down = Math.floor(number);
      if (number - down !== 0.5) { return Math.round(number); }
      return down % 2 ? down + 1 : down;
    }

    /* `asked` are terms, lists of terms of which one will do, and phrases: {terms, begun, phrases}.
       Gives every hit, best first, or null while something is fetched. */
    return {
      begun: begun,
      rank: function (asked) {
        var scores = new Float64Array(count), counted = 0, kept = null;
        var loose = asked.terms.map(worthOf);
        if (asked.begun) { loose.push(worthOfAny(asked.begun)); }
        var quoted = asked.phrases.map(phrase);
        if (loose.concat(quoted).indexOf(null) >= 0) { return null; }
        function add(own) {
          for (var i = 0; i < own.places.length; i += 1) { scores[own.places[i]] += own.worth[i]; }
          counted += own.places.length > 0;
        }
        loose.forEach(add);
        quoted.forEach(function (own) {
          add(own);
          var having = new Set(own.places);
          kept = kept ? kept.filter(function (place) { return having.has(place); }) : Array.from(own.places);
        });
        if (kept) {
          var all = scores;
          scores = new Float64Array(count);
          kept.forEach(function (place) { scores[place] = all[place]; });
        }
        var more = tellingWords(scores);
        if (!more) { return null; }
        var sums = new Float64Array(count);
        more.forEach(function (pair) {
          var own = worthOf(pair[0]);
          for (var i = 0; i < own.places.length; i += 1) { sums[own.places[i]] += pair[1] * own.worth[i]; }
        });
        for (var place = 0; place < count; place += 1) {
          if (scores[place]) { scores[place] += Math.floor(counted * sums[place] / PARTS); }
        }
        return best(scores);
      }
    };
  };
})();
