/* A search box on a page that is there for something else: the search itself is fetched when
   somebody turns to the box, or the address holds a question. */
(function () {
  "use strict";

  var form = document.querySelector("form.ask[data-root]");
  if (!form) { return; }
  var root = form.dataset.root, scripts = form.dataset.scripts.split(" "), box = form.querySelector("input");
  var asked = false;

  function fetch() {
    if (asked) { return; }
    asked = true;
    scripts.forEach(function (file) {
      var script = document.createElement("script");
      script.src = root + file;
      script.async = false;
      document.head.append(script);
    });
  }

  box.addEventListener("focus", fetch);
  box.addEventListener("input", function () {
    form.setAttribute("aria-busy", "true");
    fetch();
  });
  form.addEventListener("submit", function (event) { event.preventDefault(); });
  form.hidden = false;
  if (location.hash.slice(0, 3) === "#q=" || document.activeElement === box) { fetch(); }
})();
