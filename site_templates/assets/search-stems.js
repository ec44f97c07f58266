/* The stem of an English word by Porter's second algorithm (Snowball "english"), step by step as
   the program takes it. The word is folded and has letters a to z and apostrophes only. */
(function () {
  "use strict";

  var WHOLE = {
    skis: "ski", skies: "sky", dying: "die", lying: "lie", tying: "tie", idly: "idl", gently: "gentl",
    ugly: "ugli", early: "earli", only: "onli", singly: "singl", sky: "sky", news: "news", howe: "howe",
    atlas: "atlas", cosmos: "cosmos", bias: "bias", andes: "andes"
  };
  var LEFT = ["inning", "outing", "canning", "herring", "earring", "proceed", "exceed", "succeed"];
  var SECOND = [
    ["ization", "ize"], ["ational", "ate"], ["fulness", "ful"], ["ousness", "ous"], ["iveness", "ive"],
    ["tional", "tion"], ["biliti", "ble"], ["lessli", "less"], ["entli", "ent"], ["ation", "ate"],
    ["alism", "al"], ["aliti", "al"], ["ousli", "ous"], ["iviti", "ive"], ["fulli", "ful"],
    ["enci", "ence"], ["anci", "ance"], ["abli", "able"], ["izer", "ize"], ["ator", "ate"],
    ["alli", "al"], ["bli", "ble"], ["ogi", "og", "l"], ["li", "", "cdeghkmnrt"]
  ];
  var THIRD = [
    ["ational", "ate"], ["tional", "tion"], ["alize", "al"], ["icate", "ic"], ["iciti", "ic"],
    ["ative", "", true], ["ical", "ic"], ["ness", ""], ["ful", ""]
  ];
  var FOURTH = ["al", "ance", "ence", "er", "ic", "able", "ible", "ant", "ement", "ment", "ent", "ism",
    "ate", "iti", "ous", "ive", "ize"];

  function ends(word, end) { return word.slice(-end.length) === end; }
  function less(word, count) { return word.slice(0, word.length - count); }

  /* Where the part begins that follows the first vowel and consonant from a place on. */
  function behind(word, from) {
    var found = /^[^aeiouy]*[aeiouy]+[^aeiouy]/.exec(word.slice(from));
    return found ? from + found[0].length : word.length;
  }

  function firstRegion(word) {
    if (/^(?:gener|arsen)/.test(word)) { return 5; }
    return /^commun/.test(word) ? 6 : behind(word, 0);
  }

  function endsShort(word) {
    return /^[aeiouy][^aeiouy]$/.test(word) || /[^aeiouy][aeiouy][^aeiouywxY]$/.test(word);
  }

  function plural(word) {
    if (ends(word, "sses")) { return less(word, 2); }
    if (/ie[ds]$/.test(word)) { return less(word, word.length > 4 ? 2 : 1); }
    if (/[us]s$/.test(word)) { return word; }
    return ends(word, "s") && /[aeiouy]./.test(less(word, 1)) ? less(word, 1) : word;
  }

  function pastOrGerund(word, r1) {
    var end = /(?:eedly|eed)$/.exec(word);
    if (end) { return word.length - end[0].length >= r1 ? less(word, end[0].length - 2) : word; }
    end = /(?:ingly|edly|ing|ed)$/.exec(word);
    if (!end || !/[aeiouy]/.test(less(word, end[0].length))) { return word; }
    word = less(word, end[0].length);
    if (/(?:at|bl|iz)$/.test(word)) { return word + "e"; }
    if (/(?:bb|dd|ff|gg|mm|nn|pp|rr|tt)$/.test(word)) { return less(word, 1); }
    return endsShort(word) && firstRegion(word) === word.length ? word + "e" : word;
  }

  function finalY(word) {
    return word.length > 2 && /[^aeiouy][yY]$/.test(word) ? less(word, 1) + "i" : word;
  }

  /* The first ending of a list that a word has decides. */
  function ended(word, list) {
    return list.find(function (each) { return ends(word, each[0]); });
  }

  function second(word, r1) {
    var end = ended(word, SECOND);
    if (!end || word.length - end[0].length < r1) { return word; }
    var rest = less(word, end[0].length);
    return end[2] && end[2].indexOf(rest.slice(-1) || " ") < 0 ? word : rest + end[1] || word;
  }

  function third(word, r1, r2) {
    var end = ended(word, THIRD);
    if (!end) { return word; }
    var at = word.length - end[0].length;
    return at >= r1 && (!end[2] || at >= r2) ? word.slice(0, at) + end[1] || word : word;
  }

  function fourth(word, r2) {
    var end = FOURTH.find(function (each) { return ends(word, each); });
    if (end) { return word.length - end.length >= r2 ? less(word, end.length) : word; }
    return /[st]ion$/.test(word) && word.length - 3 >= r2 ? less(word, 3) : word;
  }

  function last(word, r1, r2) {
    var at = word.length - 1;
    if (ends(word, "l")) { return at >= r2 && word[at - 1] === "l" ? less(word, 1) : word; }
    if (!ends(word, "e")) { return word; }
    return at >= r2 || (at >= r1 && !endsShort(less(word, 1))) ? less(word, 1) : word;
  }

  window.searchStem = function (word) {
    if (word.length <= 2) { return word; }
    word = word.replace(/^'/, "");
    if (Object.prototype.hasOwnProperty.call(WHOLE, word)) { return WHOLE[word]; }
    word = word.replace(/^y/, "Y").replace(/([aeiouy])y/g, "$1Y");
    var r1 = firstRegion(word), r2 = behind(word, r1);
    word = plural(word.replace(/(?:'s'|'s|')$/, ""));
    if (LEFT.indexOf(word) >= 0) { return word; }
    word = second(finalY(pastOrGerund(word, r1)), r1);
    return last(fourth(third(word, r1, r2), r2), r1, r2).replace(/Y/g, "y");
  };
})();
