"""What the page says about a site is what the table says; every site can be reached by pointer, finger and keyboard."""

import re
import runpy
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

ONPAGE = runpy.run_path(str(Path(__file__).parent / "onpage.py"))
choose, day = ONPAGE["choose"], ONPAGE["day"]


@pytest.fixture(scope="session")
def answers(example_answers):
    return example_answers(620, 25)


def expected_lines(row):
    """The sentences of a site, written down a second time from the table alone."""
    lines = []
    for kind, late_words in (("dark", {"dusk": "Lights up to {} late in the night of {}.", "dawn": "Goes out up to {} early in the night of {}."}),
                             ("excess", {"dusk": "Lights up to {} early in the night of {}.", "dawn": "Goes out up to {} late in the night of {}."})):
        value = round(row[f"worst_{kind}_min"], 1)
        if value > 0:
            lines.append(late_words[row[f"worst_{kind}_edge"]].format(f"{value:.1f} minute{'' if value == 1 else 's'}", day(row[f"worst_{kind}_night"])))
    nights = row["nights_beyond"]
    lines.append(f"Beyond tolerance on {nights} night{'s' if nights != 1 else ''} of the year." if nights
                 else "Within tolerance on every night of the year.")
    lines.append(f"Over the year {row['dark_year_min']:,.1f} min unlit and {row['excess_year_min']:,.1f} min lit too long.")
    return lines


def test_panel_equals_the_table(open_page, answers):
    page = open_page("reading", answers)
    sites = answers.sites
    rows = [*sites.nlargest(3, "tolerance_share").index, *sites.nsmallest(3, "tolerance_share").index,
            *sites[sites.load_w.isna()].index[:2], *sites[sites.result == "other clock"].index[:3],
            *sites[sites.result == "beyond"].index[:2], *sites[sites.confirm_zone].index[:2]]
    assert len(set(sites.loc[rows, "result"])) == 3
    for index in rows:
        row = sites.loc[index]
        text = " ".join(choose(page, row.site_id).split())
        for line in expected_lines(row):
            assert line in text
        assert row["name"] in text and row.legal_zone in text and (row.area or "outside every area") in text
        assert {"within": "Within tolerance", "beyond": "Beyond tolerance", "other clock": "Keeps another clock"}[row.result] in text
        assert answers.clock_rules.text[row.clock_rule] in text
        distance = f"{np.round(row.boundary_m / 1000, 1):.1f} km"
        assert distance in text
        assert ("Load" in text) == (not np.isnan(row.load_w)) and (np.isnan(row.load_w) or f"{row.load_w:,g} W" in text)
        assert ("Confirm the legal zone on site" in text) == bool(row.confirm_zone)


def test_nought_and_whole_night_are_said_plainly(open_page, example_answers):
    answers = example_answers(sites=pd.DataFrame({"site_id": ["N1", "N2", "N3"], "name": "", "lat_deg": [-35, -35.1, -35.2],
                                                  "lon_deg": [140.1, 140.2, 140.3], "load_w": np.nan}))
    answers.sites["worst_dark_min"] = [0.0, 0.04, 300.26]
    answers.sites["worst_dark_edge"] = ["", "dusk", "night"]
    answers.sites["worst_dark_night"] = ["", "2027-05-01", "2026-12-31"]
    page = open_page("nought", answers)
    assert "Never unlit when it should be lit." in choose(page, "N1")
    assert "Unlit for under 0.1 minutes at any switching." in choose(page, "N2")
    text = " ".join(choose(page, "N3").split())
    assert "Unlit for up to 300.3 minutes too long in the night of 31 December 2026: the sun does not reach the threshold" in text


def test_legend_counts(open_page, answers):
    page = open_page("reading", answers)
    kinds = re.findall(r"within tolerance|beyond tolerance|keep another clock|confirm the zone on site", page.inner_text(".counts"))
    counts = dict(zip(kinds, map(int, page.locator(".counts strong").all_inner_texts()), strict=True))
    verdicts = answers.sites.result.value_counts()
    assert counts == {"within tolerance": verdicts["within"], "beyond tolerance": verdicts["beyond"],
                      "keep another clock": verdicts["other clock"], "confirm the zone on site": int(answers.sites.confirm_zone.sum())}
    assert page.inner_text("#headline").startswith(f"One setting serves {verdicts['within']} of 620 sites")
    assert page.inner_text("#title") == answers.title


def test_what_the_page_rests_on_is_said(open_page, answers):
    page = open_page("reading", answers)
    text = page.inner_text("body")
    for words in ("at most 5 min unlit", "10 min lit too long", answers.threshold_text, "every night of 2027", "tz database 2026f",
                  "boundaries 2026b", "flat horizon and a clear sky", "road authority", "qualified people", "35.4° S, 140.6° E",
                  "3 rows of the site list could not be used", "largest difference 1.3 s", "Found by geozone"):
        assert words in text, words


def spot(page, site_id):
    """Where a site is drawn in the window."""
    return page.evaluate("""id => { const p = map_geozone.latLngToContainerPoint(page.siteLayer.latLng(page.sites.id.indexOf(id)));
        const box = map_geozone.getContainer().getBoundingClientRect(); return [box.left + p.x, box.top + p.y]; }""", site_id)


def empty_spot(page):
    """A place in the window with no sign near it, clear of the panel."""
    return page.evaluate("""() => { const box = map_geozone.getContainer().getBoundingClientRect();
        for (let y = 40; y < 700; y += 30) for (let x = 200; x < 700; x += 30)
          if (!page.siteLayer.near(L.point(x, y), 30).length) return [box.left + x, box.top + y]; }""")


