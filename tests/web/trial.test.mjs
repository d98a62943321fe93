// What is tried on the page, without a page: sites, a setting and tolerances made up here; the sun is that of the cases.
import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { test } from "node:test";
import { load, plain } from "./load.mjs";

const gz = load("unpack.js", "words.js", "almanac.js", "drifts.js", "trial.js", "night.js");
const cases = JSON.parse(readFileSync(new URL("../cases/kernel.json", import.meta.url), "utf8"));
const { sky: given, keyed, clocks, legal_lon: legal, sites, found } = cases.drifts.at(-1); // two clocks
const column = values => Int32Array.from(values);
const steps = clocks[0], n = sites.length;

// The sites of the case with two clocks, once on the setting's clock and once on their own.
function page(more) {
  const twice = [...sites, ...sites];
  return { year: 2027, tolerance: { dark: "3", excess: "6" }, worst: { dark: "9.9", excess: "9.9" }, counts: { sites: 2 * n, within: 2, beyond: 0, other_clock: 2, confirm: 0, rejected: 0 },
    setting: { master: false, lat_deg: keyed.lat, lon_deg: keyed.lon, position: "35.1° S, 140.2° E" }, bounds: [-36.5, 140, -35, 142.5],
    sky: { ...given, nodes: cases.nodes, nights: cases.nights, setting: keyed, clock: steps, clocks: [steps, clocks[1]], same: [true, false], legal_lon: legal, step: 0.1, decimals: 1,
      offset_limit: 99, groups: [], aside: null },
    sites: { count: 2 * n, tables: { verdicts: ["within", "beyond", "other clock"] }, columns: { lat: column(twice.map(s => Math.round(s[0] * 1e5))), lon: column(twice.map(s => Math.round(s[1] * 1e5))),
      turn: column(Array(2 * n).fill(0)), rule: column([...Array(n).fill(0), ...Array(n).fill(1)]), verdict: column([...Array(n).fill(0), ...Array(n).fill(2)]),
      dark: column([28, 30, 5, 5]), dark_raised: column([1, 0, 0, 0]), excess: column([10, 60, 5, 5]), excess_raised: column([0, 1, 0, 0]) } }, ...more };
}
const now = trial => plain({ ...trial.now, dark: [...trial.now.dark], verdict: [...trial.now.verdict] });

test("the first sentence is geozone's own", () => {
  for (const [counts, text] of cases.headlines) assert.equal(gz.headlineOf(counts), text);
});

test("tolerances in tenths: minutes rounded up decide, other clocks stay what they are", () => {
  const trial = gz.trial(page(), act => act());
  const ask = (dark, excess) => { trial.ask({ dark, excess }, false, () => {}); return now(trial); };
  assert.deepEqual(ask(2.8, 9).verdict, [1, 1, 2, 2]); // 2.8 rounded up is 2.9
  assert.deepEqual(ask(2.9, 9).verdict, [0, 1, 2, 2]);
  assert.deepEqual(ask(3, 6).verdict, [0, 0, 2, 2], "back at the plan its own results stand, whatever the tenths say");
  assert.equal(trial.changed, false);
  ask(3.04, 6);
  assert.equal(trial.changed, false, "to the tenth it is the plan");
  assert.deepEqual(ask(3, 6.1).verdict, [0, 0, 2, 2]);
  const { counts, worst, tolerance } = ask(2.9, 6);
  assert.deepEqual([counts.within, counts.beyond, counts.beyond_dark, counts.beyond_excess, counts.other_clock], [1, 1, 1, 1, 2]);
  assert.deepEqual([worst, tolerance], [{ dark: "3.0", excess: "6.0" }, { dark: "2.9", excess: "6" }]);
});

