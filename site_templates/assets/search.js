/* The search: reads the question as the program does, asks the tables, shows the hits. The question
   and the filters stand in the address, so that a search can be kept or sent. */
(function () {
  "use strict";

  var SHOWN = 30, AT_ONCE = 10, FEW = 2, PAUSE = 120;
  var form = document.querySelector("form.ask[data-root]");
  var book = window.searchBook;
  if (!form || !book) { return; }

  var root = form.dataset.root;
  var listed = form.dataset.list ? document.getElementById(form.dataset.list) : null;
  var box = form.querySelector("input"), told = form.querySelector(".told");
  var wider = form.querySelector(".wider"), perhaps = form.querySelector(".perhaps");
  var list = form.querySelector(".hits"), clear = form.querySelector(".clear-filters");

  var tables = window.searchTables(book, root, form.dataset.readers.split(" "));
  var filters = window.searchFilters(book, tables, form);
  var words = null, named, ranking, suggest, cards;
  var labels = new Map(book.symptoms.map(function (term) { return [term[0], term[1]]; }));

  var narrow = form.querySelector(".narrow");

  var most = SHOWN, finished = false, turn = 0, missed = 0, keeping = 0;

  /* What reads a question and answers it comes with the first one; false while it is fetched. */
  function ready() {
    var lists = words || tables.reading();
    if (lists && !words) {
      words = window.searchWords(lists[0]);
      named = window.searchSymptoms(words, lists[0], lists[1]);
      ranking = window.searchRanking(tables, words);
      suggest = window.searchSpelling(tables, words);
      cards = window.searchHits(tables, words, root);
    }
    return Boolean(lists);
  }

  /* ---- what is asked */

  function faultSaid(question) {
    return {
      empty: "",
      common: "Nearly every note has these words: add one that tells more.",
      words: "The question has " + question.found + " words; at most " + question.limit + " are looked for.",
      characters: "The question has " + question.found + " characters; at most " + question.limit + " are read."
    }[question.fault];
  }

  /* The question as terms, or null while something is fetched. */
  function termsOf(question, keys) {
    var typing = question.typing, begun = null, terms = new Set();
    if (typing !== null) {
      begun = ranking.begun(typing);
      if (!begun) { return null; }
    }
    var more = keys.length ? words.parse(keys.join(" "), true).words || [] : [];
    question.words.concat(more).forEach(function (word) {
      if (word !== typing) { terms.add(words.stem(word)); }
    });
    if (begun && begun.length === 1) { terms.add(begun[0]); }
    return {
      terms: Array.from(terms),
      begun: begun && begun.length > 1 ? begun : null,
      phrases: words.unlike(question.phrases.map(function (phrase) { return phrase.map(words.stem); }))
    };
  }

  /* What is marked: the words of the question, without those that a symptom stands for. */
  function wantedOf(question, asked) {
    var stems = new Set(question.words.map(words.stem));
    (asked.begun || []).forEach(function (stem) { stems.add(stem); });
    return { stems: stems, phrases: asked.phrases };
  }

  /* The answer, or null while something is fetched. */
  function answerTo(text) {
    if (!ready()) { return null; }
    var question = words.parse(text, finished);
    if (question.fault) {
      var only = question.fault === "empty" && filters.chosen().length ? filters.keep(null) : [];
      return only && { places: only, newest: true, said: faultSaid(question), keys: [], wanted: { stems: new Set(), phrases: [] }, suggestion: "" };
    }
    var keys = named(text), asked = termsOf(question, keys);
    var places = asked && ranking.rank(asked);
    places = places && filters.keep(places);
    if (!places) { return null; }
    var suggestion = places.length <= FEW && question.typing === null ? suggest(text) : "";
    if (suggestion === null) { return null; }
    return {
      places: places, said: "", keys: keys, begun: asked.begun && question.typing,
      wanted: wantedOf(question, asked), suggestion: suggestion
    };
  }

  /* ---- showing */

  function counted(answer) {
    var found = answer.places.length, only = filters.chosen().length;
    if (answer.said) { return answer.said; }
    if (!found) { return only ? "No case with these filters has these words." : "No case has these words."; }
    return (found === 1 ? "1 case" : found + " cases") + (found > most ? ", the " + (answer.newest ? "newest " : "best ") + most + " shown" : "");
  }

  function showWords(answer) {
    var said = answer.begun ? ["Words that begin with “" + answer.begun + "” count until a space or Enter ends it."] : [];
    if (answer.keys.length) {
      said.unshift("Also looked for, because the words name " +
        (answer.keys.length === 1 ? "this symptom: " : "these symptoms: ") +
        answer.keys.map(function (key) { return labels.get(key) || key; }).join(", ") + ".");
    }
    wider.textContent = said.join(" ");
    perhaps.replaceChildren();
    if (answer.suggestion) {
      perhaps.append("The book knows other words: ");
      var button = cards.add(perhaps, "button", "plain-button", answer.suggestion);
      button.type = "button";
      button.addEventListener("click", function () {
        box.value = answer.suggestion;
        box.focus();
        ask(true);
      });
    }
  }

  function showMore() {
    var first = most;
    most += SHOWN;
    update(function () {
      var link = list.querySelectorAll(".what a")[first];
      if (link) { link.focus(); }
    });
  }

  /* Snippets come when the texts have, a few at a time: neither the hits nor the next key wait. */
  function addSnippets(open, mine, missing) {
    if (mine !== turn || missing > 3) { return; }
    var some = open.slice(0, AT_ONCE), rest = open.slice(AT_ONCE);
    some = some.filter(function (snippet) { return !snippet(); });
    function goOn() { addSnippets(some.concat(rest), mine, some.length ? missing + 1 : 0); }
    if (some.length) { tables.later(goOn); } else if (rest.length) { window.setTimeout(goOn); }
    cards.forget();
  }

  function show(answer, mine, then) {
    var shown = answer.places.slice(0, most);
    if (shown.map(tables.lineOf).indexOf(null) >= 0) { return false; }
    var asking = box.value.trim() !== "" || filters.chosen().length > 0;
    if (listed) { listed.hidden = asking; }
    told.textContent = asking ? counted(answer) : "";
    showWords(answer);
    list.replaceChildren();
    var open = shown.slice(0, AT_ONCE).map(function (place) { return cards.card(list, place, answer.wanted); });
    /* The first cards are on the screen before the others are made. */
    window.setTimeout(function () {
      if (mine !== turn) { return; }
      shown.slice(AT_ONCE).forEach(function (place) { open.push(cards.card(list, place, answer.wanted)); });
      if (answer.places.length > most) {
        var more = cards.add(cards.add(list, "li", "rest"), "button", "more-hits", "Show more");
        more.type = "button";
        more.addEventListener("click", showMore);
      }
      form.setAttribute("aria-busy", "false");
      if (then) { then(); }
      window.setTimeout(function () { addSnippets(open, mine, 0); }, finished ? 0 : PAUSE);
    });
    return true;
  }

  /* Works out the answer as far as the tables have come, and again when more of them have. */
  function update(then) {
    turn += 1;
    missed = 0;
    form.setAttribute("aria-busy", "true");
    attempt(turn, then);
  }

  function attempt(mine, then) {
    if (mine !== turn) { return; }
    var answer = answerTo(box.value);
    if (answer && show(answer, mine, then)) { return; }
    missed += 1;
    if (missed > 20 || !tables.later(function () { attempt(mine, then); })) {
      form.setAttribute("aria-busy", "false");
      told.textContent = "A part of the search tables could not be read: is the folder whole?";
    }
  }

  function ask(isFinished) {
    most = SHOWN;
    finished = isFinished;
    if (narrow) {
      var count = filters.chosen().length;
      clear.hidden = !count;
      narrow.querySelector(".count").textContent = !count ? "" : count === 1 ? "1 filter" : count + " filters";
    }
    update();
    window.clearTimeout(keeping);
    keeping = window.setTimeout(remember, 400);
  }

  /* ---- the address */

  function remember() {
    window.clearTimeout(keeping);
    var pairs = filters.chosen();
    if (box.value.trim()) { pairs.unshift(["q", box.value.trim()]); }
    var address = "#" + pairs.map(function (pair) {
      return pair[0] + "=" + encodeURIComponent(pair[1]);
    }).join("&");
    if (address !== (location.hash || "#")) { history.replaceState(null, "", address); }
  }

  function fromAddress() {
    var pairs = location.hash.slice(1).split("&").map(function (part) {
      var equals = part.indexOf("=");
      try {
        return [part.slice(0, equals), decodeURIComponent(part.slice(equals + 1))];
      } catch (error) {
        if (!(error instanceof URIError)) { throw error; }
        return ["", ""];
      }
    });
    var asked = pairs.find(function (pair) { return pair[0] === "q"; });
    filters.choose(pairs);
    if (asked) { box.value = asked[1]; }
    if (asked || filters.chosen().length) { ask(true); }
  }

  /* ---- keys */

  function move(event, step) {
    var links = Array.from(list.querySelectorAll(".what a, .more-hits"));
    var at = links.indexOf(document.activeElement) + step;
    if (!links.length || at >= links.length) { return; }
    event.preventDefault();
    (at < 0 ? box : links[at]).focus();
  }

  form.addEventListener("keydown", function (event) {
    if (event.target.tagName === "SELECT") { return; }
    if (event.key === "ArrowDown") { move(event, 1); }
    if (event.key === "ArrowUp" && document.activeElement !== box) { move(event, -1); }
    if (event.key === "Escape") {
      box.value = "";
      box.focus();
      ask(false);
    }
  });
  /* Enter ends the last word; pressed again, it leads to the first hit. */
  form.addEventListener("submit", function (event) {
    event.preventDefault();
    var first = list.querySelector(".what a");
    if (finished && first && form.getAttribute("aria-busy") === "false") { first.focus(); } else { ask(true); }
    remember();
  });
  box.addEventListener("focus", tables.fetchAhead, { once: true });
  box.addEventListener("input", function () { ask(false); });
  box.addEventListener("change", remember);
  form.addEventListener("change", function (event) {
    if (event.target.tagName === "SELECT") { ask(true); }
  });
  if (clear) {
    clear.addEventListener("click", function () {
      filters.choose([]);
      ask(true);
      box.focus();
    });
  }
  window.addEventListener("pagehide", remember);
  window.addEventListener("hashchange", fromAddress);

  if (narrow) {
    narrow.open = window.matchMedia("(min-width: 46rem)").matches || /[#&](?!q=)\w+=./.test(location.hash);
  }
  form.hidden = false;
  if (document.activeElement === box) { tables.fetchAhead(); }
  form.setAttribute("aria-busy", "false");
  if (box.value) { ask(false); } else if (location.hash.length > 1) { fromAddress(); }
})();
