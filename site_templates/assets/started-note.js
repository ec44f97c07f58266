/* A case note begun from what was ticked: the front matter of the note format. */
(function () {
  "use strict";

  /* Double quotes: YAML reads them as JSON does. What a file of text should not hold is escaped. */
  function quoted(text) {
    return JSON.stringify(text).replace(/[\u007f-\u009f\u2028\u2029\ufeff]/g, function (c) {
      return "\\u" + ("000" + c.charCodeAt(0).toString(16)).slice(-4);
    });
  }

  function scalar(text) {
    var isPlain = /^[a-z0-9][a-z0-9/-]*$/.test(text) && !/^(y|n|yes|no|on|off|true|false|null)$/.test(text);
    return isPlain ? text : quoted(text);
  }

  function listed(keys) { return "[" + keys.map(scalar).join(", ") + "]"; }

  function day(date) {
    function two(n) { return ("0" + n).slice(-2); }
    return date.getFullYear() + "-" + two(date.getMonth() + 1) + "-" + two(date.getDate());
  }

  /* `card` holds keys: { number, complaint, family, symptom, seen, absent, checks: [[check, outcome]] }. */
  window.startedNote = function (card, today) {
    var lines = [
      "case: " + (card.number && scalar(card.number)),
      "family: " + (card.family && scalar(card.family)),
      "received: " + day(today),
      "complaint: " + (card.complaint && quoted(card.complaint))
    ].map(function (line) { return line.trim(); });
    ["symptom", "seen", "absent"].forEach(function (key) {
      if (card[key].length) { lines.push(key + ": " + listed(card[key])); }
    });
    if (card.checks.length) { lines.push("checks:"); }
    card.checks.forEach(function (made) {
      lines.push("  - {check: " + scalar(made[0]) + ", outcome: " + scalar(made[1]) + "}");
    });
    return "---\n" + lines.join("\n") + "\n---\n";
  };
})();