test("a moved setting is judged night by night, each site on its clock", () => {
  const one = page();
  one.sky = { ...one.sky, setting: { ...keyed, lat: keyed.lat + 1 } }; // the plan's is elsewhere; the case's setting is tried
  const trial = gz.trial(one, act => act());
  trial.ask({ lat: keyed.lat }, false, () => {});
  found.forEach(function ([dark, night, edge, excess, excessNight, excessEdge, beyond], k) {
    const record = plain(trial.record(n + k));
    assert.deepEqual([record.dark, record.darkEdge, record.excess, record.excessEdge, record.nightsBeyond], [dark.toFixed(1), edge, excess.toFixed(1), excessEdge, beyond]);
    assert.equal(record.darkNight, gz.nightDate(one, night));
    assert.equal(record.excessNight, gz.nightDate(one, excessNight));
    assert.ok(Number(plain(trial.record(k)).dark) < dark, "without the difference of the clocks it is less");
  });
  assert.ok(trial.exact && trial.moved);
  trial.back(() => {});
  assert.deepEqual([trial.changed, trial.moved, [...trial.now.verdict]], [false, false, [0, 0, 2, 2]]);
});

test("while it moves, results come off the lattice; the newest wish wins", () => {
  gz.EXACT_AT_MOST = 0;
  const waiting = [], one = page(), trial = gz.trial(one, act => waiting.push(act)), told = [];
  trial.ask({ lat: keyed.lat + 0.3 }, true, exact => told.push(["moving", exact]));
  trial.ask({ lat: keyed.lat + 0.4 }, false, exact => told.push(["first", exact]));
  trial.ask({ lat: keyed.lat + 0.5 }, false, exact => told.push(["second", exact]));
  while (waiting.length) waiting.shift()();
  assert.deepEqual(told, [["moving", false], ["first", false], ["second", false], ["second", true]]);
  gz.EXACT_AT_MOST = 1200;
});

test("positions as the keypad holds and writes them", () => {
  assert.deepEqual([gz.onKeypad(35.349, 0.1), gz.onKeypad(-0.04, 0.1), gz.onKeypad(35.3, 0.25)], [35.3, 0, 35.25]);
  assert.equal(gz.positionText(page(), -35.04, 140), "35.0° S, 140.0° E");
  assert.equal(gz.keyedText(-0.004, 2, "NS"), "0.00° N");
});

test("a night at every site: light needed and lamps lit, at any instant", () => {
  const one = page();
  one.trial = gz.trial(one, act => act());
  const night = gz.nightOf(one, 150, "shared"), states = new Uint8Array(2 * n), room = gz.yearRoom(one.trial.sky());
  for (let k = 0; k < 2 * n; k++) {
    gz.yearAt(one.trial.sky(), one.trial.placeOf(k), room);
    assert.ok(Math.abs(night.from[k] - room.dusk[150]) < 1e-3 && Math.abs(night.to[k] - room.dawn[150]) < 1e-3);
  }
  // Sites on the other clock switch half an hour early or late there; those on the setting's own do not.
  assert.deepEqual([...night.on].map(at => Math.round(at - night.on[0])), [0, 0, ...Array(n).fill(Math.round(night.on[n] - night.on[0]))]);
  assert.equal(Math.round(night.on[n] - night.on[0]), -30, "UTC+9:30 keyed, UTC+10 on the wall");
  const { UNLIT, WASTE, LIT, OFF } = gz.AT, middle = (night.from[0] + night.to[0]) / 2;
  assert.equal(gz.statesAt(night, middle, states)[LIT], 2 * n);
  assert.equal(gz.statesAt(night, night.from[0] - 300, states)[OFF], 2 * n);
  gz.statesAt(night, night.on[n] + 1, states);
  assert.deepEqual([...states.slice(n)], Array(n).fill(WASTE));
  gz.statesAt(night, night.off[n] + 1, states);
  assert.deepEqual([...states.slice(n)], Array(n).fill(UNLIT));
  gz.switchedBy(one, night, "sun");
  const [first, last] = gz.changesOf(night)[0];
  assert.ok(first <= Math.min(...night.from) && last >= Math.max(...night.from) && last - first < 12);
});
