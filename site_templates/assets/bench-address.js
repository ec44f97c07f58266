/* The sheet of the bench page as an address that can be kept or sent. Work with power on is never
   in it: that is chosen anew each time. */
(function () {
  "use strict";

  var KEY = 0, LISTED = 10;

  window.benchAddress = function (tables) {
    function placesOf(kind) {
      var places = new Map();
      tables[kind].forEach(function (term, place) { places.set(term[KEY], place); });
      return places;
    }

    var families = placesOf("families"), symptoms = placesOf("symptoms"), checks = placesOf("checks");

    function outcomeKey(pair) {
      return pair[1] < 0 ? tables.notShowing[KEY] : tables.checks[pair[0]][7][pair[1]][KEY];
    }

    function keysOf(list) { return list.map(function (place) { return tables.symptoms[place][KEY]; }); }

    function write(card) {
      var words = [];
      function put(name, keys) {
        if (keys.length) { words.push(name + "=" + keys.map(encodeURIComponent).join(",")); }
      }
      put("unit", card.family < 0 ? [] : [tables.families[card.family][KEY]]);
      put("there", keysOf(card.there));
      put("seen", keysOf(card.seen));
      put("not", keysOf(card.absent));
      if (card.made.length) {
        words.push("made=" + card.made.map(function (pair) {
          return encodeURIComponent(tables.checks[pair[0]][KEY]) + ":" + encodeURIComponent(outcomeKey(pair));
        }).join(","));
      }
      if (card.access === 1) { words.push("access=" + tables.accessKeys[1]); }
      return words.join("&");
    }

    /* The sheet that an address stands for; what this book does not know of it is left out. */
    function read(text) {
      var told = { family: -1, access: 0, there: [], seen: [], absent: [], made: [] }, taken = new Set();
      function decoded(word) {
        try { return decodeURIComponent(word); } catch (error) { return ""; }
      }
      function symptomsIn(words) {
        return words.map(function (word) { return symptoms.get(decoded(word)); }).filter(function (place) {
          var isNew = place !== undefined && !taken.has(place);
          taken.add(place);
          return isNew;
        });
      }
      text.split("&").forEach(function (part) {
        var equals = part.indexOf("="), name = part.slice(0, equals), words = part.slice(equals + 1).split(",");
        if (name === "unit") {
          var family = families.get(decoded(words[0]));
          told.family = family !== undefined && tables.families[family][LISTED] ? family : -1;
        }
        if (name === "access" && words[0] === tables.accessKeys[1]) { told.access = 1; }
        if (name === "there" || name === "seen") { told[name] = symptomsIn(words); }
        if (name === "not") { told.absent = symptomsIn(words); }
        if (name === "made") {
          told.made = words.map(function (word) {
            var pair = word.split(":"), check = checks.get(decoded(pair[0])), key = decoded(pair[1] || "");
            var outcome = check === undefined ? -1 : tables.checks[check][7].findIndex(function (o) {
              return o[KEY] === key;
            });
            return outcome < 0 && key !== tables.notShowing[KEY] ? null : [check, outcome];
          }).filter(function (pair) { return pair && pair[0] !== undefined; });
        }
      });
      return told;
    }

    return { write: write, read: read, outcomeKey: outcomeKey };
  };
})();
