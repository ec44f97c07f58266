/* The form of the started note: shown, copied, saved. */
(function () {
  "use strict";

  function by(id) { return document.getElementById(id); }

  /* `cardOf` gives what is ticked as keys, as `startedNote` takes it. Returns what shows it anew. */
  window.benchNote = function (cardOf) {
    function note() {
      return window.startedNote(Object.assign({
        number: by("note-case").value.trim(), complaint: by("note-complaint").value.trim()
      }, cardOf()), new Date());
    }

    function show() {
      if (by("note-form").hidden) { return; }
      by("note-text").value = note();
      by("note-text").rows = note().split("\n").length;
      by("note-told").textContent = "";
    }

    by("note-case").addEventListener("input", show);
    by("note-complaint").addEventListener("input", show);

    by("copy-note").addEventListener("click", function () {
      function told() { by("note-told").textContent = "Copied."; }
      function byHand() {
        by("note-text").select();
        by("note-told").textContent = document.execCommand("copy") ? "Copied." : "Marked: copy it by hand.";
      }
      if (navigator.clipboard) { navigator.clipboard.writeText(note()).then(told, byHand); } else { byHand(); }
    });

    by("save-note").addEventListener("click", function () {
      var link = document.createElement("a"), number = by("note-case").value.trim();
      link.href = URL.createObjectURL(new Blob([note()], { type: "text/markdown" }));
      link.download = (/^[\w.-]+$/.test(number) ? number : "new-case") + ".md";
      link.click();
      setTimeout(function () { URL.revokeObjectURL(link.href); }, 1000);
      by("note-told").textContent = "Saved as " + link.download + ".";
    });
    return show;
  };
})();
