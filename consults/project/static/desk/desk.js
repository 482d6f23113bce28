// Small manners of the site. Nothing here is needed to do the job; it only makes it quicker.
(function () {
  "use strict";
  // One press is enough: a form that is on its way cannot be sent again.
  document.addEventListener("submit", function (event) {
    var form = event.target;
    if (form.dataset.sent) { event.preventDefault(); return; }
    if (form.hasAttribute("hx-post")) { return; }
    form.dataset.sent = "yes";
    window.setTimeout(function () { delete form.dataset.sent; }, 4000);
  });
  // The cause ticked beforehand is a guess that follows the ranking, until somebody ticks for themselves.
  document.addEventListener("change", function (event) {
    var form = event.target.name === "causes" && event.target.closest("form[data-guess]");
    if (form) { form.removeAttribute("data-guess"); }
  });
  document.addEventListener("htmx:configRequest", function (event) {
    if (document.querySelector("form[data-guess]")) { delete event.detail.parameters.causes; }
  });
  // A drawer on a phone is a margin on a wide screen: there it stands open.
  var wide = window.matchMedia("(min-width: 901px)");
  function settle() {
    document.querySelectorAll("details[data-open-when-wide]").forEach(function (part) { part.open = wide.matches; });
  }
  wide.addEventListener("change", settle);
  document.addEventListener("DOMContentLoaded", settle);
  // Following a link to a finding opens the part of the plant it stands in, and closes the drawer over it.
  function reveal() {
    var target = window.location.hash && document.getElementById(window.location.hash.slice(1));
    if (!target || target.id === "content") { return; }
    if (!wide.matches) { settle(); }
    for (var part = target.closest("details"); part; part = part.parentElement.closest("details")) { part.open = true; }
    target.scrollIntoView({ block: "center" });
    var first = target.querySelector("input");
    if (first) { first.focus({ preventScroll: true }); }
  }
  // What needs mending is brought into sight.
  document.addEventListener("DOMContentLoaded", function () {
    var wrong = document.querySelector(".is-invalid");
    if (!wrong) { return; }
    for (var part = wrong.closest("details"); part; part = part.parentElement.closest("details")) { part.open = true; }
    wrong.scrollIntoView({ block: "center" });
    wrong.focus({ preventScroll: true });
  });
  // A long checklist is searched by typing.
  document.addEventListener("input", function (event) {
    if (!event.target.matches("[data-filters]")) { return; }
    var wanted = event.target.value.trim().toLowerCase();
    document.querySelectorAll(event.target.dataset.filters).forEach(function (row) {
      row.hidden = wanted !== "" && row.textContent.toLowerCase().indexOf(wanted) < 0;
      if (wanted !== "" && !row.hidden) {
        for (var part = row.closest("details.part, details.more"); part; part = part.parentElement.closest("details.part, details.more")) { part.open = true; }
      }
    });
  });
  window.addEventListener("hashchange", reveal);
  document.addEventListener("DOMContentLoaded", reveal);
  // Pressing the browser's back button must not leave a form locked.
  window.addEventListener("pageshow", function () {
    document.querySelectorAll("form[data-sent]").forEach(function (form) { delete form.dataset.sent; });
  });
})();
