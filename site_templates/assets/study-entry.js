/* The reader's entry: up to three causes with how sure, and the next check. */
(function () {
  "use strict";

  if (!window.pageParts || !window.studyScore) { return; }

  var add = window.pageParts.add, button = window.pageParts.button;
  var KEY = 0, LABEL = 1, LINES = 3, FIRST_SHARES = [50, 20, 10];
  var NAMES = ["Likeliest", "Second", "Third"];
  var LEGENDS = ["It is likeliest to be", "Or it is", "Or else it is"], LEVELS = [0];
  for (var level = 5; level < 100; level += 5) { LEVELS.push(level); }
  LEVELS.push(100 - window.studyScore.LEAST_LEFT);

  function byLabel(a, b) { return a[LABEL].localeCompare(b[LABEL], "en"); }

  function choices(select, empty, terms) {
    add(select, "option", "", empty).value = "";
    terms.slice().sort(byLabel).forEach(function (term) { add(select, "option", "", term[LABEL]).value = term[KEY]; });
  }

  /* `asked` has: tables, heading, checks (places, empty where none is asked for), accessOf, before
     (the last answer, to go on from), done(answer). Returns the heading. */
  window.studyEntry = function (parent, asked) {
    var tables = asked.tables, lines = [], form = add(parent, "section", "entry"), check = null;
    form.setAttribute("aria-labelledby", "entry-heading");
    var heading = add(form, "h2", "", asked.heading);
    heading.id = "entry-heading";
    heading.tabIndex = -1;

    function shareOf(line) { return line.select.value ? LEVELS[Number(line.range.value)] : 0; }

    function total(but) {
      return lines.reduce(function (sum, line) { return sum + (line === but ? 0 : shareOf(line)); }, 0);
    }

    /* The largest level that leaves something else its least. */
    function hold(line) {
      var most = 100 - window.studyScore.LEAST_LEFT - total(line);
      while (LEVELS[Number(line.range.value)] > most) { line.range.value = String(Number(line.range.value) - 1); }
    }

    function show() {
      lines.forEach(function (line, at) {
        var share = shareOf(line), taken = lines.map(function (other) { return other === line ? "" : other.select.value; });
        line.range.disabled = !line.select.value;
        line.output.textContent = share + "\u202f%";
        line.range.setAttribute("aria-valuetext", share + " per cent");
        Array.from(line.select.options).forEach(function (option) {
          option.disabled = option.value !== "" && taken.indexOf(option.value) >= 0;
        });
        line.box.hidden = at > 0 && !line.select.value && !lines[at - 1].select.value;
      });
      rest.textContent = 100 - total() + "\u202f%";
    }

    function addLine(at, before) {
      var box = add(form, "fieldset", "guess choice"), name = NAMES[at];
      add(box, "legend", "label", LEGENDS[at]);
      var select = add(box, "select");
      select.setAttribute("aria-label", name + ": cause");
      select.autocomplete = "off";
      choices(select, at ? "Nothing more to name" : "Choose a cause", tables.causes);
      var sure = add(box, "label", "sure"), words = add(sure, "span", "label", "How sure");
      add(words, "span", "unseen", ", " + name.toLowerCase());
      var range = add(sure, "input");
      range.type = "range";
      range.min = "0";
      range.max = String(LEVELS.length - 1);
      range.autocomplete = "off";
      var line = { box: box, select: select, range: range, output: add(sure, "span", "value") };
      line.output.setAttribute("aria-hidden", "true");
      lines.push(line);
      range.value = "0";
      if (before) {
        select.value = before[0];
        range.value = String(Math.max(LEVELS.indexOf(before[1]), 0));
      }
      select.addEventListener("change", function () {
        if (select.value && !LEVELS[Number(range.value)]) { range.value = String(LEVELS.indexOf(FIRST_SHARES[at])); }
        if (!select.value) { range.value = "0"; }
        hold(line);
        show();
      });
      range.addEventListener("input", function () {
        hold(line);
        show();
      });
    }

    var before = asked.before ? asked.before.named : [];
    for (var at = 0; at < LINES; at += 1) { addLine(at, before[at]); }
    var left = add(form, "p", "left-over"), rest;
    left.append("Something else ");
    rest = add(left, "span", "value");

    if (asked.checks.length) {
      var box = add(form, "div", "choice next-check"), label = add(box, "label", "label", "What would you check next?");
      check = add(box, "select");
      check.id = "next-check";
      label.htmlFor = "next-check";
      check.autocomplete = "off";
      choices(check, "Choose a check", asked.checks.map(function (place) {
        var own = tables.checks[place];
        return [own[KEY], own[LABEL] + " (" + tables.access[asked.accessOf(place)].toLowerCase() + ")"];
      }));
      var hint = add(box, "p", "hint", "On paper this hurts nobody. At a unit, the cautions come first: ");
      var safety = add(hint, "a", "", "safety");
      safety.href = "safety.html";
      hint.append(".");
    }

    var missing = add(form, "p", "missing-answer");
    missing.setAttribute("role", "alert");
    button(add(form, "p", "buttons"), "key-button", asked.checks.length ? "Write it down, then see" : "Write it down, then see the end", function () {
      var named = lines.filter(function (line) { return line.select.value && shareOf(line) > 0; })
        .map(function (line) { return [line.select.value, shareOf(line)]; });
      missing.textContent = "";
      if (!named.length) {
        missing.textContent = "Name at least one cause, and how sure you are.";
        lines[0].select.focus();
      } else if (check && !check.value) {
        missing.textContent = "Choose what you would check next.";
        check.focus();
      } else { asked.done({ named: named, check: check ? check.value : "" }); }
    });
    show();
    return heading;
  };
})();
