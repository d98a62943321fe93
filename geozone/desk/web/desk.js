// What makes the desk smoother: progress without loading the page again, files dropped on it, a question before typed words are lost.
// Without this script everything can be done as well.

(function () {
  "use strict";

  /** Progress of a run: asked for only while the page is seen, so that other tabs are not kept waiting. */
  function follow(part) {
    let mark = part.dataset.mark, asking = null;
    const now = part.querySelector("[data-now]"), time = part.querySelector("[data-time]"), list = part.querySelector("[data-said]");
    const began = Date.now() - 1000 * (parseInt(time.textContent, 10) || 0);
    setInterval(() => { time.textContent = Math.round((Date.now() - began) / 1000) + " s"; }, 1000);
    async function ask() {
      if (document.hidden || asking) return;
      asking = new AbortController();
      try {
        const answer = await fetch(part.dataset.run + "?seen=" + encodeURIComponent(mark), { signal: asking.signal });
        const found = await answer.json();
        if (found.state !== "running") { location.reload(); return; }
        mark = found.mark;
        if (found.said.length) {
          const last = found.said[found.said.length - 1];
          now.textContent = last.charAt(0).toUpperCase() + last.slice(1) + " …";
        }
        for (const text of found.said.slice(list.children.length)) list.appendChild(Object.assign(document.createElement("li"), { textContent: text }));
        setTimeout(ask, 50);
      } catch (why) {
        if (why.name !== "AbortError") {
          now.textContent = "The desk does not answer. If it was closed, nothing is half-written.";
          setTimeout(ask, 2000);
        }
      } finally { asking = null; }
    }
    document.addEventListener("visibilitychange", () => { if (document.hidden) { if (asking) asking.abort(); } else ask(); });
    ask();
  }

  /** A list dropped anywhere on the page of files is taken for the site list, one dropped on a field for what the field says. */
  function drops(form) {
    const use = event => { const field = event.target.closest && event.target.closest("input[type=file]"); return field || form.querySelector("input[name=sites]"); };
    const files = event => event.dataTransfer && Array.from(event.dataTransfer.types).includes("Files");
    document.addEventListener("dragover", event => { if (files(event)) { event.preventDefault(); form.classList.add("over"); } });
    document.addEventListener("dragleave", () => form.classList.remove("over"));
    document.addEventListener("drop", event => {
      if (!files(event)) return;
      event.preventDefault();
      form.classList.remove("over");
      use(event).files = event.dataTransfer.files;
      send();
    });
    const send = () => { if (small()) form.requestSubmit(); };
    const small = () => {
      const size = Array.from(form.querySelectorAll("input[type=file]")).flatMap(one => Array.from(one.files)).reduce((sum, one) => sum + one.size, 0);
      const told = form.querySelector("[data-told]") || form.appendChild(Object.assign(document.createElement("p"), { className: "fault" }));
      told.dataset.told = "";
      told.setAttribute("role", "alert");
      told.hidden = size <= 100e6;
      told.textContent = told.hidden ? "" : "These files have " + Math.round(size / 1e6) + " MB; the desk takes at most 100 MB. Export only what is needed.";
      return told.hidden;
    };
    form.addEventListener("submit", event => { if (!small()) event.preventDefault(); });
  }

  /** Typed words are not lost by leaving the page. */
  function keeps(form) {
    let typed = false;
    form.addEventListener("input", () => { typed = true; });
    form.addEventListener("submit", () => { typed = false; });
    addEventListener("beforeunload", event => { if (typed) event.preventDefault(); });
  }

  for (const part of document.querySelectorAll('[data-run][data-state="running"]')) follow(part);
  for (const form of document.querySelectorAll("[data-drop]")) drops(form);
  for (const form of document.querySelectorAll("[data-form]")) keeps(form);
})();
