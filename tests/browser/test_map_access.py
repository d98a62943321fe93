"""The page for everybody: axe-core's rules, keyboard, zoom, dark and forced colours, a window enlarged to 400 per cent.

WCAG is the Web Content Accessibility Guidelines 2.2, https://www.w3.org/TR/WCAG22/; the rules are those of axe-core.
"""

import io
import runpy
from functools import partial
from pathlib import Path

import numpy as np
import pytest

ONPAGE = runpy.run_path(str(Path(__file__).parent / "onpage.py"))
CONTRAST, LIGHT, until = ONPAGE["CONTRAST"], ONPAGE["LIGHT"], ONPAGE["until"]
IN_PANEL = "document.querySelector('#panel').contains(document.activeElement)"
# Contrast ratio as WCAG defines it, of "#rrggbb" or "rgb(...)".
RATIO = "(a, b) => {" + LIGHT + """
  const parts = colour => (colour.startsWith("#") ? colour.match(/[0-9a-f]{2}/gi).map(h => parseInt(h, 16)) : colour.match(/[\\d.]+/g).map(Number)).slice(0, 3);
  const [x, y] = [light(parts(a)), light(parts(b))]; return (Math.max(x, y) + 0.05) / (Math.min(x, y) + 0.05); }"""


@pytest.fixture(scope="module")
def wide(open_for_module, full_answers):
    return open_for_module("full", full_answers)


@pytest.fixture
def page(wide):
    """The one page of this module, as it was when it opened."""
    wide.emulate_media(color_scheme="light", forced_colors="none", media="screen")
    wide.set_viewport_size({"width": 1440, "height": 900})
    # The window gets its size in its own time, and an observer of sizes sees only those that were drawn.
    until(wide, "innerWidth === 1440 && map_geozone.getContainer().clientWidth > 900")
    wide.wait_for_timeout(150)
    wide.evaluate("() => new Promise(done => requestAnimationFrame(() => requestAnimationFrame(done)))")
    wide.evaluate("""() => { geozone.clear(); document.querySelector("#find-field").value = "";
        document.querySelector("#find-field").dispatchEvent(new Event("input")); document.activeElement.blur();
        document.querySelector("input[value=groups]").click(); document.querySelector(".all-sites").click(); }""")
    return wide


def violations(page, axe, *rules):
    page.evaluate(axe)
    found = page.evaluate("rules => axe.run(document, {resultTypes: ['violations'], ...(rules.length ? {runOnly: rules} : {})})", rules)
    return [(rule["id"], node["target"]) for rule in found["violations"] for node in rule["nodes"]]


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_nothing(page, axe, scheme):
    page.emulate_media(color_scheme=scheme)
    if scheme == "dark":  # the same page in other colours
        axe = partial(violations, page, axe, "color-contrast")
    else:
        axe = partial(violations, page, axe)
    assert axe() == [], "opened"
    page.evaluate("geozone.choose(5)")
    page.fill("#find-field", "CB-00")
    page.wait_for_selector("#find-list li")
    assert axe() == [], "a site chosen, the search open"
    page.fill("#find-field", "")
    page.evaluate("document.querySelectorAll('#legend details').forEach(part => { part.open = true; })")
    assert axe() == [], "all unfolded"
    page.check("input[value=shared]")
    assert axe() == [], "the other view"
    page.evaluate("geozone.tryValues({ dark: 2, lat: -35 })")
    until(page, "document.documentElement.dataset.tried === 'exact'")
    page.evaluate("geozone.showNight(170, undefined, 'shared'), geozone.showPlace(map_geozone.getCenter())")
    assert axe() == [], "other values tried, a night shown, a place read"
    page.evaluate("document.querySelector('#moment .close').click(), document.getElementById('tried-back').click()")
    page.evaluate("geozone.say('No such site', 'x'), document.querySelectorAll('#legend details').forEach(part => { part.open = false; })")
    assert axe() == [], "a word of the page"


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_nothing_on_a_phone(open_page, full_answers, axe, scheme):
    page = open_page("full", full_answers, width=360, height=740, touch=True, color_scheme=scheme)
    found = partial(violations, page, axe, *(["color-contrast"] if scheme == "dark" else []))
    assert found() == [], "opened"
    page.tap("#side-button")
    assert found() == [], "legend and search"
    page.tap("#side-button")
    page.evaluate("geozone.choose(5)")
    assert found() == [], "a site chosen"
    page.evaluate("geozone.clear(), geozone.tryValues({ dark: 2 }), geozone.showNight(170)")
    until(page, "document.documentElement.dataset.tried === 'exact'")
    assert found() == [], "other values tried, a night shown"
    if scheme == "light":  # what is checked can fail
        page.evaluate("document.querySelector('#walk-list').removeAttribute('aria-label')")
        assert ("select-name", ["#walk-list"]) in violations(page, axe)


