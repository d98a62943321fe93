"""The fewest settings on the page: the headline and every figure are the plan's, and each can be read, reached and printed."""

import re
import runpy
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from geozone.trade.keypad import Keypad
from geozone.trade.setting import Tolerance

HERE = Path(__file__).parent
EXAMPLES = runpy.run_path(str(HERE / "example_answers.py"))
ONPAGE = runpy.run_path(str(Path(__file__).parent / "onpage.py"))
HOSTILE, CONTRAST, boxes, choose, day, text_of = ONPAGE["HOSTILE"], ONPAGE["CONTRAST"], ONPAGE["boxes"], ONPAGE["choose"], ONPAGE["day"], ONPAGE["text_of"]


@pytest.fixture(scope="session")
def answers():
    """A plan that geozone makes for invented sites: several settings, two clocks."""
    plain = EXAMPLES["example_answers"](300, 14, tolerance=Tolerance(3, 6))
    plain.sites["contract"] = [f"T{k % 5}" for k in range(len(plain.sites))]
    found = EXAMPLES["with_groups"](plain, existing="contract", curve_to=6, time_limit_s=20)
    assert found.groups.plan.count >= 3 and found.groups.plan.proved
    return found


@pytest.fixture(scope="session")
def many():
    return EXAMPLES["with_invented_groups"](EXAMPLES["example_answers"](620, 60), 26, lower_bound=24, n_unserved=5)


def keyed(value, positive, negative):
    return f"{abs(value):.1f}° {positive if value >= 0 else negative}"


def signed(offset):
    return "0" if offset == 0 else f"{offset:+d}".replace("-", "\u2212")


def test_the_page_opens_on_how_many_settings_are_needed(open_page, answers):
    page = open_page("groups", answers)
    count = answers.groups.plan.count
    assert page.inner_text("#headline") == f"{count} settings serve all 300 sites, and fewer cannot."
    assert page.is_checked("input[name=view][value=groups]") and page.is_visible("table.settings")
    assert page.locator(".leaflet-pane path.gz-group").count() == count
    assert page.locator(".leaflet-pane path.gz-tolerance, .leaflet-pane .gz-setting, .leaflet-pane path.gz-drift").count() == 0
    assert page.is_hidden(".counts") and page.evaluate("page.siteLayer.nSeen") == 300
    letters = {box["text"] for box in boxes(page, ".gz-label-group")}
    assert letters == set(answers.groups.settings["group"])


def test_the_table_is_the_plan(open_page, answers):
    page = open_page("groups", answers)
    assert page.locator("table.settings tbody").count() == len(answers.groups.settings)
    for row in answers.groups.settings.itertuples():
        body = page.locator(f'table.settings tbody[data-group="{row.group}"]')
        first = [" ".join(text.split()) for text in body.locator("tr").nth(0).locator("th, td").all_inner_texts()]
        assert first == [row.group, keyed(row.lat_deg, "N", "S"), keyed(row.lon_deg, "E", "W"), signed(row.dusk_offset_min),
                         signed(row.dawn_offset_min), str(row.sites)]
        assert body.locator("tr").nth(1).inner_text().strip() == f"Clock: {row.legal_zone}"
        for kind in ("dark", "excess"):
            minutes, site, night = (getattr(row, f"worst_{kind}_{what}") for what in ("min", "site", "night"))
            assert body.locator(f".worst-{kind}").inner_text() == f"{np.round(minutes, 1):.1f} ({site}, {day(night)})"


def test_switching_views_and_back(open_page, answers):
    page = open_page("groups", answers)
    before = page.inner_text("#headline")
    look = "page.siteLayer._container.toDataURL()"
    groups_picture = page.evaluate(look)
    page.check("input[name=view][value=shared]")
    assert re.match(r"One setting serves \d+ of 300 sites", page.inner_text("#headline"))
    assert page.locator(".leaflet-pane path.gz-group").count() == 0 and page.locator(".leaflet-pane path.gz-tolerance").count() > 0
    assert page.locator(".leaflet-pane .gz-setting").count() == 1
    assert page.is_visible(".counts") and page.is_hidden("table.settings") and page.is_hidden(".curve-table")
    assert page.is_hidden("[data-part=hulls]") and page.is_visible("[data-part=tolerance]")
    assert page.evaluate(look) != groups_picture
    assert page.inner_text("#walk-list option >> nth=0").startswith("beyond (")
    page.uncheck("[data-part=drift]")
    page.check("input[name=view][value=groups]")
    assert page.inner_text("#headline") == before and page.evaluate(look) == groups_picture
    assert page.locator(".leaflet-pane path.gz-tolerance").count() == 0 and page.locator(".leaflet-pane path.gz-group").count() > 0
    page.check("input[name=view][value=shared]")
    assert page.locator(".leaflet-pane path.gz-drift").count() == 0, "a line that was switched off stays off"


