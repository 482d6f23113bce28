// Small manners of the site. Nothing here is needed to do the job; it only makes it quicker.
(function () {
  "use strict";
  var lost = document.getElementById("lost");
  function show(on) { if (lost) { lost.hidden = !on; } }
  document.addEventListener("htmx:sendError", function () { show(true); });
  document.addEventListener("htmx:timeout", function () { show(true); });
  document.addEventListener("htmx:afterOnLoad", function () { show(false); });
  // A server's refusal carries its reason as a fragment: show it like any other answer.
  document.addEventListener("htmx:beforeSwap", function (event) {
    var status = event.detail.xhr.status;
    if (status === 422 || status === 409) { event.detail.shouldSwap = true; event.detail.isError = false; }
  });
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
  window.addEventListener("hashchange", reveal);
  document.addEventListener("DOMContentLoaded", reveal);
  // Pressing the browser's back button must not leave a form locked.
  window.addEventListener("pageshow", function () {
    document.querySelectorAll("form[data-sent]").forEach(function (form) { delete form.dataset.sent; });
  });
})();
