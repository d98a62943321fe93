// Light and dark: what is drawn by script asks here for its colours; the style sheets have the rest (dark.css). Paper is
// always light.
(function (gz) {
  "use strict";

  const dark = window.matchMedia("(prefers-color-scheme: dark)");
  // On a dark map ink and paper change places, so that every sign keeps its outline. `rim` is round a group's sign: of a
  // hue that takes white letters, of one that takes dark ones.
  const PALETTES = {
    light: { lamp: "#ffb52e", lampRim: "#5f3b00", ink: "#121a3a", paper: "#ffffff", clock: "#7a2f8f", grid: "rgba(40, 52, 92, 0.16)",
      gridText: "#4a4f63", rimDeep: "#ffffff", rimPale: "#121a3a" },
    dark: { lamp: "#ffb52e", lampRim: "#2b1a00", ink: "#f1f0fb", paper: "#0b1020", clock: "#dda6ee", grid: "rgba(200, 208, 240, 0.17)",
      gridText: "#b4b8d0", rimDeep: "#f1f0fb", rimPale: "#0b1020" },
  };
  const acts = [];

  gz.COLOURS = {};

  // Runs whenever the colours have changed, and now unless told otherwise.
  gz.onScheme = function (act, now = true) {
    acts.push(act);
    if (now) act();
  };

  gz.setScheme = function () {
    const scheme = dark.matches && !gz.printing ? "dark" : "light";
    if (scheme === gz.scheme) return;
    gz.scheme = scheme;
    Object.assign(gz.COLOURS, PALETTES[scheme]);
    for (const act of acts) act();
  };

  gz.setScheme();
  dark.addEventListener("change", gz.setScheme);
})(geozone);