def test_witnesses_open_their_site(open_page, answers):
    page = open_page("groups", answers)
    witnesses = answers.groups.plan.witnesses
    assert witnesses.kind == "apart" and len(witnesses.site_ids) == answers.groups.plan.count
    assert page.locator("button.witness").count() == len(witnesses.site_ids)
    group = answers.sites.set_index("site_id")["group"]
    for k, site in enumerate(witnesses.site_ids):
        button = page.locator("button.witness").nth(k)
        assert button.inner_text().split("\n") == [site, f"group {group[site]}"]
        button.click()
        assert page.get_attribute("#panel", "data-site") == site and "A proof site" in page.inner_text("#panel")
    assert "no two of them can share one" in page.inner_text(".why-sentence")


def test_the_panel_says_what_to_key_in(open_page, answers):
    page = open_page("groups", answers)
    settings = answers.groups.settings.set_index("group")
    sites = answers.sites
    rows = [*sites.nlargest(2, "group_dark_min").index, *sites.nsmallest(2, "group_excess_min").index,
            *[sites.index[sites.group == name][0] for name in settings.index]]
    words = {True: "no offset"}
    for index in rows:
        site, one = sites.loc[index], settings.loc[sites.loc[index, "group"]]
        choose(page, site.site_id)
        text = text_of(page, "#panel .group-part")
        assert f"Group {site.group}" in text
        assert f"Key in {keyed(one.lat_deg, 'N', 'S')}, {keyed(one.lon_deg, 'E', 'W')} Clock {one.legal_zone}" in text
        for edge, offset in (("dusk", one.dusk_offset_min), ("dawn", one.dawn_offset_min)):
            assert f"At {edge} " + words.get(offset == 0, f"{abs(offset)} min {'later' if offset > 0 else 'earlier'}") in text
        assert (f"With this setting at most {np.round(site.group_dark_min, 1):.1f} min unlit and {np.round(site.group_excess_min, 1):.1f} min lit too long "
                "at any one switching.") in text
    where = lambda selector: page.locator(f"#panel {selector}").bounding_box()["y"]
    assert where(".group-part") < where(".verdict")
    page.check("input[name=view][value=shared]")
    assert where(".verdict") < where(".group-part"), "the open panel follows the question"


def test_find_and_walk_in_the_groups_view(open_page, answers):
    page = open_page("groups", answers)
    options = page.locator("#walk-list option").all_inner_texts()
    sizes = answers.sites["group"].value_counts()
    assert options[0] == "all (300)" and f"proof sites ({int(answers.sites.proof_site.sum())})" in options
    assert {option for option in options if option.startswith("group ")} == {f"group {name} ({n})" for name, n in sizes.items()}
    name = answers.groups.settings["group"].iloc[-1]
    page.select_option("#walk-list", label=f"group {name} ({sizes[name]})")
    mine = answers.sites[answers.sites.group == name]
    factor = np.maximum(mine.group_dark_min.round(1) / 3, mine.group_excess_min.round(1) / 6)
    order = mine.assign(factor=factor).sort_values(["factor", "site_id"], ascending=[False, True]).site_id.tolist()
    walked = []
    for _ in range(3):
        page.click("#walk-on")
        walked.append(page.get_attribute("#panel", "data-site"))
    assert walked == order[:3]


