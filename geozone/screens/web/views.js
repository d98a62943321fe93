// Several answers on one page. Each is a view: a headline, its own layers and signs, its own part of the legend. What
// belongs to one view only is marked with gz.only; the rest of the page is common to all.
(function (gz) {
  "use strict";

  // The first view is the one that the page opens on. A later answer takes a place of its own in this list.
  gz.setViews = function (page) {
    gz.views = [];
    if (page.groups) {
      gz.views.push({ key: "groups", name: "The fewest settings", note: "which site gets which",
        headline: page.groups.headline });
    }
    if (page.zoning) {
      gz.views.push({ key: "zones", name: "Lighting zones", note: "which ground gets which", headline: page.zoning.headline });
    }
    gz.views.push({ key: "shared", name: "One shared setting", note: "how many minutes off",
      headline: page.headline });
    gz.view = gz.views[0].key;
    document.documentElement.dataset.view = gz.view;
    document.documentElement.classList.toggle("has-views", gz.views.length > 1);
  };

  gz.headline = function (page) {
    const { trial } = page, tried = gz.view === "shared" && trial.changed;
    document.getElementById("headline").textContent = tried ? gz.headlineOf(trial.now.counts) : gz.views.find(view => view.key === gz.view).headline;
  };

  gz.only = function (element, view) {
    element.dataset.only = view;
    element.hidden = view !== gz.view;
    return element;
  };

  gz.showView = function (map, page, key) {
    gz.view = key;
    document.documentElement.dataset.view = key;
    gz.headline(page);
    for (const element of document.querySelectorAll("[data-only]")) element.hidden = element.dataset.only !== key;
    for (const part of gz.switchable) {
      if (part.wanted && !part.empty && (!part.view || part.view === key)) part.layer.addTo(map);
      else part.layer.remove();
      const box = document.querySelector('#legend .switches input[data-part="' + part.key + '"]');
      if (box) gz.hideIn(box.closest("li"), part);
    }
    page.siteLayer.setLook(key);
    map.fire("gz-view");
    gz.placeLabels();
  };

  // The choice at the top of the legend; nothing where there is only one answer.
  gz.chooser = function (map, page) {
    if (gz.views.length < 2) return null;
    const box = gz.el("fieldset", "views");
    box.append(gz.el("legend", "", "What the page shows"));
    for (const { key, name, note } of gz.views) {
      const label = gz.el("label"), radio = gz.el("input"), words = gz.el("span", "", name);
      radio.type = "radio";
      radio.name = "view";
      radio.value = key;
      radio.checked = key === gz.view;
      radio.addEventListener("change", () => { if (radio.checked) gz.showView(map, page, key); });
      words.append(gz.el("small", "", note));
      label.append(radio, words);
      box.append(label);
    }
    return box;
  };
})(geozone);
