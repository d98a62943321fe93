// A site's figures as sentences. Every number is shown with the decimal that sites.csv has.
(function (gz) {
  "use strict";

  const MONTHS = ["January", "February", "March", "April", "May", "June", "July", "August", "September", "October",
    "November", "December"];

  gz.words = {
    verdict: { "within": "Within tolerance", "beyond": "Beyond tolerance", "other clock": "Keeps another clock" },

    // "2027-12-14" to "14 December", with the year if it is not the year of the page.
    night(text, year) {
      const parts = /^(\d+)-(\d\d)-(\d\d)$/.exec(text || "");
      if (!parts) return text || "an unnamed night";
      const date = Number(parts[3]) + " " + MONTHS[Number(parts[2]) - 1];
      return Number(parts[1]) === year ? date : date + " " + parts[1];
    },

    dark(site, year) {
      if (site.dark === null) return "Dark minutes are not known.";
      if (Number(site.dark) === 0) return site.darkEdge ? "Dark for under 0.1 minutes at any switching." : "Never dark when it should be lit.";
      const night = this.night(site.darkNight, year);
      if (site.darkEdge === "dusk") return "Lights up to " + site.dark + " minutes late on " + night + ".";
      if (site.darkEdge === "dawn") return "Goes out up to " + site.dark + " minutes early in the night of " + night + ".";
      return "Dark for up to " + site.dark + " minutes too long in the night of " + night + ": " + this.noCrossing;
    },

    excess(site, year) {
      if (site.excess === null) return "Excess minutes are not known.";
      if (Number(site.excess) === 0) return site.excessEdge ? "Lit without need for under 0.1 minutes at any switching." : "Never lit without need.";
      const night = this.night(site.excessNight, year);
      if (site.excessEdge === "dusk") return "Lights up to " + site.excess + " minutes early on " + night + ".";
      if (site.excessEdge === "dawn") return "Goes out up to " + site.excess + " minutes late in the night of " + night + ".";
      return "Lit for up to " + site.excess + " minutes too long in the night of " + night + ": " + this.noCrossing;
    },

    noCrossing: "the sun does not reach the threshold that night, here or at the keyed position.",

    nights(site) {
      if (site.nightsBeyond === null) return "";
      if (site.nightsBeyond === 0) return "Within tolerance on every night of the year.";
      return "Beyond tolerance on " + site.nightsBeyond + (site.nightsBeyond === 1 ? " night" : " nights") + " of the year.";
    },

    year(site) {
      if (site.darkYear === null || site.excessYear === null) return "";
      return "Over the year " + site.darkYear + " dark minutes and " + site.excessYear + " excess minutes.";
    },

    otherClock: "This site keeps another legal clock than the shared setting: it needs a setting with its own clock.",

    confirm: "Confirm the legal zone on site: a boundary is near, or the site list and the boundary data disagree.",
  };
})(geozone);