def test_the_curve_is_the_plans(open_page, answers):
    page = open_page("groups", answers)
    curve = answers.groups.curve
    assert curve.worst_min.isna().sum() == 1, "two clocks need two settings"
    texts = [" ".join(text.split()) for text in page.locator(".curve-table tbody tr").all_inner_texts()]
    assert len(texts) == len(curve)
    for text, row in zip(texts, curve.itertuples()):
        if np.isnan(row.worst_min):
            assert text.startswith(f"{row.k} no plan: each clock needs a setting of its own")
        else:
            figures = re.findall(r"\d+\.\d", text)
            assert figures == [f"{np.round(row.worst_dark_min, 1):.1f}", f"{np.round(row.worst_excess_min, 1):.1f}"]
            assert ("proved" in text) == row.proved and ("this plan" in text) == (row.k == answers.groups.plan.count)
    there = curve.dropna(subset="worst_min")
    for kind, _shape, at in (("dark", "circle", "cy"), ("excess", "rect", "y")):
        points = page.locator(f".curve-point.curve-{kind}")
        assert points.count() == len(there)
        seen = [(int(point.get_attribute("data-k")), float(point.get_attribute(at)), "proved" in point.get_attribute("class"))
                for point in points.all()]
        assert [(k, proved) for k, _, proved in seen] == list(zip(there.k, there.proved))
        # Drawn to scale: heights are a linear function of the minutes, downwards.
        minutes, heights = there[f"worst_{kind}_min"].to_numpy(), np.array([y for _, y, _ in seen])
        slope, start = np.polyfit(minutes, heights, 1)
        assert slope < 0 and np.abs(slope * minutes + start - heights).max() < 0.2
    assert page.locator(".curve-limit").count() == 2


def test_open_and_filled_points_look_different(open_page, many):
    page = open_page("many", many)
    fills = page.evaluate("""() => ["proved", "open"].map(state => getComputedStyle(document.querySelector(".curve-point.curve-dark." + state)).fill)""")
    assert fills[0] != fills[1] == "rgb(255, 255, 255)"


def test_todays_groups(open_page, answers):
    page = open_page("groups", answers)
    existing = answers.groups.plan.existing
    saved = existing.settings_saved
    assert page.inner_text(".existing-sentence") == f"contract: {existing.settings_needed} settings needed today, the plan saves {saved}."
    assert saved > 0
    table = answers.groups.existing
    beyond = set(table.loc[~table.served, "existing"])
    assert set(page.locator(".existing-table tbody th").all_inner_texts()) == beyond and beyond


def test_unserved_and_unproved_are_said(open_page, many):
    page = open_page("many", many)
    assert page.inner_text("#headline") == "26 settings serve 615 of 620 sites; at least 24 are needed; no setting serves the other 5."
    assert page.inner_text(".why h2") == "How many are needed at least"
    rows = [text.split() for text in page.locator(".unserved-table tbody tr").all_inner_texts()]
    expected = many.groups.unserved.sort_values("tolerance_share", ascending=False)
    assert rows == [[row.unit, "1", f"{row.dark_min:.1f}", f"{row.excess_min:.1f}"] for row in expected.itertuples()]
    assert page.inner_text("#walk-list option >> nth=0") == "in no group (5)"
    page.click("#walk-on")
    assert "In no group: no setting that the keypad holds keeps this site" in page.inner_text("#panel")
    assert page.locator("button.witness").count() == 24 and "24 of 26" in page.inner_text(".why")


def test_a_site_without_a_group_and_a_witness_are_drawn_on_top(open_page):
    sites = pd.DataFrame({"site_id": ["none", "first", "second", "third"], "name": "", "lat_deg": -35.2,
                          "lon_deg": [140.3, 140.3, 140.4, 140.4], "load_w": np.nan})
    answers = EXAMPLES["with_invented_groups"](EXAMPLES["example_answers"](sites=sites, districts=False), 2, n_unserved=1)
    answers.sites["proof_site"] = [False, False, True, False]
    page = open_page("stacked", answers)
    order = page.evaluate("[...page.siteLayer.order].map(row => page.sites.id[row])")
    assert order.index("none") > order.index("first") and order.index("second") > order.index("third")
    pixel = page.evaluate("""() => { const layer = page.siteLayer, r = geozone.pixelRatio(), b = layer._bounds.min;
        const k = [...layer.seen.subarray(0, layer.nSeen)].indexOf(page.sites.id.indexOf("none"));
        return [...layer._ctx.getImageData((layer.seenX[k] - b.x) * r, (layer.seenY[k] - b.y) * r, 1, 1).data]; }""")
    assert pixel[:3] == [18, 26, 58]


