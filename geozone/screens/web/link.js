// A link to a site: map.html#NUMBER opens on it, and the address follows the choice, so that it can be sent on.
(function (gz) {
  "use strict";

  gz.link = function (map, page) {
    // What the address names now; whether its last change was a step of the list; whether it is being read.
    let told = null, walked = false, reading = false;
    const rowOf = id => page.sites.id.indexOf(id);

    // What the address names: text of anybody's, only ever compared and shown as text. "" for nothing.
    function named() {
      const raw = window.location.hash.slice(1);
      if (rowOf(raw) >= 0) return raw;
      try {
        return decodeURIComponent(raw);
      } catch (error) {
        return raw; // a stray % that stands for itself
      }
    }

    function open() {
      const id = named(), row = id ? rowOf(id) : -1;
      reading = true;
      told = id || null;
      walked = false;
      if (row >= 0) {
        gz.closeSide();
        if (gz.chosenSite() !== row) gz.choose(row);
      } else if (id) {
        gz.clear();
        gz.say("No such site", "The address of this page names “" + id + "”. No site of this map has that number.");
      } else gz.clear();
      reading = false;
    }

    map.on("gz-chosen", function ({ row }) {
      const id = row === null ? null : page.sites.id[row];
      if (reading || id === told) return;
      // Going through the list leaves one step back, not one for each site; everything else leaves its own.
      const replace = walked && gz.walking;
      told = id;
      walked = Boolean(gz.walking);
      const address = window.location.href.split("#")[0] + (id === null ? "" : "#" + encodeURIComponent(id));
      try {
        window.history[replace ? "replaceState" : "pushState"](null, "", address);
      } catch (error) {
        // A page that is shown inside another may have no address of its own: the choice still holds.
      }
    });
    window.addEventListener("popstate", open);
    window.addEventListener("hashchange", () => { if ((named() || null) !== told) open(); });
    if (named()) open();
  };
})(geozone);
