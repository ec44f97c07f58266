/* The parts that the bench page is put together from: values in, elements out. Text of the book
   reaches the page as text nodes only. */
(function () {
  "use strict";

  var add = window.pageParts.add, linked = window.pageParts.linked, button = window.pageParts.button;
  var percent = window.pageParts.percent;
  var THIN = "\u202f", SVG = "http://www.w3.org/2000/svg";
  var KEY = 0, LABEL = 1, PAGE = 2, SAID = 1;

  function drawn(parent, tag, attributes) {
    var element = document.createElementNS(SVG, tag);
    Object.keys(attributes).forEach(function (name) { element.setAttribute(name, attributes[name]); });
    parent.append(element);
    return element;
  }

  /* ---- values in words */

  function range(low, high) { return Math.round(100 * low) + " to " + percent(high); }

  function minutes(value) {
    return (value < 10 ? Math.round(10 * value) / 10 : Math.round(value)) + THIN + "min";
  }

  /* ---- built for one book */

  window.benchParts = function (tables) {
    function labelOf(kind, place) { return tables[kind][place][LABEL]; }

    function outcomeSaid(check, outcome) {
      return outcome < 0 ? tables.notShowing[SAID] : tables.checks[check][7][outcome][SAID];
    }

    function quoted(text) { return "“" + text + "”"; }

    /* ---- likely causes */

    function gauge(parent, p, low, high, said) {
      var svg = drawn(parent, "svg", { "class": "gauge", role: "img", "aria-label": said });
      drawn(svg, "rect", { "class": "track", width: "100%", height: "100%" });
      drawn(svg, "rect", { "class": "bar", width: 100 * p + "%", height: "100%" });
      if (low === undefined) { return; }
      drawn(svg, "line", { "class": "whisker", x1: 100 * low + "%", x2: 100 * high + "%", y1: "50%", y2: "50%" });
      [low, high].forEach(function (end) {
        drawn(svg, "line", { "class": "whisker", x1: 100 * end + "%", x2: 100 * end + "%", y1: "15%", y2: "85%" });
      });
    }

    function reading(item, p, low, high) {
      var reads = add(item, "p", "reads");
      add(reads, "span", "value", percent(p));
      if (low !== undefined) { add(reads, "span", "range", range(low, high)); }
    }

    function pastCases(item, cause) {
      var numbers = cause[4], count = cause[3], line = add(item, "p", "from");
      line.append(count === 1 ? "Past case: " : "Past cases: ");
      for (var i = 0; i < numbers.length; i += 2) {
        if (i) { line.append(", "); }
        linked(line, numbers[i], numbers[i + 1]).classList.add("number");
      }
      var more = count - numbers.length / 2;
      if (more > 0) {
        line.append(" and ");
        linked(line, more + " more", cause[PAGE]);
      }
    }

    /* One likely cause. `opened` holds the keys of those whose reasons are shown; `reasons` puts them
       into a list, now or once what it takes is there. */
    function causeItem(list, ranking, place, opened, reasons) {
      var cause = tables.causes[place], key = cause[KEY], item = add(list, "li");
      linked(add(item, "p", "what"), cause[LABEL], cause[PAGE]);
      var p = ranking.p[place], low = ranking.low[place], high = ranking.high[place];
      reading(item, p, low, high);
      gauge(item, p, low, high, percent(p) + ", fairly between " + range(low, high));
      pastCases(item, cause);
      var why = add(item, "details", "why");
      why.open = opened.has(key);
      why.addEventListener("toggle", function () {
        opened[why.open ? "add" : "delete"](key);
        reasons(inside, place, true);
      });
      add(why, "summary", "", "Why");
      var inside = add(why, "ul");
      reasons(inside, place, false);
      return item;
    }

    function restItem(list, p, name, text) {
      var item = add(list, "li", name);
      add(item, "p", "what", text);
      reading(item, p);
      gauge(item, p, undefined, undefined, percent(p));
    }

    /* ---- next checks */

    function hazardOf(key) {
      return tables.hazards.find(function (h) { return h[0] === key; }) || [key, key, ""];
    }

    /* `inBox` are the dangers spelt out above the list; whatever else there is, is spelt out here. */
    function cautions(item, level, hazards, inBox) {
      var own = hazards.filter(function (h) { return !inBox.has(h); });
      var told = hazards.filter(function (h) { return inBox.has(h); });
      if (own.length) {
        var box = add(item, "div", "caution");
        box.setAttribute("role", "note");
        box.setAttribute("aria-label", "Caution");
        add(box, "p", "sign", "Caution");
        var list = add(box, "ul");
        own.map(hazardOf).forEach(function (hazard) {
          var line = add(list, "li");
          add(line, "b", "", hazard[1] + ".");
          line.append(" " + hazard[2]);
        });
      }
      if (level > 0) {
        var line = add(item, "p", "reminded inside");
        add(line, "b", "", "Caution, as above:");
        line.append(" ");
        linked(line, tables.access[level].toLowerCase(), "safety.html#" + tables.accessKeys[level]);
        told.map(hazardOf).forEach(function (hazard, at) {
          line.append(at ? ", " : "; ");
          linked(line, hazard[1].toLowerCase(), "safety.html#" + hazard[0]);
        });
        line.append(".");
      }
    }

    function outcomeButtons(item, check, act) {
      var list = add(item, "ul", "outcomes-to-tick");
      list.setAttribute("aria-label", labelOf("checks", check) + ": what it showed");
      return function (outcome, chance, then) {
        var row = add(list, "li");
        var tick = button(row, "tick", "", function () { act(check, outcome); });
        add(tick, "span", "box").setAttribute("aria-hidden", "true");
        add(tick, "span", "name", outcomeSaid(check, outcome));
        if (chance !== undefined) { add(tick, "span", "value", percent(chance)); }
        if (then) { add(row, "p", "then", then); }
        return row;
      };
    }

    /* What an outcome would change: the causes that lead then, each from what to what. */
    function changes(row, ranking, outcome) {
      var list = add(row, "ul", "then");
      function line(name, now, then) {
        var item = add(list, "li");
        add(item, "span", "", name);
        var value = add(item, "span", "value", Math.round(100 * now) + "\u00a0");
        add(value, "span", "", "→").setAttribute("aria-hidden", "true");
        add(value, "span", "unseen", "now, then");
        value.append("\u00a0" + percent(then));
      }
      outcome.leading.slice(0, 2).forEach(function (entry) {
        line(labelOf("causes", entry[0]), ranking.p[entry[0]], entry[1]);
      });
      if (!outcome.leading.length || outcome.unseen > outcome.leading[0][1]) {
        line("not in this book yet", ranking.unseen, outcome.unseen);
      }
    }

    /* One proposed check. `said` are sentences that belong to it, `act` notes an outcome. */
    function proposal(list, offer, context) {
      var check = tables.checks[offer.check], level = context.level;
      var item = add(list, "li", tables.accessKeys[level] + (context.first ? " first-of-all" : ""));
      var head = add(item, "h3");
      if (context.first) { add(head, "span", "stands-out", "First"); }
      linked(head, check[LABEL], check[PAGE]);
      var meta = add(item, "p", "meta");
      add(meta, "span", "access " + tables.accessKeys[offer.own], tables.access[offer.own]);
      add(meta, "span", "", minutes(check[5]) + " hands on");
      if (check[6]) { add(meta, "span", "", minutes(check[6]) + " waiting"); }
      if (check[10] && !offer.own) { add(meta, "span", "", "an owner may do it"); }
      if (offer.expected.told >= 0.005) { add(meta, "span", "", "tells " + offer.expected.told.toFixed(2) + " bits"); }
      cautions(item, level, context.hazards, context.inBox);
      context.said.forEach(function (sentence) { add(item, "p", "remark", sentence); });
      if (check[9] !== "") { how(item, offer.check, context.first || offer.own === 2, context.whole); }
      var tick = outcomeButtons(item, offer.check, context.act), told = new Map();
      offer.outcomes.forEach(function (o) { told.set(o.outcome, o); });
      offer.outcomes.slice().sort(function (a, b) { return b.chance - a.chance; }).forEach(function (o) {
        /* What a check that must come first may show is no guess to act on. */
        if (context.first) { tick(o.outcome); } else { changes(tick(o.outcome, o.chance), context.ranking, o); }
      });
      check[7].forEach(function (o, at) { if (!told.has(at)) { tick(at, undefined, "never yet"); } });
      tick(-1, undefined, "no evidence; it may be made again");
    }

    /* How a check is made comes with the rest of the tables; what is spelt out waits for it. */
    function how(item, check, shown, whole) {
      if (shown) {
        add(item, "p", "how", tables.checks[check][9]);
        return;
      }
      var folded = add(item, "details", "how");
      add(folded, "summary", "", "How it is made");
      var text = add(folded, "p", "", tables.checks[check][9] || "");
      folded.addEventListener("toggle", function () {
        whole(function () { text.textContent = tables.checks[check][9]; });
      });
    }

    /* Offers that are held back or beyond the access: the best by name. */
    function offersNamed(offers) {
      var named = offers.slice(0, 3).map(function (offer) {
        return quoted(labelOf("checks", offer.check)) + " (" + minutes(offer.spent) + ", " +
          offer.expected.told.toFixed(2) + " bits)";
      }).join(", ");
      return named + (offers.length > 3 ? " and " + (offers.length - 3) + " more" : "");
    }

    return {
      labelOf: labelOf, outcomeSaid: outcomeSaid, causeItem: causeItem, restItem: restItem,
      proposal: proposal, outcomeButtons: outcomeButtons, offersNamed: offersNamed, quoted: quoted
    };
  };
})();
