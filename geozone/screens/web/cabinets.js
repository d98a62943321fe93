// Cabinets: sites that the plan keeps together. Found by name, shown together, and named in a
// site's panel.
(function (gz) {
  "use strict";

  const MOST_SITES = 24;
  const collator = new Intl.Collator("en", { numeric: true });

  gz.cabinets = function (map, page) {
    const names = page.sites.tables.cabinets, of = page.sites.columns.cabinet;
    if (!names || !names.length) return;
    let keys = null, rowsOf = null;

    // Sites of each cabinet, worked out when they are first asked for.
    function rows(cabinet) {
      if (!rowsOf) {
        rowsOf = names.map(() => []);
        for (let row = 0; row < of.length; row++) if (of[row] !== gz.MISSING) rowsOf[of[row]].push(row);
      }
      return rowsOf[cabinet];
    }

    page.cabinets = {
      column: page.groups.keep_together,
      names,
      rows,
      keys: plain => keys || (keys = names.map(plain)),
      sorted: some => some.sort((a, b) => collator.compare(names[a], names[b]) || a - b),
      sign: () => gz.signs.picture(function (ctx, x, y) {
        ctx.strokeStyle = gz.COLOURS.ink;
        ctx.lineWidth = 1.6;
        ctx.strokeRect(x - 6, y - 8, 12, 16);
        ctx.beginPath();
        ctx.moveTo(x, y - 8);
        ctx.lineTo(x, y + 8);
        ctx.stroke();
      }, 22),

      // All its sites in sight, the first of them chosen.
      show(cabinet) {
        const mine = gz.byId(page, rows(cabinet).slice());
        map.fitBounds(L.latLngBounds(mine.map(row => page.siteLayer.latLng(row))), { padding: [60, 60], maxZoom: Math.max(13, map.getZoom()), animate: false });
        gz.choose(mine[0]);
      },
    };

    map.on("gz-filled", function ({ row, panel }) {
      if (of[row] === gz.MISSING) return;
      const mine = gz.byId(page, rows(of[row]).slice()), part = gz.el("div", "others cabinet-part");
      part.append(gz.el("h3", "theirs", page.cabinets.column + ": " + names[of[row]]));
      part.append(gz.el("p", "small", mine.length === 1 ? "No other site belongs to it." : mine.length.toLocaleString("en") + " sites belong to it; the plan keeps them together."));
      for (const other of mine.filter(one => one !== row).slice(0, MOST_SITES)) {
        const go = gz.el("button", "theirs other", page.sites.id[other]);
        go.type = "button";
        go.addEventListener("click", () => gz.choose(other));
        part.append(go);
      }
      if (mine.length - 1 > MOST_SITES) part.append(gz.el("p", "small", "and " + (mine.length - 1 - MOST_SITES).toLocaleString("en") + " more, see cabinets.csv"));
      panel.append(part);
    });
  };
})(geozone);