def test_signs_differ_in_grey(open_page, many):
    """Outlines of the signs, as a grey print shows them: each covers ground that every other leaves free, or the reverse."""
    page = open_page("many", many)
    pictures = page.evaluate("""() => { const g = page.groups.settings, names = ["disc", "square", "triangle", "lozenge", "witness", "without"];
        return names.map((name, k) => { const canvas = document.createElement("canvas"); canvas.width = canvas.height = 60;
            const ctx = canvas.getContext("2d"); ctx.fillStyle = "#f4f1ea"; ctx.fillRect(0, 0, 60, 60);
            const row = Object.assign({}, g[0], {hue: 0, cycle: k});
            if (name === "witness") geozone.signs.witness(ctx, g[0], 30, 30, 5);
            else if (name === "without") geozone.signs.without(ctx, 30, 30, 5);
            else geozone.signs.member(ctx, row, 30, 30, 5);
            return [...ctx.getImageData(0, 0, 60, 60).data]; }); }""")
    grey = [np.array(data, dtype=float).reshape(60, 60, 4)[..., :3] @ [0.299, 0.587, 0.114] for data in pictures]
    for a in range(len(grey)):
        for b in range(a):
            assert (np.abs(grey[a] - grey[b]) > 60).sum() >= 12, (a, b)


def lab(rgb):
    """CIE L*a*b* (D65) of linear sRGB; matrix of IEC 61966-2-1, formula of CIE 15."""
    xyz = np.clip(rgb, 0, 1) @ np.array([[.4124, .3576, .1805], [.2126, .7152, .0722], [.0193, .1192, .9505]]).T / [.9505, 1, 1.089]
    f = np.where(xyz > .008856, np.cbrt(xyz), 7.787 * xyz + 16 / 116)
    return np.stack([116 * f[..., 1] - 16, 500 * (f[..., 0] - f[..., 1]), 200 * (f[..., 1] - f[..., 2])], axis=-1)


# Machado, Oliveira, Fernandes 2009, "A physiologically-based model for simulation of color vision deficiency", table of
# severity 1.0, from memory; each row adds up to 1, so that greys stay grey.
SEEN_BY = {"all": np.eye(3),
           "protan": [[.152286, 1.052583, -.204868], [.114503, .786281, .099216], [-.003882, -.048116, 1.051998]],
           "deutan": [[.367322, .860646, -.227968], [.280085, .672501, .047413], [-.011820, .042940, .968881]],
           "tritan": [[1.255528, -.076749, -.178779], [-.078411, .930809, .147602], [.004733, .691367, .303900]]}


def test_26_groups_are_told_apart(open_page, many):
    page = open_page("many", many)
    styles = page.evaluate("""page.groups.settings.map(row => { const s = geozone.groupStyle(row);
        return [s.fill, s.dash, geozone.CYCLES[row.cycle % geozone.CYCLES.length].sign, row.hue]; })""")
    assert len({tuple(style[:2]) for style in styles}) == len({tuple(style[2:]) for style in styles}) == 26
    drawn = page.evaluate("""[...document.querySelectorAll(".leaflet-pane path.gz-group")].map(p => [p.getAttribute("fill"),
        p.getAttribute("stroke-dasharray") || ""])""")
    assert sorted(map(tuple, drawn)) == sorted((fill, dash) for fill, dash, _, _ in styles)
    named = {fill[5:-1] for fill, *_ in styles if fill.startswith("url(#")}
    assert named and named <= set(page.evaluate("[...document.querySelectorAll('svg pattern')].map(p => p.id)"))

    hues = np.array([[int(hue["fill"][k:k + 2], 16) for k in (1, 3, 5)] for hue in page.evaluate("geozone.HUES")]) / 255
    linear = np.where(hues <= .04045, hues / 12.92, ((hues + .055) / 1.055) ** 2.4)
    away = lambda v: np.linalg.norm(v[:, None] - v[None], axis=-1)[np.triu_indices(len(v), 1)].min()
    for eyes, matrix in SEEN_BY.items():
        assert np.allclose(np.sum(matrix, axis=1), 1, atol=1e-5)
        assert away(lab(linear @ np.array(matrix).T)) > 25, eyes  # a difference of 2.3 is just seen
    lightness = np.sort(lab(linear)[:, 0])
    assert np.diff(lightness).min() > 7 and np.diff(np.sort(lab(linear)[:4, 0])).min() > 14


