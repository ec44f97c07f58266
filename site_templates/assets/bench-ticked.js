/* What the bench page shows once something is ticked: the dangers it means, the checks made. */
(function () {
  "use strict";

  var add = window.pageParts.add, button = window.pageParts.button;

  function by(id) { return document.getElementById(id); }

  /* `on` holds { firstOf, update }. */
  window.benchTicked = function (tables, parts, on) {
    function showDanger(card) {
      var sentences = card.there.concat(card.seen).filter(function (s) { return on.firstOf([s]).length; })
        .map(function (s) {
          return parts.labelOf("symptoms", s) +
            ": leave it off and unplugged until everything marked FIRST is done and has cleared it.";
        });
      var box = by("danger"), key = sentences.join("\n");
      if (box.dataset.says !== key) {
        box.dataset.says = key;
        box.replaceChildren();
        add(box, "p", "sign", "Danger");
        by("danger-again").replaceChildren();
        sentences.forEach(function (sentence) {
          add(box, "p", "", sentence);
          add(add(by("danger-again"), "li"), "b", "", sentence);
        });
      }
      box.hidden = !sentences.length;
      by("ask-danger").hidden = sentences.length > 0;
      by("strip-danger").hidden = !sentences.length;
      by("strip-likely").hidden = sentences.length > 0;
    }

    function showMade(card) {
      var list = by("made");
      list.replaceChildren();
      by("made-block").hidden = !card.made.length;
      card.made.forEach(function (pair, at) {
        var item = add(list, "li"), name = parts.labelOf("checks", pair[0]);
        add(item, "span", "what", name);
        add(item, "strong", "", parts.outcomeSaid(pair[0], pair[1]));
        button(item, "plain-button", "Take back", function () { takeBack(card, at); })
          .setAttribute("aria-label", "Take back: " + name);
      });
    }

    function takeBack(card, at) {
      card.made = card.made.filter(function (pair, place) { return place !== at; });
      on.update();
      by("next-heading").focus();
    }

    return {
      show: function (card) {
        showDanger(card);
        showMade(card);
      }
    };
  };
})();
