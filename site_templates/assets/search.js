/* The search box: the program's own tables, asked in the browser.
   A case scores the sum of the weights of the question's stems; ties go by case number.
   Text reaches the page as text nodes only. */
(function () {
  "use strict";

  var SHOWN = 30;
  var most = SHOWN;
  var ABOUT = 160;
  var form = document.querySelector("form.ask");
  var data = window.serviceBook;
  if (!form || !data) { return; }

  var search = data.search;
  var root = form.dataset.root;
  var listed = form.dataset.list ? document.getElementById(form.dataset.list) : null;
  var box = form.querySelector("input");
  var told = form.querySelector(".told");
  var hits = form.querySelector(".hits");
  var NUMBER = 0, PAGE = 1, TITLE = 2, FAMILY = 3, RECEIVED = 4, FOUND = 5;

  /* ---- words */

  var WORD = /[\p{L}\p{N}\p{M}]+(?:['’ʼ][\p{L}\p{N}\p{M}]+)*/gu;
  var JOINED = /[\p{L}\p{N}\p{M}]+(?:['’ʼ‐‑._-]+[\p{L}\p{N}\p{M}]+)*/gu;

  function fold(text) {
    return text.replace(/[’ʼ]/g, "'").replace(/[‐‑]/g, "-").replace(/[µμ]/g, "u")
      .normalize("NFKD").replace(/\p{M}/gu, "").toLowerCase().normalize("NFKC");
  }

  /* The words of a question. Of joined words that the book knows as a whole, the whole counts and
     the parts too, but no bare number: who asks for one case does not ask for its whole year. Of
     others only the parts count; a figure and its unit written together are parts as well. */
  function wordsOf(text) {
    var found = [];
    (text.match(JOINED) || []).forEach(function (run) {
      var whole = fold(run), known = stemOf(whole) >= 0, parts = whole.match(WORD) || [];
      if (known || parts.length < 2) { found.push(whole); }
      if (parts.length > 1) {
        parts.forEach(function (part) {
          if (!known || !/^\d+$/.test(part)) { found.push(part); }
        });
      } else if (!known && /^\d+(?:\.\d+)?\p{L}+$/u.test(whole)) {
        found.splice(-1, 1, parseFloat(whole) + "", whole.replace(/^[\d.]+/, ""));
      }
    });
    return found.filter(function (word, at) { return found.indexOf(word) === at; });
  }

  function placeOf(word) {
    var low = 0, high = search.words.length;
    while (low < high) {
      var middle = (low + high) >> 1;
      if (search.words[middle] < word) { low = middle + 1; } else { high = middle; }
    }
    return low;
  }

  function stemOf(word) {
    var place = placeOf(word);
    return search.words[place] === word ? search.stemOf[place] : -1;
  }

  function stemsFrom(beginning) {
    var found = [];
    for (var at = placeOf(beginning); at < search.words.length; at += 1) {
      if (search.words[at].slice(0, beginning.length) !== beginning) { break; }
      if (found.indexOf(search.stemOf[at]) < 0) { found.push(search.stemOf[at]); }
    }
    return found;
  }

  /* The stems that a word stands for: its own; for a word still being typed, those of all words
     that begin with it; for an ending that the book does not have, those of the word without it. */
  function stemsOf(word, typing) {
    var exact = stemOf(word);
    if (exact >= 0) { return [exact]; }
    var found = typing ? stemsFrom(word) : [];
    for (var cut = 1; !found.length && cut <= 3 && word.length - cut >= 4; cut += 1) {
      found = stemsFrom(word.slice(0, word.length - cut));
    }
    return found;
  }

  /* ---- ranking */

  /* Adds what each document gets for one word: of several stems the best one counts. */
  function addScores(stems, scores) {
    var best = new Map();
    stems.forEach(function (stem) {
      var pairs = search.weights[stem];
      for (var at = 0; at < pairs.length; at += 2) {
        best.set(pairs[at], Math.max(best.get(pairs[at]) || 0, pairs[at + 1]));
      }
    });
    best.forEach(function (weight, place) {
      scores.set(place, (scores.get(place) || 0) + weight);
    });
  }

  function ask(question) {
    var words = wordsOf(question);
    var typing = /[\p{L}\p{N}]$/u.test(question) ? words[words.length - 1] : null;
    var scores = new Map(), stems = new Set(), counted = new Set();
    words.forEach(function (word) {
      if (word !== typing && search.ignored.indexOf(word) >= 0) { return; }
      var own = stemsOf(word, word === typing);
      own.forEach(function (stem) { stems.add(stem); });
      if (own.length && !(own.length === 1 && counted.has(own[0]))) { addScores(own, scores); }
      if (own.length === 1) { counted.add(own[0]); }
    });
    var ranked = Array.from(scores.entries());
    ranked.sort(function (a, b) {
      var one = search.cases[a[0]][NUMBER], other = search.cases[b[0]][NUMBER];
      return b[1] - a[1] || (one < other ? -1 : one > other ? 1 : 0);
    });
    return { places: ranked.map(function (entry) { return entry[0]; }), stems: stems };
  }

  /* ---- showing */

  function add(parent, tag, name, text) {
    var element = document.createElement(tag);
    if (name) { element.className = name; }
    if (text !== undefined) { element.textContent = text; }
    parent.append(element);
    return element;
  }

  /* The places in a text whose words have one of the stems: [start, end], … */
  function matchesIn(text, stems) {
    var found = [], run;
    WORD.lastIndex = 0;
    while ((run = WORD.exec(text))) {
      if (stems.has(stemOf(fold(run[0])))) { found.push([run.index, run.index + run[0].length]); }
    }
    return found;
  }

  function addMarked(parent, text, stems) {
    var end = 0;
    matchesIn(text, stems).forEach(function (match) {
      parent.append(text.slice(end, match[0]));
      add(parent, "mark", "", text.slice(match[0], match[1]));
      end = match[1];
    });
    parent.append(text.slice(end));
  }

  /* The stretch of a text with the most matches, cut between words. */
  function stretchOf(text, stems) {
    if (text.length <= ABOUT) { return text; }
    var matches = matchesIn(text, stems), best = 0, most = -1;
    matches.forEach(function (match, at) {
      var count = 0;
      while (at + count < matches.length && matches[at + count][1] < match[0] + ABOUT - 40) {
        count += 1;
      }
      if (count > most) { most = count; best = match[0]; }
    });
    var start = Math.max(0, Math.min(best - 40, text.length - ABOUT));
    if (start) { start = text.indexOf(" ", start) + 1; }
    var end = text.lastIndexOf(" ", start + ABOUT);
    if (start + ABOUT >= text.length || end <= start) { end = Math.min(text.length, start + ABOUT); }
    return (start ? "… " : "") + text.slice(start, end) + (end < text.length ? " …" : "");
  }

  /* The hits that still wait for their snippet: [list item, place, stems], … */
  var waiting = [];

  function addSnippets() {
    waiting = waiting.filter(function (hit) {
      var texts = data.texts[Math.floor(hit[1] / search.part)];
      if (!texts) { return true; }
      var text = texts[hit[1] % search.part], stems = hit[2];
      var repeats = text[0] === search.cases[hit[1]][TITLE];
      var inNote = text[1] && (repeats ||
        matchesIn(text[1], stems).length > matchesIn(text[0], stems).length);
      addMarked(add(hit[0], "p", "snippet"), stretchOf(text[inNote ? 1 : 0], stems), stems);
      return false;
    });
  }

  var asked = new Set();

  /* Fetches the texts that the shown hits need; a script element also works without a server. */
  function fetchTexts(places) {
    places.forEach(function (place) {
      var part = Math.floor(place / search.part);
      if (asked.has(part)) { return; }
      asked.add(part);
      var script = document.createElement("script");
      script.src = root + "data/texts/" + part + ".js";
      script.addEventListener("load", addSnippets);
      document.head.append(script);
    });
  }

  function show() {
    var question = box.value.trim();
    var answer = ask(box.value);
    var shown = answer.places.slice(0, most);
    hits.replaceChildren();
    waiting = [];
    if (listed) { listed.hidden = question !== ""; }
    told.textContent = !question ? "" : !answer.places.length ? "No case has these words." :
      (answer.places.length === 1 ? "1 case" : answer.places.length + " cases") +
      (answer.places.length > most ? ", the best " + most + " shown" : "");
    shown.forEach(function (place) {
      var entry = search.cases[place];
      var item = add(hits, "li");
      addMarked(add(item, "span", "number"), entry[NUMBER], answer.stems);
      var link = add(add(item, "span", "what"), "a");
      link.href = root + entry[PAGE];
      addMarked(link, entry[TITLE], answer.stems);
      addMarked(add(item, "span", "found"), entry[FOUND], answer.stems);
      addMarked(add(item, "span", "from"), entry[FAMILY] + ", " + entry[RECEIVED], answer.stems);
      waiting.push([item, place, answer.stems]);
    });
    if (answer.places.length > most) {
      var more = add(add(hits, "li"), "button", "more-hits");
      more.type = "button";
      more.textContent = "Show more";
      more.addEventListener("click", function () {
        var first = most;
        most += SHOWN;
        show();
        var link = hits.querySelectorAll(".what a")[first];
        if (link) { link.focus(); }
      });
    }
    fetchTexts(shown);
    addSnippets();
  }

  function showAfresh() {
    most = SHOWN;
    show();
  }

  /* Keeps the question in the address, so that the way back from a case leads to the hits. */
  function remember() {
    history.replaceState(null, "", "#q=" + encodeURIComponent(box.value.trim()));
  }

  /* ---- keys */

  function move(event, step) {
    var links = Array.from(hits.querySelectorAll(".what a, .more-hits"));
    var at = links.indexOf(document.activeElement) + step;
    if (!links.length || at >= links.length) { return; }
    event.preventDefault();
    (at < 0 ? box : links[at]).focus();
  }

  form.addEventListener("keydown", function (event) {
    if (event.key === "ArrowDown") { move(event, 1); }
    if (event.key === "ArrowUp" && document.activeElement !== box) { move(event, -1); }
    if (event.key === "Escape") { box.value = ""; showAfresh(); box.focus(); }
  });
  form.addEventListener("submit", function (event) {
    event.preventDefault();
    var first = hits.querySelector(".what a");
    if (first) { first.focus(); }
  });
  box.addEventListener("input", showAfresh);
  box.addEventListener("change", remember);

  form.hidden = false;
  if (location.hash.slice(0, 3) === "#q=") {
    try {
      box.value = decodeURIComponent(location.hash.slice(3));
      show();
    } catch (error) {
      if (!(error instanceof URIError)) { throw error; }
    }
  }
})();
