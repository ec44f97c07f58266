/* The tables of the search, in files that are fetched when a question needs them: a script element
   works from a folder too. What is packed in letters is unpacked when it is first looked at. */
(function () {
  "use strict";

  var ALPHABET = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz-_";
  var DIGIT = new Uint8Array(128);
  for (var at = 0; at < ALPHABET.length; at += 1) { DIGIT[ALPHABET.charCodeAt(at)] = at; }

  function unpacked(text) {
    var numbers = new Int32Array(text.length), count = 0, value = 0, shift = 0;
    for (var i = 0; i < text.length; i += 1) {
      var digit = DIGIT[text.charCodeAt(i)];
      value |= (digit & 31) << shift;
      if (digit < 32) {
        numbers[count] = value;
        count += 1;
        value = shift = 0;
      } else {
        shift += 5;
      }
    }
    return numbers.subarray(0, count);
  }

  /* The order of the program's strings: by code point, where the browser's goes by 16 bits. */
  function before(a, b) {
    if (!/[\ud800-\udfff]/.test(a + b)) { return a < b; }
    var one = Array.from(a), other = Array.from(b);
    for (var i = 0; i < one.length && i < other.length; i += 1) {
      if (one[i] !== other[i]) { return one[i].codePointAt(0) < other[i].codePointAt(0); }
    }
    return one.length < other.length;
  }

  /* The first place in a sorted list whose word does not stand before this one. */
  function placeOf(list, word) {
    var low = 0, high = list.length;
    while (low < high) {
      var middle = (low + high) >> 1;
      if (before(list[middle], word)) { low = middle + 1; } else { high = middle; }
    }
    return low;
  }

  /* `readers` are the scripts that a question is read and answered with: fetched like the tables. */
  window.searchTables = function (book, root, readers) {
    var parts = { weights: [], spoken: [], words: [], bounds: [], filters: [], made: [], lines: [], texts: [], reading: [], scripts: {} };
    var wanted = new Map(), waiting = [], asked = new Set(), postings = new Map(), said = new Map();
    var lengths = unpacked(book.lengths);

    window.searchPart = function (name, number, content) { parts[name][number] = content; };

    function fetch(name, number, then) {
      var file = name === "scripts" ? number : "data/" + name + "/" + number + ".js";
      if (asked.has(file)) { return false; }
      asked.add(file);
      var script = document.createElement("script");
      script.src = root + file;
      script.async = false;
      script.addEventListener("load", function () {
        if (name === "scripts") { parts.scripts[file] = true; }
        arrived();
        if (then) { then(); }
      });
      /* A file that cannot be had is asked for again with the next question. */
      script.addEventListener("error", function () {
        asked.delete(file);
        parts[name][number] = parts[name][number] || null;
        arrived();
      });
      document.head.append(script);
      return true;
    }

    /* Fetches, one after the other and while nothing else is to do, what questions rest on. */
    var ahead = readers.map(function (file) { return ["scripts", file]; }).concat([["reading", 0]]), sizes = [
      ["lines", Math.ceil(book.count / book.lineSize)], ["weights", book.starts.weights.length],
      ["words", book.starts.words.length]
    ];
    function fetchAhead() {
      if (!sizes.length && !ahead.length) { return; }
      sizes.forEach(function (own) {
        for (var number = 0; number < own[1]; number += 1) { ahead.push([own[0], number]); }
      });
      sizes = [];
      var next = ahead.shift();
      while (next && !fetch(next[0], next[1], idle)) { next = ahead.shift(); }
    }

    function idle() {
      if (window.requestIdleCallback) { window.requestIdleCallback(fetchAhead); } else { window.setTimeout(fetchAhead, 20); }
    }

    /* A part, or null and it will be fetched. */
    function part(name, number) {
      if (parts[name][number]) { return parts[name][number]; }
      wanted.set(name + number, [name, number]);
      return null;
    }

    function arrived() {
      function lacking(one) {
        return one.files.some(function (file) { return parts[file[0]][file[1]] === undefined; });
      }
      var ready = waiting.filter(function (one) { return !lacking(one); });
      waiting = waiting.filter(lacking);
      ready.forEach(function (one) { one.then(); });
    }

    /* Calls `then` once what was looked for in vain has come; false where nothing was. */
    function later(then) {
      if (!wanted.size) { return false; }
      var files = Array.from(wanted.values());
      wanted.clear();
      waiting.push({ files: files, then: then });
      files.forEach(function (file) {
        /* null stands for a file that could not be had */
        if (parts[file[0]][file[1]] === null) { parts[file[0]][file[1]] = undefined; }
        fetch(file[0], file[1]);
      });
      return true;
    }

    function numberOf(name, word) {
      var starts = book.starts[name], place = placeOf(starts, word);
      return starts[place] === word ? place : place - 1;
    }

    /* A file of words: their list, what belongs to each, split once. */
    function shelf(name, number) {
      var content = part(name, number);
      if (content && !content.list) {
        content.list = content[0].split(" ");
        content.rows = name === "words" ? unpacked(content[1]) : content[1].split(" ");
      }
      return content;
    }

    function row(name, word) {
      var number = numberOf(name, word);
      if (number < 0) { return ""; }
      var content = shelf(name, number);
      if (!content) { return null; }
      var place = placeOf(content.list, word);
      return content.list[place] === word ? content.rows[place] : "";
    }

    /* The cases that have a term and its weight in half units in each; null while it is fetched. */
    function weightsOf(term) {
      var found = postings.get(term);
      if (found) { return found; }
      var text = row("weights", term);
      if (text === null) { return null; }
      var flat = unpacked(text), count = flat.length / 2, place = 0;
      found = { places: new Int32Array(count), halves: new Int32Array(count) };
      for (var i = 0; i < count; i += 1) {
        place += flat[2 * i];
        found.places[i] = place;
        found.halves[i] = flat[2 * i + 1];
      }
      postings.set(term, found);
      return found;
    }

    /* Where a stem stands: place of the case -> positions in it; null while it is fetched. */
    function positionsOf(stem) {
      if (said.has(stem)) { return said.get(stem); }
      var text = row("spoken", stem);
      if (text === null) { return null; }
      var flat = unpacked(text), found = new Map(), place = -1, list, position;
      for (var i = 0; i < flat.length; i += 2) {
        if (flat[i]) {
          place += flat[i];
          list = [];
          found.set(place, list);
          position = 0;
        }
        position += flat[i + 1];
        list.push(position);
      }
      said.set(stem, found);
      return found;
    }

    /* The words that begin so, with how many cases have each; null while they are fetched. */
    function wordsFrom(beginning) {
      var found = [], number = Math.max(numberOf("words", beginning), 0), missing = false;
      for (; number < book.starts.words.length; number += 1) {
        if (found.length && book.starts.words[number].slice(0, beginning.length) > beginning) { break; }
        var content = shelf("words", number), place;
        if (!content) {
          missing = true;
        } else {
          for (place = placeOf(content.list, beginning); place < content.list.length; place += 1) {
            if (content.list[place].slice(0, beginning.length) !== beginning) { break; }
            found.push([content.list[place], content.rows[place]]);
          }
          if (place < content.list.length) { break; }
        }
        var next = book.starts.words[number + 1];
        if (next === undefined || next.slice(0, beginning.length) !== beginning) { break; }
      }
      return missing ? null : found;
    }

    /* Every word of the book with how many cases have it; null while they are fetched. */
    function allWords() {
      var every = new Map(), missing = false;
      book.starts.words.forEach(function (first, number) {
        var content = shelf("words", number);
        if (!content) {
          missing = true;
          return;
        }
        content.list.forEach(function (word, place) { every.set(word, content.rows[place]); });
      });
      return missing ? null : every;
    }

    /* What a hit shows first, and the terms that weigh most in it. */
    function lineOf(place) {
      var content = part("lines", Math.floor(place / book.lineSize)), at = place % book.lineSize;
      return content ? content[2][at] : null;
    }

    function mainOf(place) {
      var content = part("lines", Math.floor(place / book.lineSize));
      if (!content) { return null; }
      content.terms = content.terms || content[0].split(" ");
      var flat = unpacked(content[1][place % book.lineSize]), found = [];
      for (var i = 0; i < flat.length; i += 2) { found.push([content.terms[flat[i]], flat[i + 1]]); }
      return found;
    }

    function textsOf(place) {
      var content = part("texts", Math.floor(place / book.textSize));
      return content ? content[place % book.textSize] : null;
    }

    /* The lists that a question is read by, once the scripts that read it are there too. */
    function reading() {
      var lists = part("reading", 0);
      return readers.map(function (file) { return part("scripts", file); }).indexOf(null) < 0 ? lists : null;
    }

    function packedWhole(name) {
      var content = part(name, 0);
      if (content && !content.numbers) { content.numbers = unpacked(content[0]); }
      return content ? content.numbers : null;
    }

    return {
      count: book.count, total: book.total, lengths: lengths, before: before, later: later, fetchAhead: idle,
      weightsOf: weightsOf, positionsOf: positionsOf, wordsFrom: wordsFrom, allWords: allWords,
      lineOf: lineOf, mainOf: mainOf, textsOf: textsOf, reading: reading,
      bounds: function () { return packedWhole("bounds"); },
      filters: function () { return packedWhole("filters"); },
      made: function () { return packedWhole("made"); }
    };
  };
})();
