// The sites on one canvas: drawn worst last, so that no sign of a good site hides a bad one.
(function (gz) {
  "use strict";

  const LAYER_ORDER = { "within": 0, "other clock": 1, "beyond": 2 };

  gz.SiteLayer = gz.Canvas.extend({
    initialize(page, options) {
      gz.Canvas.prototype.initialize.call(this, options);
      const { columns, count, tables } = page.sites;
      this.page = page;
      this.x = Float64Array.from(columns.lon, gz.worldX);
      this.y = Float64Array.from(columns.lat, gz.worldY);
      this.factors = gz.factors(page);
      this.kinds = Uint8Array.from({ length: count }, (_, row) => 2 * columns.verdict[row] + columns.confirm[row]);
      const level = tables.verdicts.map(verdict => LAYER_ORDER[verdict]);
      const order = Uint32Array.from({ length: count }, (_, row) => row);
      this.order = order.sort((a, b) => level[columns.verdict[a]] - level[columns.verdict[b]]
        || this.factors[a] - this.factors[b] || a - b);
      this.seen = new Uint32Array(count);
      this.seenX = new Float32Array(count);
      this.seenY = new Float32Array(count);
      this.nSeen = 0;
    },

    // Signs grow as one comes nearer; few sites may have larger ones from the start.
    radius() {
      const few = this.page.sites.count <= 60 ? 1.6 : this.page.sites.count <= 2000 ? 0.8 : 0;
      const near = Math.max(0, this._map.getZoom() - (this._map.options.fitZoom || 6));
      return Math.min(2.7 + few + 0.55 * near, 7.5);
    },

    paint(ctx, bounds) {
      const began = performance.now();
      const r = this.radius(), ratio = gz.pixelRatio(), reach = gz.signs.reach * r;
      const verdicts = this.page.sites.tables.verdicts;
      const stamps = [];
      for (let kind = 0; kind < 2 * verdicts.length; kind++) {
        stamps.push(gz.signs.stamp(verdicts[kind >> 1], kind % 2 === 1, r, ratio));
      }
      const scale = Math.pow(2, this._map.getZoom()), origin = this._map.getPixelOrigin();
      const left = bounds.min.x - reach, right = bounds.max.x + reach, top = bounds.min.y - reach, bottom = bounds.max.y + reach;
      let n = 0;
      for (const row of this.order) {
        const x = this.x[row] * scale - origin.x, y = this.y[row] * scale - origin.y;
        if (x < left || x > right || y < top || y > bottom) continue;
        const { canvas, side } = stamps[this.kinds[row]];
        ctx.drawImage(canvas, x - side / 2, y - side / 2, side, side);
        this.seen[n] = row;
        this.seenX[n] = x;
        this.seenY[n] = y;
        n++;
      }
      this.nSeen = n;
      this.paintMs = performance.now() - began;
    },

    // The sites within reach of a point of the window, nearest first; of equally near ones the worst first.
    near(containerPoint, reach) {
      const p = this._map.containerPointToLayerPoint(containerPoint);
      const found = [];
      for (let k = 0; k < this.nSeen; k++) {
        const dx = this.seenX[k] - p.x, dy = this.seenY[k] - p.y;
        if (dx * dx + dy * dy <= reach * reach) found.push([Math.round(Math.hypot(dx, dy)), -k, this.seen[k]]);
      }
      return found.sort((a, b) => a[0] - b[0] || a[1] - b[1]).map(hit => hit[2]);
    },

    // All sites at exactly the position of this one, itself included, by their number.
    samePlace(row) {
      const { lat, lon } = this.page.sites.columns;
      const here = [];
      for (let other = 0; other < lat.length; other++) {
        if (lat[other] === lat[row] && lon[other] === lon[row]) here.push(other);
      }
      return gz.byId(this.page, here);
    },

    latLng(row) {
      const { lat, lon } = this.page.sites.columns;
      return L.latLng(lat[row] / gz.STEPS_PER_DEG, lon[row] / gz.STEPS_PER_DEG);
    },
  });

  const collator = new Intl.Collator("en", { numeric: true });
  gz.byId = (page, rows) => rows.sort((a, b) => collator.compare(page.sites.id[a], page.sites.id[b]) || a - b);

  // Rows that pass a test, worst first.
  gz.worstFirst = function (page, factors, test) {
    const rows = [];
    for (let row = 0; row < page.sites.count; row++) if (test(row)) rows.push(row);
    return rows.sort((a, b) => factors[b] - factors[a] || collator.compare(page.sites.id[a], page.sites.id[b]));
  };

  gz.sites = function (map, page) {
    page.siteLayer = new gz.SiteLayer(page, { pane: gz.pane(map, "sites") }).addTo(map);
  };
})(geozone);
