// Dusk and dawn as a display reads them, from keyed values and the sun's positions that came with the page.
(function (gz) {
  "use strict";

  const TURN = 2 * Math.PI, DAY = 1440;

  // Hour angle at Greenwich beyond one turn a day, and sine of the declination, x days from the middle of night k.
  function sineAt(sun, k, x) { const s = sun.sine[k]; return s[0] + x * (s[1] + x * s[2]); }

  // UTC minutes from 1 January of the plan's year at which the sun crosses the threshold in the night that begins on `day`;
  // NaN where it does not. edge: "dusk" or "dawn".
  gz.crossing = function (sun, keyed, day, edge) {
    const k = Math.min(Math.max(day - sun.first, 0), sun.angle.length - 1);
    const moved = (day - sun.first) - k;
    const lat = keyed.lat * Math.PI / 180, lon = keyed.lon * Math.PI / 180;
    let h = Math.PI / 2, x = 0;
    for (let pass = 0; pass < 12; pass++) {
      const aim = edge === "dusk" ? h : TURN - h;
      for (let turn = 0; turn < 3; turn++) x = (aim - lon - sun.angle[k][0] - sun.angle[k][1] * x) / TURN;
      const sine = sineAt(sun, k, x);
      const cosine = (keyed.sinh - Math.sin(lat) * sine) / (Math.max(Math.cos(lat), 1e-12) * Math.sqrt(1 - sine * sine));
      if (!(Math.abs(cosine) <= 1)) return NaN;
      h = Math.acos(cosine);
    }
    const aim = edge === "dusk" ? h : TURN - h;
    for (let turn = 0; turn < 3; turn++) x = (aim - lon - sun.angle[k][0] - sun.angle[k][1] * x) / TURN;
    return (k + sun.first + 1 + moved + x) * DAY;
  };

  gz.offsetAt = function (steps, utc) {
    let offset = steps[0][1];
    for (const step of steps) if (step[0] <= utc) offset = step[1];
    return offset;
  };

  // Days from 1 January of the plan's year of a calendar date.
  gz.dayOf = (year, y, month, date) => Math.round((Date.UTC(y, month, date) - Date.UTC(year, 0, 1)) / 86400000);

  // The day that a switch holds for the true day.
  gz.heldDay = function (page, keyed, day, visit) {
    const held = new Date(Date.UTC(page.year, 0, 1 + day + keyed.days));
    if (keyed.visit === "day_and_month") return day + gz.swappedDays(page.year, visit);
    if (keyed.visit === "power_lost") return day - visit;
    if (!keyed.years) return day + keyed.days;
    return gz.dayOf(page.year, held.getUTCFullYear() + keyed.years, held.getUTCMonth(), held.getUTCDate());
  };

  gz.swappedDays = function (year, day) {
    const date = new Date(Date.UTC(year, 0, 1 + day));
    const d = date.getUTCDate(), m = date.getUTCMonth() + 1;
    return d <= 12 && d !== m ? gz.dayOf(year, year, d - 1, m) - day : 0;
  };

  // What a display reads on a true day [minute of the day]; NaN where it shows no time.
  gz.reading = function (page, keyed, day, edge, offsets, visit) {
    const held = gz.heldDay(page, keyed, day, visit === undefined ? day : visit);
    const night = edge === "dawn" ? held - 1 : held;
    const utc = gz.crossing(page.sun, keyed, night, edge === "dusk" ? "dusk" : "dawn");
    if (Number.isNaN(utc)) return NaN;
    const shown = utc + gz.offsetAt(page.clocks[keyed.clock], utc) + (offsets ? (edge === "dusk" ? keyed.dusk : keyed.dawn) : 0);
    return ((shown % DAY) + DAY) % DAY;
  };

  gz.wrapped = (minutes, period) => ((minutes + period / 2) % period + period) % period - period / 2;

  // Whether a reading in whole minutes may be a right switch's: it cuts seconds off or rounds them, and its own sun may be off.
  gz.fits = function (page, shown, exact) {
    if (Number.isNaN(shown) || Number.isNaN(exact)) return Number.isNaN(shown) && Number.isNaN(exact);
    const off = gz.wrapped(shown - exact, 60 * page.display.hours);
    return off > -1 - page.display.error && off <= 0.5 + page.display.error;
  };

  // The slips of a group that a reading fits, the likeliest first, and whether the right setting fits as well.
  // shown: {dusk, dawn}, minutes of the day, NaN for "no time", undefined for "not read".
  gz.explain = function (page, group, day, shown) {
    const modes = page.display.offsets === null ? [true, false] : [page.display.offsets];
    const dawns = page.display.dawn === null ? ["dawn", "coming"] : [page.display.dawn === "coming" ? "coming" : "dawn"];
    const agrees = keyed => modes.some(mode => dawns.some(dawn =>
      (shown.dusk === undefined || gz.fits(page, shown.dusk, gz.reading(page, keyed, day, "dusk", mode)))
      && (shown.dawn === undefined || gz.fits(page, shown.dawn, gz.reading(page, keyed, day, dawn, mode)))));
    const slips = group.slips.filter(slip => agrees(gz.wrong(group, slip)));
    return { right: agrees(group.right), slips };
  };

  gz.wrong = (group, slip) => Object.assign({}, group.right, slip.keyed, { visit: slip.key });

  gz.clockText = function (page, minute) {
    if (Number.isNaN(minute)) return page.words.readings_none;
    const whole = Math.floor(minute + 0.5) % DAY, hour = Math.floor(whole / 60), rest = String(whole % 60).padStart(2, "0");
    if (page.display.hours === 24) return String(hour).padStart(2, "0") + ":" + rest;
    return ((hour + 11) % 12 + 1) + ":" + rest + (whole < 720 ? " a.m." : " p.m.");
  };
})(geozone);