def test_from_the_search_to_the_panel_in_two_tabs(page):
    page.focus("#find-field")
    page.keyboard.type("CB-0007")
    page.keyboard.press("Enter")
    assert page.get_attribute("#panel", "data-site") == "CB-0007"
    reached = []
    for _ in range(2):
        page.keyboard.press("Tab")
        reached.append(page.evaluate(IN_PANEL))
    assert any(reached)


def test_arrow_keys_scroll_the_panel_and_keep_the_focus(page):
    page.set_viewport_size({"width": 1100, "height": 560})
    page.evaluate("geozone.choose(page.sites.id.indexOf('CB-0007'))")
    page.focus("#panel .close")
    for _ in range(4):
        page.keyboard.press("ArrowDown")
    until(page, "document.querySelector('#panel').scrollTop > 60")
    assert page.evaluate("document.activeElement.className") == "close" and page.get_attribute("#panel", "data-site") == "CB-0007"
    page.keyboard.press("ArrowRight")
    assert page.get_attribute("#panel", "data-site") != "CB-0007" and page.evaluate(IN_PANEL)
    page.keyboard.press("ArrowLeft")
    assert page.get_attribute("#panel", "data-site") == "CB-0007" and page.evaluate(IN_PANEL)
    page.keyboard.press("Escape")
    assert page.is_hidden("#panel") and page.evaluate("document.activeElement.id") == "map_geozone"


def test_from_the_list_to_the_panel(page):
    assert page.is_hidden("#to-panel")
    page.focus("#walk-on")
    page.keyboard.press("Enter")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.id") == "to-panel"
    assert page.evaluate("getComputedStyle(document.activeElement).opacity") == "1"
    page.keyboard.press("Enter")
    assert page.evaluate("document.activeElement.id") == "panel"


WHERE = """id => { const p = map_geozone.latLngToContainerPoint(page.siteLayer.latLng(page.sites.id.indexOf(id))); return [p.x, p.y]; }"""


def test_zoom_keeps_the_chosen_site_in_its_place(page):
    page.evaluate("geozone.choose(page.sites.id.indexOf('CB-0100'))")
    before = page.evaluate(WHERE, "CB-0100")
    zoom = page.evaluate("map_geozone.getZoom()")
    def at(level):
        until(page, f"map_geozone.getZoom() === {level} && !map_geozone._animatingZoom")
        # Leaflet keeps whole pixels at each step.
        assert np.abs(np.subtract(page.evaluate(WHERE, "CB-0100"), before)).max() <= 3

    page.click(".leaflet-control-zoom-in")
    at(zoom + 1)
    page.focus("#map_geozone")
    page.keyboard.press("+")
    at(zoom + 2)
    page.keyboard.press("+")
    at(zoom + 3)
    page.keyboard.press("-")
    at(zoom + 2)
    assert page.get_attribute("#panel", "data-site") == "CB-0100"


