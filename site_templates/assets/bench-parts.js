/* The parts that the bench page is put together from: values in, elements out. Text of the book
   reaches the page as text nodes only. */
(function () {
  "use strict";

  var THIN = "\u202f", SVG = "http://www.w3.org/2000/svg";
  var KEY = 0, LABEL = 1, PAGE = 2, SAID = 1;

  function add(parent, tag, name, text) {
    var element = document.createElement(tag);
    if (name) { element.className = name; }
    if (text !== undefined) { element.textContent = text; }
    parent.append(element);
    return element;
  }

  function drawn(parent, tag, attributes) {
    var element = document.createElementNS(SVG, tag);
    Object.keys(attributes).forEach(function (name) { element.setAttribute(name, attributes[name]); });
    parent.append(element);
    return element;
  }

  function linked(parent, text, page) {
    var element = add(parent, page ? "a" : "span", "", text);
    if (page) { element.href = page; }
    return element;
  }

  function button(parent, name, text, act) {
    var element = add(parent, "button", name, text);
    element.type = "button";
    element.addEventListener("click", act);
    return element;
  }

  /* ---- values in words */

  function percent(p) {
    if (p > 0 && p < 0.005) { return "<" + THIN + "1" + THIN + "%"; }
    if (p > 0.995 && p < 1) { return ">" + THIN + "99" + THIN + "%"; }
    return Math.round(p * 100) + THIN + "%";
  }

  function range(low, high) { return Math.round(100 * low) + " to " + percent(high); }

  function minutes(value) {
    return (value < 10 ? Math.round(10 * value) / 10 : Math.round(value)) + THIN + "min";
  }

  /* What a piece of evidence did to the odds of a cause. */
  function factor(logOdds) {
    var times = Math.exp(Math.min(Math.abs(logOdds), 20));
    if (times < 1.05) { return "says little"; }
    return "odds " + (logOdds > 0 ? "×" : "÷") + " " + (times < 10 ? times.toFixed(1) : Math.round(times));
  }

  function counted(n, one, many) { return n + " " + (n === 1 ? one : many); }

  /* ---- built for one book */

  window.benchParts = function (tables) {
    function labelOf(kind, place) { return tables[kind][place][LABEL]; }

    function outcomeSaid(check, outcome) {
      return outcome < 0 ? tables.notShowing[SAID] : tables.checks[check][7][outcome][SAID];
    }

    function quoted(text) { return "“" + text + "”"; }

    function pieceSaid(piece) {
      if (piece.sort === "check") {
        return labelOf("checks", piece.term) + ": " + outcomeSaid(piece.term, piece.outcome).toLowerCase();
      }
      return labelOf("symptoms", piece.term) + (piece.sort === "there" ? ", there" : ", not there");
    }

    function noteSaid(note) {
      var sort = note[0];
      var own = quoted(labelOf(/^(first|made|outcome)/.test(sort) ? "checks" : "symptoms", note[1]));
      return {
        "symptom-unknown": function () { return "No past fault was noted with " + own + ": it was not counted."; },
        "symptom-as": function () {
          return "No past fault was noted with " + own + ": counted as " + quoted(labelOf("symptoms", note[2])) + ".";
        },
        "absent-there": function () { return own + " is there and can’t be absent too: its absence was not counted."; },
        "absent-unknown": function () { return "No past fault was noted with " + own + ": its absence was not counted."; },
        "made-again": function () {
          return own + " was made again: its later outcome, " + quoted(outcomeSaid(note[1], note[2])) + ", counts.";
        },
        "outcome-unknown": function () {
          return "In no past fault did " + own + " come out as " + quoted(outcomeSaid(note[1], note[2])) +
            ": it was not counted.";
        },
        "first-elsewhere": function () { return own + " must come before anything else; it is not a check of this unit."; },
        "first-beyond": function () {
          return own + " must come before anything else, but needs more than is allowed here (" +
            tables.access[note[2]].toLowerCase() + "). Until it is done nothing that applies power is proposed.";
        },
        "first-waits": function () { return own + " waits for that too, because it applies power."; }
      }[sort]();
    }

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

    /* One likely cause. `opened` holds the keys of those whose reasons are shown. */
    function causeItem(list, ranking, place, opened) {
      var cause = tables.causes[place], key = cause[KEY], item = add(list, "li");
      linked(add(item, "p", "what"), cause[LABEL], cause[PAGE]);
      var p = ranking.p[place], low = ranking.low[place], high = ranking.high[place];
      reading(item, p, low, high);
      gauge(item, p, low, high, percent(p) + ", fairly between " + range(low, high));
      pastCases(item, cause);
      var why = add(item, "details", "why");
      why.open = opened.has(key);
      why.addEventListener("toggle", function () { opened[why.open ? "add" : "delete"](key); });
      add(why, "summary", "", "Why");
      var reasons = add(why, "ul");
      var start = add(reasons, "li");
      add(start, "span", "factor", percent(1 / (1 + Math.exp(-ranking.odds[0][place]))));
      add(start, "span", "", "before anything was ticked");
      ranking.pieces.map(function (piece, at) {
        return [ranking.odds[at + 1][place] - ranking.odds[at][place], piece];
      }).sort(function (a, b) { return Math.abs(b[0]) - Math.abs(a[0]); }).forEach(function (reason) {
        var line = add(reasons, "li", reason[0] < 0 ? "against" : "");
        add(line, "span", "factor", factor(reason[0]));
        add(line, "span", "", pieceSaid(reason[1]));
      });
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
      if (check[9]) { how(item, check[9], context.first || offer.own === 2); }
      var tick = outcomeButtons(item, offer.check, context.act), told = new Map();
      offer.outcomes.forEach(function (o) { told.set(o.outcome, o); });
      offer.outcomes.slice().sort(function (a, b) { return b.chance - a.chance; }).forEach(function (o) {
        /* What a check that must come first may show is no guess to act on. */
        if (context.first) { tick(o.outcome); } else { changes(tick(o.outcome, o.chance), context.ranking, o); }
      });
      check[7].forEach(function (o, at) { if (!told.has(at)) { tick(at, undefined, "never yet"); } });
      tick(-1, undefined, "no evidence; it may be made again");
    }

    function how(item, text, shown) {
      if (shown) {
        add(item, "p", "how", text);
        return;
      }
      var folded = add(item, "details", "how");
      add(folded, "summary", "", "How it is made");
      add(folded, "p", "", text);
    }

    /* A check among all checks, with its outcomes to tick. */
    function anyCheck(list, check, act) {
      var row = add(list, "li"), own = tables.checks[check];
      add(row, "p", "what", own[LABEL]);
      var tick = outcomeButtons(row, check, act);
      own[7].forEach(function (o, at) { tick(at); });
      tick(-1);
      return row;
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
      labelOf: labelOf, outcomeSaid: outcomeSaid, noteSaid: noteSaid, causeItem: causeItem,
      restItem: restItem, proposal: proposal, anyCheck: anyCheck, offersNamed: offersNamed,
      quoted: quoted
    };
  };

  window.benchParts.add = add;
  window.benchParts.button = button;
  window.benchParts.percent = percent;
  window.benchParts.counted = counted;
})();
