/* A better spelling of a question, from the words that the book itself uses: of words at most one
   or two slips away the nearest, of equally near ones the one in more cases. */
(function () {
  "use strict";

  var MOST = 16, SHORTEST = 3, LONG = 6;

  /* The fewest insertions, deletions, substitutions and swaps of neighbours, no piece edited twice;
     `most` + 1 if there are more. */
  function distance(first, second, most) {
    if (Math.abs(first.length - second.length) > most) { return most + 1; }
    var older = [], previous = [], row, column;
    for (column = 0; column <= second.length; column += 1) { previous.push(column); }
    for (row = 1; row <= first.length; row += 1) {
      var current = [row], least = row;
      for (column = 1; column <= second.length; column += 1) {
        var cost = previous[column - 1] + Number(first[row - 1] !== second[column - 1]);
        cost = Math.min(cost, previous[column] + 1, current[column - 1] + 1);
        if (row > 1 && column > 1 && first[row - 1] === second[column - 2] && first[row - 2] === second[column - 1]) {
          cost = Math.min(cost, older[column - 2] + 1);
        }
        current.push(cost);
        least = Math.min(least, cost);
      }
      if (least > most && Math.min.apply(null, previous) > most) { return most + 1; }
      older = previous;
      previous = current;
    }
    return Math.min(previous[second.length], most + 1);
  }

  /* Which letters a word has, as bits: a slip changes at most two of them. */
  function letters(word) {
    var bits = 0;
    for (var i = 0; i < word.length; i += 1) { bits |= 1 << (word.charCodeAt(i) % 31); }
    return bits;
  }

  function bitCount(bits) {
    var count = 0;
    for (; bits; bits &= bits - 1) { count += 1; }
    return count;
  }

  window.searchSpelling = function (tables, words) {
    var alphabetic = null;

    function nearest(word, every) {
      var most = word.length >= LONG ? 2 : 1, own = letters(word), best = null;
      alphabetic = alphabetic || Array.from(every.keys()).filter(function (other) {
        return /^\p{L}+$/u.test(other);
      }).map(function (other) { return [other, letters(other)]; });
      alphabetic.forEach(function (entry) {
        var other = entry[0];
        if (other.length < Math.max(word.length - most, SHORTEST) || other.length > word.length + most) { return; }
        if (bitCount(own ^ entry[1]) > 2 * most) { return; }
        var apart = distance(word, other, most);
        if (apart > most) { return; }
        var better = !best || apart < best[0] || (apart === best[0] && (every.get(other) > best[1] ||
          (every.get(other) === best[1] && tables.before(other, best[2]))));
        if (better) { best = [apart, every.get(other), other]; }
        most = Math.min(most, apart);
      });
      return best && best[2];
    }

    function isKnown(word, every) {
      if (word.length < SHORTEST || every.has(word) || words.stop.has(word) || /[\p{Nd}\p{No}]/u.test(word)) {
        return true;
      }
      var stem = words.stem(word);
      return tables.wordsFrom(word.slice(0, 2)).some(function (own) { return words.stem(own[0]) === stem; });
    }

    /* The question with unknown words replaced, "" where there is nothing better, or null while the
       words are fetched. */
    return function (question) {
      var every = tables.allWords(), pieces = [], at = 0, sought = 0;
      if (!every) { return null; }
      words.plainTokens(question).some(function (token) {
        if (sought === MOST) { return true; }
        if (isKnown(token.text, every)) { return false; }
        sought += 1;
        var better = nearest(token.text, every);
        if (better) {
          pieces.push(question.slice(at, token.start), better);
          at = token.end;
        }
        return false;
      });
      return pieces.length ? pieces.join("") + question.slice(at) : "";
    };
  };
})();
