// The page's own sun and minutes off against geozone's compiled kernels: one file of cases, made by tests/cases/kernel.py.
import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { test } from "node:test";
import { load, random } from "./load.mjs";

const gz = load("almanac.js", "drifts.js");
const cases = JSON.parse(readFileSync(new URL("../cases/kernel.json", import.meta.url), "utf8"));
const skyOf = one => gz.openSky({ nodes: cases.nodes, nights: cases.nights, ...one });
const close = (value, expected, within, what) => assert.ok(expected === null ? Number.isNaN(value) : Math.abs(value - expected) < within, what + ": " + value + " is not " + expected);
const EDGES = ["dusk", "dawn", "night"];

test("dusk, dawn, state and judged nights are the kernel's: white and polar nights, poles, longitudes beyond a turn", () => {
  for (const one of cases.skies) {
    const sky = skyOf(one), room = gz.yearRoom(sky);
    let shown = -1;
    for (const [k, night, dusk, dawn, state, judged] of one.times) {
      const place = gz.placeAt(...cases.places[k]), what = [cases.places[k], night].join();
      if (k !== shown) gz.yearAt(sky, place, room);
      shown = k;
      close(room.dusk[night], dusk, 1e-5, what);
      close(room.dawn[night], dawn, 1e-5, what);
      assert.equal(room.state[night], state, what);
      assert.equal(gz.isJudged(sky, night, place), judged === 1, what);
      const alone = gz.nightAt(sky, night, place);
      // The careful way has no polynomial arc cosine: 0.3 ms of time.
      close(alone.dusk, dusk, 1e-3, what);
      close(alone.dawn, dawn, 1e-3, what);
    }
  }
  const states = new Set(cases.skies.flatMap(one => one.times.map(row => row[4])));
  assert.ok([0, 1, -1].every(state => states.has(state)), "the cases hold white and polar nights");
});

test("minutes off, their nights and edges, nights beyond and sums are the kernel's", () => {
  const edges = new Set();
  for (const { sky: given, keyed, legal_lon: legal, tolerance, clocks, sites, found } of cases.drifts) {
    const sky = skyOf(given), room = gz.yearRoom(sky), times = gz.keyedTimes(sky, { ...keyed, lon: gz.unwrapped(keyed.lon, legal) }, clocks);
    sites.forEach(function (site, row) {
      const place = gz.placeAt(...site), other = gz.yearAt(sky, place, room), out = gz.yearOff(sky, place, room, 0, other, times, tolerance, new Float64Array(8));
      const [dark, darkNight, darkEdge, excess, excessNight, excessEdge, beyond, darkSum, excessSum, notJudged] = found[row], what = [keyed.lat, site].join();
      close(out[0], dark, 1e-5, what);
      close(out[2], excess, 1e-5, what);
      for (const [code, night, edge] of [[out[1], darkNight, darkEdge], [out[3], excessNight, excessEdge]]) {
        assert.equal(code < 0 ? "" : EDGES[code % 3], edge, what);
        assert.equal(code < 0 ? -1 : Math.floor(code / 3), night, what);
        edges.add(edge);
      }
      assert.equal(out[4], beyond, what);
      close(out[5], darkSum, 1e-3, what);
      close(out[6], excessSum, 1e-3, what);
      assert.equal(out[7], notJudged, what);
    });
  }
  assert.ok(EDGES.every(edge => edges.has(edge)), "the cases hold every edge");
});

