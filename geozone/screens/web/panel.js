// One site's figures in plain words: on hover for a glance, by tap, search or list to stay.
(function (gz) {
  "use strict";

  // Half the width of a finger on glass [pixels].
  const FINGER = 26;

  // Sites to choose from, each with its sign; where they are many, the first ones.
  const MOST_PICKED = 60;
  gz.pickList = function (page, rows, take) {
    const box = gz.el("div", "pick-list");
    for (const row of rows.slice(0, MOST_PICKED)) {
      const id = page.sites.id[row], name = page.sites.name.length ? page.sites.name[row] : "";
      const go = gz.el("button", "other");
      go.type = "button";
      go.dataset.pick = id;
      go.append(gz.signs.picture((ctx, x, y) => page.siteLayer.look.paint(ctx, page.siteLayer.look.kinds[row] & ~1, x, y, 4.4), 22),
        gz.el("span", "theirs", name && name !== id ? id + " · " + name : id));
      go.addEventListener("click", () => take(row));
      box.append(go);
    }
    // Elsewhere in the panel these keys go through the sites, worst first.
    box.addEventListener("keydown", function (event) {
      const by = { ArrowDown: 1, ArrowUp: -1 }[event.key], buttons = [...box.querySelectorAll("button")], at = buttons.indexOf(document.activeElement);
      if (!by || at < 0) return;
      event.preventDefault();
      event.stopPropagation();
      buttons[(at + by + buttons.length) % buttons.length].focus();
    });
    if (rows.length > MOST_PICKED) box.append(gz.el("p", "small", "and " + gz.count(rows.length - MOST_PICKED) + " more: find them by number or name."));
    return box;
  };

  gz.panel = function (map, page) {
    const panel = document.getElementById("panel");
    const narrow = window.matchMedia("(max-width: 760px)");
    const ring = L.circleMarker([0, 0], { className: "gz-chosen", interactive: false, radius: 13, pane: gz.pane(map, "chosen"),
      renderer: L.svg({ pane: gz.pane(map, "chosen"), padding: 0.3 }) });
    let chosen = null, glanced = null, listed = [], lost = null, said = false, told = null;

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

    function header(titles, stays) {
      const head = gz.el("header");
      head.append(titles);
      if (stays) head.append(closer());
      return head;
    }

    function fill(row, stays, others) {
      const site = gz.site(page, row), words = gz.words, { tolerance } = page.trial.now, reading = panel.contains(document.activeElement);
      panel.replaceChildren();
      const titles = gz.el("div"), head = header(titles, stays);
      titles.append(gz.el("h2", "theirs site-id", site.id));
      if (site.name && site.name !== site.id) titles.append(gz.el("p", "theirs site-name", site.name));
      panel.append(head);
      const parts = [page.groups && ["groups", "With the fewest settings", gz.groupPanel(page, row)], page.zoning && ["zones", "In its lighting zone", gz.zonePanel(page, row)]].filter(Boolean);
      if (page.trial.changed) for (const [, , made] of parts) gz.ofPlan(made);
      const first = parts.find(([view]) => view === gz.view), second = text => panel.append(gz.el("h3", "second", text));
      if (first) {
        panel.append(first[2]);
        second("With the one shared setting");
      }
      const verdict = gz.el("p", "verdict");
      verdict.append(gz.signs.picture((ctx, x, y) => gz.signs.draw(ctx, site.verdict, false, x, y, 6.5), 28),
        gz.el("strong", "", gz.term(page, "result", site.verdict)));
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
      if (page.trial.changed) panel.append(gz.el("p", "small", "As tried, not as in the plan" + (page.trial.moved && page.sky.aside ? "; programmes left aside." : ".")));
      for (const part of parts) {
        if (part === first) continue;
        second(part[1]);
        panel.append(part[2]);
      }

      const facts = gz.el("dl");
      fact(facts, "Legal zone", site.zone && site.zone + (site.zoneListed ? ", as the site list says" : ""));
      fact(facts, "Its clock", site.clock);
      fact(facts, "Zone boundary", site.boundaryKm !== null && (Number(site.boundaryKm) < 0.1 ? "under 0.1 km" : gz.figure(site.boundaryKm) + " km away"));
      fact(facts, "Area", site.area || (page.outlines.areas.length ? "outside every area" : ""));
      fact(facts, "Load", site.load !== null && gz.figure(site.load.replace(/\.0$/, "")) + " W");
      panel.append(facts);
      if (site.confirm) {
        const confirm = gz.el("p", "confirm");
        confirm.append(gz.signs.picture((ctx, x, y) => gz.signs.ring(ctx, x, y, 4), 24), gz.el("span", "", words.confirm));
        panel.append(confirm);
      }

      const here = page.siteLayer.samePlace(row).filter(other => other !== row);
      if (here.length) {
        const others = gz.el("div", "others");
        others.append(gz.el("h3", "", gz.many(here.length, "more site") + " at this position"),
          gz.pickList(page, here, other => { choose(other); panel.focus({ preventScroll: true }); }));
        panel.append(others);
      }
      if (stays && listed.includes(row)) {
        const back = gz.el("button", "quiet back-to-list", "Back to the " + gz.many(listed.length, "site") + " under the pointer");
        back.type = "button";
        back.addEventListener("click", () => { list(listed); panel.focus({ preventScroll: true }); });
        panel.append(back);
      }
      map.fire("gz-filled", { row, panel });
      if (!stays) {
        panel.append(gz.el("p", "small hint", others > 1 ? "One of " + gz.many(others, "site") + " here: click for the list."
          : "Click the site to keep this open."));
      }
      said = false;
      told = null;
      panel.classList.toggle("glance", !stays);
      panel.hidden = false;
      panel.scrollTop = 0;
      if (reading) panel.focus({ preventScroll: true }); // what had the focus is gone
      panel.dataset.site = site.id;
      delete panel.dataset.listed;
      ring.setLatLng(page.siteLayer.latLng(row)).setRadius(Math.max(12, page.siteLayer.radius() * 2.4)).addTo(map);
    }

    // A word of the page in the place of a site's figures: a text, or what is to be read of a place.
    const say = (heading, text) => tell(heading, [gz.el("p", "theirs", text)], null);
    function tell(heading, parts, latlng) {
      if (chosen !== null || listed.length) clear();
      glanced = null;
      said = true;
      told = latlng;
      if (latlng) ring.setLatLng(latlng).setRadius(6).addTo(map);
      else ring.remove();
      const head = gz.el("header"), words = gz.el("h2", "", heading);
      head.append(words, closer());
      panel.replaceChildren(head, ...parts);
      panel.classList.remove("glance");
      panel.hidden = false;
      delete panel.dataset.site;
      document.documentElement.classList.toggle("site-chosen", Boolean(latlng));
    }

    function clear() {
      chosen = glanced = told = null;
      listed = [];
      said = false;
      panel.hidden = true;
      delete panel.dataset.listed;
      delete panel.dataset.site;
      ring.remove();
      document.documentElement.classList.remove("site-chosen");
      map.fire("gz-chosen", { row: null });
    }

    // Several sites under the finger or the pointer: which one is meant is asked, never guessed.
    function list(rows) {
      chosen = glanced = told = null;
      listed = rows;
      ring.remove();
      const titles = gz.el("div");
      titles.append(gz.el("h2", "pick-title", gz.many(rows.length, "site") + " here"),
        gz.el("p", "site-name", "Nearest first. Come closer to part them, or take one:"));
      const near = gz.el("button", "quiet", "Come closer");
      near.type = "button";
      near.addEventListener("click", function () {
        const bounds = L.latLngBounds(rows.map(row => page.siteLayer.latLng(row)));
        clear();
        map.fitBounds(bounds, { padding: [60, 60], maxZoom: 17, animate: false });
        map.getContainer().focus({ preventScroll: true });
      });
      panel.replaceChildren(header(titles, true), gz.pickList(page, rows, function (row) {
        choose(row, { keep: true });
        panel.focus({ preventScroll: true });
      }), near);
      panel.classList.remove("glance");
      panel.hidden = false;
      panel.scrollTop = 0;
      delete panel.dataset.site;
      panel.dataset.listed = String(rows.length);
      document.documentElement.classList.add("site-chosen");
      map.fire("gz-chosen", { row: null });
    }

    // Keeps a site and brings it into the part of the map that the panel leaves free.
    function choose(row, options) {
      chosen = row;
      glanced = null;
      if (!options || !options.keep) listed = [];
      fill(row, true);
      document.documentElement.classList.add("site-chosen");
      if (!options || options.bring !== false) bring(row);
      map.fire("gz-chosen", { row });
    }

    function bring(row, atOnce) {
      const size = map.getSize(), box = panel.getBoundingClientRect(), frame = map.getContainer().getBoundingClientRect();
      const free = { x0: 60, y0: 30, x1: size.x - 40, y1: size.y - 50 };
      if (panel.hidden) return;
      if (narrow.matches) free.y1 = Math.max(60, box.top - frame.top - 26);
      else free.x1 = box.left - frame.left - 30;
      const p = map.latLngToContainerPoint(page.siteLayer.latLng(row));
      if (p.x >= free.x0 && p.x <= free.x1 && p.y >= free.y0 && p.y <= free.y1) return;
      const goal = L.point((free.x0 + free.x1) / 2, (free.y0 + free.y1) / 2);
      const still = window.matchMedia("(prefers-reduced-motion: reduce)").matches;
      map.panBy(p.subtract(goal), { animate: !still && !atOnce, duration: 0.25 });
    }

    // What a click or a tap may mean: with a mouse the signs that the pointer touches, with a finger all that it covers.
    function under(point, finger) {
      const touched = page.siteLayer.near(point, finger ? FINGER : page.siteLayer.radius() + 2);
      return touched.length ? touched : page.siteLayer.near(point, FINGER / 2).slice(0, 1);
    }

    function take(hits, options) {
      if (!hits.length) clear();
      else if (hits.length === 1) choose(hits[0], options);
      else list(hits);
    }

    map.on("click", function (event) {
      const hits = under(event.containerPoint, event.originalEvent.pointerType !== "mouse");
      if (event.originalEvent.detail !== 2) lost = hits.length ? null : chosen;
      // On open ground a click closes what is open; where nothing is, or a place, it reads the place.
      if (!hits.length && (panel.hidden || told) && event.originalEvent.detail < 2) gz.showPlace(event.latlng);
      else if (hits.length || event.originalEvent.detail < 2 || !told) take(hits, { bring: narrow.matches });
    });
    // The first click of a double one on open ground closed the panel; the second asks for a closer look only.
    map.on("dblclick", function () {
      if (lost !== null) choose(lost, { bring: false });
      lost = null;
    });

    map.on("mousemove", L.Util.throttle(function (event) {
      if (chosen !== null || listed.length || said || event.originalEvent.pointerType === "touch" || gz.printing) return;
      const hits = under(event.containerPoint, false);
      map.getContainer().classList.toggle("over-site", hits.length > 0);
      if (!hits.length) {
        if (glanced !== null) clear();
      } else if (hits[0] !== glanced) {
        glanced = hits[0];
        fill(glanced, false, hits.length);
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
      event.preventDefault(); // else the key would press the button that gets the focus
      const middle = map.getSize().divideBy(2), hits = under(middle, true);
      take(hits.length ? hits : page.siteLayer.near(middle, 400).slice(0, 1), { bring: false });
      if (!panel.hidden) (panel.querySelector(".other") || panel).focus({ preventScroll: true });
    });

    map.on("gz-view gz-tried", function () {
      if (chosen !== null) fill(chosen, true);
      else if (listed.length) list(listed);
      else if (glanced !== null) clear();
    });

    gz.stay = () => { if (chosen !== null) bring(chosen, true); };
    gz.chosenSite = () => chosen;
    gz.chosenPoint = () => chosen === null ? null : map.latLngToLayerPoint(page.siteLayer.latLng(chosen));
    gz.choose = choose;
    gz.clear = clear;
    gz.say = say;
    gz.tell = tell;
    gz.toldPlace = () => told;
  };
})(geozone);
