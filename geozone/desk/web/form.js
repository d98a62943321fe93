// Pictures beside the form follow what is typed, and a click on the map fills latitude and longitude. Nothing is saved by it.
// Without this script the pictures show what is saved, and a click saves the form with the position.

(function () {
  "use strict";
  const form = document.querySelector("form[data-years]");
  if (!form) return;
  const field = name => form.elements.namedItem(name);
  const json = { headers: { Accept: "application/json" } };

  /** Asks a while after the last letter; of several answers the last question's counts. */
  function calm(ask, wait) {
    let timer = 0, latest = 0;
    return () => {
      clearTimeout(timer);
      timer = setTimeout(async () => {
        const mine = ++latest;
        try { await ask(() => mine === latest); } catch (why) { /* the picture stays as it was */ }
      }, wait);
    };
  }

  const dark = form.querySelector("[data-dark]");
  const KINDS = ["altitude_deg", "twilight", "illuminance_lx"];
  const redraw = calm(async isLatest => {
    const kind = KINDS.find(one => field("dark." + one) && field("dark." + one).value.trim()) || KINDS[0];
    const answer = await fetch(dark.dataset.dark + "?" + new URLSearchParams({ kind: kind, value: field("dark." + kind).value }), json);
    const found = await answer.json();
    if (!isLatest()) return;
    dark.querySelector("img").src = found.src;
    dark.querySelector("[data-words]").textContent = found.words;
  }, 150);

  const figures = Array.from(form.querySelectorAll("[data-year]"));
  const years = calm(async isLatest => {
    const typed = Array.from(new FormData(form), ([name, one]) => [name, String(one)]);
    const answer = await fetch(form.dataset.years, { method: "POST", ...json, body: new URLSearchParams(typed) });
    const found = await answer.json();
    if (!isLatest()) return;
    for (const figure of figures) {
      const one = found.years[Number(figure.dataset.year)];
      if (one) figure.querySelector("img").src = one.src;
      figure.querySelector("[data-words]").textContent = one ? one.words : found.error;
    }
  }, 400);

  const OF_THE_YEAR = /^(programme|holidays|shared|dark|job\.year$)/;
  form.addEventListener("input", event => {
    const name = event.target.name || "";
    if (dark && name.startsWith("dark.")) redraw();
    if (figures.length && OF_THE_YEAR.test(name)) years();
  });

  const spot = form.querySelector("[data-spot]");
  if (spot) spot.addEventListener("click", event => {
    event.preventDefault();
    const words = spot.closest("figure").querySelector("[data-words]");
    if (!event.detail) { words.textContent = "A position is taken by a click of the mouse or a touch; by the keyboard it is typed above."; return; }
    const to = spot.getBoundingClientRect(), said = spot.dataset;
    const x = (event.clientX - to.left) * Number(spot.getAttribute("width")) / to.width, y = (event.clientY - to.top) * Number(spot.getAttribute("height")) / to.height;
    const step = Number(String(field("keypad.coordinate_step_deg").value).replace(",", ".")) || 0.1;
    const digits = Math.min(6, Math.max(0, Math.ceil(-Math.log10(step) - 1e-9)) + (step.toString().includes("5") ? 1 : 0));
    const on = value => String(Number((Math.round(value / step) * step).toFixed(digits)));
    const lon = Number(said.west) + (x - 14) / Number(said.scale) / Number(said.across);
    field("shared.lat_deg").value = on(Math.min(90, Math.max(-90, Number(said.north) - (y - 14) / Number(said.scale))));
    field("shared.lon_deg").value = on((lon + 540) % 360 - 180);
    if (!field("shared.legal_zone").value.trim() && said.zone) field("shared.legal_zone").value = said.zone;
    words.textContent = "Latitude " + field("shared.lat_deg").value + ", longitude " + field("shared.lon_deg").value + ": in the fields, not saved yet.";
    field("shared.lat_deg").dispatchEvent(new Event("input", { bubbles: true }));
  });
})();