def test_every_group_is_reached_from_its_letter(open_page, many):
    page = open_page("many", many)
    for name in ("B", "Z"):
        page.click(f'table.settings tbody[data-group="{name}"] .group-go')
        page.wait_for_timeout(150)  # labels follow a move within 60 ms
        inside = page.evaluate("""name => { const k = page.groups.settings.findIndex(row => row.name === name), box = map_geozone.getBounds();
            return [...page.sites.columns.group].map((g, row) => [g, row]).filter(([g]) => g === k).every(([, row]) =>
                box.contains(page.siteLayer.latLng(row))); }""", name)
        assert inside
        assert name in {box["text"] for box in boxes(page, ".gz-label-group")}


@pytest.mark.parametrize("width, height, touch", [(1440, 900, False), (360, 740, True)])
def test_labels_stay_inside_and_apart(open_page, many, width, height, touch):
    page = open_page("many", many, width=width, height=height, touch=touch)
    frame = page.locator("#map_geozone").bounding_box()
    labels = boxes(page, ".gz-label")
    assert sum(len(box["text"]) == 1 for box in labels) >= 8
    for k, a in enumerate(labels):
        assert a["x"] >= frame["x"] and a["y"] >= frame["y"]
        assert a["x"] + a["w"] <= frame["x"] + frame["width"] and a["y"] + a["h"] <= frame["y"] + frame["height"]
        for b in labels[k + 1:]:
            assert a["x"] + a["w"] <= b["x"] or b["x"] + b["w"] <= a["x"] or a["y"] + a["h"] <= b["y"] or b["y"] + b["h"] <= a["y"], (a, b)


def test_hostile_words_are_only_text(open_page):
    n = len(HOSTILE)
    sites = pd.DataFrame({"site_id": [f"{text} {k}" for k, text in enumerate(HOSTILE)], "name": HOSTILE,
                          "lat_deg": -35.2 + np.arange(n) * 0.1, "lon_deg": 140.3 + np.arange(n) * 0.05, "load_w": np.nan})
    plain = EXAMPLES["example_answers"](sites=sites, districts=False)
    answers = EXAMPLES["with_invented_groups"](plain, n - 1, n_unserved=1, names=lambda k: HOSTILE[k], zone=lambda k: HOSTILE[(k + 1) % n],
                                               columns=(HOSTILE[3], HOSTILE[2], HOSTILE[7]))
    answers.groups.existing["existing"] = HOSTILE[7]
    answers.groups.existing["clock"] = HOSTILE[3]
    answers.groups.existing.loc[1, "served"] = False
    answers.groups.settings["within"] = HOSTILE[3]
    page = open_page("hostile_groups", answers)
    page.evaluate("void (window.alert = () => { throw new Error('a name was run') })")
    settings = answers.groups.settings
    assert page.evaluate("[...document.querySelectorAll('.settings .group-mark b')].map(e => e.textContent)") == settings["group"].tolist()
    assert page.evaluate("[...document.querySelectorAll('.settings .clock-cell > span')].map(e => e.textContent)") == settings["legal_zone"].tolist()
    witnesses = page.evaluate("[...document.querySelectorAll('.witness span')].map(e => e.textContent)")
    assert witnesses == list(answers.groups.plan.witnesses.site_ids)
    page.locator("button.witness").first.click()
    assert page.evaluate("document.querySelector('#panel .site-id').textContent") == witnesses[0]
    everything = page.evaluate("document.querySelector('#legend').textContent")
    for text in (*answers.groups.unserved["unit"], HOSTILE[7], f"“{HOSTILE[3]}”", f"“{HOSTILE[7]}”"):
        assert text in everything
    assert page.evaluate("document.querySelectorAll('img, b b, #legend .theirs > *, #panel .theirs > *, #legend script, #panel script').length") == 0
    assert page.evaluate("document.scripts.length") == 4


