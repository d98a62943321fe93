"""The page as it is seen: signs, lines, labels, contrast, phone, print, and nothing run from a name."""

import runpy
from dataclasses import replace
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely

from geozone import Basis, DarkThreshold, Tolerance

ONPAGE = runpy.run_path(str(Path(__file__).parent / "onpage.py"))
HOSTILE, CONTRAST, boxes = ONPAGE["HOSTILE"], ONPAGE["CONTRAST"], ONPAGE["boxes"]


@pytest.fixture(scope="session")
def answers(example_answers):
    return example_answers(620, 25)


def test_hostile_names_are_only_text(open_page, example_answers):
    n = len(HOSTILE)
    sites = pd.DataFrame({"site_id": [f"{text} {k}" for k, text in enumerate(HOSTILE)], "name": [text + "!" for text in HOSTILE],
                          "lat_deg": -35.2 + np.arange(n) * 0.1, "lon_deg": 140.3, "load_w": np.nan})
    title = "".join(HOSTILE)
    answers = example_answers(sites=sites, title=title, notes=tuple(HOSTILE), basis=Basis(2027, DarkThreshold(-4.0, HOSTILE[3]), Tolerance(5, 10)))
    answers.areas["area"] = HOSTILE[:len(answers.areas)]
    answers.sites["area"] = HOSTILE[3]
    answers.boundaries["zone_a"] = HOSTILE[3]
    answers.drift_lines["label"] = HOSTILE[2]
    page = open_page("hostile", answers)
    assert page.title() == title and page.inner_text("#title") == title
    page.evaluate("void (window.alert = () => { throw new Error('a name was run') })")
    for k, text in enumerate(HOSTILE):
        page.fill("#find-field", f"{text} {k}")
        page.keyboard.press("Enter")
        assert page.evaluate("document.querySelector('#panel .site-id').textContent") == f"{text} {k}"
        assert page.evaluate("document.querySelector('#panel .site-name').textContent") == text + "!"
    labels = page.evaluate("[...document.querySelectorAll('.gz-label')].map(e => e.firstChild.textContent)")
    assert set(HOSTILE[:3]) & set(labels) and any(HOSTILE[2] in label for label in labels)
    assert page.evaluate("document.querySelectorAll('img, b.theirs > *, #panel script, .gz-label script, #legend script').length") == 0
    assert page.evaluate("document.scripts.length") == 4


def test_signs_differ_in_colour_shape_and_grey(open_page, answers):
    page = open_page("look", answers)
    looks = page.evaluate("""() => Object.fromEntries(["within", "beyond", "other clock"].map(verdict => {
        const canvas = document.createElement("canvas"); canvas.width = canvas.height = 40;
        const ctx = canvas.getContext("2d"); ctx.fillStyle = "#f4f1ea"; ctx.fillRect(0, 0, 40, 40);
        geozone.signs.draw(ctx, verdict, false, 20, 20, 7);
        return [verdict, [...ctx.getImageData(0, 0, 40, 40).data]]; }))""")
    pixels = {name: np.array(data, dtype=float).reshape(40, 40, 4)[..., :3] for name, data in looks.items()}
    grey = {name: data @ [0.299, 0.587, 0.114] for name, data in pixels.items()}
    centre = {name: data[22:25, 16:19].mean() for name, data in grey.items()}
    assert centre["beyond"] < 60 < 150 < centre["within"] < 215 < centre["other clock"]
    shape = {name: np.abs(data - data[0, 0]) > 25 for name, data in grey.items()}
    # The corner of the square is there, the disc's and the lozenge's are not; the lozenge's point reaches furthest up.
    assert shape["other clock"][13, 13] and not shape["within"][13, 13] and not shape["beyond"][13, 13]
    assert shape["beyond"][9, 20] and not shape["within"][9, 20] and not shape["other clock"][9, 20]


def test_worst_sites_are_drawn_on_top(open_page, example_answers):
    sites = pd.DataFrame({"site_id": ["bad", "good"], "name": "", "lat_deg": -35.2, "lon_deg": 140.3, "load_w": np.nan})
    answers = example_answers(sites=sites, districts=False)
    answers.sites["result"] = ["beyond", "within"]
    page = open_page("stack", answers)
    pixel = page.evaluate("""() => { const layer = page.siteLayer, k = layer.nSeen - 1, r = geozone.pixelRatio(), b = layer._bounds.min;
        return [...layer._ctx.getImageData((layer.seenX[k] - b.x) * r, (layer.seenY[k] - b.y) * r, 1, 1).data]; }""")
    assert pixel[:3] == [18, 26, 58]


