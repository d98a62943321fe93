"""The lighting zones on the page: a view of its own, with every figure of the tables, by keyboard and on a phone; answers of a real run."""

import runpy
import shutil
from dataclasses import replace
from pathlib import Path

import pytest

from geozone.jobs.examples import examples_folder
from geozone.jobs.job import read_job
from geozone.jobs.plan import compute
from geozone.trade.keypad import keyed_text

text_of = runpy.run_path(str(Path(__file__).parent / "onpage.py"))["text_of"]


@pytest.fixture(scope="module")
def zoned(tmp_path_factory):
    """The border example with its zones, and without groups and programmes."""
    folder = shutil.copytree(examples_folder() / "border", tmp_path_factory.mktemp("zoned") / "border")
    text = (folder / "job.toml").read_text(encoding="utf-8")
    (folder / "job.toml").write_text(text[:text.index("[groups]")] + "[zones]\n", encoding="utf-8")
    return compute(read_job(folder / "job.toml"))


@pytest.fixture(scope="module")
def page(open_for_module, zoned):
    return open_for_module("zoned", zoned)


def words(page, selector="#legend"):
    return text_of(page, selector)


def test_the_page_opens_on_the_zones_and_tells_what_the_table_tells(page, zoned):
    table, step = zoned.zoning.zones, zoned.keypad.coordinate_step_deg
    assert page.inner_text("#headline") == zoned.zoning.headline
    assert page.locator(".views input").count() == 2 and page.locator("[name=view]:checked").get_attribute("value") == "zones"
    for row in table.itertuples():
        said = words(page, f"[data-zone={row.zone}]")
        for text in (row.zone, keyed_text(row.lat_deg, step, "NS"), keyed_text(row.lon_deg, step, "EW"), row.areas, f"{row.area_km2:,.0f} km", row.clock_to_key,
                     f"unlit {row.worst_dark_min:.1f}", f"lit too long {row.worst_excess_min:.1f}", f"{row.sites:,} sites of the list"):
            assert text in said, (row.zone, text)
    left = words(page, ".unserved")
    for row in zoned.zoning.unserved.itertuples():
        assert f"{row.area} {row.dark_min:.1f} {row.excess_min:.1f}" in left
    assert "No one setting serves every point of these" in left and "not certified" not in words(page)


def test_each_zone_is_drawn_once_with_its_name(page, zoned):
    drawn = page.evaluate("geozone.switchable.find(part => part.key === 'ground').layer.getLayers().length")
    assert drawn == len(zoned.zoning.zones)
    shown = page.evaluate("[...document.querySelectorAll('.gz-label-group')].filter(label => !label.hidden).map(label => label.textContent)")
    assert sorted(shown) == sorted(zoned.zoning.zones["zone"])


def test_a_site_is_told_its_zone_and_one_outside_that_it_has_none(page, zoned):
    sites = zoned.sites
    for inside in (True, False):
        site = sites[(sites["zone"] != "") == inside].iloc[0]
        page.evaluate("id => geozone.choose(page.sites.id.indexOf(id))", str(site["site_id"]))
        said = words(page, ".zone-part")
        if not inside:
            assert said == "In no zone."
            continue
        zone = zoned.zoning.zones.set_index("zone").loc[site["zone"]]
        assert f"Zone {site['zone']}" in said and f"at most {zone['worst_dark_min']:.1f} min unlit and {zone['worst_excess_min']:.1f} min lit too long" in said
    page.evaluate("geozone.clear()")


def test_the_lists_of_the_walk_are_the_zones(page, zoned):
    named = page.evaluate("[...document.querySelectorAll('#walk-list option')].map(option => option.textContent)")
    counts = zoned.sites["zone"].value_counts()
    assert f"in no zone ({counts['']:,})" in named
    assert all(f"zone {name} ({counts[name]:,})" in named for name in zoned.zoning.zones["zone"] if counts.get(name))


def test_the_other_view_has_nothing_of_the_zones(page):
    page.check("[name=view][value=shared]")
    assert not page.is_visible("[data-zone=Z1]") and page.inner_text("#headline").startswith("One setting serves")
    assert page.evaluate("geozone.switchable.filter(part => part.view === 'zones').every(part => !map_geozone.hasLayer(part.layer))")
    page.check("[name=view][value=zones]")
    assert page.is_visible("[data-zone=Z1]")


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_nothing_in_the_zones(open_page, zoned, axe, scheme):
    page = open_page("zoned", zoned, color_scheme=scheme)
    page.evaluate(axe)
    assert page.evaluate("axe.run(document, {resultTypes: ['violations']}).then(found => found.violations.map(one => one.id + ': ' + one.nodes[0].target))") == []


def test_on_a_phone_nothing_is_wider_than_the_screen(open_page, zoned):
    page = open_page("zoned", zoned, width=360, height=740, touch=True)
    page.click("#side-button")
    assert page.is_visible("[data-zone=Z1]")
    assert page.evaluate("document.documentElement.scrollWidth") <= 360
    assert page.evaluate("[...document.querySelectorAll('#legend table')].filter(table => table.offsetParent).every(table => table.getBoundingClientRect().right <= 360)")


def test_without_any_zone_the_page_says_so(open_page, zoned):
    """A plan in which nothing is served: no table, no layer, every outline listed."""
    plan = zoned.zoning.plan
    none = replace(zoned, sites=zoned.sites.assign(zone=""), zoning=replace(
        zoned.zoning, plan=replace(plan, zones=(), lower_bound=0), zones=zoned.zoning.zones.iloc[:0]))
    page = open_page("no zone", none)
    assert page.inner_text("#headline").startswith("No zone: no one setting was found that serves any of the 6 outlines")
    assert page.locator("[data-zone]").count() == 0 and page.is_visible(".unserved")
    assert page.evaluate("geozone.switchable.every(part => part.key !== 'ground')")
