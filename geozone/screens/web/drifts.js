// How far a setting is off at a place over the year, night by night as numbers/comparison.py has it; and the same over a
// lattice of places, from which a setting that is being moved is judged at thousands of sites within milliseconds.
(function (gz) {
  "use strict";

  const { ceil, floor, max, min, round } = Math;
  const { CROSSES, ABOVE, BELOW, DUSK_ONLY, DAWN_ONLY } = gz.STATES;
  // A drift that equals the tolerance is within it: sharing/drift.py.
  const SAME_MIN = 1e-7;
  const DUSK = 0, DAWN = 1, NIGHT = 2;
  // Places of the figures that `yearOff` writes.
  gz.OFF = { dark: 0, darkCode: 1, excess: 2, excessCode: 3, nightsBeyond: 4, darkSum: 5, excessSum: 6, notJudged: 7 };
  const D = gz.OFF;

  // One night whatever its state: [dark at dusk, excess at dusk, dark at dawn, excess at dawn, dark of a whole night, excess of one].
  function differences(state, dusk, dawn, noon, nextNoon, keyState, keyDusk, keyDawn) {
    const lit = state !== ABOVE, keyLit = keyState !== ABOVE;
    const from = state === BELOW || state === DAWN_ONLY ? noon : dusk, to = state === BELOW || state === DUSK_ONLY ? nextNoon : dawn;
    const keyFrom = keyState === BELOW || keyState === DAWN_ONLY ? noon : keyDusk, keyTo = keyState === BELOW || keyState === DUSK_ONLY ? nextNoon : keyDawn;
    if (!lit) return [0, 0, 0, 0, 0, keyLit ? max(keyTo - keyFrom, 0) : 0];
    if (!keyLit) return [0, 0, 0, 0, max(to - from, 0), 0];
    const own = max(to - from, 0), given = max(keyTo - keyFrom, 0);
    return [min(max(keyFrom - from, 0), own), min(max(from - keyFrom, 0), given),
      min(max(to - keyTo, 0), own), min(max(keyTo - to, 0), given), 0, 0];
  }

  // The year's figures of one place: `times` as yearAt wrote them from `at` on, `other` how many of its nights do not cross.
  gz.yearOff = function (sky, place, times, at, other, keyed, tolerance, out) {
    const { n } = sky, { dusk, dawn, state } = times, all = sky.deep > 1 && sky.clear < -1;
    const darkLimit = tolerance.dark + SAME_MIN, excessLimit = tolerance.excess + SAME_MIN;
    let dark = 0, darkCode = -1, excess = 0, excessCode = -1, beyond = 0, darkSum = 0, excessSum = 0, notJudged = 0;
    const plain = other === 0 && keyed.crosses && all;
    for (let k = 0; k < n; k++) {
      if (plain || (all && state[at + k] === CROSSES && keyed.state[k] === CROSSES)) {
        const lateDusk = keyed.dusk[k] - dusk[at + k], lateDawn = keyed.dawn[k] - dawn[at + k];
        const own = dawn[at + k] - dusk[at + k], given = keyed.dawn[k] - keyed.dusk[k];
        const darkDusk = lateDusk > 0 ? min(lateDusk, own) : min(0, own), darkDawn = lateDawn < 0 ? min(-lateDawn, own) : min(0, own);
        const excessDusk = lateDusk < 0 ? min(-lateDusk, given) : min(0, given), excessDawn = lateDawn > 0 ? min(lateDawn, given) : min(0, given);
        const nightDark = max(darkDusk, darkDawn), nightExcess = max(excessDusk, excessDawn);
        if (nightDark > dark) [dark, darkCode] = [nightDark, 3 * k + (darkDusk >= darkDawn ? DUSK : DAWN)];
        if (nightExcess > excess) [excess, excessCode] = [nightExcess, 3 * k + (excessDusk >= excessDawn ? DUSK : DAWN)];
        if (nightDark > darkLimit || nightExcess > excessLimit) beyond++;
        darkSum += darkDusk + darkDawn;
        excessSum += excessDusk + excessDawn;
        continue;
      }
      const [darkDusk, excessDusk, darkDawn, excessDawn, darkNight, excessNight] = differences(state[at + k], dusk[at + k], dawn[at + k],
        gz.noonOf(sky, k, place, 0), gz.noonOf(sky, k, place, 1), keyed.state[k], keyed.dusk[k], keyed.dawn[k]);
      darkSum += darkDusk + darkDawn + darkNight;
      excessSum += excessDusk + excessDawn + excessNight;
      if (!all && !gz.isJudged(sky, k, place)) {
        notJudged++;
        continue;
      }
      if (darkDusk > dark) [dark, darkCode] = [darkDusk, 3 * k + DUSK];
      if (darkDawn > dark) [dark, darkCode] = [darkDawn, 3 * k + DAWN];
      if (darkNight > dark) [dark, darkCode] = [darkNight, 3 * k + NIGHT];
      if (excessDusk > excess) [excess, excessCode] = [excessDusk, 3 * k + DUSK];
      if (excessDawn > excess) [excess, excessCode] = [excessDawn, 3 * k + DAWN];
      if (excessNight > excess) [excess, excessCode] = [excessNight, 3 * k + NIGHT];
      if (max(darkDusk, darkDawn, darkNight) > darkLimit || max(excessDusk, excessDawn, excessNight) > excessLimit) beyond++;
    }
    out[D.dark] = dark;
    out[D.darkCode] = darkCode;
    out[D.excess] = excess;
    out[D.excessCode] = excessCode;
    out[D.nightsBeyond] = beyond;
    out[D.darkSum] = darkSum;
    out[D.excessSum] = excessSum;
    out[D.notJudged] = notJudged;
    return out;
  };

  // Tenths of minutes as the tables round them, and rounded up: a whole tenth that is no less than the minutes.
  gz.tenthsOf = minutes => gz.evenly(minutes * 10);
  gz.tenthsUp = function (minutes) {
    const near = round(minutes * 10);
    return minutes > near / 10 + SAME_MIN ? near + 1 : near > 0 && minutes <= (near - 1) / 10 + SAME_MIN ? near - 1 : near;
  };

  // ---- The lattice: rows of latitude, four columns of longitude from side to side; at each point the year's dusks and dawns.
  const COLUMNS = 4;
  // Finer than this nothing is gained; coarser, and kinks of the year's extremes between two rows are lost.
  gz.LATTICE_DEG = 0.05;
  const MOST_ROWS = 900;

  // Longitudes as nights are named by. Rows on which some night does not cross or is not judged are not sound: nothing is read off them.
  gz.lattice = function (sky, { south, west, north, east }) {
    const step = max(gz.LATTICE_DEG, (north - south) / MOST_ROWS), rows = max(2, ceil((north - south) / step - 1e-9) + 1), { n } = sky;
    const wide = max(east - west, 1e-3), all = sky.deep > 1 && sky.clear < -1, times = gz.yearRoom(sky, rows * COLUMNS);
    const sound = new Uint8Array(rows).fill(1), shortest = new Float64Array(rows).fill(Infinity);
    for (let row = 0; row < rows; row++) {
      for (let column = 0; column < COLUMNS; column++) {
        const place = gz.placeAt(max(-90, min(90, south + row * step)), west + wide * column / (COLUMNS - 1)), at = (row * COLUMNS + column) * n;
        if (gz.yearAt(sky, place, times, at)) sound[row] = 0;
        for (let k = 0; k < n && sound[row]; k++) {
          shortest[row] = min(shortest[row], times.dawn[at + k] - times.dusk[at + k]);
          if (!all && !gz.isJudged(sky, k, place)) sound[row] = 0;
        }
      }
    }
    return { south, west, step, rows, wide, fine: step <= gz.LATTICE_DEG, times, sound, shortest, most: new Float64Array(rows * COLUMNS * 4), usable: new Uint8Array(rows) };
  };

  // The most minutes that a setting is late or early at each point, in `most`: late dusk, early dusk, late dawn, early dawn. Rows
  // are `usable` where they are sound, and where no night is shorter than what it is off by.
  gz.overLattice = function (sky, lattice, keyed) {
    const { n } = sky, { times, most, usable, sound, rows } = lattice, keyDusk = keyed.dusk, keyDawn = keyed.dawn;
    let given = Infinity;
    for (let k = 0; k < n; k++) given = min(given, keyDawn[k] - keyDusk[k]);
    for (let row = 0; row < rows; row++) {
      usable[row] = keyed.crosses ? sound[row] : 0;
      if (!usable[row]) continue;
      let largest = 0;
      for (let point = row * COLUMNS; point < (row + 1) * COLUMNS; point++) {
        const at = point * n, { dusk, dawn } = times;
        let lateDusk = -Infinity, earlyDusk = -Infinity, lateDawn = -Infinity, earlyDawn = -Infinity;
        for (let k = 0; k < n; k++) {
          const a = keyDusk[k] - dusk[at + k], b = keyDawn[k] - dawn[at + k];
          if (a > lateDusk) lateDusk = a;
          if (-a > earlyDusk) earlyDusk = -a;
          if (b > lateDawn) lateDawn = b;
          if (-b > earlyDawn) earlyDawn = -b;
        }
        most[4 * point] = lateDusk;
        most[4 * point + 1] = earlyDusk;
        most[4 * point + 2] = lateDawn;
        most[4 * point + 3] = earlyDawn;
        largest = max(largest, lateDusk, earlyDusk, lateDawn, earlyDawn);
      }
      if (largest > min(given, lattice.shortest[row])) usable[row] = 0;
    }
  };

  // Where sites stand on the lattice: row, column, and how far on to the next of each.
  gz.seatsOn = function (lattice, lats, lons) {
    const n = lats.length, seats = { point: new Int32Array(n), up: new Float64Array(n), on: new Float64Array(n) };
    for (let site = 0; site < n; site++) {
      const y = (lats[site] - lattice.south) / lattice.step, x = (lons[site] - lattice.west) / lattice.wide * (COLUMNS - 1);
      const row = max(0, min(lattice.rows - 2, floor(y))), column = max(0, min(COLUMNS - 2, floor(x)));
      seats.point[site] = row * COLUMNS + column;
      seats.up[site] = y - row;
      seats.on[site] = x - column;
    }
    return seats;
  };

  // The worst minutes of sites between the points of the lattice. Returns false where the rows beside a site are not usable.
  gz.readLattice = function (lattice, seats, site, out) {
    const { most, usable } = lattice, point = seats.point[site], row = floor(point / COLUMNS), up = seats.up[site], on = seats.on[site];
    if (!usable[row] || !usable[row + 1]) return false;
    const a = 4 * point, b = a + 4, c = a + 4 * COLUMNS, d = c + 4, wa = (1 - up) * (1 - on), wb = (1 - up) * on, wc = up * (1 - on), wd = up * on;
    const value = j => wa * most[a + j] + wb * most[b + j] + wc * most[c + j] + wd * most[d + j];
    out[0] = max(value(0), value(3), 0);
    out[1] = max(value(1), value(2), 0);
    return true;
  };

  // The line on which the worst minutes reach the tolerance: dusk and dawn come earlier towards the east all the way, so within
  // tolerance is, on each row, one piece from west to east. Gives lines of [lat, lon], open where the lattice ends.
  gz.toleranceLines = function (lattice, tolerance) {
    const limits = [tolerance.dark, tolerance.excess, tolerance.excess, tolerance.dark];
    const crossing = function (row, j) { // where figure j, monotone along the row, passes its limit: late ones grow eastwards
      const at = column => lattice.most[4 * (row * COLUMNS + column) + j] - limits[j];
      let column = 0;
      while (column < COLUMNS - 2 && at(column + 1) * at(0) > 0) column++;
      const a = at(column), b = at(column + 1);
      return lattice.west + lattice.wide * (column + a / (a - b)) / (COLUMNS - 1);
    };
    const lines = [];
    // Rows that follow each other, and the points in which the line closes before the first and after the last.
    let run = [], first = null, last = null;
    const close = function () {
      if (run.length) {
        const east = run.map(row => [row.lat, row.east]), west = run.map(row => [row.lat, row.west]).reverse();
        if (first && last) lines.push([first, ...east, last, ...west, first]);
        else if (last) lines.push([...east, last, ...west]);
        else if (first) lines.push([...west, first, ...east]);
        else if (run.length > 1) lines.push(east, west);
      }
      run = [];
      first = last = null;
    };
    let before = null;
    for (let row = 0; row < lattice.rows; row++) {
      if (!lattice.usable[row]) {
        close();
        before = null;
        continue;
      }
      const lat = lattice.south + row * lattice.step, east = min(crossing(row, 0), crossing(row, 2)), west = max(crossing(row, 1), crossing(row, 3));
      const here = { lat, east, west, gap: east - west };
      // Beyond the lattice the line is carried on straight: no further than its own width.
      if (east < lattice.west - lattice.wide || west > lattice.west + 2 * lattice.wide) {
        close();
        before = null;
        continue;
      }
      const apex = (a, b) => { const part = a.gap / (a.gap - b.gap); return [a.lat + part * (b.lat - a.lat), (a.east + a.west + part * (b.east + b.west - a.east - a.west)) / 2]; };
      if (here.gap >= 0) {
        if (!run.length && before && before.gap < 0) first = apex(before, here);
        run.push(here);
      } else if (run.length) {
        last = apex(before, here);
        close();
      }
      before = here;
    }
    close();
    return lines;
  };
})(geozone);