def test_all_sites_are_drawn(open_page, answers):
    page = open_page("look", answers)
    assert page.evaluate("page.siteLayer.nSeen") == len(answers.sites)


@pytest.mark.parametrize("width, height, touch", [(1440, 900, False), (1024, 700, False), (360, 740, True)])
def test_labels_stay_inside_and_apart(open_page, answers, width, height, touch):
    page = open_page("look", answers, width=width, height=height, touch=touch)
    frame = page.locator("#map_geozone").bounding_box()
    for zoom in (0, 1, 2):
        page.evaluate("z => map_geozone.setZoom(map_geozone.options.fitZoom + z, {animate: false})", zoom)
        page.wait_for_timeout(150)
        labels = boxes(page, ".gz-label")
        assert labels
        for k, a in enumerate(labels):
            assert a["x"] >= frame["x"] and a["y"] >= frame["y"], a
            assert a["x"] + a["w"] <= frame["x"] + frame["width"] and a["y"] + a["h"] <= frame["y"] + frame["height"], a
            for b in labels[k + 1:] + boxes(page, ".leaflet-control"):
                assert a["x"] + a["w"] <= b["x"] or b["x"] + b["w"] <= a["x"] or a["y"] + a["h"] <= b["y"] or b["y"] + b["h"] <= a["y"], (a, b)


def test_zone_and_tolerance_labels_are_there(open_page, answers):
    page = open_page("look", answers)
    shown = [box["text"] for box in boxes(page, ".gz-label")]
    assert any(text.startswith("Australia/Adelaide") and "UTC+09:30" in text for text in shown)
    assert any("5 min unlit or 10 min lit too long" in text and "olerance" in text for text in shown)
    west = next(box for box in boxes(page, ".gz-label-zone") if "Adelaide" in box["text"])
    border = page.evaluate("map_geozone.latLngToContainerPoint([-35, 141]).x + map_geozone.getContainer().getBoundingClientRect().left")
    assert west["x"] + west["w"] < border


def test_lines_can_be_switched(open_page, answers):
    page = open_page("look", answers)
    count = lambda: page.evaluate("document.querySelectorAll('.leaflet-pane path.gz-dusk').length")
    assert count() == 0
    page.check("[data-part=dusk]")
    assert count() > 0
    page.uncheck("[data-part=dusk]")
    assert count() == 0
    widths = page.evaluate("""() => ["gz-tolerance", "gz-drift", "gz-boundary"].map(name =>
        (s => [parseFloat(s.strokeWidth), s.strokeDasharray])(getComputedStyle(document.querySelector(".leaflet-pane path." + name))))""")
    (heavy, solid), (light, _), (_, dashed) = widths
    assert heavy >= 3 * light and solid == "none" and dashed != "none"


def test_text_contrast(open_page, answers):
    """WCAG 2.2, 1.4.3: text at least 4.5 to 1."""
    page = open_page("look", answers)
    page.check("[data-part=dusk]")
    page.click("#walk-on")
    found = page.evaluate(CONTRAST)
    assert len(found) > 60
    assert [pair for pair in found if pair[0] < 4.5] == []


def test_phone(open_page, answers):
    page = open_page("look", answers, width=360, height=740, touch=True)
    assert page.evaluate("document.documentElement.scrollWidth") <= 360
    assert page.is_hidden("#side")
    frame = page.locator("#map_geozone").bounding_box()
    assert frame["width"] == 360 and frame["height"] > 740 * 0.6

    def small_targets():
        targets = boxes(page, "button, select, input[type=search], .leaflet-bar a, .switches label, #find-list li")
        return [box for box in targets if box["w"] < 44 or box["h"] < 44]

    assert small_targets() == []
    page.tap("#side-button")
    assert page.is_visible("#legend") and page.inner_text("#side-button") == "Back to the map"
    assert small_targets() == []
    assert "road authority" in page.inner_text("#side")
    page.fill("#find-field", "CB-0100")
    page.tap("#find-list li")
    page.wait_for_selector('#panel[data-site="CB-0100"]')
    assert page.is_hidden("#side")
    assert small_targets() == []
    box = page.locator("#panel").bounding_box()
    bar = page.locator(".bar").bounding_box()
    assert box["x"] == 0 and box["width"] == 360 and abs(box["y"] + box["height"] - bar["y"]) < 2


