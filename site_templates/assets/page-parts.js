/* What the working pages are built with: elements, shares in words, and files that are loaded when
   they are needed. Text of the book reaches the page as text nodes only. */
(function () {
  "use strict";

  var THIN = "\u202f";

  function add(parent, tag, name, text) {
    var element = document.createElement(tag);
    if (name) { element.className = name; }
    if (text !== undefined) { element.textContent = text; }
    parent.append(element);
    return element;
  }

  function linked(parent, text, page) {
    var element = add(parent, page ? "a" : "span", "", text);
    if (page) { element.href = page; }
    return element;
  }

  function button(parent, name, text, act) {
    var element = add(parent, "button", name, text);
    element.type = "button";
    element.addEventListener("click", act);
    return element;
  }

  function percent(p) {
    if (p > 0 && p < 0.005) { return "<" + THIN + "1" + THIN + "%"; }
    if (p > 0.995 && p < 1) { return ">" + THIN + "99" + THIN + "%"; }
    return Math.round(p * 100) + THIN + "%";
  }

  function counted(n, one, many) { return n + " " + (n === 1 ? one : many); }

  /* Runs scripts one after the other; a script element also works without a server. `done` is
     called once all have run, `failed` for each that could not be had. */
  function load(files, done, failed) {
    var left = files.length;
    files.forEach(function (file) {
      var script = document.createElement("script");
      script.src = file;
      script.async = false;
      script.addEventListener("load", function () {
        left -= 1;
        if (!left) { done(); }
      });
      script.addEventListener("error", failed);
      document.head.append(script);
    });
  }

  window.pageParts = { add: add, linked: linked, button: button, percent: percent, counted: counted, load: load };
})();
