/* What the bench page and study say about an answer to something ticked: pieces of evidence, why a
   cause is as likely as it is, what was not counted, every check. */
(function () {
  "use strict";

  var add = window.pageParts.add, percent = window.pageParts.percent, LABEL = 1;

  /* What a piece of evidence did to the odds of a cause. */
  function factor(logOdds) {
    var times = Math.exp(Math.min(Math.abs(logOdds), 20));
    if (times < 1.05) { return "says little"; }
    return "odds " + (logOdds > 0 ? "×" : "÷") + " " + (times < 10 ? times.toFixed(1) : Math.round(times));
  }

  /* `parts` are the `benchParts` of the same tables. */
  window.benchSaid = function (tables, parts) {
    var labelOf = parts.labelOf, outcomeSaid = parts.outcomeSaid, quoted = parts.quoted;

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

    /* What each piece of evidence did to a cause, the strongest first. */
    function reasons(list, ranking, place) {
      var start = add(list, "li");
      add(start, "span", "factor", percent(1 / (1 + Math.exp(-ranking.odds[0][place]))));
      add(start, "span", "", "before anything was ticked");
      ranking.pieces.map(function (piece, at) {
        return [ranking.odds[at + 1][place] - ranking.odds[at][place], piece];
      }).sort(function (a, b) { return Math.abs(b[0]) - Math.abs(a[0]); }).forEach(function (reason) {
        var line = add(list, "li", reason[0] < 0 ? "against" : "");
        add(line, "span", "factor", factor(reason[0]));
        add(line, "span", "", pieceSaid(reason[1]));
      });
    }

    /* A check among all checks, with its outcomes to tick. */
    function anyCheck(list, check, act) {
      var row = add(list, "li"), own = tables.checks[check];
      add(row, "p", "what", own[LABEL]);
      var tick = parts.outcomeButtons(row, check, act);
      own[7].forEach(function (o, at) { tick(at); });
      tick(-1);
      return row;
    }

    return { pieceSaid: pieceSaid, noteSaid: noteSaid, reasons: reasons, anyCheck: anyCheck };
  };
})();
