/* Words as the program reads them: what counts as one, how it is folded, its stem, and the language
   of questions. The lists of words come from the program's own tables. */
(function () {
  "use strict";

  var LETTERS = "[\\p{L}\\p{N}]+(?:[\\u0300-\\u036f]+[\\p{L}\\p{N}]*)*";
  var WORD = LETTERS + "(?:['’ʼ]" + LETTERS + ")*";
  var JOINED = WORD + "(?:[-‐‑._]+" + WORD + ")*";
  var NUMBER = /^\p{Nd}+(?:\.\p{Nd}+)?$/u;
  var WITH_UNIT = /^(\p{Nd}+(?:\.\p{Nd}+)?)([\p{L}\p{Nl}\p{No}]+)$/u;
  var LONGEST = 100, MOST_CHARACTERS = 2000, MOST_WORDS = 64;

  function sameLetters(text) {
    return text.replace(/[’ʼ]/g, "'").replace(/[‐‑]/g, "-").replace(/[µμ]/g, "u");
  }

  /* Lower case without accents or typographic variants, as the program folds it. */
  function fold(text) {
    if (/^[\x00-\x7f]*$/.test(text)) { return text.toLowerCase().slice(0, LONGEST); }
    var bare = sameLetters(text).normalize("NFKD").replace(/\p{Mn}/gu, "");
    bare = bare.replace(/\u1e9e/g, "ß").toLowerCase().replace(/ß/g, "ss").replace(/ς/g, "σ");
    return Array.from(sameLetters(bare).normalize("NFKC")).slice(0, LONGEST).join("");
  }

  /* Reads words with these lists: {stop, past, units, loneUnits, …}. */
  window.searchWords = function (lists) {
    var stop = new Set(lists.stop), lone = new Set(lists.loneUnits), units = pairs(lists.units);
    var past = pairs(lists.past), stems = new Map();

    function pairs(list) {
      return new Map(list.map(function (pair) { return pair.split(" "); }));
    }

    function stem(word) {
      if (!/^[a-z']*[a-z][a-z']*$/i.test(word)) { return word; }
      var found = stems.get(word);
      if (found === undefined) {
        found = window.searchStem(past.get(word) || word) || word;
        stems.set(word, found);
      }
      return found;
    }

    function token(text, start, end, compound) {
      return { text: text, start: start, end: end, compound: Boolean(compound) };
    }

    /* All words of a text in order, each compound before its parts. */
    function tokens(text) {
      var found = [], after = 0, run, joined = new RegExp(JOINED, "gu");
      while ((run = joined.exec(text))) {
        if (run.index >= after) { after = addRun(text, run[0], run.index, found); }
      }
      return found;
    }

    function addRun(text, written, start, found) {
      var end = start + written.length, parts = [], part, word = new RegExp(WORD, "gu");
      if (NUMBER.test(written)) { return addNumber(text, start, end, found); }
      while ((part = word.exec(written))) { parts.push([part[0], start + part.index]); }
      if (parts.length > 1 && !WITH_UNIT.test(written)) {
        found.push(token(fold(written), start, end, true));
        parts.forEach(function (each) { addSingle(each[0], each[1], found); });
      } else {
        addSingle(written, start, found);
      }
      return end;
    }

    /* A number, with the unit that stands behind it after a space. */
    function addNumber(text, start, end, found) {
      var number = fold(text.slice(start, end));
      var gap = /[ \t\u00a0\u2009\u202f]?(?=\S)/y;
      gap.lastIndex = end;
      if (gap.test(text)) {
        var joined = new RegExp(JOINED, "uy");
        var from = joined.lastIndex = gap.lastIndex;
        var unit = joined.exec(text);
        if (unit && (Array.from(unit[0]).length > 1 || lone.has(unit[0]))) {
          var written = units.get(fold(unit[0]));
          if (written) {
            var last = from + unit[0].length;
            found.push(token(number + written, start, last, true), token(number, start, end), token(written, from, last));
            return last;
          }
        }
      }
      found.push(token(number, start, end));
      return end;
    }

    /* One word without joints: as it is, or a number and its unit written together. */
    function addSingle(written, start, found) {
      var end = start + written.length, unit = WITH_UNIT.exec(written);
      var known = unit && units.get(fold(unit[2]));
      if (known) {
        var number = fold(unit[1]), middle = start + unit[1].length;
        found.push(token(number + known, start, end, true), token(number, start, middle), token(known, middle, end));
      } else if (fold(written)) {
        found.push(token(fold(written), start, end));
      }
    }

    function plainTokens(text) {
      return tokens(text).filter(function (each) { return !each.compound; });
    }

    /* What to look up: no stop words, and no bare piece of a number or a part number. */
    function searched(loose) {
      var found = [], inside = 0, quantity = false;
      loose.forEach(function (each) {
        if (each.compound) {
          inside = each.end;
          quantity = each.text.indexOf("-") < 0 && /^[\p{Nd}\p{No}]/u.test(each.text);
        } else if (each.start < inside && (quantity || /^[\p{Nd}\p{No}]+$/u.test(each.text))) {
          return;
        }
        if (!stop.has(each.text)) { found.push(each.text); }
      });
      return found;
    }

    /* A question: {words, phrases}, folded; or {fault, found, limit} where it cannot be asked.
       `typing` is the word at the end that may go on, unless the question is `finished`. */
    function parse(text, finished) {
      if (Array.from(text).length > MOST_CHARACTERS) {
        return { fault: "characters", found: Array.from(text).length, limit: MOST_CHARACTERS };
      }
      var straight = text.replace(/[“”„‟«»＂]/g, '"'), phrases = [];
      var loose = straight.replace(/"([^"]*)"/g, function (whole, inside) {
        var phrase = plainTokens(inside).map(function (each) { return each.text; });
        if (phrase.length) { phrases.push(phrase); }
        return " , ";
      });
      var all = tokens(loose);
      var count = all.filter(function (each) { return !each.compound; }).length +
        phrases.reduce(function (sum, phrase) { return sum + phrase.length; }, 0);
      if (count > MOST_WORDS) { return { fault: "words", found: count, limit: MOST_WORDS }; }
      if (!count) { return { fault: "empty" }; }
      var words = Array.from(new Set(searched(all))), last = all[all.length - 1];
      /* A compound is the whole of what is being typed: its parts are no beginnings. */
      all.forEach(function (each) {
        if (each.compound && each.end === loose.length) { last = each; }
      });
      var typing = !finished && last && last.end === loose.length ? last.text : null;
      if (!words.length && !phrases.length && !typing) { return { fault: "common" }; }
      return { words: words, phrases: unlike(phrases), typing: typing };
    }

    function unlike(phrases) {
      var seen = new Set();
      return phrases.filter(function (phrase) {
        var key = phrase.join(" ");
        return !seen.has(key) && seen.add(key);
      });
    }

    return {
      stop: stop, units: units, stem: stem, tokens: tokens, plainTokens: plainTokens, parse: parse,
      unlike: unlike
    };
  };

  window.searchWords.fold = fold;
  window.searchWords.JOINED = JOINED;
})();