def test_by_keyboard_alone(open_page, answers):
    page = open_page("groups", answers)
    page.focus("#find-field")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.value") == "groups"
    outline = page.evaluate("(s => [s.outlineStyle, parseFloat(s.outlineWidth)])(getComputedStyle(document.activeElement.closest('label')))")
    assert outline[0] != "none" and outline[1] >= 2
    page.keyboard.press("ArrowRight")
    assert page.evaluate("geozone.view") == "shared" and page.is_hidden("table.settings")
    page.keyboard.press("ArrowLeft")
    assert page.evaluate("geozone.view") == "groups"
    reached = []
    for _ in range(12):
        page.keyboard.press("Tab")
        reached.append(page.evaluate("document.activeElement.className"))
        if reached[-1] == "witness":
            break
    assert reached.count("group-go") == answers.groups.plan.count and reached[-1] == "witness"
    page.keyboard.press("Enter")
    assert page.get_attribute("#panel", "data-site") == answers.groups.plan.witnesses.site_ids[0]
    names = page.evaluate("[...document.querySelectorAll('#legend button')].map(b => b.getAttribute('aria-label') || b.textContent)")
    assert all(name.strip() for name in names)


@pytest.mark.parametrize("which", ["answers", "many"])
def test_phone(open_page, request, which):
    page = open_page({"answers": "groups"}.get(which, which), request.getfixturevalue(which), width=360, height=740, touch=True)
    page.tap("#side-button")
    assert page.is_visible("table.settings")
    wide = page.evaluate("""[document.documentElement.scrollWidth, document.querySelector('#side').scrollWidth,
        Math.max(...[...document.querySelectorAll('#side *')].filter(e => e.checkVisibility()).map(e => e.getBoundingClientRect().right))]""")
    assert max(wide) <= 360
    targets = boxes(page, "#side button, #side .views label, #side .switches label")
    assert len(targets) > 8 and [box for box in targets if box["w"] < 44 or box["h"] < 44] == []
    page.locator("button.witness").first.tap()
    assert page.is_hidden("#side") and page.is_visible("#panel .group-part")
    page.tap("#side-button")
    page.tap(".views label >> nth=1")
    assert page.is_visible(".counts") and page.evaluate("document.documentElement.scrollWidth") <= 360


@pytest.mark.parametrize("width", [360, 800, 1024, 1100, 1440])
def test_the_tables_fit_beside_the_map(open_page, width):
    """With positions in thousandths of a degree and two-digit offsets, the widest that a row comes to."""
    answers = EXAMPLES["with_invented_groups"](EXAMPLES["example_answers"](60, 6), 3)
    answers.groups.settings[["lat_deg", "lon_deg", "dusk_offset_min", "dawn_offset_min"]] = [-34.567, 141.234, -99, 98]
    answers = replace(answers, basis=replace(answers.basis, keypad=Keypad(0.001)))
    page = open_page("fine", answers, width=width, height=700)
    if width < 760:
        page.click("#side-button")
    assert page.inner_text("table.settings tbody td >> nth=1").strip() == "141.234° E"
    spill = page.evaluate("""() => { const side = document.querySelector("#side"), edge = side.getBoundingClientRect().left + side.clientWidth
        - parseFloat(getComputedStyle(side).paddingRight);
        return [...document.querySelectorAll("#legend table, #legend td, #legend th, #legend .curve")].filter(e => e.checkVisibility())
            .map(e => e.getBoundingClientRect().right - edge); }""")
    assert len(spill) > 30 and max(spill) <= 1


@pytest.mark.parametrize("width", [360, 1024, 1440])
def test_tenths_of_a_degree_stay_on_one_line(open_page, many, width):
    page = open_page("many", many, width=width, height=700)
    if width < 760:
        page.click("#side-button")
    cells = page.evaluate("""() => [...document.querySelectorAll(".settings tbody tr:first-child td")].map(e => {
        const r = document.createRange(); r.selectNodeContents(e); return [r.getClientRects().length, r.getBoundingClientRect().right]; })""")
    edge = page.evaluate("document.querySelector('#side').clientWidth - parseFloat(getComputedStyle(document.querySelector('#side')).paddingRight)")
    assert len(cells) == 5 * 26 and max(lines for lines, _ in cells) == 1 and max(right for _, right in cells) <= edge + 1


