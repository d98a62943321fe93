// The phone's page against the program's own readings: what the page computes, not what it is told. Run by test_phone_readings.py.
import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import test from "node:test";
import vm from "node:vm";

const cases = JSON.parse(readFileSync(process.env.GEOZONE_CASES, "utf8"));
const context = vm.createContext({});
vm.runInContext("var geozone = {};" + readFileSync(new URL("../../geozone/screens/web/cards/readings.js", import.meta.url), "utf8"), context);
const gz = context.geozone;
const EDGES = ["dusk", "dawn", "coming"];
const apart = (a, b) => Math.abs(((a - b + 720) % 1440 + 1440) % 1440 - 720);
// Near a white night dusk moves by minutes with a hair of the sun's height, so that two computations may differ by more.
const NEAR = 0.05, SECONDS = 2 / 60;

function compare(got, wanted, grazing, what) {
  if (wanted === null || Number.isNaN(got)) {
    assert.ok(wanted === null === Number.isNaN(got) || grazing < NEAR, what);
    return;
  }
  assert.ok(apart(got, wanted) < (grazing < NEAR ? 10 : SECONDS), what + `: ${got} for ${wanted}`);
}

for (const one of cases) {
  test(`${one.name}: every day's readings of the right setting`, () => {
    one.page.groups.forEach((group, g) => {
      for (const edge of EDGES) {
        one.right[g][edge].forEach((wanted, day) => {
          compare(gz.reading(one.page, group.right, day, edge, true), wanted, one.grazing[g][day], `${group.name} ${edge} day ${day}`);
        });
      }
    });
  });

  test(`${one.name}: what each slip reads, and that it is listed for its reading, cut off or rounded`, () => {
    let listed = 0;
    one.page.groups.forEach((group, g) => {
      group.slips.forEach((slip, s) => {
        const wanted = one.slips[g][s], shown = {};
        for (const edge of EDGES) {
          compare(gz.reading(one.page, gz.wrong(group, slip), one.visit, edge, true), wanted[edge], wanted.grazing, `${group.name} ${slip.key} ${edge}`);
        }
        for (const cut of [0, 0.5]) {
          for (const [edge, from] of [["dusk", "dusk"], ["dawn", one.page.display.dawn === "coming" ? "coming" : "dawn"]]) shown[edge] = wanted[from] === null ? NaN : Math.floor(wanted[from] + cut) % 1440;
          if (wanted.grazing < NEAR) continue;
          assert.ok(gz.explain(one.page, group, one.visit, shown).slips.includes(slip), `${group.name} ${slip.key}`);
          listed += 1;
        }
      });
    });
    assert.ok(listed > 100);
  });

  test(`${one.name}: no right reading is called wrong`, () => {
    let seed = 12345;
    const random = () => (seed = (1103515245 * seed + 12345) % 2147483648) / 2147483648;
    let tried = 0;
    for (; tried < 34000; tried += 1) {
      const g = Math.floor(random() * one.page.groups.length), group = one.page.groups[g], day = Math.floor(random() * 365);
      const own = (2 * random() - 1) * one.page.display.error, cut = random() < 0.5 ? 0 : 0.5;
      const dawn = one.page.display.dawn ?? (random() < 0.5 ? "dawn" : "coming");
      if (one.grazing[g][day] < NEAR) continue;
      const read = edge => one.right[g][edge][day] === null ? NaN : ((Math.floor(one.right[g][edge][day] + own + cut) % 1440) + 1440) % 1440;
      assert.ok(gz.explain(one.page, { right: group.right, slips: [] }, day, { dusk: read("dusk"), dawn: read(dawn === "morning" ? "dawn" : dawn) }).right,
        `${group.name} day ${day}`);
    }
    assert.equal(tried, 34000);
  });
}
