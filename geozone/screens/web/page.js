// Puts the page together: words of the head, first view, phone sheet.
(function (gz) {
  "use strict";

  const corners = ([south, west, north, east]) => [[south, west], [north, east]];
  gz.firstView = page => corners(page.first);
  gz.showAll = (map, page) => map.fitBounds(gz.firstView(page), { padding: [28, 28], maxZoom: 15, animate: false });

  // Before any layer: the first view, and how far out one may go (further out the land around the map would end).
  gz.open = function (map, page) {
    // The words of the head and the foot take room from the map: they come first.
    document.getElementById("title").textContent = page.title;
    document.getElementById("where").textContent = page.where;
    page.trial = gz.trial(page, act => setTimeout(act, 0));
    gz.setViews(page);
    gz.headline(page);
    ribbon(page);
    gz.foot(page);
    map.invalidateSize({ animate: false, pan: false });
    new ResizeObserver(function () {
      if (gz.printing) return;
      map.invalidateSize({ animate: false });
      // A frame later, when the panel has found its place in the new size.
      requestAnimationFrame(() => { if (gz.stay) gz.stay(); });
    }).observe(map.getContainer());
    zoomToChosen(map, page);
    gz.showAll(map, page);
    map.options.fitZoom = map.getZoom();
    map.options.fitCentre = map.getCenter();
    map.setMinZoom(Math.max(2, Math.floor(Math.min(map.getZoom(), map.getBoundsZoom(corners(page.bounds))) - 1.5)));

    const All = L.Control.extend({
      options: { position: "topleft" },
      onAdd() {
        const box = gz.el("div", "leaflet-bar");
        const button = gz.el("button", "all-sites", "All");
        button.type = "button";
        button.title = "Show all sites";
        button.setAttribute("aria-label", "Show all sites");
        button.addEventListener("click", () => gz.showAll(map, page));
        L.DomEvent.disableClickPropagation(box);
        box.append(button);
        return box;
      },
    });
    new All().addTo(map);
  };

  // Buttons and keys zoom on the chosen site where it is in sight, so that it stays in sight.
  function zoomToChosen(map, page) {
    map.setZoom = function (zoom, options) {
      const row = gz.chosenSite ? gz.chosenSite() : null, at = row === null ? null : page.siteLayer.latLng(row);
      if (!at || !map._loaded || !map.getBounds().contains(at)) return L.Map.prototype.setZoom.call(map, zoom, options);
      return map.setZoomAround(at, map._limitZoom(zoom), options);
    };
  }

  // The fall of dusk from the sun on the horizon to full night, with a mark from where light is needed.
  function ribbon(page) {
    const box = document.getElementById("ribbon"), { altitude_deg: altitude, text } = page.threshold;
    const at = deg => (Math.max(0, Math.min(1, (3 - deg) / 21)) * 100).toFixed(2) + "%";
    box.setAttribute("aria-label", "Dark threshold: " + text);
    const band = gz.el("div", "band"), mark = gz.el("div", "mark"), words = gz.el("p", "theirs", text);
    mark.style.left = at(altitude);
    band.append(mark);
    const ticks = gz.el("div", "ticks");
    for (const [deg, name] of [[0, "horizon"], [-6, "−6°"], [-12, "−12°"], [-18, "−18°"]]) {
      const tick = gz.el("span", "", name);
      tick.style.left = at(deg);
      ticks.append(tick);
    }
    words.prepend(gz.el("b", "", "Light needed from: "));
    box.append(words, band, ticks);
  }

  function side(map, page) {
    const root = document.documentElement, button = document.getElementById("side-button");
    const wide = window.matchMedia("(min-width: 420px)");
    const set = function (open) {
      root.classList.toggle("side-open", open);
      button.textContent = open ? "Back to the map" : page.groups || page.zoning ? "What to key in" : wide.matches ? "Legend and search" : "Legend";
      button.setAttribute("aria-expanded", String(open));
    };
    button.addEventListener("click", function () {
      const open = !root.classList.contains("side-open");
      if (open) gz.clear();
      set(open);
      if (open) document.getElementById("find-field").focus({ preventScroll: true });
    });
    document.addEventListener("keydown", function (event) {
      if (event.key === "Escape" && root.classList.contains("side-open")) {
        set(false);
        button.focus();
      }
    });
    gz.closeSide = () => set(false);
    set(false);
    map.on("click", gz.closeSide);
  }

  // Signs and grid are drawn anew where light and dark change.
  function scheme(page) {
    gz.onScheme(function () {
      for (const sign of document.querySelectorAll("canvas.sign")) sign.repaint();
      for (const look of Object.values(page.siteLayer.looks)) look.size = "";
      page.siteLayer.redraw();
      gz.gridLayer.redraw();
    }, false);
  }

  gz.parts = function (map, page) {
    gz.panel(map, page);
    gz.placePart(map, page);
    side(map, page);
    gz.legend(map, page);
    gz.cabinets(map, page);
    gz.find(map, page);
    gz.walk(map, page);
    gz.labels(map, page);
    scheme(page);
    gz.paper(map, page);
    gz.link(map, page);
    // In a window enlarged so far that the page scrolls, the map comes into it with the site.
    map.on("gz-chosen", ({ row }) => { if (row !== null) document.querySelector(".body").scrollIntoView({ block: "nearest" }); });
    document.documentElement.dataset.drawnMs = performance.now().toFixed(0);
  };
})(geozone);
