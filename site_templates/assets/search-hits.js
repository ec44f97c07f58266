/* The hits as cards, with the words that were looked for marked. Text reaches the page as text
   nodes only. */
(function () {
  "use strict";

  var WIDTH = 160, CUT = "…";
  var NUMBER = 0, PAGE = 1, TITLE = 2, FAMILY = 3, DAY = 4, CAUSES = 5, STATE = 6, OPEN = 7;

  function add(parent, tag, name, text) {
    var element = document.createElement(tag);
    if (name) { element.className = name; }
    if (text !== undefined) { element.textContent = text; }
    parent.append(element);
    return element;
  }

  window.searchHits = function (tables, words, root) {
    var read = new Map();

    /* Every word of a text with its stem; texts are read once. */
    function wordsIn(text) {
      var found = read.get(text);
      if (!found) {
        found = words.tokens(text).map(function (token) {
          return [token.start, token.end, words.stem(token.text), token.compound];
        });
        read.set(text, found);
      }
      return found;
    }

    /* Where the stems and phrases that are looked for stand, in order and without overlaps. */
    function matches(text, wanted) {
      var all = wordsIn(text), found = [], end = 0;
      all.forEach(function (word) {
        if (wanted.stems.has(word[2])) { found.push([word[0], word[1], word[2]]); }
      });
      if (wanted.phrases.length) {
        var plain = all.filter(function (word) { return !word[3]; });
        wanted.phrases.forEach(function (phrase) {
          plain.forEach(function (word, at) {
            if (!phrase.every(function (stem, i) { return plain[at + i] && plain[at + i][2] === stem; })) { return; }
            found.push([word[0], plain[at + phrase.length - 1][1], phrase.join(" ")]);
          });
        });
      }
      return found.sort(function (a, b) { return a[0] - b[0] || b[1] - a[1]; }).filter(function (match) {
        if (match[0] < end) { return false; }
        end = match[1];
        return true;
      });
    }

    /* The matches of the window that shows most, and how many different ones and in all. */
    function bestWindow(found) {
      var best = [], worth = [0, 0];
      found.forEach(function (match, first) {
        var shown = [match];
        for (var i = first + 1; i < found.length && found[i][1] - match[0] <= WIDTH; i += 1) { shown.push(found[i]); }
        var different = new Set(shown.map(function (one) { return one[2]; })).size;
        if (different > worth[0] || (different === worth[0] && shown.length > worth[1])) {
          best = shown;
          worth = [different, shown.length];
        }
      });
      return { shown: best, worth: worth };
    }

    /* Where to start so that the matches stand in the middle, at the start of a word. */
    function startOf(text, shown) {
      if (text.length <= WIDTH) { return 0; }
      var first = shown[0][0], spare = Math.max(WIDTH - (shown[shown.length - 1][1] - first), 0);
      var start = Math.max(Math.min(first - Math.floor(spare / 2), text.length - WIDTH), 0);
      if (start === 0 || text[start - 1] === " ") { return start; }
      var space = text.slice(0, first).indexOf(" ", start);
      return space >= 0 ? space + 1 : first;
    }

    function endOf(text, start, shown) {
      var end = Math.min(start + WIDTH, text.length);
      var keep = shown.length ? shown[shown.length - 1][1] : start;
      if (end === text.length || text[end] === " ") { return end; }
      var space = text.lastIndexOf(" ", end - 1);
      if (space >= Math.max(keep, start + 1)) { return space; }
      return shown.length ? Math.min(keep, end) : end;
    }

    function addMarked(parent, text, found, start, end) {
      var at = start;
      if (start) { parent.append(CUT); }
      found.forEach(function (match) {
        var stop = Math.min(match[1], end);
        parent.append(text.slice(at, match[0]));
        add(parent, "mark", "", text.slice(match[0], stop));
        at = stop;
      });
      parent.append(text.slice(at, end).replace(/\s+$/, ""));
      if (end < text.length) { parent.append(CUT); }
    }

    function addWhole(parent, text, wanted) {
      addMarked(parent, text, matches(text, wanted), 0, text.length);
    }

    /* The best stretch of the texts of a case; what the title says already comes last. */
    function addSnippet(parent, texts, wanted, title) {
      var best = null;
      texts.filter(function (text) { return text !== title; }).forEach(function (text) {
        var own = bestWindow(matches(text, wanted));
        if (own.shown.length && (!best || own.worth[0] > best.worth[0] ||
            (own.worth[0] === best.worth[0] && own.worth[1] > best.worth[1]))) {
          best = { text: text, shown: own.shown, worth: own.worth };
        }
      });
      var text = best ? best.text : texts.find(function (each) { return each !== title; }) || texts[0] || "";
      var shown = best ? best.shown : [], start = best ? startOf(text, shown) : 0;
      addMarked(parent, text, shown, start, endOf(text, start, shown));
    }

    return {
      add: add,
      /* A card for a case, without its snippet. */
      card: function (list, place, wanted) {
        var line = tables.lineOf(place), item = add(list, "li", line[OPEN] ? "open" : "");
        var stub = add(item, "div", "slip");
        addWhole(add(stub, "span", "number"), line[NUMBER], wanted);
        add(stub, "span", "day", line[DAY]);
        var face = add(item, "div", "told-of");
        var link = add(add(face, "p", "what"), "a");
        link.href = root + line[PAGE];
        addWhole(link, line[TITLE], wanted);
        var from = add(face, "p", "from");
        addWhole(add(from, "span"), line[FAMILY], wanted);
        var found = add(face, "p", "found");
        addWhole(add(found, "span"), line[CAUSES] || line[STATE], wanted);
        return function () {
          var texts = tables.textsOf(place);
          if (!texts) { return false; }
          var snippet = document.createElement("p");
          snippet.className = "snippet";
          snippet.dir = "auto";
          addSnippet(snippet, texts, wanted, line[TITLE]);
          face.insertBefore(snippet, from);
          return true;
        };
      },
      forget: function () { if (read.size > 3000) { read.clear(); } }
    };
  };
})();
