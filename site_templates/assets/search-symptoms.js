/* Which symptoms a question names, read as the program reads it: a name is there where all its words
   that carry meaning stand close together, in any order, and are not denied. */
(function () {
  "use strict";

  var REACH = 3, LONGEST_READ = 4000;
  var SLACK = [0, 0, 3], SLACK_LONGER = 2;
  var A_WHILE = "after-a-while";
  var CLAUSE_END = /[.;:!?\n](?:\s|$)|\n|[()]|\s[-–—]\s/;
  var COMMA = /[,/&]/;
  var LIST = /[\p{L}\p{N}_'’-]+(?:\s*,\s*(?!n?or\s)[\p{L}\p{N}_'’-]+){0,12}\s*(?:,\s*)?(?<=\s)n?or\s/iuy;
  var BEFORE = "(?<![\\p{L}\\p{N}_])", BEHIND = "(?![\\p{L}\\p{N}_])";
  var TIME = new RegExp(
    BEFORE + "(?:after|within|(?<=" + BEFORE + "on )for|(?<=" + BEFORE + "running )for|(?<=" + BEFORE + "playing )for)\\s+" +
    "(?:(?:about|around|roughly|only|maybe|some|say|the|first|a|an|one|half|few|couple|of|good|" +
    "little|short|long|two|three|four|five|ten|fifteen|twenty|thirty|forty|sixty|\\p{Nd}+|or|to|so)" +
    BEHIND + "[\\s–-]*)*(?:while|bit|time|minutes?|mins?|hours?|hrs?)" + BEHIND +
    "(?: or so" + BEHIND + ")?", "giu");

  /* `names` are [key, stems] with a stroke in front of a stem that the name itself denies. */
  window.searchSymptoms = function (words, lists, names) {
    var sets = {};
    ["fillers", "negators", "noNegation", "scopeEnds", "cuts"].forEach(function (list) {
      sets[list] = new Set(lists[list]);
    });
    var ceasing = new Set(lists.ceasing.map(words.stem));
    var known = names.map(function (name, order) {
      return { key: name[0], order: order, stems: new Map(name[1].split(" ").map(function (its) {
        return its[0] === "-" ? [its.slice(1), true] : [its, false];
      })) };
    });

    /* How far the last negator reaches. */
    function scope() {
      var left = 0, fresh = false;
      return {
        take: function (word) {
          if (sets.negators.has(word)) {
            left = REACH;
            fresh = true;
            return true;
          }
          if ((fresh ? sets.noNegation : sets.scopeEnds).has(word)) { left = 0; }
          return false;
        },
        comma: function (inAList) {
          if (left && !fresh) { left = inAList ? REACH : 0; }
        },
        over: function (stem) {
          if (left === 0) { return false; }
          if (fresh && ceasing.has(stem)) { left = 0; }
          left = Math.max(left - 1, 0);
          fresh = false;
          return true;
        }
      };
    }

    /* The plain words of a text, a length of time since switching on as one word. */
    function withTimes(text) {
      var times = [], found = [], match;
      TIME.lastIndex = 0;
      while ((match = TIME.exec(text))) { times.push([match.index, match.index + match[0].length]); }
      words.plainTokens(text).forEach(function (token) {
        var inside = times.find(function (span) { return span[0] <= token.start && token.start < span[1]; });
        if (!inside) {
          found.push(token);
        } else if (!found.length || found[found.length - 1].start !== inside[0]) {
          found.push({ text: A_WHILE, start: inside[0], end: inside[1] });
        }
      });
      return found;
    }

    /* The words that carry meaning, each with its clause and whether it is denied. */
    function read(text) {
      var found = [], clause = 0, reach = scope(), end = 0, order = withTimes(text);
      order.forEach(function (token, at) {
        var between = text.slice(end, token.start);
        if (end && CLAUSE_END.test(between + " ")) {
          clause += 1;
          reach = scope();
        } else if (COMMA.test(between)) {
          LIST.lastIndex = token.start;
          reach.comma(LIST.test(text));
        }
        end = token.end;
        if (sets.cuts.has(token.text)) {
          clause += 1;
          reach = scope();
        }
        if (reach.take(token.text) || sets.fillers.has(token.text) || sets.cuts.has(token.text)) { return; }
        var stem = words.stem(token.text), negated = reach.over(stem), next = order[at + 1];
        if (negated && ceasing.has(stem) && next && /ing$/.test(next.text)) { return; }
        found.push({ stem: stem, negated: negated, clause: clause });
      });
      return found;
    }

    /* The words of a name from the word `first` on, or null if they do not stand close to it. */
    function placeOf(name, first, said, free) {
      var size = name.stems.size, others = size < SLACK.length ? SLACK[size] : SLACK_LONGER;
      var taken = new Map();
      for (var i = first; i < said.length; i += 1) {
        var word = said[i], negated = name.stems.get(word.stem);
        var fits = negated !== undefined && free.has(i) && word.clause === said[first].clause;
        if (fits && !taken.has(word.stem) && word.negated >= negated) {
          taken.set(word.stem, i);
          if (taken.size === size) { return Array.from(taken.values()); }
        } else if (others === 0 || !taken.size) {
          return null;
        } else {
          others -= 1;
        }
      }
      return null;
    }

    function places(near, said, free) {
      var found = [];
      Array.from(free).sort(function (a, b) { return a - b; }).forEach(function (first) {
        near.forEach(function (name) {
          if (!name.stems.has(said[first].stem)) { return; }
          var taken = placeOf(name, first, said, free);
          if (!taken) { return; }
          var denied = taken.some(function (i) { return said[i].negated > name.stems.get(said[i].stem); });
          found.push({ name: name, words: taken, rank: [
            Number(denied), -taken.length, taken[taken.length - 1] - taken[0], taken[0], name.order
          ] });
        });
      });
      return found.sort(function (a, b) {
        for (var i = 0; i < a.rank.length; i += 1) {
          if (a.rank[i] !== b.rank[i]) { return a.rank[i] - b.rank[i]; }
        }
        return 0;
      });
    }

    /* The keys that a text names, in the order it does; what it denies is left out. */
    return function (text) {
      var said = read(Array.from(text).slice(0, LONGEST_READ).join("")), there = new Set();
      said.forEach(function (word) { there.add(word.stem); });
      var near = known.filter(function (name) {
        return Array.from(name.stems.keys()).every(function (stem) { return there.has(stem); });
      });
      var free = new Set(said.keys()), found = new Map(), some = places(near, said, free);
      while (some.length) {
        some.forEach(function (place) {
          if (!place.words.every(function (i) { return free.has(i); })) { return; }
          if (!place.rank[0] && !found.has(place.name.key)) { found.set(place.name.key, place.words[0]); }
          place.words.forEach(function (i) { free.delete(i); });
        });
        some = places(near, said, free);
      }
      return Array.from(found.keys()).sort(function (a, b) { return found.get(a) - found.get(b); });
    };
  };
})();