test("a setting that moves is judged off the lattice within 0.02 minutes up to 60 degrees, and within 0.03 at 65", () => {
  const draw = random(5), sky = skyOf(cases.skies[0]);
  for (const [south, within] of [[1, 0.02], [-37, 0.02], [46, 0.02], [56, 0.02], [62, 0.03]]) {
    const box = { south, west: 10, north: south + 3, east: 14 }, lattice = gz.lattice(sky, box), room = gz.yearRoom(sky), n = 60;
    const lats = Array.from({ length: n }, () => south + draw(30000) / 1e4), lons = Array.from({ length: n }, () => 10 + draw(40000) / 1e4);
    const seats = gz.seatsOn(lattice, lats, lons), tolerance = { dark: 5, excess: 5 };
    for (const keyed of [{ lat: south + 1.2, lon: 12.3, dusk: 0, dawn: 0 }, { lat: south + 0.1, lon: 10.1, dusk: -3, dawn: 6 }]) {
      const times = gz.keyedTimes(sky, keyed);
      gz.overLattice(sky, lattice, times);
      let off = 0;
      for (let k = 0; k < n; k++) {
        const place = gz.placeAt(lats[k], lons[k]), out = gz.yearOff(sky, place, room, 0, gz.yearAt(sky, place, room), times, tolerance, new Float64Array(8)), read = [0, 0];
        assert.ok(gz.readLattice(lattice, seats, k, read));
        off = Math.max(off, Math.abs(read[0] - out[0]), Math.abs(read[1] - out[2]));
      }
      assert.ok(off < within, south + ": " + off);
    }
  }
});

test("nothing is read off the lattice where the sun does not cross, at the sites or at the keyed position", () => {
  const sky = skyOf(cases.skies[1]), lattice = gz.lattice(sky, { south: 58, west: 10, north: 68, east: 20 }), seats = gz.seatsOn(lattice, [58.5, 67.5], [12, 12]), out = [0, 0];
  gz.overLattice(sky, lattice, gz.keyedTimes(sky, { lat: 58.2, lon: 12, dusk: 0, dawn: 0 }));
  assert.deepEqual([0, 1].map(site => gz.readLattice(lattice, seats, site, out)), [true, false]);
  gz.overLattice(sky, lattice, gz.keyedTimes(sky, { lat: 70, lon: 12, dusk: 0, dawn: 0 }));
  assert.deepEqual([0, 1].map(site => gz.readLattice(lattice, seats, site, out)), [false, false]);
});

test("on the tolerance line the worst minutes are the tolerance", () => {
  const sky = skyOf(cases.skies[0]), lattice = gz.lattice(sky, { south: -38, west: 138, north: -32, east: 143 }), room = gz.yearRoom(sky);
  const times = gz.keyedTimes(sky, { lat: -35.1, lon: 140.2, dusk: 1, dawn: 0 }), tolerance = { dark: 4, excess: 7 };
  gz.overLattice(sky, lattice, times);
  const lines = gz.toleranceLines(lattice, tolerance);
  assert.ok(lines.length === 1 && lines[0].length > 40 && lines[0][0] === lines[0].at(-1), "one closed line");
  for (const [lat, lon] of lines[0]) {
    const place = gz.placeAt(lat, lon), out = gz.yearOff(sky, place, room, 0, gz.yearAt(sky, place, room), times, tolerance, new Float64Array(8));
    close(Math.max(out[0] / 4, out[2] / 7), 1, 0.01, [lat, lon].join());
  }
  // Where the lattice ends the line stays open.
  const part = gz.lattice(sky, { south: -35.3, west: 138, north: -34.9, east: 143 });
  gz.overLattice(sky, part, times);
  assert.equal(gz.toleranceLines(part, tolerance).length, 2);
  // Of a setting far away nothing is drawn.
  gz.overLattice(sky, part, gz.keyedTimes(sky, { lat: -35.1, lon: 160, dusk: 0, dawn: 0 }));
  assert.equal(gz.toleranceLines(part, tolerance).length, 0);
});

test("tenths as the tables round them, and rounded up so that verdicts stay", () => {
  assert.deepEqual([3, 3.04, 3.06, 0.25, 0.35].map(gz.tenthsOf), [30, 30, 31, 2, 4]);
  assert.deepEqual([3, 3.00000005, 3.0000002, 3.04, 3.1, 0].map(gz.tenthsUp), [30, 30, 31, 31, 31, 0]);
  assert.deepEqual([0.5, 1.5, 2.4, -0.5, -1.5].map(gz.evenly).map(value => value + 0), [0, 2, 2, 0, -2]);
});

test("a clock's offset holds from its minute on", () => {
  assert.deepEqual([-5, 9, 10, 25, NaN].map(utc => gz.clockAt([[-1e9, 60], [10, 120], [20, 60]], utc)), [60, 60, 120, 60, 60]);
});
