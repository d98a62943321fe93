"""A link to a site, and cabinets: found by name, shown together, whatever they are called."""

import runpy
from pathlib import Path
from urllib.parse import quote

import numpy as np
import pandas as pd
import pytest

ONPAGE = runpy.run_path(str(Path(__file__).parent / "onpage.py"))
HOSTILE, until = ONPAGE["HOSTILE"], ONPAGE["until"]
IDS = [*HOSTILE, "CB 1", "Größe/7", "路灯-12", "50%", "%41", "a#b", "legend", "map_geozone", "x?y=1&z", "1+1", "__proto__"]


@pytest.fixture(scope="module")
def odd(example_answers):
    n = len(IDS)
    sites = pd.DataFrame({"site_id": IDS, "name": "", "lat_deg": -35.2 + 0.02 * np.arange(n), "lon_deg": 140.3 + 0.01 * np.arange(n), "load_w": np.nan})
    return example_answers(sites=sites, districts=False)


@pytest.fixture(scope="module")
def page(open_for_module, odd):
    page = open_for_module("odd", odd)
    page.evaluate("void (window.alert = () => { throw new Error('a name was run') })")
    return page


def shown(page):
    return page.get_attribute("#panel", "data-site") if page.is_visible("#panel") else None


def until_shown(page, wanted):
    until(page, lambda: shown(page) == wanted)


@pytest.mark.parametrize("link, site", [("#CB%201", "CB 1"), ("#Gr%C3%B6%C3%9Fe%2F7", "Größe/7"), (f"#{quote(HOSTILE[2], safe='')}", HOSTILE[2])])
def test_the_page_opens_on_the_site_of_the_link(open_page, odd, link, site):
    page = open_page("odd", odd, link=link)
    assert shown(page) == site
    x, y = page.evaluate("(p => [p.x, p.y])(map_geozone.latLngToContainerPoint(page.siteLayer.latLng(geozone.chosenSite())))")
    frame = page.locator("#map_geozone").bounding_box()
    assert 0 < x < frame["width"] and 0 < y < frame["height"]
    page.evaluate("geozone.clear()")
    assert "#" not in page.url


def test_any_number_goes_into_the_address_and_comes_back(page):
    for site in IDS:
        page.evaluate("id => geozone.choose(page.sites.id.indexOf(id))", site)
        assert page.evaluate("location.hash") == "#" + quote(site, safe="-_.!~*'()")
        link = page.evaluate("location.hash")
        page.evaluate("geozone.clear()")
        assert page.evaluate("location.hash") == ""
        page.evaluate("link => { location.hash = link; }", link)  # as when it is typed or pasted
        until_shown(page, site)
    assert page.evaluate("document.scripts.length") == 4 and page.evaluate("document.querySelectorAll('img').length") == 0


def test_a_link_typed_without_encoding_is_understood(page):
    for site in ("CB 1", "路灯-12", "50%", "legend"):
        page.evaluate("geozone.clear()")
        page.evaluate("link => { location.hash = link; }", site)
        until_shown(page, site)
    assert page.evaluate("document.scrollingElement.scrollTop") == 0, "a number that is also the name of a part moves nothing"


def test_back_and_forward_go_through_the_sites(page):
    page.evaluate("geozone.clear()")
    for site in ("CB 1", "a#b"):
        page.fill("#find-field", site)
        page.keyboard.press("Enter")
    page.go_back()
    until_shown(page, "CB 1")
    page.go_back()
    until_shown(page, None)
    page.go_forward()
    page.go_forward()
    until_shown(page, "a#b")


def test_going_through_the_list_is_one_step_back(page):
    page.evaluate("geozone.clear()")
    page.evaluate("geozone.choose(page.sites.id.indexOf('CB 1'))")
    for _ in range(4):
        page.click("#walk-on")
    assert page.evaluate("decodeURIComponent(location.hash.slice(1))") == shown(page)
    page.go_back()
    until_shown(page, "CB 1")