def test_a_double_click_on_open_ground_keeps_the_chosen_site(page):
    page.evaluate("geozone.choose(page.sites.id.indexOf('CB-0100'))")
    x, y = page.evaluate("""() => { const box = map_geozone.getContainer().getBoundingClientRect();
        for (let y = 300; y < 600; y += 30) for (let x = 120; x < 500; x += 30)
          if (!page.siteLayer.near(L.point(x, y), 40).length) return [box.left + x, box.top + y]; }""")
    page.mouse.dblclick(x, y)
    assert page.get_attribute("#panel", "data-site") == "CB-0100"
    page.mouse.click(x, y)
    page.wait_for_selector("#panel", state="hidden")


def test_a_smaller_window_keeps_the_chosen_site_in_sight(page):
    page.evaluate("geozone.choose(page.sites.id.indexOf('CB-0001'))")
    for width, height in ((700, 500), (360, 640), (1440, 900)):
        page.set_viewport_size({"width": width, "height": height})
        page.wait_for_timeout(400)  # the map learns of its new size some frames later
        x, y = page.evaluate(WHERE, "CB-0001")
        frame, panel = page.locator("#map_geozone").bounding_box(), page.locator("#panel").bounding_box()
        assert 0 < x < frame["width"] and 0 < y < frame["height"], (width, height)
        x, y = x + frame["x"], y + frame["y"]
        assert not (panel["x"] < x < panel["x"] + panel["width"] and panel["y"] < y < panel["y"] + panel["height"]), (width, height)


def pixels(page, selector):
    from matplotlib import image
    return (image.imread(io.BytesIO(page.locator(selector).screenshot()))[..., :3] * 255).astype(int)


