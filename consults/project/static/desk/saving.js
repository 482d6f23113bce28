// What somebody typed is not lost: nobody leaves a page before it is saved, and a save that fails shows.
(function () {
  "use strict";
  var pending = 0;
  var unsaved = new Set();
  var failed = new Set();
  var bar = document.getElementById("lost");
  var words = document.getElementById("lost-words");

  function say(which) {
    bar.hidden = false;
    words.textContent = bar.dataset[which] || which;
    document.getElementById("lost-again").hidden = failed.size === 0;
  }
  function hush() { if (bar) { bar.hidden = true; } }
  function saver(element) { return element.closest ? element.closest("form[hx-post], fieldset[hx-post]") : null; }
  function alive(set) { set.forEach(function (part) { if (!part.isConnected) { set.delete(part); } }); return set; }

  ["input", "change"].forEach(function (kind) {
    document.addEventListener(kind, function (event) {
      var part = saver(event.target);
      if (part) { unsaved.add(part); }
    });
  });
  // A new sign-in in another tab changes the token; the cookie always has the present one.
  document.addEventListener("htmx:configRequest", function (event) {
    var token = /(?:^|; )csrftoken=([^;]+)/.exec(document.cookie);
    if (token) { event.detail.headers["X-CSRFToken"] = token[1]; }
  });
  // Only what saves is waited for; a page that fetches a fragment may be left.
  function saves(event) { return event.detail.requestConfig.verb !== "get"; }
  document.addEventListener("htmx:beforeRequest", function (event) { if (saves(event)) { pending += 1; } });
  document.addEventListener("htmx:afterRequest", function (event) {
    if (saves(event)) { pending = Math.max(0, pending - 1); }
    var part = event.detail.elt;
    var status = event.detail.xhr ? event.detail.xhr.status : 0;
    if (event.detail.successful) {
      unsaved.delete(part);
      failed.delete(part);
      if (!alive(failed).size) { hush(); }
    } else if (status !== 422 && status !== 409 && part.hasAttribute("hx-post")) {
      failed.add(part);
      say(status === 401 ? "signedOut" : status ? "refused" : "offline");
    }
  });
  // Signed out meanwhile: stay here, so that what was typed can still be sent.
  document.addEventListener("htmx:beforeOnLoad", function (event) {
    if (event.detail.xhr.status === 401 && event.detail.elt.hasAttribute("hx-post")) { event.preventDefault(); }
  });
  // A refusal that carries its reason as a fragment is shown like any other answer.
  document.addEventListener("htmx:beforeSwap", function (event) {
    var status = event.detail.xhr.status;
    if (status === 422 || status === 409) { event.detail.shouldSwap = true; event.detail.isError = false; }
  });
  function again() { alive(failed).forEach(function (part) { window.htmx.trigger(part, "change"); }); }
  window.addEventListener("online", again);
  document.addEventListener("click", function (event) {
    if (event.target.id === "lost-again") { again(); }
  });

  function kept(except) {
    return Array.prototype.find.call(document.querySelectorAll("form[data-keep]"), function (form) {
      return form !== except && Array.prototype.some.call(form.querySelectorAll("textarea"), function (field) {
        return field.value.trim() !== "";
      });
    });
  }
  // Runs `go` once everything on its way has arrived; not at all when something could not be saved.
  function whenSaved(go) {
    if (document.activeElement) { document.activeElement.blur(); }
    var waited = 0;
    (function look() {
      if (pending > 0 && waited < 200) { waited += 1; window.setTimeout(look, 50); return; }
      if (alive(failed).size) { say("refused"); return; }
      if (alive(unsaved).size) { say("mistake"); return; }
      go();
    })();
  }
  document.addEventListener("submit", function (event) {
    var form = event.target;
    if (form.hasAttribute("hx-post") || form.method === "get") { return; }
    var open = kept(form);
    if (open) {
      event.preventDefault();
      event.stopImmediatePropagation();
      say(open.dataset.keep);
      open.querySelector("textarea").focus();
      return;
    }
    if (!pending && !alive(unsaved).size) { return; }
    event.preventDefault();
    event.stopImmediatePropagation();
    var button = event.submitter;
    whenSaved(function () { form.requestSubmit(button || undefined); });
  }, true);
  document.addEventListener("click", function (event) {
    var link = event.target.closest ? event.target.closest("a[href]") : null;
    if (!link || link.target || event.defaultPrevented || event.button || event.ctrlKey || event.metaKey) { return; }
    if (link.origin !== window.location.origin || link.getAttribute("href").charAt(0) === "#") { return; }
    if (!pending && !alive(unsaved).size) { return; }
    event.preventDefault();
    whenSaved(function () { window.location.assign(link.href); });
  });
  window.addEventListener("beforeunload", function (event) {
    if (pending || alive(unsaved).size || kept(null)) { event.preventDefault(); }
  });
  window.addEventListener("submit", function () { unsaved.clear(); });
})();
