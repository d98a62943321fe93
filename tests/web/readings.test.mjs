// What a display reads. The sun of these tests stands still in declination and keeps mean time, so that dusk follows from the
// sunrise equation cos H = (sin h - sin(lat) sin(dec)) / (cos(lat) cos(dec)) (Meeus, Astronomical Algorithms, chapter 15) by hand.
import assert from "node:assert/strict";
import { test } from "node:test";
import { load, plain } from "./load.mjs";

const gz = load("cards/readings.js");
const RAD = Math.PI / 180, NIGHTS = 800, FIRST = -365;
const sun = dec => ({ first: FIRST, angle: Array(NIGHTS).fill([Math.PI, 0]), sine: Array(NIGHTS).fill([Math.sin(dec * RAD), 0, 0]) });
const keyed = more => ({ lat: 0, lon: 0, sinh: 0, clock: 0, dusk: 0, dawn: 0, days: 0, years: 0, ...more });
const page = more => ({ year: 2027, sun: sun(0), clocks: [[[-1e9, 0]]], words: { readings_none: "no time" },
  display: { hours: 24, error: 0, offsets: true, dawn: "dawn" }, ...more });
const close = (value, expected, within = 1e-6) => assert.ok(Math.abs(value - expected) < within, value + " is not " + expected);

test("dusk at 18:00 and dawn at 06:00 on the equator", () => {
  close(gz.crossing(sun(0), keyed(), 0, "dusk"), 1080);
  close(gz.crossing(sun(0), keyed(), 0, "dawn"), 1440 + 360);
  close(gz.crossing(sun(0), keyed({ lon: 15 }), 100, "dusk"), 100 * 1440 + 1080 - 60);
  close(gz.crossing(sun(0), keyed(), -365, "dusk"), -365 * 1440 + 1080);
});

test("the sunrise equation at other latitudes, declinations and thresholds", () => {
  for (const lat of [-52, -35, 20, 60]) for (const dec of [-23.44, -5, 23.44]) for (const height of [-6, -0.8333, 3]) {
    const cosine = (Math.sin(height * RAD) - Math.sin(lat * RAD) * Math.sin(dec * RAD)) / (Math.cos(lat * RAD) * Math.cos(dec * RAD));
    const dusk = gz.crossing(sun(dec), keyed({ lat, sinh: Math.sin(height * RAD) }), 10, "dusk");
    if (Math.abs(cosine) > 1) assert.ok(Number.isNaN(dusk));
    else close(dusk, 10 * 1440 + 720 + Math.acos(cosine) / RAD * 4, 1e-5);
  }
});

test("no time where the sun does not cross", () => {
  for (const dec of [-23.44, 23.44]) for (const edge of ["dusk", "dawn"]) {
    assert.ok(Number.isNaN(gz.crossing(sun(dec), keyed({ lat: 80 }), 0, edge)));
  }
  assert.ok(Number.isNaN(gz.reading(page({ sun: sun(23.44) }), keyed({ lat: 80 }), 0, "dusk", true)));
});

test("a clock's offset holds from its instant on", () => {
  const steps = [[-1e9, 570], [1000, 630], [2000, 570]];
  assert.deepEqual([999, 1000, 1999, 2000].map(utc => gz.offsetAt(steps, utc)), [570, 630, 630, 570]);
});

test("dawn is the morning of the date, and what follows is the coming one", () => {
  const slow = page();
  slow.sun.sine = slow.sun.sine.map((_, k) => [Math.sin((k + FIRST) / 100 * RAD), 0, 0]);
  const at = keyed({ lat: 40 });
  const morning = gz.reading(slow, at, 50, "dawn", true), coming = gz.reading(slow, at, 49, "coming", true);
  close(morning, coming);
  assert.ok(Math.abs(morning - gz.reading(slow, at, 50, "coming", true)) > 0.01);
});

test("offsets count where the display counts them, and the day wraps", () => {
  const at = keyed({ dusk: 25, dawn: -400 });
  close(gz.reading(page(), at, 0, "dusk", true), 1105);
  close(gz.reading(page(), at, 0, "dusk", false), 1080);
  close(gz.reading(page(), at, 0, "dawn", true), 1440 - 40);
});

test("the date that a switch holds (Gregorian calendar)", () => {
  const of = (year, y, month, date) => gz.dayOf(year, y, month - 1, date);
  assert.equal(of(2027, 2027, 12, 31), 364);
  assert.equal(of(2028, 2028, 12, 31), 365);
  assert.equal(of(2027, 2026, 1, 1), -365);
  assert.equal(gz.heldDay(page(), keyed({ days: 1 }), 40), 41);
  assert.equal(gz.heldDay(page(), keyed({ years: -1 }), 0), -365);
  // 29 February a year before is 1 March there.
  assert.equal(gz.heldDay(page({ year: 2028 }), keyed({ years: -1 }), of(2028, 2028, 2, 29)), of(2028, 2027, 3, 1));
  assert.equal(gz.heldDay(page(), keyed({ visit: "power_lost" }), 100, 7), 93);
});

test("day and month exchanged: 9 March is held as 3 September", () => {
  const march = gz.dayOf(2027, 2027, 2, 9);
  assert.equal(gz.heldDay(page(), keyed({ visit: "day_and_month" }), march, march), gz.dayOf(2027, 2027, 8, 3));
  assert.equal(gz.swappedDays(2027, gz.dayOf(2027, 2027, 4, 5)), 0); // 5 May
  assert.equal(gz.swappedDays(2027, gz.dayOf(2027, 2027, 4, 13)), 0); // there is no 13th month
});

test("whole minutes fit whether seconds are cut off or rounded, across midnight and on a 12-hour display", () => {
  const fits = (shown, exact, display = {}) => gz.fits({ display: { hours: 24, error: 0, ...display } }, shown, exact);
  assert.deepEqual([1081, 1082, 1083, 1084].map(shown => fits(shown, 1082.6)), [false, true, true, false]);
  assert.ok(fits(1081, 1082.6, { error: 1 }) && fits(0, 1439.8) && fits(1439, 0.2) === false && fits(1439, 1439.9));
  assert.ok(fits(61, 781, { hours: 12 }) && !fits(61, 781));
  assert.ok(fits(NaN, NaN) && !fits(NaN, 5) && !fits(5, NaN));
});

test("a slip is told from the right setting by what is read", () => {
  const right = keyed({ lon: 30 }), west = { key: "longitude", keyed: { lon: -30 } }, day = { key: "date", keyed: { days: 1 } };
  const group = { right, slips: [west, day] };
  const told = shown => plain(gz.explain(page(), group, 10, shown));
  assert.deepEqual(told({ dusk: 960, dawn: 240 }), { right: true, slips: [plain(day)] }); // this sun moves nothing from day to day
  assert.deepEqual(told({ dusk: 1200 }), { right: false, slips: [plain(west)] });
  assert.deepEqual(told({ dusk: 700 }), { right: false, slips: [] });
});

test("clock times in both ways of writing", () => {
  const text = (minute, hours) => gz.clockText(page({ display: { hours } }), minute);
  assert.deepEqual([0, 1082.6, 1439.7, 719].map(m => text(m, 24)), ["00:00", "18:03", "00:00", "11:59"]);
  assert.deepEqual([0, 1082.6, 720, 719].map(m => text(m, 12)), ["12:00 a.m.", "6:03 p.m.", "12:00 p.m.", "11:59 a.m."]);
  assert.equal(text(NaN, 24), "no time");
});
