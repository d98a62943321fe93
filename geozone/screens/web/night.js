// One night, minute by minute: when each site needs light and when its lamps burn, and how that is painted at one instant. Knows no
// control of the page (moment.js has them).
(function (gz) {
  "use strict";

  const { PI, abs, acos, atan, ceil, cos, floor, max, min, round, sin, sinh, sqrt } = Math;
  const TAU = 2 * PI, DAY = 1440;
  // What a site is at an instant.
  gz.AT = { OFF: 0, LIT: 1, UNLIT: 2, WASTE: 3, NONE: 4 };
  const { OFF, LIT, UNLIT, WASTE, NONE } = gz.AT;

  const poly = (c, k, x) => c[5 * k] + x * (c[5 * k + 1] + x * (c[5 * k + 2] + x * (c[5 * k + 3] + x * c[5 * k + 4])));

  // From when to when light is needed in a night, in UTC minutes of the year: infinite where the sun does not cross on that side, and
  // from after to where it is needed not at all. Four passes towards the hour angle; where the sun grazes, the careful way.
  gz.darkSpan = function (sky, k, place, out, row) {
    const { e, s } = sky;
    for (let edge = 0; edge < 2; edge++) {
      let h = PI / 2, x = 0, cosH = 0;
      for (let pass = 0; pass < 5; pass++) {
        const aim = edge ? TAU - h : h;
        x = (aim - place.lon - e[5 * k]) / (TAU + e[5 * k + 1]);
        x += (aim - place.lon - poly(e, k, x) - TAU * x) / (TAU + e[5 * k + 1]);
        const sd = poly(s, k, x);
        cosH = (sky.sinH - place.sin * sd) / (place.cos * sqrt(1 - sd * sd));
        if (!(abs(cosH) < 0.95)) break;
        h = acos(cosH);
      }
      if (!(abs(cosH) < 0.95)) {
        const { dusk, dawn, state } = gz.nightAt(sky, k, place), S = gz.STATES;
        out.from[row] = state === S.ABOVE ? Infinity : state === S.BELOW || state === S.DAWN_ONLY ? -Infinity : dusk;
        out.to[row] = state === S.ABOVE ? -Infinity : state === S.BELOW || state === S.DUSK_ONLY ? Infinity : dawn;
        return;
      }
      (edge ? out.to : out.from)[row] = (k + 1 + x) * DAY;
    }
  };

  // What switches with a setting do in a night: [from, to], offsets and clocks included.
  gz.keyedSpan = function (sky, k, keyed, clocks) {
    const out = { from: [0], to: [0] };
    gz.darkSpan(sky, k, gz.placeAt(keyed.lat, keyed.lon), out, 0);
    const acts = function (utc, offset) {
      const at = utc + offset;
      return clocks && Number.isFinite(at) ? at + gz.clockAt(clocks[0], at) - gz.clockAt(clocks[1], at) : at;
    };
    return [acts(out.from[0], keyed.dusk), acts(out.to[0], keyed.dawn)];
  };

  // A night of all sites. `by` is what switches the lamps: "sun" (each at its own position), "groups" or "shared".
  gz.nightOf = function (page, k, by) {
    const { trial, sites } = page, n = sites.count, sky = trial.sky();
    const night = { k, by, from: new Float64Array(n), to: new Float64Array(n), on: null, off: null };
    for (let row = 0; row < n; row++) gz.darkSpan(sky, k, trial.placeOf(row), night, row);
    gz.switchedBy(page, night, by);
    return night;
  };

  gz.switchedBy = function (page, night, by) {
    const { trial, sky: given, sites } = page, n = sites.count, sky = trial.sky(), { rule, group } = sites.columns, { k } = night;
    night.by = by;
    if (by === "sun") {
      night.on = night.from;
      night.off = night.to;
      return;
    }
    night.on = new Float64Array(n);
    night.off = new Float64Array(n);
    let spans;
    if (by === "groups") spans = given.groups.map(keyed => gz.keyedSpan(sky, k, keyed, null));
    else {
      const keyed = { ...trial.asked, lon: gz.unwrapped(trial.asked.lon, given.legal_lon) };
      spans = given.clocks.map((clock, place) => gz.keyedSpan(sky, k, keyed, page.setting.master || given.same[place] ? null : [given.clock, clock]));
    }
    for (let row = 0; row < n; row++) [night.on[row], night.off[row]] = spans[by === "groups" ? group[row] : rule[row]] || [NaN, NaN];
  };

  // What every site is at an instant, into `states`; how many are of each kind.
  gz.statesAt = function (night, utc, states) {
    const { from, to, on, off } = night, counts = [0, 0, 0, 0, 0];
    for (let row = 0; row < states.length; row++) {
      const needed = from[row] <= utc && utc < to[row], lit = on[row] <= utc && utc < off[row];
      const state = isNaN(on[row]) ? NONE : needed ? (lit ? LIT : UNLIT) : lit ? WASTE : OFF;
      states[row] = state;
      counts[state]++;
    }
    return counts;
  };

  // The stretches of a night in which something changes somewhere: round dusk, and round dawn. Each [from, to], to the minute.
  gz.changesOf = function (night) {
    return [["from", "on"], ["to", "off"]].map(function (names) {
      let first = Infinity, last = -Infinity;
      for (const name of names) {
        for (const at of night[name]) {
          if (!Number.isFinite(at)) continue;
          first = min(first, at);
          last = max(last, at);
        }
      }
      return [floor(first), ceil(last)];
    }).filter(([first, last]) => last >= first);
  };

  const SIGNS = [
    (ctx, x, y, r) => { // off, as meant
      ctx.beginPath();
      ctx.arc(x, y, max(1.6, r * 0.62), 0, TAU);
      ctx.fillStyle = gz.COLOURS.paper;
      ctx.fill();
      ctx.lineWidth = 1.3;
      ctx.strokeStyle = gz.COLOURS.gridText;
      ctx.stroke();
    },
    (ctx, x, y, r) => gz.signs.draw(ctx, "within", false, x, y, r),
    (ctx, x, y, r) => gz.signs.draw(ctx, "beyond", false, x, y, max(r, 2.8)),
    (ctx, x, y, r) => { // lit without need: a square, so that a grey print tells it from the disc
      const a = max(r, 2.8) * 1.1;
      ctx.fillStyle = gz.COLOURS.lamp;
      ctx.fillRect(x - a, y - a, 2 * a, 2 * a);
      ctx.lineWidth = max(1.3, r * 0.3);
      ctx.strokeStyle = gz.COLOURS.ink;
      ctx.strokeRect(x - a, y - a, 2 * a, 2 * a);
      ctx.beginPath();
      ctx.moveTo(x - a, y + a);
      ctx.lineTo(x + a, y - a);
      ctx.stroke();
    },
    (ctx, x, y, r) => gz.signs.without(ctx, x, y, max(2.6, r * 0.8)),
  ];
  gz.momentSign = state => gz.signs.picture((ctx, x, y) => SIGNS[state](ctx, x, y, 5.4), 24);

  // Paints sites and the dark part of the ground at an instant on the sites' canvas.
  gz.nightPainter = function (page) {
    const states = new Uint8Array(page.sites.count);
    const picture = gz.pixelPicture();
    let night = null, utc = 0, signs = [], size = "", rows = null, rowsOf = "", counts = [0, 0, 0, 0, 0];

    // Where the sun is below the threshold: on each row of the picture between two longitudes.
    function ground(layer, bounds, ratio, width, height) {
      const sky = page.trial.sky(), { pixels } = picture, scale = Math.pow(2, layer._map.getZoom()), origin = layer._map.getPixelOrigin();
      const key = [bounds.min.x + origin.x, bounds.min.y + origin.y, scale, width, height].join();
      if (key !== rowsOf) {
        rowsOf = key;
        rows = new Float64Array(2 * height);
        for (let y = 0; y < height; y++) {
          const lat = atan(sinh(PI * (1 - (bounds.min.y + origin.y + (y + 0.5) / ratio) / scale / 128)));
          rows[2 * y] = sin(lat);
          rows[2 * y + 1] = cos(lat);
        }
      }
      const k = max(0, min(sky.n - 1, floor(utc / DAY - 0.5))), x = utc / DAY - k - 1, sd = poly(sky.s, k, x), cd = sqrt(1 - sd * sd);
      const angle = TAU * x + poly(sky.e, k, x), perRad = 128 / PI * scale * ratio, left = (bounds.min.x + origin.x - 128 * scale) * ratio;
      const tint = gz.scheme === "dark" ? 0x66000000 : 0x4a3a1a12;
      for (let y = 0; y < height; y++) {
        const c = (sky.sinH - rows[2 * y] * sd) / (rows[2 * y + 1] * cd);
        if (c <= -1) continue;
        const half = c >= 1 ? 0 : acos(c), from = half - angle, wide = TAU - 2 * half;
        for (let turn = ceil(((left - wide * perRad) / perRad - from) / TAU); ; turn++) {
          const a = (from + turn * TAU) * perRad - left, b = a + wide * perRad;
          if (a >= width) break;
          pixels.fill(tint, y * width + max(0, round(a)), y * width + max(0, min(width, round(b))));
        }
      }
    }

    return {
      get counts() { return counts; },
      set(newNight, newUtc) {
        night = newNight;
        utc = newUtc;
        counts = gz.statesAt(night, utc, states);
        return counts;
      },
      paint(layer, ctx, bounds) {
        const { width, height } = ctx.canvas, ratio = gz.pixelRatio(), r = layer.radius(), now = [r, ratio, gz.scheme].join();
        if (!picture.begin(ctx)) return;
        if (now !== size) {
          size = now;
          signs = SIGNS.map(sign => gz.pixelsOf((ctx, x, y) => sign(ctx, x, y, r), max(r, 2.8) * 2.1 + 1, ratio));
        }
        ground(layer, bounds, ratio, width, height);
        // What is not as meant comes last, on top.
        for (const late of [false, true]) {
          for (let k = 0; k < layer.nSeen; k++) {
            const state = states[layer.seen[k]];
            if ((state === UNLIT || state === WASTE) !== late) continue;
            picture.put(signs[state], round((layer.seenX[k] - bounds.min.x) * ratio), round((layer.seenY[k] - bounds.min.y) * ratio));
          }
        }
        picture.end(ctx);
      },
    };
  };
})(geozone);
