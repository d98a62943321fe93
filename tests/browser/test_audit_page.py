"""The page of an audit in a real browser without network: the plan and the table say what the work list says, on a desk and on a phone."""

import runpy
from pathlib import Path

import geopandas
import numpy as np
import pandas as pd
import pytest
import shapely

from geozone.schema.audit_columns import WORK
from geozone.screens.auditpage import draw_audit

onpage = runpy.run_path(str(Path(__file__).parent / "onpage.py"))
N = 230
RESULTS = ("beyond", "open", "within", "not known")


def work_list():
    """Invented stops at the antimeridian, with names that try to run; the third has unlit hours that nobody knows."""
    rng, hostile = np.random.default_rng(2), onpage["HOSTILE"]
    lon = (rng.uniform(179.2, 180.8, N) + 180) % 360 - 180
    rows = pd.DataFrame({name: [""] * N for name in WORK.names})
    dark = np.sort(np.round(rng.uniform(0, 900, N), 1))[::-1].copy()
    dark[2] = np.nan
    return rows.assign(rank=range(1, N + 1), work_day=np.arange(N) // 12 + 1, stop=np.arange(N) % 12 + 1, site_id=[f"S{i}" for i in range(N)],
                       name=[hostile[i % len(hostile)] for i in range(N)], area="East", lat_deg=rng.uniform(-17.5, -16.5, N), lon_deg=lon,
                       result=[RESULTS[i % 4] for i in range(N)], dark_h=dark, dark_most_h=dark + 10, excess_h=1.0, waste_kwh=np.arange(N, 0.0, -1.0),
                       diagnosis=["east for west" if i % 2 else "clock 12 hours off" for i in range(N)], next_reading="the date", mend="key the longitude again",
                       key_lat_deg=-17.0, key_lon_deg=180.0, key_legal_zone="Pacific/Fiji", key_dusk_offset_min=2, key_dawn_offset_min=-1, key_clock="UTC+12:00, no summer time")


@pytest.fixture(scope="module")
def opened(chromium, tmp_path_factory):
    file, trouble, contexts = tmp_path_factory.mktemp("audit") / "audit.html", [], []
    halves = geopandas.GeoDataFrame({"area": ["East", "West"]}, geometry=[shapely.box(-180, -17.6, -179.1, -16.4), shapely.box(179.1, -17.6, 180, -16.4)], crs=4326)
    summary = {"audit": {"read": 400, "sites": 500, "readings": {"agrees": 170, "differs": 200, "no known slip": 30}, "work": {"sites": N, "days": 20, "dark_h": 5.0, "waste_kwh": 7.0}},
               "cautions": ["Work at the supply is for qualified people."], "versions": {"geozone": "0", "tz database": "2026f"}}
    file.write_text(draw_audit("<b>Coast", 2027, work_list(), halves, summary, 0.1), encoding="utf-8")

    def page(width, **media):
        context = chromium.new_context(viewport={"width": width, "height": 900}, offline=True, **media)
        contexts.append(context)
        one = context.new_page()
        onpage["watch"](one, file, trouble)
        one.goto(file.as_uri())
        return one

    yield page
    for context in contexts:
        context.close()
    assert trouble == []


def column(page, place):
    return [text.strip() for text in page.locator(f"tbody td:nth-child({place})").all_inner_texts()]


def test_the_list_is_in_driving_order_and_can_be_sorted_searched_and_read(opened, axe):
    page, work = opened(1400), work_list()
    assert page.title() == "<b>Coast (2027): work list" and "400 sites of 500 read" in page.inner_text("#figures")
    assert column(page, 1)[:13] == [f"day 1, stop {i}" for i in range(1, 13)] + ["day 2, stop 1"] and page.locator("tbody tr").count() == 200
    assert "<b>bold</b>" in page.inner_text("tbody") and page.locator("#caution").inner_text().startswith("Work at the supply is for qualified people.")
    page.get_by_role("button", name="Show more").click()
    assert page.locator("tbody tr").count() == N
    page.get_by_role("button", name="Wasted [kWh a year]").click()
    assert column(page, 6)[:2] == ["230", "229"] and page.locator("th[aria-sort=descending]").inner_text() == "Wasted [kWh a year]"
    # Least unlit first; what is not known comes last.
    page.get_by_role("button", name="Unlit [h a year]").click()
    page.get_by_role("button", name="Unlit [h a year]").click()
    assert column(page, 5)[-1] == "not known" and column(page, 5)[0].startswith(f"{np.nanmin(work['dark_h']):.1f} (at most ")
    page.fill("#find", "EAST for")
    assert page.get_by_role("status").inner_text() == "115 of 230 sites to visit." and set(column(page, 7)) == {"east for west"}
    page.fill("#find", "")
    page.select_option("#day", "3")
    assert page.get_by_role("status").inner_text() == "12 of 230 sites to visit."
    # On the plan: a sign a site of its result, the day's way through twelve places, all of them inside.
    signs = onpage["boxes"](page, ".map .sign")
    plan = onpage["boxes"](page, ".map svg")[0]
    assert len(signs) == 12 and all(plan["x"] < one["x"] and one["x"] + one["w"] < plan["x"] + plan["w"] for one in signs)
    assert page.locator(".map .way").count() == 1 and page.locator(".map .way").get_attribute("d").count("L") == 11 and page.locator(".area").count() == 2
    page.get_by_role("button", name="Show S30 on the plan").click()
    assert page.locator("tr.is-picked button").inner_text() == "S30" and page.locator(".picked").count() == 1
    where = page.locator("tr.is-picked a").get_attribute("href")
    assert where.startswith(f"geo:{work['lat_deg'][30]:.6f},")
    page.evaluate(axe)
    assert page.evaluate("async () => (await axe.run()).violations.map(v => v.id + ' ' + v.nodes[0].html)") == []


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_a_phone_shows_all_of_it(opened, scheme):
    page = opened(360, color_scheme=scheme)
    assert page.evaluate("document.documentElement.scrollWidth") == 360
    assert page.locator("tbody tr").first.locator("td").nth(9).inner_text().startswith("latitude -17.0, longitude 180.0, dusk +2 min, dawn -1 min; clock UTC+12:00")
    assert min(box["h"] for box in onpage["boxes"](page, "tbody tr:first-child button, select, input")) >= 44
    assert min(page.evaluate(onpage["CONTRAST"]))[0] >= 4.5


def test_nothing_to_visit_is_said(chromium, tmp_path):
    summary = {"audit": {"read": 1, "sites": 1, "readings": {"agrees": 1, "differs": 0, "no known slip": 0}, "work": {"sites": 0, "days": 0, "dark_h": 0.0, "waste_kwh": 0.0}},
               "cautions": ["x"], "versions": {"geozone": "0", "tz database": "2026f"}}
    page = draw_audit("None", 2027, work_list().iloc[:0], geopandas.GeoDataFrame(geometry=[], crs=4326), summary, 0.1)
    (tmp_path / "audit.html").write_text(page, encoding="utf-8")
    one = chromium.new_page()
    one.goto((tmp_path / "audit.html").as_uri())
    assert "there is nothing to visit" in one.inner_text("main")
    one.close()
