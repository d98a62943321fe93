// The year at a glance: columns, clock changes and daylight, against one sample a minute that shares no line with it.
import assert from "node:assert/strict";
import { test } from "node:test";
import { load, plain, random } from "./load.mjs";

const gz = load("unpack.js", "words.js", "yearpicture.js");
const DAY = 1440, NIGHTS = 365;
const runs = value => ({ runs: [value, NIGHTS + 2] });
const nightly = (...pieces) => ({ count: runs(pieces.length), from: pieces.map(p => runs(p[0])), to: pieces.map(p => runs(p[1])) });
const column = values => ({ steps: values.map((value, k) => k ? value - values[k - 1] : value) });

function shown(lit, dark, clock = { first: 0, changes: [] }) {
  const page = { year: 2027, programmes: { years: { nights: NIGHTS, darks: [dark] } } }, picture = { lit, dark: 0, clock };
  return { page, picture, shapes: gz.yearOf(page, picture) };
}

test("a night is a column from noon to noon", () => {
  const { shapes } = shown(nightly([360, 1080]), nightly([350, 1090]));
  assert.equal(shapes.lit.length, NIGHTS);
  assert.deepEqual(plain(shapes.lit[0]), { night: 0, low: 360, high: 1080, of: 1 });
  assert.equal(shapes.waste.length + shapes.wasteNights, 0);
});

test("daylight counts from an hour on, for the night that it follows", () => {
  assert.equal(shown(nightly([360, 1150]), nightly([350, 1090])).shapes.wasteNights, 0); // 60 min
  const { shapes } = shown(nightly([360, 1151]), nightly([350, 1090]));
  assert.equal(shapes.wasteNights, NIGHTS);
  assert.deepEqual(plain(shapes.waste[200]).low, 1090);
});

test("lamps that burn all day are one stretch, cut at noon only for the picture", () => {
  const { page, picture, shapes } = shown(nightly([0, DAY]), nightly([360, 1080]));
  assert.equal(shapes.lit.length, NIGHTS);
  assert.equal(new Set(shapes.lit.map(box => box.of)).size, 1);
  assert.match(gz.nightWords(page, picture, 10), /^Night of 11 January: .*18:00 to 06:00.*noon to noon.*12 h 00 min/);
});

test("a clock change moves the columns and is marked at its night", () => {
  // Clocks from UTC+9:30 to UTC+10:30 at 16:30 UTC on 2 October 2027, 02:00 on the 3rd there.
  const at = (Date.UTC(2027, 9, 2, 16, 30) - Date.UTC(2027, 0, 1)) / 60000, clock = { first: 570, changes: [[at, 630]] };
  const { page, picture, shapes } = shown(nightly([360, 1080]), nightly([360, 1080]), clock);
  const before = (Date.UTC(2027, 9, 2) - Date.UTC(2027, 0, 1)) / 864e5;
  const of = night => plain(shapes.lit.filter(box => box.night === night)).map(box => [box.low, box.high]);
  assert.deepEqual(of(before - 1), [[360, 1080]]);
  assert.deepEqual(of(before), [[360, 840], [900, 1140]]); // 02:00 is 03:00 at once
  assert.deepEqual(of(before + 1), [[420, 1140]]);
  assert.deepEqual(plain(shapes.changes), [{ night: before + 1, minutes: 60 }]);
  assert.match(gz.nightWords(page, picture, before), /Night of 2 October: .*18:00 to 07:00/);
});

test("lit but not dark, minute by minute, for nights drawn at random", () => {
  const draw = random(11), rows = NIGHTS + 2;
  for (let turn = 0; turn < 5; turn++) {
    const drawn = () => Array.from({ length: rows }, () => { const from = draw(700); return [from, from + 1 + draw(DAY - from - 1)]; });
    const lit = drawn(), dark = drawn();
    const packed = all => ({ count: runs(1), from: [column(all.map(p => p[0]))], to: [column(all.map(p => p[1]))] });
    const { shapes } = shown(packed(lit), packed(dark));
    const waste = new Uint8Array(rows * DAY);
    lit.forEach(([from, to], row) => waste.fill(1, row * DAY + from, row * DAY + to));
    dark.forEach(([from, to], row) => waste.fill(0, row * DAY + from, row * DAY + to));
    // Runs of more than an hour within one column, as the picture hatches them.
    let expected = 0;
    for (let night = 0; night < NIGHTS; night++) {
      for (let minute = 0, run = 0; minute <= DAY; minute++) {
        if (minute < DAY && waste[(night + 1) * DAY + minute]) run++;
        else { if (run > 60) expected += run; run = 0; }
      }
    }
    assert.equal(shapes.waste.reduce((sum, box) => sum + box.high - box.low, 0), expected);
  }
});
