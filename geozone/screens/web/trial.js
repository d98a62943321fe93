// What is tried on the page instead of the plan: other tolerances, another shared setting. Knows no element of the page: it takes
// what was asked, and gives every site's result, the counts and the line of tolerance.
(function (gz) {
  "use strict";

  const { max, min } = Math;
  // So many sites are judged exactly at every step, from their own dusks and dawns of the year, which are kept; more of them are
  // judged off the lattice while the setting moves, and exactly afterwards.
  gz.EXACT_AT_MOST = 1200;
  // No longer at a stretch than this, so that the page answers meanwhile.
  const SLICE_MS = 30;

  // A coordinate as the keypad holds it, and as geozone writes it.
  gz.onKeypad = (value, step) => Math.round(gz.evenly(value / step) * step * 1e9) / 1e9 + 0;
  gz.keyedText = function (value, decimals, sides) {
    const shown = Number(value.toFixed(decimals));
    return Math.abs(shown).toFixed(decimals) + "° " + sides[shown < 0 ? 1 : 0];
  };
  gz.positionText = (page, lat, lon) => gz.keyedText(lat, page.sky.decimals, "NS") + ", " + gz.keyedText(lon, page.sky.decimals, "EW");

  // The date that names a night: its number in the year as "2027-06-21".
  gz.nightDate = (page, night) => new Date(Date.UTC(page.year, 0, 1 + night)).toISOString().slice(0, 10);

  // The answer in one sentence, as mapdata.headline words it.
  gz.headlineOf = function ({ sites: n, within, beyond, other_clock: other }) {
    if (within === n) return "One setting serves " + (n === 1 ? "the one site" : n === 2 ? "both sites" : "all " + gz.count(n) + " sites") + ".";
    const parts = [];
    if (beyond) parts.push(gz.count(beyond) + " " + (beyond === 1 ? "is" : "are") + " beyond tolerance");
    if (other) parts.push(gz.count(other) + " " + (other === 1 ? "keeps" : "keep") + " another clock");
    if (n === 1) return "The setting does not serve the one site: it " + parts.map(text => text.slice(2)).join(" and ") + ".";
    return (within ? "One setting serves " + gz.count(within) + " of " + gz.count(n) + " sites" : "The setting serves none of the " + gz.count(n) + " sites")
      + "; " + parts.join(" and ") + ".";
  };

  gz.trial = function (page, later) {
    const { sites, sky: given } = page, { columns, count: n, tables } = sites, plan = { ...given.setting, dark: Number(page.tolerance.dark), excess: Number(page.tolerance.excess) };
    const [WITHIN, BEYOND, OTHER] = ["within", "beyond", "other clock"].map(verdict => tables.verdicts.indexOf(verdict));
    const up = name => Int32Array.from(columns[name], (value, row) => value + columns[name + "_raised"][row]);
    // Minutes in tenths, as they are shown and rounded up, under the plan's setting.
    const planned = { dark: columns.dark, excess: columns.excess, darkUp: up("dark"), excessUp: up("excess") };
    const asPlanned = { dark: columns.dark, excess: columns.excess, verdict: columns.verdict, tolerance: page.tolerance, counts: page.counts, worst: page.worst };
    let asked = plan, sky = null, kept = null, figures = planned, lattice = null, seats = null, lats = null, lons = null, wave = 0;
    let times = null, timesOf = null;

    const open = () => sky || (sky = gz.openSky(given));
    const moved = () => ["lat", "lon", "dusk", "dawn"].some(name => asked[name] !== plan[name]);
    const placeOf = row => gz.placeAt(columns.lat[row] / gz.STEPS_PER_DEG, columns.lon[row] / gz.STEPS_PER_DEG + 360 * columns.turn[row]);

    // When switches act, on the clock of each rule of the sites; -1 for the setting's own.
    function keyedTimes(rule) {
      if (timesOf !== asked) [times, timesOf] = [new Map(), asked];
      const own = page.setting.master || rule < 0 || given.same[rule] ? -1 : rule;
      if (!times.has(own)) {
        times.set(own, gz.keyedTimes(open(), { ...asked, lon: gz.unwrapped(asked.lon, given.legal_lon) }, own < 0 ? null : [given.clock, given.clocks[own]]));
      }
      return times.get(own);
    }

    const room = { year: null, out: new Float64Array(8) };
    // One site's figures, night by night, as the compiled kernel has them.
    function exact(row) {
      const place = placeOf(row);
      if (!room.year) room.year = gz.yearRoom(open());
      if (kept) return gz.yearOff(sky, place, kept.times, row * sky.n, kept.other[row], keyedTimes(columns.rule[row]), asked, room.out);
      return gz.yearOff(sky, place, room.year, 0, gz.yearAt(sky, place, room.year), keyedTimes(columns.rule[row]), asked, room.out);
    }

    function keepTimes() {
      if (kept || n > gz.EXACT_AT_MOST) return;
      const times = gz.yearRoom(open(), n), other = new Uint16Array(n);
      for (let row = 0; row < n; row++) other[row] = gz.yearAt(sky, placeOf(row), times, row * sky.n);
      kept = { times, other };
    }

    function onLattice() {
      if (lattice) return;
      lats = Float64Array.from(columns.lat, value => value / gz.STEPS_PER_DEG);
      lons = Float64Array.from(columns.lon, (value, row) => value / gz.STEPS_PER_DEG + 360 * columns.turn[row]);
      const [south, west, north, east] = page.bounds, turns = 360 * columns.turn[0];
      const box = { south, north, west: west + turns, east: east + turns };
      for (let row = 0; row < n; row++) {
        box.west = min(box.west, lons[row]);
        box.east = max(box.east, lons[row]);
        box.south = min(box.south, lats[row]);
        box.north = max(box.north, lats[row]);
      }
      lattice = gz.lattice(open(), box);
      seats = gz.seatsOn(lattice, lats, lons);
      lattice.turn = turns;
    }

    function put(row, dark, excess) {
      figures.dark[row] = gz.tenthsOf(dark);
      figures.excess[row] = gz.tenthsOf(excess);
      figures.darkUp[row] = gz.tenthsUp(dark);
      figures.excessUp[row] = gz.tenthsUp(excess);
    }

    // Verdicts and counts from the figures; sites that wait for theirs keep the verdict that they had.
    function judge(waiting) {
      const dark = Math.round(asked.dark * 10), excess = Math.round(asked.excess * 10), verdict = new Int32Array(n), old = trial.now.verdict;
      const counts = { ...page.counts, within: 0, beyond: 0, beyond_dark: 0, beyond_excess: 0, other_clock: 0, waiting: 0 }, worst = { dark: -1, excess: -1 };
      for (let row = 0; row < n; row++) {
        if (columns.verdict[row] === OTHER) {
          verdict[row] = OTHER;
          counts.other_clock++;
          continue;
        }
        if (waiting && waiting[row]) {
          verdict[row] = old[row];
          counts.waiting++;
          continue;
        }
        const overDark = figures.darkUp[row] > dark, overExcess = figures.excessUp[row] > excess;
        verdict[row] = overDark || overExcess ? BEYOND : WITHIN;
        if (overDark) counts.beyond_dark++;
        if (overExcess) counts.beyond_excess++;
        if (overDark || overExcess) counts.beyond++;
        else counts.within++;
        if (figures.dark[row] > worst.dark) worst.dark = figures.dark[row];
        if (figures.excess[row] > worst.excess) worst.excess = figures.excess[row];
      }
      const text = value => value < 0 ? "" : gz.figure((value / 10).toFixed(1));
      trial.now = { dark: figures.dark, excess: figures.excess, verdict, counts, tolerance: { dark: tolerance("dark"), excess: tolerance("excess") },
        worst: { dark: text(worst.dark), excess: text(worst.excess) } };
    }
    const tolerance = name => String(Number(asked[name].toFixed(1)));

    // Off the lattice: a few milliseconds for tens of thousands of sites.
    function preview() {
      onLattice();
      const waiting = new Uint8Array(n), out = [0, 0];
      gz.overLattice(sky, lattice, keyedTimes(-1));
      for (let row = 0; row < n; row++) {
        if (columns.verdict[row] === OTHER) continue;
        if (lattice.fine && gz.readLattice(lattice, seats, row, out)) put(row, out[0], out[1]);
        else waiting[row] = 1;
      }
      judge(waiting);
    }

    function settled() {
      judge(null);
      trial.exact = true;
    }

    // Slice after slice, until it is done or something else is asked.
    function settle(mine, from, done) {
      const until = performance.now() + SLICE_MS;
      let row = from;
      for (; row < n; row++) {
        if ((row & 15) === 0 && performance.now() > until) break;
        const off = exact(row);
        put(row, off[0], off[2]);
      }
      if (row < n) later(() => { if (mine === wave) settle(mine, row, done); });
      else {
        settled();
        done();
      }
    }

    const trial = {
      plan,
      now: asPlanned,
      changed: false,
      exact: true,
      get asked() { return asked; },
      get moved() { return moved(); },

      // What is asked: any of dark, excess [minutes], lat, lon [degrees], dusk, dawn [minutes]. `moving` while a hand still holds it.
      // `told` is called when the results are there: at once with what is known, and once more when all of it is exact.
      ask(wanted, moving, told) {
        wave++;
        asked = { ...asked, ...wanted };
        // Tolerances are tried in whole tenths of a minute; a plan's finer one goes to the next tenth with the first change.
        const tenth = minutes => max(0.1, Math.round(minutes * 10) / 10);
        for (const name of ["dark", "excess"]) if (asked[name] !== plan[name]) asked[name] = tenth(asked[name]);
        if (Object.keys(plan).every(name => asked[name] === plan[name])) return trial.back(told);
        for (const name of ["dark", "excess"]) asked[name] = tenth(asked[name]);
        trial.changed = true;
        if (!moved()) {
          figures = planned;
          settled();
          return told(true);
        }
        if (figures === planned) figures = { dark: new Int32Array(n), excess: new Int32Array(n), darkUp: new Int32Array(n), excessUp: new Int32Array(n) };
        keepTimes();
        const mine = wave;
        trial.exact = false;
        if (kept) {
          settle(mine, 0, () => told(true));
          return undefined;
        }
        preview();
        told(false);
        if (!moving) later(() => { if (mine === wave) settle(mine, 0, () => told(true)); });
        return undefined;
      },

      back(told) {
        wave++;
        asked = plan;
        figures = planned;
        trial.changed = false;
        trial.exact = true;
        trial.now = asPlanned;
        told(true);
      },

      // A site's own figures in words and numbers, as gz.site has them.
      record(row) {
        const { verdicts } = tables, verdict = verdicts[trial.now.verdict[row]];
        // Under the plan's setting with programmes the minutes are the plan's; on how many nights is not known here.
        if (!moved() && given.aside) return { verdict, nightsBeyond: null };
        const off = exact(row), D = gz.OFF, edges = ["dusk", "dawn", "night"], tenth = value => (gz.tenthsOf(value) / 10).toFixed(1);
        const night = code => code < 0 ? null : gz.nightDate(page, Math.floor(code / 3)), edge = code => code < 0 ? null : edges[code % 3];
        return { verdict, dark: tenth(off[D.dark]), darkNight: night(off[D.darkCode]), darkEdge: edge(off[D.darkCode]), excess: tenth(off[D.excess]),
          excessNight: night(off[D.excessCode]), excessEdge: edge(off[D.excessCode]), nightsBeyond: off[D.nightsBeyond], darkYear: tenth(off[D.darkSum]),
          excessYear: tenth(off[D.excessSum]), plain: true };
      },

      // Where the worst minutes reach the tolerance, for switches on the setting's clock: lines of [lat, lon] as the map counts them,
      // and whether rows were left out because the sun does not cross there on some night.
      lines() {
        onLattice();
        gz.overLattice(sky, lattice, keyedTimes(-1));
        return { lines: gz.toleranceLines(lattice, asked).map(line => line.map(([lat, lon]) => [lat, lon - lattice.turn])), whole: lattice.usable.every(Boolean) };
      },

      sky: open,
      placeOf,
      keyedTimes,
    };
    return trial;
  };
})(geozone);