def test_forced_colours_keep_the_dusk_band_and_the_signs(page):
    page.emulate_media(forced_colors="active")
    band = pixels(page, ".ribbon .band")
    row = band[band.shape[0] // 2]
    assert len(np.unique(row[::8], axis=0)) > 20, "the fall of dusk is a run of colours, not one"
    assert row[10].sum() > row[-10].sum() + 200, "from light to dark"
    page.check("input[value=shared]")
    lamp = pixels(page, ".counts .sign >> nth=0")
    assert (np.abs(lamp - [255, 181, 46]).sum(axis=-1) < 20).sum() > 20, "a lamp is the colour of a lamp"
    page.fill("#find-field", "CB-00")
    page.keyboard.press("ArrowDown")
    marked, other = (page.evaluate("k => getComputedStyle(document.querySelectorAll('#find-list li')[k]).outlineStyle", k) for k in (0, 1))
    assert marked == "solid" and other == "none"


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_contrast_of_text_lines_and_signs(page, scheme):
    """WCAG 1.4.3: text 4.5 to 1; 1.4.11: lines and signs that carry a meaning 3 to 1."""
    page.emulate_media(color_scheme=scheme)
    page.evaluate("geozone.choose(5)")
    names = tuple(page.evaluate("page.outlines.areas.map(area => area.name)"))  # stand on the map itself: see below
    for view in ("groups", "shared"):
        page.check(f"input[value={view}]")
        found = [pair for pair in page.evaluate(CONTRAST) if not pair[1].endswith(names)]
        assert len(found) > 100 and [pair for pair in found if pair[0] < 4.5] == []
    land, sea, area = page.evaluate("""() => ["--land", "--sea", "--label-area"].map(name => getComputedStyle(document.documentElement).getPropertyValue(name).trim())""")
    assert min(page.evaluate(f"([a, b, c]) => [({RATIO})(a, b), ({RATIO})(a, c)]", [area, land, sea])) >= 4.5
    lines = page.evaluate(f"""land => ["gz-tolerance", "gz-drift", "gz-boundary", "gz-dusk", "gz-setting", "gz-chosen"].map(name => {{
        const path = geozone.svg("path", name); document.querySelector(".leaflet-pane svg").append(path);
        const found = [name, ({RATIO})(getComputedStyle(path).stroke, land)]; path.remove(); return found; }})""", land)
    assert [line for line in lines if line[1] < 3] == []
    page.check("input[value=groups]")
    outlines = page.evaluate(f"land => [...document.querySelectorAll('path.gz-group')].map(p => ({RATIO})(getComputedStyle(p).stroke, land))", land)
    assert len(outlines) >= 2 and min(outlines) >= 3
    # Every hue, also of groups that this plan does not have.
    hues = page.evaluate(f"""land => geozone.HUES.map((hue, k) => {{ const path = geozone.svg("path", "gz-ink-" + k, {{ stroke: hue.ink }});
        document.querySelector(".leaflet-pane svg").append(path); const found = ({RATIO})(getComputedStyle(path).stroke, land); path.remove(); return found; }})""", land)
    assert len(hues) == 8 and min(hues) >= 3
    signs = page.evaluate(f"""land => {{ const paints = ["within", "beyond", "other clock"].map(v => c => geozone.signs.draw(c, v, false, 20, 20, 6))
          .concat([c => geozone.signs.ring(c, 20, 20, 6), c => geozone.signs.without(c, 20, 20, 5)])
          .concat(geozone.HUES.map((_, hue) => c => geozone.signs.member(c, {{ hue, cycle: 0, name: "A" }}, 20, 20, 5)));
        return paints.map(paint => {{ const canvas = document.createElement("canvas"); canvas.width = canvas.height = 40; const c = canvas.getContext("2d");
          c.fillStyle = land; c.fillRect(0, 0, 40, 40); paint(c); const d = c.getImageData(0, 0, 40, 40).data; let strong = 0;
          for (let k = 0; k < d.length; k += 4) if (({RATIO})("rgb(" + [d[k], d[k + 1], d[k + 2]].join() + ")", land) >= 3) strong++;
          return strong; }}); }}""", land)
    assert len(signs) == 13 and min(signs) >= 20, signs


def test_the_scheme_can_change_while_the_page_is_open(page):
    page.check("input[value=shared]")
    light = pixels(page, ".counts .sign >> nth=1")
    page.emulate_media(color_scheme="dark")
    dark = pixels(page, ".counts .sign >> nth=1")
    middle = light.shape[0] // 2
    assert light[middle, middle].sum() < 200 and dark[middle, middle].sum() > 600, "the lozenge is dark on light and light on dark"
    assert page.evaluate("getComputedStyle(document.documentElement).colorScheme") == "dark"
    page.emulate_media(color_scheme="light")
    assert np.array_equal(pixels(page, ".counts .sign >> nth=1"), light)


def test_a_window_enlarged_to_400_per_cent(page):
    """WCAG 1.4.10: 1280 by 1024 at 400 per cent are 320 by 256; nothing but the map itself needs scrolling in two directions."""
    page.set_viewport_size({"width": 320, "height": 256})
    page.wait_for_timeout(150)
    across = "[document.documentElement.scrollWidth, ...[...document.querySelectorAll('#side, #panel, .find')].map(e => e.scrollWidth)]"
    assert max(page.evaluate(across)) <= 320
    assert page.evaluate("document.documentElement.scrollHeight") > 256, "the head scrolls away"
    page.evaluate("geozone.choose(5)")
    stage, bar, panel = (page.locator(name).bounding_box() for name in (".stage", ".bar", "#panel"))
    assert stage["y"] >= -1 and bar["y"] + bar["height"] <= 257 and stage["height"] >= 150, "map and bar fill the window"
    assert panel["y"] + panel["height"] <= bar["y"] + 1 and panel["height"] >= 150
    assert max(page.evaluate(across)) <= 320
    page.evaluate("geozone.clear()")
    page.click("#side-button")
    assert max(page.evaluate(across)) <= 320
    page.evaluate("document.querySelector('.cautions.narrow').scrollIntoView()")
    box = page.locator(".cautions.narrow h2").bounding_box()
    assert -1 <= box["y"] < 190, "the end of the legend comes into the window"
    page.click("#side-button")
    assert page.is_hidden("#side")
