/* The rules to read before what the bench page proposes, for as much access as that takes. */
(function () {
  "use strict";

  var add = window.pageParts.add, KEY = 0, LABEL = 1;

  function by(id) { return document.getElementById(id); }

  window.benchRules = function (tables) {
    var rulesFor = [0, -1];   /* access and family of the rules shown last */

    /* The rules stand on the page once, before work with power on, topics and
       dangers in the tables. */
    function fillRules() {
      var columns = document.querySelectorAll("#before-live .columns > div"), last = tables.accessKeys.length - 1;
      Array.from(by("rules").querySelectorAll("[data-level]")).forEach(function (part) {
        var told = columns[last - tables.accessKeys.indexOf(part.dataset.level)].cloneNode(true);
        part.append.apply(part, Array.from(told.childNodes));
      });
      tables.topics.forEach(function (topic) {
        var part = document.createElement("div");
        part.dataset.topic = topic[KEY];
        add(part, "h4", "", topic[LABEL]);
        topic[2].forEach(function (text) { add(part, "p", "", text); });
        by("hazards-inside").before(part);
      });
      tables.hazards.forEach(function (hazard) {
        var item = add(by("hazards-inside").querySelector("ul"), "li");
        item.dataset.hazard = hazard[KEY];
        add(item, "b", "", hazard[LABEL] + ".");
        item.append(" " + hazard[2]);
      });
    }

    /* The rules in full for the most access that any proposed check takes. */
    function show(most, family, inside) {
      var topics = (family < 0 ? tables.unknown[1] : tables.families[family][9])[most];
      by("keep-closed").hidden = most > 0;
      by("rules-inside").hidden = most === 0;
      by("rules-heading").textContent = "Before you start" +
        (most > 0 ? ": " + tables.access[most].toLowerCase() : "");
      /* They may be folded away once read, and come back with another unit or more access. */
      if (most > rulesFor[0] || family !== rulesFor[1]) { by("rules-inside").open = true; }
      rulesFor = [most, family];
      Array.from(by("rules").querySelectorAll("[data-level]")).forEach(function (part) {
        part.hidden = tables.accessKeys.indexOf(part.dataset.level) > most;
      });
      Array.from(by("rules").querySelectorAll("[data-topic]")).forEach(function (part) {
        part.hidden = topics.indexOf(part.dataset.topic) < 0;
      });
      var inBox = new Set(most > 0 ? inside : []);
      Array.from(by("rules").querySelectorAll("[data-hazard]")).forEach(function (part) {
        part.hidden = !inBox.has(part.dataset.hazard);
      });
      by("hazards-inside").hidden = !inBox.size;
      return inBox;
    }

    fillRules();
    return { show: show };
  };
})();
