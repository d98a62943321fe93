"""What is tried on the page, held against geozone's own drift on real runs: verdicts and counts, by tolerance and by setting."""

import runpy
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from geozone import Setting
from geozone.screens.mapdata import headline, site_counts
from geozone.screens.mapsky import solar_lon_deg
from geozone.sharing.drift import drift_at
from geozone.switching.sitedrift import same_clock

ONPAGE = runpy.run_path(str(Path(__file__).parent / "onpage.py"))
until, text_of = ONPAGE["until"], ONPAGE["text_of"]
NOW = """() => { const { now } = page.trial; return { counts: now.counts, headline: document.getElementById("headline").textContent,
    verdict: Object.fromEntries(page.sites.id.map((id, row) => [id, page.sites.tables.verdicts[now.verdict[row]]])),
    dark: Object.fromEntries(page.sites.id.map((id, row) => [id, now.dark[row] / 10])) }; }"""


def shared(page):
    if page.locator("input[name=view]").count():
        page.check("input[name=view][value=shared]")
    return page


def tried(page, **wish):
    page.evaluate("wish => geozone.tryValues(wish)", wish)
    until(page, "document.documentElement.dataset.tried === 'exact'")
    return page.evaluate(NOW)


def expected(answers, tolerance, setting=None):
    """Results and minutes of geozone itself, with the columns that the page's counts are made of."""
    sites, basis = answers.sites.copy(), replace(answers.basis, tolerance=replace(answers.tolerance, dark_min=tolerance[0], excess_min=tolerance[1]))
    if setting is not None:
        found = drift_at(sites["lat_deg"].to_numpy(), solar_lon_deg(answers), setting, basis, sites["legal_zone"].to_numpy(object))
        sites["worst_dark_min"], sites["worst_excess_min"] = found.worst_dark_min, found.worst_excess_min
        beyond = found.nights_beyond > 0
    else:
        beyond = ((sites["worst_dark_min"] > tolerance[0] + 1e-7) | (sites["worst_excess_min"] > tolerance[1] + 1e-7)).to_numpy()
    other = np.zeros(len(sites), bool) if answers.clock == "master" else ~same_clock(sites["legal_zone"], answers.setting.legal_zone, answers.year)
    sites["result"] = np.where(other, "other clock", np.where(beyond, "beyond", "within"))
    return replace(answers, sites=sites, basis=basis)


def agree(page, seen, answers):
    sites = answers.sites.set_index("site_id")
    assert seen["verdict"] == sites["result"].to_dict()
    mine = sites[sites["result"] != "other clock"]
    assert {site: seen["dark"][site] for site in mine.index} == mine["worst_dark_min"].round(1).to_dict()
    counts = site_counts(answers)
    assert {name: seen["counts"][name] for name in counts} == counts
    assert seen["headline"] == headline(counts)
    assert text_of(page, ".counts li strong") == f"{counts['within']:,}"


@pytest.mark.parametrize("name", ["plain", "master", "keypad", "white", "north", "ocean"])
def test_other_tolerances_and_settings_give_geozones_own_verdicts(open_page, real_run, name):
    answers = real_run(name)
    page, setting, limit = shared(open_page(name, answers)), answers.setting, answers.keypad.offset_limit_min
    plan = {"dark": answers.tolerance.dark_min, "excess": answers.tolerance.excess_min}
    for dark, excess in ((plan["dark"] * 0.5, plan["excess"]), (0.1, 0.1), (plan["dark"] + 0.3, plan["excess"] + 2.7)):
        agree(page, tried(page, dark=dark, excess=excess), expected(answers, (round(dark, 1), round(excess, 1))))
    for lat, lon, dusk, dawn in ((0.4, -0.3, 0, 0), (-0.2, 0.6, min(3, limit), -min(2, limit))):
        lon_deg = round((setting.lon_deg + lon + 180) % 360 - 180, 1)
        moved = Setting(round(setting.lat_deg + lat, 1), lon_deg, setting.legal_zone, dusk, dawn)
        seen = tried(page, lat=moved.lat_deg, lon=moved.lon_deg, dusk=dusk, dawn=dawn, **plan)
        agree(page, seen, expected(answers, tuple(plan.values()), moved))
        assert page.is_visible("#tried") and "(plan " in page.inner_text("#tried-words")
    page.click("#tried-back")
    until(page, "document.documentElement.dataset.tried === 'exact'")
    agree(page, page.evaluate(NOW), answers)
    assert page.is_hidden("#tried") and not page.evaluate("document.documentElement.classList.contains('tried')")


def test_more_sites_than_are_kept_end_up_with_the_same_verdicts(open_page, real_run):
    """The way over the lattice and in slices, on few sites: while it moves nearly all agree, afterwards all do."""
    answers = real_run("many")
    page = shared(open_page("many", answers))
    page.evaluate("geozone.EXACT_AT_MOST = 0")
    moved = replace(answers.setting, lat_deg=round(answers.setting.lat_deg + 0.7, 1))
    page.evaluate("""lat => { window.told = []; page.trial.ask({ lat }, true, exact => told.push([exact, page.trial.now.counts.waiting, [...page.trial.now.verdict]])); }""", moved.lat_deg)
    (exact, waiting, before), = page.evaluate("told")
    assert not exact and waiting == 0
    seen = tried(page, lat=moved.lat_deg)
    agree(page, seen, expected(answers, (answers.tolerance.dark_min, answers.tolerance.excess_min), moved))
    after = page.evaluate("[...page.trial.now.verdict]")
    assert sum(a != b for a, b in zip(before, after)) <= 1


def test_programmes_are_kept_for_tolerances_and_left_aside_for_settings(open_page, real_run):
    answers = real_run("programmes")
    page = shared(open_page("programmes", answers))
    agree(page, tried(page, dark=2.2, excess=4.1), expected(answers, (2.2, 4.1)))
    assert "Programmes are left aside" not in page.inner_text("#tried-words")
    moved = replace(answers.setting, lat_deg=-35.6)
    agree(page, tried(page, lat=-35.6, dark=5, excess=10), expected(answers, (5, 10), moved))
    assert "Programmes are left aside" in page.inner_text("#tried-words")
    aside = page.evaluate("page.sky.aside")
    plain = expected(answers, (5, 10), answers.setting).sites
    assert aside["beyond"] == (plain["result"] != answers.sites["result"]).sum()
    assert page.inner_text(".try .aside").startswith("With another setting the programmes are left aside")