def test_text_contrast(open_page, many):
    """WCAG 2.2, 1.4.3: text at least 4.5 to 1; 1.4.11: outlines and lines that carry a meaning at least 3 to 1."""
    page = open_page("many", many)
    page.click("#walk-on")
    found = page.evaluate(CONTRAST)
    assert len(found) > 200 and [pair for pair in found if pair[0] < 4.5] == []
    light = """colour => { const c = (colour.startsWith("#") ? colour.match(/[0-9a-f]{2}/g).map(h => parseInt(h, 16)) : colour.match(/[\\d.]+/g).map(Number))
        .slice(0, 3).map(v => (v /= 255) <= 0.03928 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4); return 0.2126 * c[0] + 0.7152 * c[1] + 0.0722 * c[2]; }"""
    texts = page.evaluate(f"""() => [...document.querySelectorAll(".curve text")].map(e => ({light})(getComputedStyle(e).fill))""")
    lines = page.evaluate(f"""() => [...document.querySelectorAll(".curve-line, .curve-limit, .curve-point")].map(e => ({light})(getComputedStyle(e).stroke))""")
    outlines = page.evaluate(f"""() => geozone.HUES.map(hue => ({light})(hue.ink))""")
    letters = page.evaluate(f"""() => geozone.HUES.map(hue => [({light})(hue.fill), ({light})(hue.text)])""")
    paper, land = page.evaluate(f"""[({light})("#fffdf9"), ({light})("#f4f1ea")]""")
    ratio = lambda a, b: (max(a, b) + .05) / (min(a, b) + .05)
    assert len(texts) > 10 and min(ratio(one, paper) for one in texts) >= 4.5
    assert len(lines) > 10 and min(ratio(one, paper) for one in lines) >= 3
    assert min(ratio(one, land) for one in outlines) >= 3
    assert min(ratio(*pair) for pair in letters) >= 4.5


@pytest.mark.parametrize("which, pages", [("answers", 2), ("many", 4)])
def test_print_holds_the_whole_table(open_page, request, which, pages):
    found = request.getfixturevalue(which)
    page = open_page({"answers": "groups"}.get(which, which), found)
    before = page.evaluate("[map_geozone.getZoom(), map_geozone.getSize().x]")
    page.evaluate("window.dispatchEvent(new Event('beforeprint'))")
    rows = boxes(page, "table.settings tbody")
    assert len(rows) == len(found.groups.settings) and page.is_hidden(".views")
    assert max(box["x"] + box["w"] for box in rows) <= 1054  # A4 across less 9 mm margins is 279 mm
    frame = page.locator(".stage").bounding_box()
    if which == "answers":
        assert min(box["x"] for box in rows) >= frame["x"] + frame["width"] and max(box["y"] + box["h"] for box in rows) <= 725
    else:
        assert min(box["y"] for box in rows) >= frame["y"] + frame["height"]
    assert page.evaluate("page.siteLayer.nSeen") == len(found.sites)
    assert page.locator(".leaflet-pane path.gz-group").count() == len(found.groups.settings)
    page.evaluate("window.dispatchEvent(new Event('afterprint'))")
    assert page.evaluate("[map_geozone.getZoom(), map_geozone.getSize().x]") == before
    assert 2 <= page.pdf(format="A4", landscape=True, print_background=True).count(b"/Type /Page\n") <= pages


def test_the_other_view_prints_as_it_is_shown(open_page, answers):
    page = open_page("groups", answers)
    page.check("input[name=view][value=shared]")
    page.evaluate("window.dispatchEvent(new Event('beforeprint'))")
    assert page.is_visible(".counts") and page.is_hidden("table.settings") and page.is_hidden(".existing-table")
    assert page.locator(".leaflet-pane path.gz-tolerance").count() > 0
    page.evaluate("window.dispatchEvent(new Event('afterprint'))")


def test_without_groups_the_page_has_one_question(open_page, example_answers):
    page = open_page("plain", example_answers(60, 6))
    assert page.evaluate("document.querySelectorAll('.views, [data-only=groups], .gz-group, .hatchings, .settings, .curve').length") == 0
    assert page.evaluate("document.documentElement.className") == "" and page.is_visible(".counts")
    assert [text for text in page.locator("#legend h2").all_inner_texts()][:6] == [
        "60 sites", "Try other values", "One night, minute by minute", "A switch at any place", "On the map", "The shared setting"]
    page.click("#walk-on")
    assert page.locator("#panel .group-part, #panel .second").count() == 0
    assert page.evaluate("document.querySelector('.side').getBoundingClientRect().width") == 348
