// A number that was typed and not saved is not lost by following a link to another stage.
(function () {
  "use strict";
  // What came back with mistakes in it is not saved either.
  var changed = document.querySelector("form[data-unsaved=yes]") !== null;
  document.addEventListener("input", function (event) {
    if (event.target.closest("form[data-unsaved]")) { changed = true; }
  });
  document.addEventListener("submit", function (event) {
    if (event.target.matches("form[data-unsaved]")) { changed = false; }
  });
  window.addEventListener("beforeunload", function (event) {
    if (changed) { event.preventDefault(); }
  });
})();