def lonely(answers):
    """A site with no other within a kilometre."""
    lat, lon = answers.sites.lat_deg.to_numpy(), answers.sites.lon_deg.to_numpy()
    apart = np.hypot(lat[:, None] - lat, lon[:, None] - lon) + np.eye(len(lat))
    return answers.sites.site_id.iloc[apart.min(axis=1).argmax()]


def test_hover_glances_and_click_keeps(open_page, answers):
    page = open_page("reading", answers)
    site = lonely(answers)
    page.evaluate("""id => map_geozone.setView(page.siteLayer.latLng(page.sites.id.indexOf(id)), 11, {animate: false})""", site)
    x, y = spot(page, site)
    page.mouse.move(x + 2, y + 2)
    page.wait_for_selector(f'#panel.glance[data-site="{site}"]')
    page.mouse.move(*empty_spot(page))
    page.wait_for_selector("#panel", state="hidden")
    page.mouse.click(x + 3, y)
    page.wait_for_selector(f'#panel[data-site="{site}"]:not(.glance)')
    page.mouse.move(*empty_spot(page))
    page.wait_for_timeout(150)
    assert page.is_visible("#panel")
    page.keyboard.press("Escape")
    assert page.is_hidden("#panel")


def test_a_finger_need_not_be_exact(open_page, answers):
    page = open_page("reading", answers, width=360, height=740, touch=True)
    site = lonely(answers)
    page.evaluate("""id => map_geozone.setView(page.siteLayer.latLng(page.sites.id.indexOf(id)), 11, {animate: false})""", site)
    x, y = spot(page, site)
    page.touchscreen.tap(x + 17, y - 12)
    page.wait_for_selector(f'#panel[data-site="{site}"]')
    page.wait_for_timeout(200)
    box = page.locator("#panel").bounding_box()
    x, y = spot(page, site)
    assert y < box["y"], "the sheet must not cover the site it speaks of"


def test_arrow_keys_walk_worst_first(open_page, answers):
    page = open_page("reading", answers)
    beyond = answers.sites[answers.sites.result == "beyond"]
    factor = np.maximum(beyond.worst_dark_min.round(1) / 5, beyond.worst_excess_min.round(1) / 10)
    order = beyond.assign(factor=factor).sort_values(["factor", "site_id"], ascending=[False, True]).site_id.tolist()
    page.focus("#walk-on")
    walked = []
    for _ in range(5):
        page.keyboard.press("ArrowRight")
        walked.append(page.get_attribute("#panel", "data-site"))
    assert walked == order[:5]
    page.keyboard.press("ArrowLeft")
    assert page.get_attribute("#panel", "data-site") == order[3]
    assert page.inner_text("#walk-place") == f"4 of {len(order)}"
    page.focus("#panel")
    page.keyboard.press("ArrowRight")
    assert page.get_attribute("#panel", "data-site") == order[4]
    assert page.get_attribute("#panel-live", "aria-live") == "polite"


def test_the_page_works_with_the_tab_key_alone(open_page, answers):
    page = open_page("reading", answers)
    reached = []
    for _ in range(40):
        page.keyboard.press("Tab")
        reached.append(page.evaluate("document.activeElement.id || document.activeElement.className || document.activeElement.tagName"))
        outline = page.evaluate("(s => [s.outlineStyle, parseFloat(s.outlineWidth)])(getComputedStyle(document.activeElement))")
        if page.evaluate("document.activeElement !== document.body && document.activeElement.type !== 'checkbox'"):
            assert outline[0] != "none" and outline[1] >= 2, reached[-1]
    for part in ("find-field", "walk-list", "walk-back", "walk-on", "map_geozone"):
        assert part in reached
    page.focus("#find-field")
    page.keyboard.type("cb-0005")
    page.wait_for_selector("#find-list li")
    page.keyboard.press("ArrowDown")
    assert page.get_attribute("#find-field", "aria-activedescendant") == "find-0"
    page.keyboard.press("Enter")
    assert page.get_attribute("#panel", "data-site") == "CB-0005"


def test_search_by_name_and_without_finding(open_page, answers):
    page = open_page("reading", answers)
    name = answers.sites.name.iloc[40]
    page.fill("#find-field", name.upper())
    page.wait_for_selector("#find-list li")
    assert answers.sites.site_id.iloc[40] in page.inner_text("#find-list")
    page.fill("#find-field", "no such place")
    assert "No site" in page.inner_text("#find-count") and page.is_hidden("#find-list")


def test_every_site_of_one_position_is_reached(open_page, example_answers):
    n = 7
    sites = pd.DataFrame({"site_id": [f"P{k}" for k in range(n)], "name": "", "lat_deg": -35.2, "lon_deg": 140.3, "load_w": np.nan})
    page = open_page("pile", example_answers(sites=sites, districts=False))
    x, y = spot(page, "P3")
    page.mouse.click(x, y)
    page.wait_for_selector(f'#panel[data-listed="{n}"]')
    assert page.inner_text("#panel h2") == f"{n} sites here"
    page.click('#panel [data-pick="P3"]')
    page.wait_for_selector("#panel .others")
    first = page.get_attribute("#panel", "data-site")
    assert first == "P3" and page.inner_text("#panel .others h3") == f"{n - 1} more sites at this position"
    seen = {first}
    for site in [f"P{k}" for k in range(n) if f"P{k}" != first]:
        page.locator("#panel .other", has_text=site).click()
        seen.add(page.get_attribute("#panel", "data-site"))
        assert page.locator("#panel .other").count() == n - 1
    assert len(seen) == n
