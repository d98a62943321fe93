// A site's figures as sentences. Every number is shown with the decimal that sites.csv has.
(function (gz) {
  "use strict";

  const MONTHS = ["January", "February", "March", "April", "May", "June", "July", "August", "September", "October",
    "November", "December"];

  // Numbers and plurals, one way for the whole page: "1,234", "1,234.5", "1 site", "2 sites".
  gz.count = value => value.toLocaleString("en");
  gz.figure = text => String(text).replace(/^\d{4,}/, digits => Number(digits).toLocaleString("en"));
  gz.many = (count, one, several) => gz.count(count) + " " + (count === 1 ? one : several || one + "s");

  // The words of a code, as the page brought them; a code without words is a defect and must not pass for another.
  gz.term = function (page, kind, code) {
    const words = page.vocabulary[kind] && page.vocabulary[kind][code];
    if (words === undefined) throw new Error("no words for " + kind + " " + code);
    return words;
  };

  gz.words = {
    // "2027-12-14" to "14 December", with the year if it is not the year of the page.
    night(text, year) {
      const parts = /^(\d+)-(\d\d)-(\d\d)$/.exec(text || "");
      if (!parts) return text || "an unnamed night";
      const date = Number(parts[3]) + " " + MONTHS[Number(parts[2]) - 1];
      return Number(parts[1]) === year ? date : date + " " + parts[1];
    },

    // A table entry for every edge of the page's vocabulary; mapdata.py refuses any other. "dusk" and "dawn" name the direction only
    // where the lamps burn from dusk to dawn: a programme may turn them off at dusk.
    dark(site, year) {
      if (site.dark === null) return "Minutes unlit are not known.";
      if (Number(site.dark) === 0) return site.darkEdge ? "Unlit for under 0.1 minutes at any switching." : "Never unlit when it should be lit.";
      const night = this.night(site.darkNight, year), minutes = this.minutes(site.dark);
      return (site.plain ? {
        dusk: "Lights up to " + minutes + " late in the night of " + night + ".",
        dawn: "Goes out up to " + minutes + " early in the night of " + night + ".",
        clock: "Unlit for up to " + minutes + " at a clock time in the night of " + night + ".",
        night: "Unlit for up to " + minutes + " too long in the night of " + night + ": " + this.noCrossing,
      } : {
        dusk: "Unlit for up to " + minutes + " at dusk in the night of " + night + ".",
        dawn: "Unlit for up to " + minutes + " at dawn in the night of " + night + ".",
        clock: "Unlit for up to " + minutes + " at a clock time in the night of " + night + ".",
        night: "Unlit for up to " + minutes + " in the night of " + night + ", in which the lamps are never on.",
      })[site.darkEdge];
    },

    excess(site, year) {
      if (site.excess === null) return "Minutes lit too long are not known.";
      if (Number(site.excess) === 0) return site.excessEdge ? "Lit without need for under 0.1 minutes at any switching." : "Never lit without need.";
      const night = this.night(site.excessNight, year), minutes = this.minutes(site.excess);
      return (site.plain ? {
        dusk: "Lights up to " + minutes + " early in the night of " + night + ".",
        dawn: "Goes out up to " + minutes + " late in the night of " + night + ".",
        clock: "Lit for up to " + minutes + " without need at a clock time in the night of " + night + ".",
        night: "Lit for up to " + minutes + " too long in the night of " + night + ": " + this.noCrossing,
      } : {
        dusk: "Lit for up to " + minutes + " without need at dusk in the night of " + night + ".",
        dawn: "Lit for up to " + minutes + " without need at dawn in the night of " + night + ".",
        clock: "Lit for up to " + minutes + " without need at a clock time in the night of " + night + ".",
        night: "Lit for up to " + minutes + " in the night of " + night + ", in which no light is meant.",
      })[site.excessEdge];
    },

    noCrossing: "the sun does not reach the threshold that night, here or at the keyed position.",

    // "1.0 minute", "2.4 minutes": one decimal as in sites.csv, thousands as everywhere on the page.
    minutes(text) { return gz.figure(text) + " " + (Number(text) === 1 ? "minute" : "minutes"); },

    nights(site) {
      if (site.nightsBeyond === null) return "";
      if (site.nightsBeyond === 0) return "Within tolerance on every night of the year.";
      return "Beyond tolerance on " + gz.many(site.nightsBeyond, "night") + " of the year.";
    },

    year(site) {
      if (site.darkYear === null || site.excessYear === null) return "";
      return "Over the year " + gz.figure(site.darkYear) + " min unlit and " + gz.figure(site.excessYear) + " min lit too long.";
    },

    otherClock: "This site keeps another legal clock than the shared setting. The minutes below include the difference of the clocks.",

    confirm: "Confirm the legal zone on site: a boundary is near, the site lies off the coast, or the site list and the boundary data disagree.",
  };
})(geozone);