@pytest.mark.parametrize("n, words", [(1, "One setting serves the one site."), (2, "One setting serves both sites."),
                                      (48, "One setting serves all 48 sites.")])
def test_small_jobs(open_page, example_answers, n, words):
    rng = np.random.default_rng(n)
    sites = pd.DataFrame({"site_id": [f"T{k}" for k in range(n)], "name": "", "lat_deg": -35.2 + rng.normal(0, 0.008, n),
                          "lon_deg": 140.3 + rng.normal(0, 0.01, n), "load_w": np.nan})
    page = open_page(f"small{n}", example_answers(sites=sites, districts=False))
    assert page.inner_text("#headline") == words
    assert page.evaluate("page.siteLayer.nSeen") == n
    assert page.evaluate("document.querySelector('#walk-list').options.length") == 1
    page.click("#walk-back")
    assert page.is_visible("#panel")


def test_both_sides_of_the_antimeridian(open_page, example_answers):
    sites = pd.DataFrame({"site_id": ["west", "east"], "name": "", "lat_deg": [-17.0, -16.5], "lon_deg": [179.4, -179.6], "load_w": np.nan})
    answers = example_answers(sites=sites, districts=False)
    no_lines = answers.drift_lines.iloc[:0]
    answers = replace(answers, areas=gpd.GeoDataFrame({"area": ["west"]}, geometry=[shapely.box(179, -17.4, 179.8, -16.6)], crs=4326),
                      drift_lines=no_lines)
    page = open_page("antimeridian", answers)
    assert page.evaluate("page.siteLayer.nSeen") == 2
    (x_west, _), (x_east, _) = [page.evaluate("""id => { const p = map_geozone.latLngToContainerPoint(page.siteLayer.latLng(
        page.sites.id.indexOf(id))); return [p.x, p.y]; }""", name) for name in ("west", "east")]
    assert 50 < x_east - x_west < 1100


def test_the_head_says_where_the_sites_lie(open_page, answers):
    page = open_page("look", answers)
    assert page.inner_text("#where") == answers.summary["where"]["text"] and page.is_visible("#where")
    # An old summary without it leaves no gap.
    bare = open_page("no-where", replace(answers, summary={k: v for k, v in answers.summary.items() if k != "where"}))
    assert bare.is_hidden("#where")


def test_printing_lays_out_one_sheet_and_comes_back(open_page, answers):
    page = open_page("look", answers)
    before = page.evaluate("[map_geozone.getZoom(), map_geozone.getSize().x, map_geozone.getSize().y]")
    page.evaluate("window.dispatchEvent(new Event('beforeprint'))")
    sheet = page.evaluate("""() => { const b = [".top", ".stage", ".side", ".foot", "#legend"].map(s => document.querySelector(s).getBoundingClientRect());
        return [Math.max(...b.map(x => x.right)), Math.max(...b.map(x => x.bottom))]; }""")
    # A4 across less 9 mm margins is 279 x 192 mm, at 96 to the inch 1054 x 725.
    assert sheet[0] <= 1054 and sheet[1] <= 725
    frame, side = page.locator(".stage").bounding_box(), page.locator(".side").bounding_box()
    assert side["x"] >= frame["x"] + frame["width"]
    assert page.evaluate("page.siteLayer.nSeen") == len(answers.sites)
    assert "road authority" in page.inner_text("#foot") and page.is_hidden(".bar")
    page.evaluate("window.dispatchEvent(new Event('afterprint'))")
    assert page.evaluate("[map_geozone.getZoom(), map_geozone.getSize().x, map_geozone.getSize().y]") == before


def test_chromium_prints_one_page(open_page, answers):
    pdf = open_page("look", answers).pdf(format="A4", landscape=True, print_background=True)
    assert pdf.startswith(b"%PDF") and pdf.count(b"/Type /Page\n") == 1
