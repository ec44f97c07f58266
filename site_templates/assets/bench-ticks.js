/* The tick sheet of symptoms and the list of all checks: built once. */
(function () {
  "use strict";

  var LABEL = 1;
  var add = window.pageParts.add, button = window.pageParts.button;

  /* `on` holds what to call: { whole, above, find, findCheck, tickSymptom, anyCheck, isDangerous }. */
  window.benchTicks = function (tables, on) {
    var groups = document.getElementById("symptom-groups"), box = document.getElementById("find-symptom");
    var every = document.getElementById("every-check"), checkBox = document.getElementById("find-check");
    var onCard = document.getElementById("on-card");
    var rows = new Map(), sections = [];

    function rootOf(symptom) { return on.above(symptom).pop(); }

    function tickBox(row, symptom, isThere) {
      var label = add(row, "label", "tick-box " + (isThere ? "is-there" : "is-not"));
      var input = add(label, "input");
      input.type = "checkbox";
      var words = isThere ? "there" : "not there";
      input.setAttribute("aria-label", tables.symptoms[symptom][LABEL] + ": " + words);
      add(label, "span", "", words);
      input.addEventListener("change", function () { on.tickSymptom(symptom, isThere, input.checked); });
      return input;
    }

    function addRow(list, symptom, depth) {
      var term = tables.symptoms[symptom], row = add(list, "li", depth ? "narrower" : "");
      var name = add(row, "span", "name", term[LABEL]);
      if (on.isDangerous(symptom)) { add(name, "span", "sign", "off first"); }
      rows.set(symptom, {
        element: row, there: tickBox(row, symptom, true), absent: tickBox(row, symptom, false)
      });
    }

    function addGroup(label, members) {
      var group = add(groups, "details"), head = add(group, "summary");
      add(head, "span", "", label);
      var count = add(head, "span", "count"), list = add(group, "ul");
      members.forEach(function (symptom) { addRow(list, symptom, on.above(symptom).length); });
      sections.push({ element: group, count: count, members: members, wasOpen: false });
    }

    function build() {
      var families = new Map();
      tables.ordered.forEach(function (symptom) {
        var root = rootOf(symptom);
        root = root === undefined ? symptom : root;
        families.set(root, (families.get(root) || []).concat(symptom));
      });
      var single = [];
      families.forEach(function (members, root) {
        if (members.length === 1) { single.push(root); } else { addGroup(tables.symptoms[root][LABEL], members); }
      });
      if (single.length) { addGroup(sections.length ? "Other findings" : "Symptoms", single); }
      if (sections.length === 1) { sections[0].element.open = true; }
    }

    function firstBox() {
      return Array.from(groups.querySelectorAll("li:not([hidden]) input")).find(function (input) {
        return input.offsetParent !== null;
      });
    }

    function find() { on.whole(function () { on.find(sections, rows); }); }

    box.addEventListener("input", find);
    box.addEventListener("keydown", function (event) {
      if (event.key === "Escape") {
        box.value = "";
        find();
      }
      if (event.key !== "Enter" && event.key !== "ArrowDown") { return; }
      event.preventDefault();
      var first = firstBox();
      if (first) { first.focus(); }
    });
    checkBox.addEventListener("input", function () { on.whole(on.findCheck); });
    document.getElementById("other-checks").addEventListener("toggle", function () {
      on.whole(function () {
        if (every.children.length) { return; }
        tables.checks.forEach(function (term, check) { on.anyCheck(every, check); });
        on.findCheck();
      });
    });
    build();

    /* Shows what of the card is ticked. */
    function show(card) {
      var there = new Set(card.there.concat(card.seen)), absent = new Set(card.absent);
      rows.forEach(function (row, symptom) {
        row.there.checked = there.has(symptom);
        row.absent.checked = absent.has(symptom);
        row.element.classList.toggle("ticked", there.has(symptom) || absent.has(symptom));
      });
      sections.forEach(function (section) {
        var ticked = section.members.filter(function (s) { return there.has(s) || absent.has(s); }).length;
        section.count.textContent = ticked ? ticked + " ticked" : String(section.members.length);
        section.element.classList.toggle("ticked", ticked > 0);
      });
      onCard.replaceChildren();
      there.forEach(function (symptom) { addChip(symptom, true); });
      absent.forEach(function (symptom) { addChip(symptom, false); });
    }

    function addChip(symptom, isThere) {
      var item = add(onCard, "li", isThere ? "is-there" : "is-not"), name = tables.symptoms[symptom][LABEL];
      var chip = button(item, "chip", "", function () {
        on.tickSymptom(symptom, isThere, false);
        var next = onCard.querySelector("button") || box;
        next.focus();
      });
      add(chip, "span", "unseen", "Take off the card: ");
      add(chip, "span", "", name);
      chip.append(" ");
      add(chip, "span", "state", isThere ? "there" : "not there");
    }

    return { show: show };
  };
})();
