/* What a hit must be besides the words: the filters of the command, the state, a check that was made. A family or line
   takes in its families, a symptom or cause what is a kind of it. */
(function () {
  "use strict";

  var FIRST_DAY = Date.UTC(1900, 0, 1), DAY = 86400000;
  var KEY = 0, LABEL = 1, PARENT = 2;
  var TERMS = { family: "families", symptom: "symptoms", cause: "causes", check: "checks" };

  function kindsOf(terms, place) {
    var found = new Set([place]);
    found.forEach(function (own) {
      terms.forEach(function (term, kind) { if (term[PARENT] === own) { found.add(kind); } });
    });
    return found;
  }

  function yearStart(year) { return (Date.UTC(year, 0, 1) - FIRST_DAY) / DAY; }

  window.searchFilters = function (book, tables, form) {
    var selects = Array.from(form.querySelectorAll(".narrow select")), rows = null;

    function option(select, value, text) {
      var made = document.createElement("option");
      made.value = value;
      made.textContent = text;
      select.append(made);
    }

    /* The terms of a kind, each under what it is a kind of. */
    function listTerms(select, terms) {
      function list(parent, depth) {
        terms.filter(function (term) { return term[PARENT] === parent; }).sort(function (a, b) {
          return a[LABEL].toLowerCase() < b[LABEL].toLowerCase() ? -1 : 1;
        }).forEach(function (term) {
          option(select, term[KEY], "\u2003".repeat(depth) + term[LABEL]);
          if (depth < 9) { list(terms.indexOf(term), depth + 1); }
        });
      }
      list(-1, 0);
    }

    selects.forEach(function (select) {
      var name = select.name;
      if (TERMS[name]) { listTerms(select, book[TERMS[name]]); }
      if (name === "state") { book.states.forEach(function (state) { option(select, state, state); }); }
      if (name === "since" || name === "until") {
        book.years.slice().reverse().forEach(function (year) { option(select, year, year); });
      }
    });

    function chosen() {
      return selects.filter(function (select) { return select.value; }).map(function (select) {
        return [select.name, select.value];
      });
    }

    /* One entry for each case, unpacked once. */
    function allRows() {
      var flat = tables.filters(), at = 0;
      if (rows || !flat) { return rows; }
      function list() {
        var size = flat[at];
        at += size + 1;
        return Array.from(flat.subarray(at - size, at));
      }
      var kept = [];
      while (at < flat.length) {
        at += 3;
        kept.push({ family: [flat[at - 3]], state: flat[at - 2], day: flat[at - 1], symptom: list(), cause: list() });
      }
      rows = kept;
      return rows;
    }

    /* The checks of each case come in a file of their own: hardly anybody asks by them. */
    function addChecks(all) {
      var flat = tables.made(), at = 0;
      if (flat && !all[0].check) {
        all.forEach(function (row) {
          row.check = Array.from(flat.subarray(at + 1, at + 1 + flat[at]));
          at += flat[at] + 1;
        });
      }
      return Boolean(flat);
    }

    function test(name, value) {
      if (name === "state") {
        var state = book.states.indexOf(value);
        return function (row) { return row.state === state; };
      }
      if (name === "since") { return function (row) { return row.day >= yearStart(Number(value)); }; }
      if (name === "until") { return function (row) { return row.day < yearStart(Number(value) + 1); }; }
      var terms = book[TERMS[name]];
      var kinds = kindsOf(terms, terms.findIndex(function (term) { return term[KEY] === value; }));
      return function (row) { return row[name].some(function (place) { return kinds.has(place); }); };
    }

    return {
      chosen: chosen,
      /* Sets what the address says; what this book does not know is no filter. */
      choose: function (pairs) {
        selects.forEach(function (select) {
          var pair = pairs.find(function (each) { return each[0] === select.name; });
          select.value = pair ? pair[1] : "";
          if (select.selectedIndex < 0) { select.value = ""; }
          /* What only a link from a check's page asks for is shown while it is. */
          if (select.name === "check") { select.parentNode.hidden = !select.value; }
        });
      },
      /* Of these places those that pass; null while the table is fetched. Without places all
         that pass, the newest first. */
      keep: function (places) {
        var tests = chosen().map(function (pair) { return test(pair[0], pair[1]); });
        if (places && !tests.length) { return places; }
        var all = allRows();
        if (!all || all.length && chosen().some(function (pair) { return pair[0] === "check"; }) && !addChecks(all)) { return null; }
        var found = (places || Array.from(all.keys())).filter(function (place) {
          return tests.every(function (passes) { return passes(all[place]); });
        });
        return places ? found : found.sort(function (a, b) { return all[b].day - all[a].day || a - b; });
      }
    };
  };
})();
