// The sites on one canvas: drawn worst last, so that no sign of a good site hides a bad one.
(function (gz) {
  "use strict";

  const LAYER_ORDER = { "within": 0, "other clock": 1, "beyond": 2 };

  // Rows by level, then by drift. Sorted as plain numbers, which a browser does ten times faster than by comparing:
  // level, drift in thousandths of the tolerance, row, packed into one number below 2 ** 53.
  function worstLast(levels, factors) {
    const n = factors.length, keys = new Float64Array(n);
    for (let row = 0; row < n; row++) {
      const thousandths = Math.min(Math.max(0, Math.round(factors[row] * 1000)), 1e7 - 1);
      keys[row] = (levels[row] * 1e7 + thousandths) * 2 ** 25 + row;
    }
    return Uint32Array.from(keys.sort(), key => key % 2 ** 25);
  }

  // Rows by level alone, for what moves.
  function byLevel(levels) {
    const order = new Uint32Array(levels.length);
    let k = 0;
    for (let level = 0; level < 3; level++) for (let row = 0; row < levels.length; row++) if (levels[row] === level) order[k++] = row;
    return order;
  }

  // How the sites look when one shared setting is the question: a sign for each verdict, with or without the ring.
  function sharedLook(page, factors) {
    const { columns, count, tables } = page.sites, levels = tables.verdicts.map(verdict => LAYER_ORDER[verdict]);
    const { verdict, dark, excess, tolerance } = page.trial.now;
    const kinds = Uint16Array.from({ length: count }, (_, row) => 2 * verdict[row] + columns.confirm[row]);
    return {
      kinds,
      shapes: kinds,
      levels: Uint8Array.from(verdict, verdict => levels[verdict]),
      factors: factors || gz.factors(page, dark, excess, tolerance),
      reach: r => gz.signs.reach * r,
      paint: (ctx, kind, x, y, r) => gz.signs.draw(ctx, tables.verdicts[kind >> 1], kind % 2 === 1, x, y, r),
    };
  }

  const LOOKS = { shared: page => sharedLook(page, null), groups: page => gz.groupLook(page), zones: page => gz.zoneLook(page) };

  gz.SiteLayer = gz.Canvas.extend({
    initialize(page, options) {
      gz.Canvas.prototype.initialize.call(this, options);
      const { columns, count } = page.sites;
      this.page = page;
      this.x = Float64Array.from(columns.lon, gz.worldX);
      this.y = Float64Array.from(columns.lat, gz.worldY);
      this.looks = {};
      this.seen = new Uint32Array(count);
      this.seenX = new Float32Array(count);
      this.seenY = new Float32Array(count);
      this.nSeen = 0;
      this.setLook(gz.view);
    },

    // Each look is worked out when it is first asked for. `kinds` name the sign of a site, `shapes` (below 16) those of
    // one outline, `order` says which are drawn last, `factors` how far each is off in units of the tolerance.
    setLook(view) {
      if (!this.looks[view]) {
        const look = LOOKS[view](this.page);
        look.order = worstLast(look.levels, look.factors);
        this.looks[view] = look;
      }
      this.look = this.looks[view];
      this.order = this.look.order;
      this.factors = this.look.factors;
      this.redraw();
    },

    // What the page tries has changed: the look of the shared setting is made anew. `quick` while it still moves.
    refresh(quick) {
      const old = this.looks.shared;
      delete this.looks.shared;
      if (gz.view !== "shared") return;
      const look = sharedLook(this.page, quick && old ? old.factors : null);
      if (old) Object.assign(look, { size: old.size, stamps: old.stamps, dots: old.dots });
      look.order = quick ? byLevel(look.levels) : worstLast(look.levels, look.factors);
      this.looks.shared = look;
      this.quick = quick;
      this.setLook("shared");
      this.quick = false;
    },

    // Signs grow as one comes nearer; few sites may have larger ones from the start.
    radius() {
      const few = this.page.sites.count <= 60 ? 1.6 : this.page.sites.count <= 2000 ? 0.8 : 0;
      const near = Math.max(0, this._map.getZoom() - (this._map.options.fitZoom || 6));
      return Math.min(2.7 + few + 0.55 * near, 7.5);
    },

    paint(ctx, bounds) {
      const began = performance.now();
      const r = this.radius(), ratio = gz.pixelRatio(), reach = this.look.reach(r), size = r + " " + ratio;
      // Kept while the signs stay of one size: dozens of groups have dozens of signs.
      if (this.look.size !== size) Object.assign(this.look, { size, stamps: [], dots: [] });
      const stamps = this.look.stamps;
      const stamp = kind => stamps[kind] || (stamps[kind] = gz.signs.stamp((ctx, x, y) => this.look.paint(ctx, kind, x, y, r), reach, ratio));
      const scale = Math.pow(2, this._map.getZoom()), origin = this._map.getPixelOrigin();
      const left = bounds.min.x - reach, right = bounds.max.x + reach, top = bounds.min.y - reach, bottom = bounds.max.y + reach;
      let n = 0;
      for (const row of this.order) {
        const x = this.x[row] * scale - origin.x, y = this.y[row] * scale - origin.y;
        if (x < left || x > right || y < top || y > bottom) continue;
        this.seen[n] = row;
        this.seenX[n] = x;
        this.seenY[n] = y;
        n++;
      }
      this.nSeen = n;
      if (this.night) this.night.paint(this, ctx, bounds);
      else if (this.quick) this.dot(ctx, bounds, r, ratio);
      else this.stamp(ctx, bounds, stamp, ratio);
      this.paintMs = performance.now() - began;
    },

    // The same signs pixel by pixel, without soft edges: while the setting moves.
    dot(ctx, bounds, r, ratio) {
      const picture = this.picture || (this.picture = gz.pixelPicture()), { dots, kinds } = this.look;
      if (!picture.begin(ctx)) return;
      for (let k = 0; k < this.nSeen; k++) {
        const kind = kinds[this.seen[k]];
        if (!dots[kind]) dots[kind] = gz.pixelsOf((ctx, x, y) => this.look.paint(ctx, kind, x, y, r), this.look.reach(r), ratio);
        picture.put(dots[kind], Math.round((this.seenX[k] - bounds.min.x) * ratio), Math.round((this.seenY[k] - bounds.min.y) * ratio));
      }
      picture.end(ctx);
    },

    // One picture of a night that is played: what is seen stays where it is.
    frame() {
      if (this._map && this.night && this._bounds) this.night.paint(this, this._ctx, this._bounds);
    },

    // Stamps the signs on whole pixels of the screen, where a browser copies without blending neighbours (half the time).
    // Of signs of one outline on one pixel only the topmost is drawn: those below it are hidden to the last dot.
    stamp(ctx, bounds, stampOf, ratio) {
      const width = this._container.width, height = this._container.height;
      const signs = new Uint16Array(width * height), hidden = new Uint8Array(this.nSeen);
      const at = (seen, least) => Math.round((seen - least) * ratio);
      for (let k = this.nSeen - 1; k >= 0; k--) {
        const x = at(this.seenX[k], bounds.min.x), y = at(this.seenY[k], bounds.min.y), bit = 1 << this.look.shapes[this.seen[k]];
        if (x < 0 || y < 0 || x >= width || y >= height) continue;
        hidden[k] = signs[y * width + x] & bit ? 1 : 0;
        signs[y * width + x] |= bit;
      }
      ctx.save();
      ctx.setTransform(1, 0, 0, 1, 0, 0);
      for (let k = 0; k < this.nSeen; k++) {
        if (hidden[k]) continue;
        const picture = stampOf(this.look.kinds[this.seen[k]]), half = picture.width >> 1;
        ctx.drawImage(picture, at(this.seenX[k], bounds.min.x) - half, at(this.seenY[k], bounds.min.y) - half);
      }
      ctx.restore();
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

  // Rows worst first.
  gz.worstFirst = function (page, factors, rows) {
    return rows.sort((a, b) => factors[b] - factors[a] || collator.compare(page.sites.id[a], page.sites.id[b]));
  };

  gz.sites = function (map, page) {
    page.siteLayer = new gz.SiteLayer(page, { pane: gz.pane(map, "sites") }).addTo(map);
  };
})(geozone);
