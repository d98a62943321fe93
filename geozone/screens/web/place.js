// Any place of the map: what a switch that is keyed with it reads in a night, and how the shared setting fares there.
(function (gz) {
  "use strict";

  gz.placePart = function (map, page) {
    const { trial, sky: given } = page;
    const clock = utc => gz.clockTime(page, utc), time = utc => Number.isNaN(utc) ? "no time" : clock(utc);
    const lateness = function (minutes) {
      const tenths = Math.abs(gz.tenthsOf(minutes)) / 10;
      return Number.isNaN(minutes) ? "" : tenths === 0 ? "on time" : tenths.toFixed(1) + " min " + (minutes > 0 ? "late" : "early");
    };

    function pairs(rows) {
      const list = gz.el("dl");
      for (const [name, text] of rows) list.append(gz.el("dt", "", name), gz.el("dd", "", text));
      return list;
    }

    // Everything that the panel says of a place.
    function parts(latlng) {
      const sky = trial.sky(), lat = Math.max(-90, Math.min(90, latlng.lat)), lon = latlng.lng - 360 * Math.round(latlng.lng / 360), { k } = gz.nightNow();
      const unwrapped = degrees => gz.unwrapped(degrees, given.legal_lon), here = gz.nightAt(sky, k, gz.placeAt(lat, unwrapped(lon)));
      const key = { lat: gz.onKeypad(lat, given.step), lon: gz.onKeypad(lon, given.step) }, keyed = gz.nightAt(sky, k, gz.placeAt(key.lat, unwrapped(key.lon)));
      const out = { year: gz.yearRoom(sky), off: new Float64Array(8) }, place = gz.placeAt(lat, unwrapped(lon)), times = trial.keyedTimes(-1);
      const tolerance = { dark: Number(trial.now.tolerance.dark), excess: Number(trial.now.tolerance.excess) };
      gz.yearOff(sky, place, out.year, 0, gz.yearAt(sky, place, out.year), times, tolerance, out.off);
      const worst = [gz.OFF.dark, gz.OFF.excess].map(which => gz.figure((gz.tenthsOf(out.off[which]) / 10).toFixed(1)));
      const crosses = here.state === gz.STATES.CROSSES;
      const off = edge => crosses && !Number.isNaN(times[edge][k]) ? ": " + lateness(times[edge][k] - here[edge]) : "";
      const made = [gz.el("p", "site-name", "In the night of " + gz.words.night(gz.nightDate(page, k), page.year)), gz.el("h3", "second", "A switch keyed here reads"),
        pairs([["Keyed", gz.positionText(page, key.lat, key.lon)], ["Dusk", time(keyed.dusk)], ["Dawn", time(keyed.dawn)]]),
        gz.el("h3", "second", "With the shared setting" + (trial.moved ? " as tried" : "")),
        pairs([["Dusk", time(times.dusk[k]) + off("dusk")], ["Dawn", time(times.dawn[k]) + off("dawn")]]),
        gz.el("p", "", "Over the year at most " + worst[0] + " min unlit and " + worst[1] + " min lit too long here: " + (out.off[gz.OFF.nightsBeyond] ? "beyond" : "within") + " tolerance"
          + (given.aside ? ", lit from dusk to dawn." : "."))];
      if (!crosses) made.push(gz.el("p", "", "The sun does not cross the dark threshold here in this night, or only once."));
      made.push(gz.el("p", "small", "On the shared setting's clock, whatever legal zone holds here. A display may cut the seconds off or round them. Another night: “Show a night”."));
      return made;
    }

    gz.showPlace = latlng => gz.tell(gz.placeText(latlng), parts(latlng), latlng);
    gz.placeText = ({ lat, lng }) => gz.keyedText(lat, 2, "NS") + ", " + gz.keyedText(lng - 360 * Math.round(lng / 360), 2, "EW");
    map.on("gz-tried gz-night", () => { if (gz.toldPlace()) gz.showPlace(gz.toldPlace()); });
  };

  // In the legend: for those who do not click.
  gz.placeLegend = function (map, legend) {
    const part = gz.el("section", "any-place"), go = gz.el("button", "quiet", "Read it at the middle of the map");
    go.type = "button";
    go.addEventListener("click", function () {
      gz.closeSide();
      gz.showPlace(map.getCenter());
      document.getElementById("panel").focus({ preventScroll: true });
    });
    part.append(gz.el("h2", "", "A switch at any place"), gz.el("p", "small", "Click the map where no site is: what would a switch read there?"), go);
    legend.append(part);
  };
})(geozone);
