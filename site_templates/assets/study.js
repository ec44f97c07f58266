/* The study page: which case. What a case is told with is loaded once one is opened. */
(function () {
  "use strict";

  var data = window.studyData;
  if (!data || !window.studyList || !document.getElementById("chooser")) { return; }

  var score = window.studyScore, memory = score.memory(data.book);

  function by(id) { return document.getElementById(id); }

  /* ---- the cases, and which one the address names */

  var entries = data.cases.map(function (row, place) {
    var name = row[0] + (row[1] > 1 ? "/" + row[1] : "");
    return {
      place: place, name: name, number: row[0], fault: row[1], family: row[2], familyName: data.families[row[2]],
      complaint: row[3], received: row[4], themes: row[5], known: row[6], address: "study.html?case=" + name
    };
  });
  var list = window.studyList(entries, memory);

  function asked() {
    var found = new URLSearchParams(location.search).get("case");
    return found === null ? undefined : entries.find(function (entry) {
      return entry.name === found.replace(/\/1$/, "");
    }) || null;
  }

  /* ---- one case */

  function pathsOf(entry) {
    var paths = ["data/study/told/" + Math.floor(entry.place / data.toldPart) + ".js"];
    for (var part = 0; part * data.pastPart < entry.known; part += 1) { paths.push("data/study/past/" + part + ".js"); }
    return paths;
  }

  function open(entry) {
    by("choose").hidden = true;
    by("desk").hidden = false;
    document.title = "Case " + entry.name + " · " + document.title;
    by("said").textContent = "Opening the case.";
    window.pageParts.load(by("desk").dataset.scripts.split(" ").concat(pathsOf(entry)), function () {
      by("said").textContent = "";
      window.studyDesk(entry, { data: data, memory: memory, following: list.following })(false);
    }, function () {
      by("desk").replaceChildren();
      window.pageParts.add(by("desk"), "p", "remark", "A file of this site is missing beside the page: the case cannot be told.");
    });
  }

  /* ---- set up */

  var entry = asked();
  by("not-kept").hidden = memory.works();
  if (entry) { open(entry); } else {
    by("chooser").hidden = false;
    list.show();
    if (entry === null) { by("said").textContent = "That case is not among those to study."; }
  }
})();
