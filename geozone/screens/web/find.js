// Two ways to a site without a pointer: a search field, and the list of sites worst first.
(function (gz) {
  "use strict";

  const MOST = 8, MOST_CABINETS = 3;
  const plain = text => text.normalize("NFKD").replace(/[\u0300-\u036f]/g, "").toLowerCase();

  gz.find = function (map, page) {
    const field = document.getElementById("find-field"), list = document.getElementById("find-list");
    const count = document.getElementById("find-count");
    let keys = null, found = [], active = -1;
    if (page.cabinets) field.placeholder = "Number, name or " + page.cabinets.column;

    // Places in a list of keys that hold the words, those that begin with them first.
    function holding(keys, sought, sorted) {
      const first = [], later = [];
      for (let k = 0; k < keys.length; k++) {
        const at = keys[k].indexOf(sought);
        if (at === 0 || (at > 0 && keys[k][at - 1] === "\n")) first.push(k);
        else if (at > 0) later.push(k);
      }
      return sorted(first).concat(sorted(later));
    }

    // What holds the words: a few cabinets, then sites. `all` is how many there are.
    function search(words) {
      if (!keys) keys = page.sites.id.map((id, row) => plain(id + "\n" + (page.sites.name[row] || "")));
      const sought = plain(words.trim());
      if (!sought) return { shown: [], all: 0 };
      const cabinets = page.cabinets ? holding(page.cabinets.keys(plain), sought, page.cabinets.sorted) : [];
      const sites = holding(keys, sought, rows => gz.byId(page, rows));
      const some = cabinets.slice(0, Math.max(MOST_CABINETS, MOST - sites.length)).map(cabinet => ({ cabinet }));
      return { shown: [...some, ...sites.map(row => ({ row })).slice(0, MOST - some.length)].slice(0, MOST), all: cabinets.length + sites.length };
    }

    function close() {
      list.hidden = true;
      active = -1;
      field.setAttribute("aria-expanded", "false");
      field.removeAttribute("aria-activedescendant");
    }

    function mark(k) {
      active = k;
      [...list.children].forEach((item, other) => item.setAttribute("aria-selected", String(other === k)));
      if (k >= 0) {
        field.setAttribute("aria-activedescendant", list.children[k].id);
        list.children[k].scrollIntoView({ block: "nearest" });
      } else field.removeAttribute("aria-activedescendant");
    }

    function take({ row, cabinet }) {
      close();
      field.value = row === undefined ? page.cabinets.names[cabinet] : page.sites.id[row];
      count.textContent = "";
      gz.closeSide();
      if (row === undefined) page.cabinets.show(cabinet);
      else gz.choose(row);
    }

    // The sign, number and name of a site, or a cabinet and how many sites belong to it.
    function line({ row, cabinet }) {
      const words = gz.el("span", "found");
      if (row === undefined) {
        const n = page.cabinets.rows(cabinet).length;
        words.append(gz.el("b", "theirs", page.cabinets.names[cabinet]),
          gz.el("span", "theirs", page.cabinets.column + ", " + n.toLocaleString("en") + (n === 1 ? " site" : " sites")));
        return [page.cabinets.sign(), words];
      }
      const name = page.sites.name[row], { look } = page.siteLayer;
      words.append(gz.el("b", "theirs", page.sites.id[row]));
      if (name && name !== page.sites.id[row]) words.append(gz.el("span", "theirs", name));
      return [gz.signs.picture((ctx, x, y) => look.paint(ctx, look.kinds[row] & ~1, x, y, 4.4), 22), words];
    }

    field.addEventListener("input", function () {
      const { shown, all } = search(field.value);
      found = shown;
      list.replaceChildren();
      found.forEach(function (one, k) {
        const item = gz.el("li");
        item.id = "find-" + k;
        item.setAttribute("role", "option");
        item.append(...line(one));
        item.addEventListener("pointerdown", event => event.preventDefault());
        item.addEventListener("click", () => take(one));
        list.append(item);
      });
      list.hidden = !found.length;
      field.setAttribute("aria-expanded", String(found.length > 0));
      count.textContent = !field.value.trim() ? "" : !found.length ? "No site has this in its number or name"
        + (page.cabinets ? ", and no “" + page.cabinets.column + "” is called so." : ".")
        : all > found.length ? "First " + found.length + " of " + all.toLocaleString("en") + " found" : "";
      mark(found.length === 1 ? 0 : -1);
    });

    field.addEventListener("keydown", function (event) {
      const n = found.length;
      if (event.key === "ArrowDown" || event.key === "ArrowUp") {
        if (!n || list.hidden) return;
        event.preventDefault();
        mark(event.key === "ArrowDown" ? (active + 1) % n : (active <= 0 ? n : active) - 1);
      } else if (event.key === "Enter" && n && !list.hidden) {
        event.preventDefault();
        take(found[Math.max(0, active)]);
      } else if (event.key === "Escape" && !list.hidden) {
        event.stopPropagation();
        close();
      }
    });
    field.addEventListener("blur", close);
  };

  gz.walk = function (map, page) {
    const choice = document.getElementById("walk-list"), place = document.getElementById("walk-place");
    const back = document.getElementById("walk-back"), on = document.getElementById("walk-on");
    const { confirm, group, witness, lighting_zone: ground } = page.sites.columns, verdicts = page.sites.tables.verdicts;
    const wanted = {
      shared: () => [
        ["beyond", row => verdicts[page.trial.now.verdict[row]] === "beyond"],
        ["other clock", row => verdicts[page.trial.now.verdict[row]] === "other clock"],
        ["zone to confirm", row => confirm[row] === 1],
        ["all", () => true],
      ],
      groups: () => [
        ["in no group", row => group[row] === gz.MISSING],
        ["all", () => true],
        ["proof sites", row => witness[row] === 1],
        ["zone to confirm", row => confirm[row] === 1],
        ...page.groups.settings.map(({ name }, k) => ["group " + name, row => group[row] === k]),
      ],
      zones: () => [
        ["in no zone", row => ground[row] === gz.MISSING],
        ["all", () => true],
        ["legal zone to confirm", row => confirm[row] === 1],
        ...page.zoning.rows.map(({ name }, k) => ["zone " + name, row => ground[row] === k]),
      ],
    };
    let lists, list, rows, at;

    // The lists of the view that is shown, and the first of them.
    function begin() {
      lists = wanted[gz.view]().map(function ([name, test]) {
        const rows = [];
        for (let row = 0; row < page.sites.count; row++) if (test(row)) rows.push(row);
        return { name, rows, sorted: false };
      }).filter(({ rows }) => rows.length);
      list = lists[0];
      rows = list.rows;
      at = -1;
      choice.replaceChildren(...lists.map(({ name, rows: some }) => gz.el("option", "theirs", name + " (" + some.length.toLocaleString("en") + ")")));
      say();
    }

    // Sorted when it is first asked for: tens of thousands of sites must not wait for it at the start.
    function sort() {
      if (!list.sorted) gz.worstFirst(page, page.siteLayer.factors, rows);
      list.sorted = true;
    }

    function say() {
      place.textContent = (at < 0 ? "–" : (at + 1).toLocaleString("en")) + " of " + rows.length.toLocaleString("en");
    }

    function step(by) {
      sort();
      at = at < 0 ? (by > 0 ? 0 : rows.length - 1) : (at + by + rows.length) % rows.length;
      gz.closeSide();
      gz.walking = true;
      gz.choose(rows[at]);
      gz.walking = false;
    }

    choice.addEventListener("change", function () {
      list = lists[choice.selectedIndex];
      rows = list.rows;
      at = -1;
      say();
    });
    back.addEventListener("click", () => step(-1));
    on.addEventListener("click", () => step(1));
    // Arrow keys on the two buttons step through the list; the list keeps its own. In the panel up and down scroll, as
    // everywhere, and left and right step.
    const steps = { ArrowRight: 1, ArrowLeft: -1 }, more = { ArrowDown: 1, ArrowUp: -1 };
    const onKey = keys => function (event) {
      const by = keys[event.key];
      if (!by || event.altKey || event.ctrlKey || event.metaKey || event.shiftKey || /^(INPUT|SELECT|TEXTAREA)$/.test(event.target.tagName)) return;
      event.preventDefault();
      step(by);
    };
    for (const element of [back, on]) element.addEventListener("keydown", onKey({ ...steps, ...more }));
    const panel = document.getElementById("panel"), toPanel = document.getElementById("to-panel");
    panel.addEventListener("keydown", onKey(steps));
    toPanel.addEventListener("click", () => panel.focus({ preventScroll: true }));
    map.on("gz-chosen", function (event) {
      if (event.row !== null) sort();
      const found = event.row === null ? -1 : rows.indexOf(event.row);
      if (event.row === null || found >= 0) at = event.row === null ? at : found;
      if (event.row === null && document.activeElement === toPanel) on.focus();
      toPanel.hidden = event.row === null;
      say();
    });
    map.on("gz-view", begin);
    map.on("gz-tried", () => { if (gz.view === "shared") begin(); });
    begin();
  };
})(geozone);
