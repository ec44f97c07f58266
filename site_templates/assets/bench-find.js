/* Finding by typing on the bench page: symptoms by any word for them, and checks. */
(function () {
  "use strict";

  var KEY = 0, LABEL = 1, ALSO = 3, counted = window.pageParts.counted;

  function fold(text) { return text.normalize("NFKD").replace(/[\u0300-\u036f]/g, "").toLowerCase(); }

  /* Whether every word of what was typed begins, or stands within, a word of the text. */
  function finder(typed) {
    var words = fold(typed).split(/\s+/).filter(Boolean);
    return function (text) { return words.every(function (word) { return text.indexOf(word) >= 0; }); };
  }

  function textOf(term) { return fold([term[KEY], term[LABEL]].concat(term[ALSO]).join(" ")); }

  window.benchFind = function (tables) {
    var box = document.getElementById("find-symptom"), checkBox = document.getElementById("find-check");
    var every = document.getElementById("every-check");

    var typing = false;

    function find(sections, rows) {
      var fits = finder(box.value), found = 0, typed = box.value.trim() !== "";
      sections.forEach(function (section) {
        var here = 0;
        if (typed && !typing) { section.wasOpen = section.element.open; }
        section.members.forEach(function (symptom) {
          var row = rows.get(symptom), fit;
          row.text = row.text || textOf(tables.symptoms[symptom]);
          fit = fits(row.text);
          row.element.hidden = !fit;
          here += fit ? 1 : 0;
        });
        section.element.hidden = !here;
        if (typed) { section.element.open = true; } else if (typing) { section.element.open = section.wasOpen; }
        found += here;
      });
      typing = typed;
      document.getElementById("found-symptoms").textContent = !typed ? "" :
        found ? counted(found, "symptom has these words.", "symptoms have these words.") :
          "No symptom has these words.";
    }

    function findCheck() {
      var fits = finder(checkBox.value);
      Array.from(every.children).forEach(function (row, check) {
        row.hidden = !fits(textOf(tables.checks[check]));
      });
    }

    return { find: find, findCheck: findCheck };
  };
})();
