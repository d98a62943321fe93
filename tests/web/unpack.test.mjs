// The data block of the page: what is packed here by hand comes out again.
import assert from "node:assert/strict";
import { test } from "node:test";
import { load, plain, random } from "./load.mjs";

const gz = load("unpack.js");

const steps = values => ({ steps: values.map((value, k) => k ? value - values[k - 1] : value) });
function runs(values) {
  const found = [];
  for (const value of values) {
    if (found.length && found[found.length - 2] === value) found[found.length - 1]++;
    else found.push(value, 1);
  }
  return { runs: found };
}

test("columns come back from differences and from runs", () => {
  const draw = random(7);
  for (let length = 0; length < 40; length++) {
    const values = Array.from({ length }, () => draw(5) - 1);
    assert.deepEqual([...gz.column(steps(values), length)], values);
    assert.deepEqual([...gz.column(runs(values), length)], values);
  }
});

test("a line is pairs of latitude and longitude", () => {
  assert.deepEqual(plain(gz.line([14100000, -3500000, 50000, 25000])), [[-35, 141], [-34.75, 141.5]]);
  assert.deepEqual(plain(gz.line([])), []);
});

const COLUMNS = { verdict: [0, 1], dark: [24, -1], dark_night: [1, -1], dark_edge: [0, -1], excess: [0, 31], excess_night: [-1, 0],
  excess_edge: [-1, 1], nights_beyond: [0, -1], dark_year: [12345, -1], excess_year: [0, 5], area: [0, -1], zone: [0, 0],
  zone_listed: [0, 1], rule: [0, 0], confirm: [1, 0], boundary: [15, -1], load: [-1, 700] };
const page = () => ({ tolerance: { dark: 2, excess: 4 }, sites: { count: 2, id: ["a", "b"], name: [],
  tables: { verdicts: ["within", "beyond"], nights: ["2027-01-01", "2027-06-21"], edges: ["dusk", "dawn"], areas: ["North"],
    zones: ["Australia/Adelaide"], rules: ["UTC+09:30"] },
  columns: Object.fromEntries(Object.entries(COLUMNS).map(([name, values]) => [name, gz.column(steps(values), 2)])) } });

test("a site's figures, and null where there is none", () => {
  const [a, b] = [0, 1].map(row => plain(gz.site(page(), row)));
  assert.deepEqual([a.id, a.name, a.verdict, a.dark, a.darkNight, a.darkEdge, a.area], ["a", "", "within", "2.4", "2027-06-21", "dusk", "North"]);
  assert.deepEqual([a.excess, a.excessNight, a.excessEdge, a.nightsBeyond, a.darkYear], ["0.0", null, null, 0, "1234.5"]);
  assert.deepEqual([a.confirm, a.zoneListed, a.boundaryKm, a.load, a.plain], [true, false, "1.5", null, true]);
  assert.deepEqual([b.dark, b.darkNight, b.darkEdge, b.nightsBeyond, b.darkYear, b.area, b.boundaryKm], Array(7).fill(null));
  assert.deepEqual([b.verdict, b.excess, b.excessEdge, b.load], ["beyond", "3.1", "dawn", "70.0"]);
});

test("1 is the tolerance itself, and the worse of both counts", () => {
  const dark = [20, 0, 10, -1], excess = [0, 80, 40, 20], one = page();
  one.sites.count = 4;
  assert.deepEqual([...gz.factors(one, dark, excess)], [1, 2, 1, 0.5]);
});
