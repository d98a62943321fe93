// Figures and dates as the page says them. The wording itself is held against whole runs in tests/browser.
import assert from "node:assert/strict";
import { test } from "node:test";
import { load } from "./load.mjs";

const gz = load("words.js");
const EDGES = ["dusk", "dawn", "clock", "night"];

const site = more => ({ dark: "2.4", darkNight: "2027-12-14", darkEdge: "dusk", excess: "1.0", excessNight: "2028-01-01",
  excessEdge: "dawn", plain: true, nightsBeyond: 3, darkYear: "1234.5", excessYear: "0.0", ...more });

test("numbers have thousands and their own decimals", () => {
  assert.equal(gz.count(1234567), "1,234,567");
  assert.equal(gz.figure("1234.5"), "1,234.5");
  assert.equal(gz.figure("999.0"), "999.0");
  assert.deepEqual([0, 1, 2, 1000].map(n => gz.many(n, "site")), ["0 sites", "1 site", "2 sites", "1,000 sites"]);
  assert.equal(gz.many(2, "boundary", "boundaries"), "2 boundaries");
});

test("a night is a date, with the year where it is another", () => {
  assert.equal(gz.words.night("2027-12-14", 2027), "14 December");
  assert.equal(gz.words.night("2028-01-01", 2027), "1 January 2028");
  assert.equal(gz.words.night("2027-05-31", 2027), "31 May");
  for (const none of ["", null, undefined]) assert.match(gz.words.night(none, 2027), /\S/);
});

test("a code without words is an error", () => {
  const page = { vocabulary: { verdict: { within: "within tolerance" } } };
  assert.equal(gz.term(page, "verdict", "within"), "within tolerance");
  assert.throws(() => gz.term(page, "verdict", "beyond"), /beyond/);
  assert.throws(() => gz.term(page, "edge", "dusk"), /edge dusk/);
});

test("every edge has a sentence with its minutes and its night", () => {
  for (const plain of [true, false]) for (const edge of EDGES) {
    const dark = gz.words.dark(site({ plain, darkEdge: edge }), 2027), excess = gz.words.excess(site({ plain, excessEdge: edge }), 2027);
    assert.match(dark, /\b2\.4 minutes\b.*\b14 December\b(?! 2027)/);
    assert.match(excess, /\b1\.0 minute\b.*\b1 January 2028\b/);
    assert.doesNotMatch(dark + excess, /undefined|null|NaN/);
  }
});

test("late and early are told the right way round", () => {
  assert.match(gz.words.dark(site({ darkEdge: "dusk" }), 2027), / late /);
  assert.match(gz.words.dark(site({ darkEdge: "dawn" }), 2027), / early /);
  assert.match(gz.words.excess(site({ excessEdge: "dusk" }), 2027), / early /);
  assert.match(gz.words.excess(site({ excessEdge: "dawn" }), 2027), / late /);
  // A programme may turn lamps off at dusk: no direction there.
  for (const edge of EDGES) assert.doesNotMatch(gz.words.dark(site({ plain: false, darkEdge: edge }), 2027), / late | early /);
});

test("nothing, almost nothing and not known are three things", () => {
  for (const kind of ["dark", "excess"]) {
    const said = [site({ [kind]: null }), site({ [kind]: "0.0" }), site({ [kind]: "0.0", [kind + "Edge"]: null })]
      .map(one => gz.words[kind](one, 2027));
    assert.equal(new Set(said).size, 3);
    assert.match(said[1], /under 0\.1 minutes/);
    assert.match(said[2], /[Nn]ever/);
  }
});

test("nights beyond and sums of the year", () => {
  assert.equal(gz.words.nights(site({ nightsBeyond: null })), "");
  assert.match(gz.words.nights(site({ nightsBeyond: 1 })), /\b1 night\b/);
  assert.match(gz.words.nights(site({})), /\b3 nights\b/);
  assert.match(gz.words.nights(site({ nightsBeyond: 0 })), /every night/);
  assert.match(gz.words.year(site({})), /1,234\.5.*0\.0/);
  assert.equal(gz.words.year(site({ darkYear: null })), "");
});
