// One site's figures in plain words: on hover for a glance, by tap, search or list to stay.
(function (gz) {
  "use strict";

  gz.panel = function (map, page) {
    const panel = document.getElementById("panel");
    const narrow = window.matchMedia("(max-width: 760px)");
    const ring = L.circleMarker([0, 0], { className: "gz-chosen", interactive: false, radius: 13, pane: gz.pane(map, "chosen"),
      renderer: L.svg({ pane: gz.pane(map, "chosen"), padding: 0.3 }) });
    let chosen = null, glanced = null, lost = null, said = false;

    function fact(list, name, text) {
      if (text) list.append(gz.el("dt", "", name), gz.el("dd", "theirs", text));
    }

    function closer() {
      const close = gz.el("button", "close");
      close.type = "button";
      close.setAttribute("aria-label", "Close");
      close.append(gz.el("span", "", "×"));
      close.addEventListener("click", () => { clear(); map.getContainer().focus({ preventScroll: true }); });
      return close;
    }

    function fill(row, stays) {
      const site = gz.site(page, row), words = gz.words, tolerance = page.tolerance, reading = panel.contains(document.activeElement);
      panel.replaceChildren();
      const head = gz.el("header");
      const titles = gz.el("div");
      titles.append(gz.el("h2", "theirs site-id", site.id));
      if (site.name && site.name !== site.id) titles.append(gz.el("p", "theirs site-name", site.name));
      head.append(titles);
      if (stays) head.append(closer());
      panel.append(head);
      const asked = page.groups && gz.groupPanel(page, row), second = text => panel.append(gz.el("h3", "second", text));
      if (asked && gz.view === "groups") {
        panel.append(asked);
        second("With the one shared setting");
      }
      const verdict = gz.el("p", "verdict");
      verdict.append(gz.signs.picture((ctx, x, y) => gz.signs.draw(ctx, site.verdict, false, x, y, 6.5), 28),
        gz.el("strong", "", words.verdict[site.verdict]));
      panel.append(verdict);
      if (site.verdict === "other clock") panel.append(gz.el("p", "", words.otherClock));

      const drift = gz.el("ul", "drift");
      function line(className, text, over, limit) {
        const item = gz.el("li", className + (over ? " over" : ""), text);
        if (over) item.append(gz.el("small", "", " Allowed: " + limit + "."));
        drift.append(item);
      }
      line("dark", words.dark(site, page.year), Number(site.dark) > Number(tolerance.dark), tolerance.dark);
      line("excess", words.excess(site, page.year), Number(site.excess) > Number(tolerance.excess), tolerance.excess);
      for (const text of [words.nights(site), words.year(site)]) if (text) line("", text, false);
      panel.append(drift);
      if (asked && gz.view !== "groups") {
        second("With the fewest settings");
        panel.append(asked);
      }

      const facts = gz.el("dl");
      fact(facts, "Legal zone", site.zone && site.zone + (site.zoneListed ? ", as the site list says" : ""));
      fact(facts, "Its clock", site.clock);
      fact(facts, "Zone boundary", site.boundaryKm !== null && (Number(site.boundaryKm) < 0.1 ? "under 0.1 km" : site.boundaryKm + " km away"));
      fact(facts, "Area", site.area || (page.outlines.areas.length ? "outside every area" : ""));
      fact(facts, "Load", site.load !== null && site.load.replace(/\.0$/, "") + " W");
      panel.append(facts);
      if (site.confirm) {
        const confirm = gz.el("p", "confirm");
        confirm.append(gz.signs.picture((ctx, x, y) => gz.signs.ring(ctx, x, y, 4), 24), gz.el("span", "", words.confirm));
        panel.append(confirm);
      }

      const here = page.siteLayer.samePlace(row).filter(other => other !== row);
      if (here.length) {
        const others = gz.el("div", "others");
        others.append(gz.el("h3", "", here.length === 1 ? "One more site at this position"
          : here.length.toLocaleString("en") + " more sites at this position"));
        for (const other of here) {
          const name = page.sites.name.length ? page.sites.name[other] : "";
          const go = gz.el("button", "theirs other", name && name !== page.sites.id[other] ? page.sites.id[other] + " · " + name : page.sites.id[other]);
          go.type = "button";
          go.addEventListener("click", () => { choose(other); panel.focus({ preventScroll: true }); });
          others.append(go);
        }
        panel.append(others);
      }
      map.fire("gz-filled", { row, panel });
      if (!stays) panel.append(gz.el("p", "small hint", "Click the site to keep this open."));
      said = false;
      panel.classList.toggle("glance", !stays);
      panel.hidden = false;
      panel.scrollTop = 0;
      if (reading) panel.focus({ preventScroll: true }); // what had the focus is gone
      panel.dataset.site = site.id;
      ring.setLatLng(page.siteLayer.latLng(row)).setRadius(Math.max(12, page.siteLayer.radius() * 2.4)).addTo(map);
    }

    // A word of the page in the place of a site's figures.
    function say(heading, text) {
      chosen = glanced = null;
      said = true;
      ring.remove();
      const head = gz.el("header"), words = gz.el("h2", "", heading);
      head.append(words, closer());
      panel.replaceChildren(head, gz.el("p", "theirs", text));
      panel.classList.remove("glance");
      panel.hidden = false;
      delete panel.dataset.site;
    }

    function clear() {
      chosen = glanced = null;
      said = false;
      panel.hidden = true;
      delete panel.dataset.site;
      ring.remove();
      document.documentElement.classList.remove("site-chosen");
      map.fire("gz-chosen", { row: null });
    }

    // Keeps a site and brings it into the part of the map that the panel leaves free.
    function choose(row, options) {
      chosen = row;
      glanced = null;
      fill(row, true);
      document.documentElement.classList.add("site-chosen");
      if (!options || options.bring !== false) bring(row);
      map.fire("gz-chosen", { row });
    }

    function bring(row) {
      const size = map.getSize(), box = panel.getBoundingClientRect(), frame = map.getContainer().getBoundingClientRect();
      const free = { x0: 60, y0: 30, x1: size.x - 40, y1: size.y - 50 };
      if (panel.hidden) return;
      if (narrow.matches) free.y1 = Math.max(60, box.top - frame.top - 26);
      else free.x1 = box.left - frame.left - 30;
      const p = map.latLngToContainerPoint(page.siteLayer.latLng(row));
      if (p.x >= free.x0 && p.x <= free.x1 && p.y >= free.y0 && p.y <= free.y1) return;
      const goal = L.point((free.x0 + free.x1) / 2, (free.y0 + free.y1) / 2);
      const still = window.matchMedia("(prefers-reduced-motion: reduce)").matches;
      map.panBy(p.subtract(goal), { animate: !still, duration: 0.25 });
    }

    map.on("click", function (event) {
      const finger = event.originalEvent.pointerType !== "mouse";
      const hits = page.siteLayer.near(event.containerPoint, finger ? 26 : 12);
      if (event.originalEvent.detail !== 2) lost = hits.length ? null : chosen;
      if (hits.length) choose(hits[0], { bring: narrow.matches });
      else clear();
    });
    // The first click of a double one on open ground closed the panel; the second asks for a closer look only.
    map.on("dblclick", function () {
      if (lost !== null) choose(lost, { bring: false });
      lost = null;
    });

    map.on("mousemove", L.Util.throttle(function (event) {
      if (chosen !== null || said || event.originalEvent.pointerType === "touch" || gz.printing) return;
      const hits = page.siteLayer.near(event.containerPoint, 10);
      map.getContainer().classList.toggle("over-site", hits.length > 0);
      if (!hits.length) {
        if (glanced !== null) clear();
      } else if (hits[0] !== glanced) {
        glanced = hits[0];
        fill(glanced, false);
      }
    }, 30));
    map.on("mouseout", () => { if (glanced !== null) clear(); });
    map.on("zoomend", () => { if (chosen !== null) ring.setRadius(Math.max(12, page.siteLayer.radius() * 2.4)); });

    document.addEventListener("keydown", function (event) {
      if (event.key !== "Escape" || panel.hidden) return;
      if (panel.contains(document.activeElement)) map.getContainer().focus({ preventScroll: true });
      clear();
    });
    map.getContainer().addEventListener("keydown", function (event) {
      if (event.key !== "Enter" || event.target !== map.getContainer()) return;
      const hits = page.siteLayer.near(map.getSize().divideBy(2), 400);
      if (hits.length) choose(hits[0], { bring: false });
    });

    map.on("gz-view", function () {
      if (chosen !== null) fill(chosen, true);
      else if (glanced !== null) clear();
    });

    gz.stay = () => { if (chosen !== null) bring(chosen); };
    gz.chosenSite = () => chosen;
    gz.chosenPoint = () => chosen === null ? null : map.latLngToLayerPoint(page.siteLayer.latLng(chosen));
    gz.choose = choose;
    gz.clear = clear;
    gz.say = say;
  };
})(geozone);
