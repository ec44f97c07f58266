/* The tables of data/bench.js and data/bench-later.js, unpacked into the rows that the ranking and
   the pages read; kb/site/bench_data.py says what stands in them, kb/site/bench_packing.py how they
   are packed. What comes later is empty until `benchFilled` has been called. */
(function () {
  "use strict";

  var ALPHABET = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz-_", DECIMALS = 10000;
  var tables = window.benchTables;
  if (!tables) { return; }

  function numbers(text) {
    var found = [], value = 0, shift = 0;
    for (var i = 0; i < text.length; i += 1) {
      var digit = ALPHABET.indexOf(text[i]);
      value += (digit & 31) * Math.pow(2, shift);
      shift += 5;
      if (digit < 32) {
        found.push(value);
        value = shift = 0;
      }
    }
    return found;
  }

  function decimals(column) {
    return typeof column === "string" ? numbers(column).map(function (n) { return n / DECIMALS; }) : column;
  }

  function shifted(text) { return numbers(text).map(function (n) { return n - 1; }); }

  /* Lists one after the other, each behind its length; a pair is two numbers, the second in halves. */
  function lists(text, paired) {
    var flat = numbers(text), found = [];
    for (var i = 0; i < flat.length;) {
      var end = i + 1 + flat[i] * (paired ? 2 : 1);
      found.push(flat.slice(i + 1, end).map(function (n, at) { return paired && at % 2 ? n / 2 : n; }));
      i = end;
    }
    return found;
  }

  function words(text) { return typeof text === "string" ? text.split(" ") : text; }

  function pages(kind, keys, other) {
    var found = keys.map(function (key) { return kind + "/" + key + ".html"; });
    other.forEach(function (entry) { found[entry[0]] = entry[1]; });
    return found;
  }

  /* Columns as rows. */
  function rows(columns) {
    return columns[0].map(function (first, at) {
      return columns.map(function (column) { return column[at]; });
    });
  }

  function all(count, value) {
    return Array.from({ length: count }, function () { return typeof value === "object" ? [] : value; });
  }

  function families(c) {
    var size = c[0].length, none = all(size, []);
    return rows([all(size, ""), c[0], all(size, ""), lists(c[1]), shifted(c[2]), lists(c[3], true), none, none, none, none, numbers(c[4])]);
  }

  function symptoms(c) {
    var size = c[0].length, none = all(size, []), nought = all(size, 0);
    return rows([all(size, ""), c[0], all(size, ""), none, shifted(c[1]), lists(c[2]), none, nought, nought, nought, nought, nought, nought]);
  }

  function causes(c) {
    var keys = words(c[0]), past = c[4].map(function (cases) {
      return words(cases).reduce(function (found, number) { return found.concat(number, "cases/" + number + ".html"); }, []);
    });
    c[5].forEach(function (entry) { past[entry[0]][entry[1]] = entry[2]; });
    return rows([keys, c[1], pages("causes", keys, c[2]), numbers(c[3]), past]);
  }

  function checks(c, outcomes) {
    var keys = words(c[0]), size = keys.length, pairs = lists(c[7], true), at = 0;
    var came = lists(c[6]).map(function (own) {
      return own.map(function (number) {
        var outcome = outcomes[number >> 1], key = outcome[0], said = outcome[1];
        if (typeof outcome === "string") {
          key = outcome;
          said = key.replace(/-/g, " ").replace(/^[^]/u, function (letter) { return letter.toUpperCase(); });
        }
        at += 1;
        return [key, said, pairs[at - 1], number & 1];
      });
    });
    var dangers = typeof c[8] !== "string" ? c[8] : lists(c[8]).map(function (own) {
      return own.map(function (place) { return tables.hazards[place][0]; });
    });
    return rows([
      keys, c[1], pages("checks", keys, c[2]), all(size, []), numbers(c[3]), decimals(c[4]), decimals(c[5]), came,
      dangers, numbers(c[15]).map(function (there) { return there ? null : ""; }), numbers(c[9]), numbers(c[10]), numbers(c[11]), lists(c[12]), decimals(c[13]), decimals(c[14])
    ]);
  }

  tables.kinds = [];
  tables.ordered = numbers(tables.ordered);
  tables.families = families(tables.families);
  tables.symptoms = symptoms(tables.symptoms);
  tables.causes = causes(tables.causes);
  tables.checks = checks(tables.checks, tables.outcomes);
  delete tables.outcomes;

  function fill(kind, places, columns) {
    tables[kind].forEach(function (row, at) {
      places.forEach(function (place, column) { row[place] = columns[column][at]; });
    });
  }

  /* Fills in what has come later. */
  window.benchFilled = function () {
    var later = window.benchLater, f = later.families, s = later.symptoms;
    var keys = words(f[0]), names = words(s[0]);
    tables.kinds = later.kinds;
    tables.topics = later.topics;
    fill("families", [0, 2, 6, 7, 8, 9], [keys, pages("families", keys, f[1]), lists(f[2]), lists(f[3]), f[4], f[5]]);
    fill("symptoms", [0, 2, 3, 6, 7, 8, 9, 10, 11, 12], [names, pages("symptoms", names, s[1]), s[2], lists(s[3], true)]
      .concat(s.slice(4).map(decimals)));
    fill("checks", [3, 9], later.checks);
    return tables;
  };
  if (window.benchLater) { window.benchFilled(); }
})();
