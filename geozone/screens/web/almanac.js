// Dusk and dawn at any place, from the year's sun that came with the page: geozone's own arithmetic, step by step as its compiled
// crossing kernel has it (numbers/crossing.py, which says why). Both are held against one file of cases, tests/cases/kernel.json.
(function (gz) {
  "use strict";

  const { PI, abs, asin, cos, floor, max, min, sin, sqrt } = Math;
  const TAU = 2 * PI, DAY = 1440, RAD = PI / 180;
  // As in crossing.py: what one pass may leave, and how near a pole the declination competes with the turning of the Earth.
  const LEFT_OVER = 1e-6, POLE_COS = 0.02, DEC_MOVES = 0.02;
  const CROSSES = 0, ABOVE = 1, BELOW = -1, DUSK_ONLY = 2, DAWN_ONLY = 3;
  gz.STATES = { CROSSES, ABOVE, BELOW, DUSK_ONLY, DAWN_ONLY };

  // The quartics of every night through its five daily nodes: hour angle e and sine of the declination s, lowest power first.
  gz.openSky = function (data) {
    const bytes = Uint8Array.from(atob(data.nodes), sign => sign.charCodeAt(0)), nodes = new Float64Array(bytes.buffer), n = data.nights;
    const e = new Float64Array(5 * n), s = new Float64Array(5 * n);
    for (let k = 0; k < n; k++) {
      for (const [out, first] of /** @type {[Float64Array, number][]} */ ([[e, k], [s, n + 4 + k]])) {
        const a = nodes[first], b = nodes[first + 1], c = nodes[first + 2], d = nodes[first + 3], f = nodes[first + 4];
        out[5 * k] = c;
        out[5 * k + 1] = (a - 8 * b + 8 * d - f) / 12;
        out[5 * k + 2] = (-a + 16 * b - 30 * c + 16 * d - f) / 24;
        out[5 * k + 3] = (-a + 2 * b - 2 * d + f) / 12;
        out[5 * k + 4] = (a - 4 * b + 6 * c - 4 * d + f) / 24;
      }
    }
    return { n, e, s, sinH: data.sinh, deep: data.deep, clear: data.clear };
  };

  gz.placeAt = (latDeg, lonDeg) => ({ sin: sin(latDeg * RAD), cos: max(cos(latDeg * RAD), 1e-12), lat: latDeg * RAD, lon: lonDeg * RAD });

  const poly = (c, k, x) => c[5 * k] + x * (c[5 * k + 1] + x * (c[5 * k + 2] + x * (c[5 * k + 3] + x * c[5 * k + 4])));

  // Arc cosine within 2e-8 rad, Abramowitz & Stegun 4.4.46: the kernel's, so that both give the same minutes.
  function arccos(c) {
    const a = abs(c);
    const p = ((((((-0.0012624911 * a + 0.0066700901) * a - 0.0170881256) * a + 0.0308918810) * a - 0.0501743046) * a + 0.0889789874) * a
      - 0.2145988016) * a + 1.5707963050;
    const r = sqrt(1 - a) * p;
    return c >= 0 ? r : PI - r;
  }

  function sinAltitude(sky, k, x, place) {
    const sinDec = poly(sky.s, k, x);
    return place.sin * sinDec + place.cos * sqrt(1 - sinDec * sinDec) * cos(TAU * x + poly(sky.e, k, x) + place.lon);
  }

  // Days from the night's centre at which the sun has an hour angle.
  function dayOfHourAngle(sky, k, lon, angle) {
    let x = (angle - lon - sky.e[5 * k]) / TAU;
    for (let pass = 0; pass < 3; pass++) x = (angle - lon - poly(sky.e, k, x)) / TAU;
    return x;
  }
  gz.noonOf = (sky, k, place, turn) => (k + 1 + dayOfHourAngle(sky, k, place.lon, turn * TAU)) * DAY;

  // Whether a night is judged at a place: numbers/shallow.py.
  gz.isJudged = function (sky, k, place) {
    if (sky.deep > 1 && sky.clear < -1) return true;
    const dec = asin(sky.s[5 * k]), lower = abs(place.lat + dec) + DEC_MOVES, upper = abs(place.lat - dec) + DEC_MOVES;
    if (lower < PI && upper < PI && -cos(lower) <= sky.deep && cos(upper) >= sky.clear) return true;
    let sinDec = poly(sky.s, k, dayOfHourAngle(sky, k, place.lon, PI));
    if (place.sin * sinDec - place.cos * sqrt(1 - sinDec * sinDec) > sky.deep) return false;
    for (let turn = 0; turn < 2; turn++) {
      sinDec = poly(sky.s, k, dayOfHourAngle(sky, k, place.lon, turn * TAU));
      if (place.sin * sinDec + place.cos * sqrt(1 - sinDec * sinDec) < sky.clear) return false;
    }
    return true;
  };

  // The crossing between a and b [day], whose altitudes lie on either side of the threshold: regula falsi, Illinois variant.
  function root(sky, k, place, a, b) {
    let fa = sinAltitude(sky, k, a, place) - sky.sinH, fb = sinAltitude(sky, k, b, place) - sky.sinH, side = 0, m = a;
    for (let pass = 0; pass < 60; pass++) {
      m = (a * fb - b * fa) / (fb - fa);
      const fm = sinAltitude(sky, k, m, place) - sky.sinH;
      if (fm * fb > 0) {
        b = m;
        fb = fm;
        if (side === -1) fa *= 0.5;
        side = -1;
      } else {
        a = m;
        fa = fm;
        if (side === 1) fb *= 0.5;
        side = 1;
      }
      if (abs(b - a) < 1e-10 || abs(fm) < 1e-13) break;
    }
    return fb !== fa ? (a * fb - b * fa) / (fb - fa) : m;
  }

  // How far a midnight or noon must be from the threshold to settle whether the sun crosses it.
  function clearOf(sky, k) {
    const s = sky.s, at = 5 * k;
    return 0.52 / 0.917 * (abs(s[at + 1]) + 4 * abs(s[at + 2]) + 12 * abs(s[at + 3]) + 32 * abs(s[at + 4])) + 1e-6;
  }

  // Dusk and dawn of one night with no assumption about how the sun crosses: [days from the night's centre, the same, state].
  function carefulNight(sky, k, place) {
    const noon = dayOfHourAngle(sky, k, place.lon, 0), midnight = dayOfHourAngle(sky, k, place.lon, PI), nextNoon = dayOfHourAngle(sky, k, place.lon, TAU);
    const above = x => sinAltitude(sky, k, x, place) - sky.sinH;
    const f0 = above(noon), f1 = above(midnight), f2 = above(nextNoon);
    if (place.cos > POLE_COS) {
      const clear = clearOf(sky, k);
      if (f1 > clear && f0 > 0 && f2 > 0) return [NaN, NaN, ABOVE];
      if (f0 < -clear && f2 < -clear && f1 < 0) return [NaN, NaN, BELOW];
      if (f1 < 0 && f0 > 0 && f2 > 0) return [root(sky, k, place, noon, midnight), root(sky, k, place, midnight, nextNoon), CROSSES];
    }
    // Grazing, or next to a pole: walk through the night; the lowest point is found and put among the steps.
    const steps = 96;
    let lowest = noon, least = f0;
    for (let i = 0; i <= steps; i++) {
      const x = noon + (nextNoon - noon) * i / steps, f = above(x);
      if (f < least) [lowest, least] = [x, f];
    }
    const width = (nextNoon - noon) / steps;
    let left = max(noon, lowest - width), right = min(nextNoon, lowest + width);
    for (let pass = 0; pass < 40; pass++) {
      const third = (right - left) / 3;
      if (above(left + third) < above(right - third)) right -= third;
      else left += third;
    }
    lowest = 0.5 * (left + right);
    let dusk = NaN, dawn = NaN, xBefore = noon, fBefore = f0, placed = false;
    for (let i = 1; i <= steps; i++) {
      let x = noon + (nextNoon - noon) * i / steps;
      if (!placed && lowest <= x) {
        placed = true;
        if (xBefore < lowest && lowest < x) {
          x = lowest;
          i--;
        }
      }
      const f = above(x);
      if (fBefore >= 0 && f < 0 && Number.isNaN(dusk)) dusk = root(sky, k, place, xBefore, x);
      if (fBefore < 0 && f >= 0) dawn = root(sky, k, place, xBefore, x);
      [xBefore, fBefore] = [x, f];
    }
    if (Number.isNaN(dusk)) return [dusk, dawn, !Number.isNaN(dawn) ? DAWN_ONLY : fBefore < 0 ? BELOW : ABOVE];
    return [dusk, dawn, Number.isNaN(dawn) ? DUSK_ONLY : CROSSES];
  }

  // One night alone: [dusk, dawn] in UTC minutes of the year, and its state.
  gz.nightAt = function (sky, k, place) {
    const [dusk, dawn, state] = carefulNight(sky, k, place);
    return { dusk: (k + 1 + dusk) * DAY, dawn: (k + 1 + dawn) * DAY, state };
  };

  const before = new Float64Array(6);

  // What the nights before the year would have had, from the first night's quartics carried back: expectations only.
  function expectations(sky, place) {
    for (let ago = 1; ago < 4; ago++) {
      for (let edge = 0; edge < 2; edge++) {
        let h = 0.5 * PI;
        for (let pass = 0; pass < 4; pass++) {
          const x = ((1 - 2 * edge) * h + edge * TAU - place.lon - sky.e[0]) / TAU - ago, sd = poly(sky.s, 0, x);
          const cosH = (sky.sinH - place.sin * sd) / (place.cos * sqrt(1 - sd * sd));
          h = abs(cosH) <= 1 ? arccos(cosH) : NaN;
        }
        before[3 * edge + ago - 1] = h;
      }
    }
    return before;
  }

  // Dusk and dawn of all nights of the year at a place, in UTC minutes of the year, NaN where there is none, and their states.
  // `out` holds the arrays dusk, dawn and state, written from `at` on. Returns how many nights do not cross.
  gz.yearAt = function (sky, place, out, at = 0) {
    const { n, e, s, sinH } = sky, { dusk, dawn, state } = out, lon = place.lon;
    const invCos = 1 / place.cos, tanLat = place.sin * invCos, fromH = sinH * invCos, pole = !(place.cos > POLE_COS);
    const b = expectations(sky, place);
    let d0 = b[0], d1 = b[1], d2 = b[2], w0 = b[3], w1 = b[4], w2 = b[5], other = 0;
    for (let k = 0, c = 0; k < n; k++, c += 5) {
      const hDusk = 3 * (d0 - d1) + d2, hDawn = 3 * (w0 - w1) + w2;
      const e0 = e[c], e1 = e[c + 1], e2 = e[c + 2], e3 = e[c + 3], e4 = e[c + 4], s0 = s[c], s1 = s[c + 1], s2 = s[c + 2], s3 = s[c + 3], s4 = s[c + 4];
      const toDay = 1 / (TAU + e1);
      let x = (hDusk - lon - e0) * toDay, angle = TAU * x + e0 + x * (e1 + x * (e2 + x * (e3 + x * e4))) + lon;
      let sd = s0 + x * (s1 + x * (s2 + x * (s3 + x * s4))), cosH = (fromH - tanLat * sd) / sqrt(1 - sd * sd);
      const newDusk = abs(cosH) <= 1 ? arccos(cosH) : NaN;
      const xDusk = x + (newDusk - angle) * toDay;
      x = (TAU - hDawn - lon - e0) * toDay;
      angle = TAU * x + e0 + x * (e1 + x * (e2 + x * (e3 + x * e4))) + lon;
      sd = s0 + x * (s1 + x * (s2 + x * (s3 + x * s4)));
      cosH = (fromH - tanLat * sd) / sqrt(1 - sd * sd);
      const newDawn = abs(cosH) <= 1 ? arccos(cosH) : NaN;
      const xDawn = x + (TAU - newDawn - angle) * toDay;
      const sound = abs(newDusk - hDusk) * abs(newDusk - d0) < LEFT_OVER && abs(newDawn - hDawn) * abs(newDawn - w0) < LEFT_OVER && !pole;
      d2 = d1;
      d1 = d0;
      w2 = w1;
      w1 = w0;
      if (sound) {
        d0 = newDusk;
        w0 = newDawn;
        dusk[at + k] = (k + 1 + xDusk) * DAY;
        dawn[at + k] = (k + 1 + xDawn) * DAY;
        state[at + k] = CROSSES;
      } else {
        const [yDusk, yDawn, found] = carefulNight(sky, k, place);
        dusk[at + k] = (k + 1 + yDusk) * DAY;
        dawn[at + k] = (k + 1 + yDawn) * DAY;
        state[at + k] = found;
        d0 = TAU * yDusk + poly(e, k, yDusk) + lon;
        w0 = TAU - (TAU * yDawn + poly(e, k, yDawn) + lon);
        if (found !== CROSSES) other++;
      }
    }
    return other;
  };

  gz.yearRoom = (sky, places = 1) => ({ dusk: new Float64Array(sky.n * places), dawn: new Float64Array(sky.n * places), state: new Int8Array(sky.n * places) });

  // A clock's offset from UTC at a UTC minute of the year; of no minute the last one.
  gz.clockAt = function (steps, utc) {
    let k = steps.length - 1;
    while (k > 0 && steps[k][0] > utc) k--;
    return steps[k][1];
  };

  // Half a step to the even side, as geozone rounds.
  gz.evenly = function (value) {
    const down = floor(value), rest = value - down;
    return rest < 0.5 || (rest === 0.5 && down % 2 === 0) ? down : down + 1;
  };

  // The longitude whose mean time shares its date with a clock's legal time.
  gz.unwrapped = (lonDeg, legalLonDeg) => lonDeg + 360 * gz.evenly((legalLonDeg - lonDeg) / 360);

  // When switches with a setting act, night by night: { dusk, dawn, state }. `clocks` are the keyed clock and the one on the wall; left
  // out, or the same: no difference.
  gz.keyedTimes = function (sky, keyed, clocks) {
    const out = gz.yearRoom(sky), crosses = gz.yearAt(sky, gz.placeAt(keyed.lat, keyed.lon), out) === 0;
    const late = utc => clocks && !Number.isNaN(utc) ? gz.clockAt(clocks[0], utc) - gz.clockAt(clocks[1], utc) : 0;
    for (let k = 0; k < sky.n; k++) {
      out.dusk[k] += keyed.dusk;
      out.dawn[k] += keyed.dawn;
      out.dusk[k] += late(out.dusk[k]);
      out.dawn[k] += late(out.dawn[k]);
    }
    return Object.assign(out, { crosses });
  };
})(geozone);
