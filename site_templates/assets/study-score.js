/* What an answer costs, and what this browser remembers of the answers.

   An answer is { named: [[key of a cause, per cent], ...], check: key or "" }. */
(function () {
  "use strict";

  var LEAST_LEFT = 1;   /* per cent that always stay with something else */

  /* The shares of an answer and of the book for what it turned out to be, 0 to 1.
     `named` holds [place in the old tables or -1, share, whether it is the real cause]; `real` is
     the place of the real cause in the old tables, or -1 where nobody had had it. */
  function shares(named, ranking, real) {
    var book = real < 0 ? ranking.unseen : ranking.p[real];
    var left = 1, outside = 1, hit = null;
    named.forEach(function (entry) {
      left -= entry[1];
      if (entry[0] >= 0) { outside -= ranking.p[entry[0]]; }
      if (entry[2]) { hit = entry[1]; }
    });
    /* What the answer left open is shared out as the book would share it. */
    return { mine: hit === null ? Math.max(left, 0) * book / Math.max(outside, book) : hit, books: book };
  }

  /* The logarithmic rule, in halvings. I. J. Good, J. R. Statist. Soc. B 14 (1952) 107-114. */
  function cost(share) { return Math.max(0, -Math.log2(share)); }

  function mean(values) {
    return values.reduce(function (sum, value) { return sum + value; }, 0) / values.length;
  }

  function points(value) { return value.toFixed(value < 9.95 ? 1 : 0); }

  /* ---- kept in the browser alone, as far as it lets a page keep anything */

  function memory(book) {
    var name = "study: " + book, kept = {}, works = true;
    try {
      var found = JSON.parse(localStorage.getItem(name) || "{}");
      if (found && typeof found === "object") { kept = found; }
      localStorage.setItem(name, JSON.stringify(kept));
    } catch (error) { works = false; }

    function write() {
      try { localStorage.setItem(name, JSON.stringify(kept)); } catch (error) { works = false; }
    }

    function own(key) { return Object.prototype.hasOwnProperty.call(kept, key) ? kept[key] : null; }

    /* Of a case: { answers: [...], mine, books }; the last two are there once it is finished. */
    return {
      works: function () { return works; },
      of: function (key) {
        var found = own(key);
        return found && Array.isArray(found.answers) ? found : { answers: [] };
      },
      keep: function (key, record) {
        kept[key] = record;
        write();
      },
      forget: function (key) {
        delete kept[key];
        write();
      }
    };
  }

  window.studyScore = {
    LEAST_LEFT: LEAST_LEFT, shares: shares, cost: cost, mean: mean, points: points, memory: memory
  };
})();