def test_an_unknown_number_is_said_as_text(open_page, odd):
    unknown = "<img src=x onerror=alert(1)>nowhere%"
    page = open_page("odd", odd, link="#" + quote(unknown, safe=""))
    assert page.inner_text("#panel h2") == "No such site"
    assert f"“{unknown}”" in page.inner_text("#panel") and page.locator("#panel img").count() == 0
    frame = page.locator("#map_geozone").bounding_box()
    page.mouse.move(frame["x"] + 20, frame["y"] + frame["height"] - 60)
    page.mouse.move(frame["x"] + 5, frame["y"] - 40)
    assert page.is_visible("#panel"), "it stays until it is closed"
    page.click("#panel .close")
    assert page.is_hidden("#panel") and "#" not in page.url
    page.evaluate("location.hash = 'still-%-nowhere'")
    page.wait_for_timeout(100)
    assert "still-%-nowhere" in page.inner_text("#panel")
    page.evaluate("geozone.choose(0)")
    assert shown(page) == page.evaluate("page.sites.id[0]")


@pytest.fixture(scope="module")
def full(open_for_module, full_answers):
    return open_for_module("full", full_answers)


def test_a_cabinet_is_found_and_shown_with_its_sites(full, full_answers):
    sites = full_answers.sites
    name = sites["cabinet"].iloc[31]
    mine = sorted(sites.loc[sites["cabinet"] == name, "site_id"])
    full.fill("#find-field", name.lower())
    first = full.locator("#find-list li").first
    assert first.locator("b").inner_text() == name and first.locator("span.theirs").inner_text() == f"cabinet, {len(mine)} sites"
    full.keyboard.press("ArrowDown")
    full.keyboard.press("Enter")
    assert shown(full) == mine[0] and full.input_value("#find-field") == name
    inside = full.evaluate("""ids => ids.every(id => map_geozone.getBounds().contains(page.siteLayer.latLng(page.sites.id.indexOf(id))))""", mine)
    assert inside
    part = full.locator("#panel .cabinet-part")
    assert part.locator("h3").inner_text() == f"cabinet: {name}"
    assert part.locator("button").all_inner_texts() == mine[1:]
    part.locator("button").first.click()
    assert shown(full) == mine[1] and full.evaluate("document.querySelector('#panel').contains(document.activeElement)")
    full.fill("#find-field", "no such thing")
    assert "no “cabinet” is called so" in full.inner_text("#find-count")


def test_sites_are_found_beside_cabinets(full):
    full.fill("#find-field", "CB-00")
    assert full.locator("#find-list li").count() == 8 and "of" in full.inner_text("#find-count")
    full.fill("#find-field", "k 1")
    shown = full.locator("#find-list li b").all_inner_texts()
    assert shown[0].startswith("K 1") and len(shown) <= 8


def test_without_cabinets_nothing_is_said_of_them(page):
    page.fill("#find-field", "no such thing")
    assert page.inner_text("#find-count") == "No site has this in its number or name."
    assert page.get_attribute("#find-field", "placeholder") == "Number or name"
    page.evaluate("geozone.choose(0)")
    assert page.locator(".cabinet-part").count() == 0


def test_hostile_cabinets_stay_text(open_page, full_answers):
    from dataclasses import replace
    sites = full_answers.sites.copy()
    sites["cabinet"] = [HOSTILE[k % len(HOSTILE)] for k in range(len(sites))]
    groups = replace(full_answers.groups, keep_together="cabinet")
    page = open_page("hostile cabinets", replace(full_answers, sites=sites, groups=groups))
    page.evaluate("void (window.alert = () => { throw new Error('a name was run') })")
    for name in HOSTILE:
        page.fill("#find-field", name)
        assert page.locator("#find-list li b").first.inner_text() == name
        page.keyboard.press("ArrowDown")
        page.keyboard.press("Enter")
        assert page.locator("#panel .cabinet-part h3").inner_text() == f"cabinet: {name}"
    assert page.locator("#panel img, #panel script, #find-list img").count() == 0
