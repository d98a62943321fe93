// Reads the data block of the page: columns of whole numbers, packed as differences, as runs or as bits (see mapcolumns.py).
(function (gz) {
  "use strict";

  gz.STEPS_PER_DEG = 100000;
  gz.MISSING = -1;

  gz.column = function (packed, count) {
    const column = new Int32Array(count);
    if (packed.bits !== undefined) {
      const bytes = atob(packed.bits);
      for (let row = 0; row < count; row++) column[row] = bytes.charCodeAt(row >> 3) >> (row & 7) & 1;
    } else if (packed.runs) {
      let row = 0;
      for (let k = 0; k < packed.runs.length; k += 2) {
        column.fill(packed.runs[k], row, row + packed.runs[k + 1]);
        row += packed.runs[k + 1];
      }
    } else {
      let value = 0;
      for (let row = 0; row < count; row++) {
        value += packed.steps[row];
        column[row] = value;
      }
    }
    return column;
  };

  // [lon, lat, lon difference, lat difference, ...] to the [lat, lon] pairs that Leaflet wants.
  gz.line = function (steps) {
    const points = [];
    let lon = 0, lat = 0;
    for (let k = 0; k < steps.length; k += 2) {
      lon += steps[k];
      lat += steps[k + 1];
      points.push([lat / gz.STEPS_PER_DEG, lon / gz.STEPS_PER_DEG]);
    }
    return points;
  };

  gz.read = function (id) {
    const page = JSON.parse(document.getElementById(id).textContent);
    const sites = page.sites;
    for (const name of Object.keys(sites.columns)) {
      sites.columns[name] = gz.column(sites.columns[name], sites.count);
    }
    return page;
  };

  // One site in words and numbers; null where there is none.
  gz.site = function (page, row) {
    const { columns, tables, id, name } = page.sites;
    const from = (table, column) => columns[column][row] === gz.MISSING ? null : tables[table][columns[column][row]];
    const tenth = column => columns[column][row] === gz.MISSING ? null : (columns[column][row] / 10).toFixed(1);
    const site = {
      row,
      id: id[row],
      name: name.length ? name[row] : "",
      verdict: from("verdicts", "verdict"),
      dark: tenth("dark"), darkNight: from("nights", "dark_night"), darkEdge: from("edges", "dark_edge"),
      excess: tenth("excess"), excessNight: from("nights", "excess_night"), excessEdge: from("edges", "excess_edge"),
      nightsBeyond: columns.nights_beyond[row] === gz.MISSING ? null : columns.nights_beyond[row],
      darkYear: tenth("dark_year"), excessYear: tenth("excess_year"),
      area: from("areas", "area"), zone: from("zones", "zone"), zoneListed: columns.zone_listed[row] === 1,
      clock: from("rules", "rule"), confirm: columns.confirm[row] === 1,
      boundaryKm: tenth("boundary"), load: tenth("load"),
      // Whether the lamps burn from dusk to dawn: true of every site of a run without programmes.
      plain: !columns.plain || columns.plain[row] === 1,
    };
    // Where something else than the plan is tried on the page, what a site's figures are then.
    return page.trial && page.trial.changed ? Object.assign(site, page.trial.record(row)) : site;
  };

  // How far a site is off in units of the tolerance, from the figures that are shown: 1 is the tolerance itself.
  gz.factors = function (page, dark = page.sites.columns.dark, excess = page.sites.columns.excess, tolerance = page.tolerance) {
    const factors = new Float64Array(page.sites.count);
    for (let row = 0; row < factors.length; row++) {
      factors[row] = Math.max(dark[row] / (10 * tolerance.dark), excess[row] / (10 * tolerance.excess));
    }
    return factors;
  };
})(geozone);
