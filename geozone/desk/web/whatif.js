// "What if" on the page of answers: asked as fields change, or as the map in its sealed frame says; answers are put in their place as they come.
// Without this script the button asks, and the page loads itself again until all is known.

(function () {
  "use strict";
  const form = document.querySelector("form[data-whatif]");
  if (!form) return;
  const told = document.querySelector("[data-tried]");
  let mark = form.dataset.mark, asking = null, later = 0;

  function put(found) {
    mark = found.mark;
    if (found.html !== told.innerHTML) told.innerHTML = found.html;
    return found.done;
  }

  async function answered(address, how) {
    if (asking) asking.abort();
    const mine = asking = new AbortController();
    try {
      const answer = await fetch(address, { ...how, signal: mine.signal });
      if (!answer.ok) throw new Error(String(answer.status));
      const done = put(await answer.json());
      if (asking === mine) asking = null;
      if (!done) setTimeout(follow, 20);
    } catch (why) {
      if (why.name === "AbortError") return;
      asking = null;
      told.textContent = "The desk does not answer. Nothing was changed.";
    }
  }

  /** News of the question that was asked last; only a page that is seen asks, so that other tabs are not kept waiting. */
  function follow() {
    if (!document.hidden && !asking) answered(form.dataset.whatif + "?seen=" + encodeURIComponent(mark), {});
  }

  const typed = () => Array.from(new FormData(form), ([name, one]) => [name, String(one)]);

  function ask() {
    clearTimeout(later);
    later = setTimeout(() => {
      told.setAttribute("aria-busy", "true");
      answered(form.action, { method: "POST", headers: { Accept: "application/json" }, body: new URLSearchParams(typed()) })
        .finally(() => told.removeAttribute("aria-busy"));
    }, 150);
  }

  // Another kind of threshold needs a value of its kind: the job's own, or a usual one to begin with.
  const USUAL = { altitude_deg: "-4", twilight: "civil", illuminance_lx: "20" };
  const kind = form.elements.namedItem("dark.kind"), value = form.elements.namedItem("dark.value");
  form.addEventListener("change", event => {
    if (event.target === kind) value.value = kind.value === kind.dataset.own ? value.dataset.own : USUAL[kind.value];
    ask();
  });
  form.addEventListener("submit", event => {
    if (event.submitter && event.submitter.hasAttribute("formaction")) return;
    event.preventDefault();
    ask();
  });
  document.addEventListener("visibilitychange", () => { if (!document.hidden && form.dataset.waiting !== undefined) follow(); });
  if (form.dataset.waiting !== undefined) follow();

  // What the map may say, and between which numbers; anything else from it, and everything from anybody else, is not heard.
  const MAY = {
    lat_deg: [-90, 90, "shared.lat_deg"], lon_deg: [-180, 180, "shared.lon_deg"], dusk_offset_min: [-720, 720, "shared.dusk_offset_min"],
    dawn_offset_min: [-720, 720, "shared.dawn_offset_min"], dark_min: [0, 120, "tolerance.dark_min"], excess_min: [0, 120, "tolerance.excess_min"],
  };
  const frame = document.querySelector("iframe.map");
  addEventListener("message", event => {
    if (!frame || event.source !== frame.contentWindow) return;
    const said = event.data;
    if (!said || typeof said !== "object" || said.geozone !== "tried") return;
    const names = Object.keys(MAY);
    if (!names.every(name => Number.isFinite(said[name]) && said[name] >= MAY[name][0] && said[name] <= MAY[name][1])) return;
    if (!said.dark_min || !said.excess_min) return;
    let changed = false;
    for (const name of names) {
      const field = form.elements.namedItem(MAY[name][2]);
      if (!field) continue;
      const text = String(Math.round(said[name] * 1e5) / 1e5);
      if (Number(field.value) !== Number(text)) { field.value = text; changed = true; }
    }
    if (changed) ask();
  });
})();
