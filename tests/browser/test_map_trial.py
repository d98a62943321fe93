"""What is tried on the page, held against geozone's own drift on real runs: verdicts and counts, by tolerance and by setting."""

import re
import runpy
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from geozone import Setting
from geozone.numbers import clock
from geozone.numbers.clock import to_legal
from geozone.numbers.sun import switch_times
from geozone.screens.mapdata import headline, site_counts
from geozone.screens.mapsky import solar_lon_deg
from geozone.sharing.drift import drift_at, keyed_times
from geozone.switching.sitedrift import same_clock

ONPAGE = runpy.run_path(str(Path(__file__).parent / "onpage.py"))
until, text_of, boxes = ONPAGE["until"], ONPAGE["text_of"], ONPAGE["boxes"]
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


@pytest.mark.parametrize("name", ["plain", "master", "white", "north"])
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
    answers = real_run("plain")
    page = shared(open_page("plain", answers))
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


# What the sites' canvas shows; read from a copy, because a canvas that is read becomes another kind of canvas.
PICTURE = """() => { const from = page.siteLayer._container, copy = document.createElement("canvas"); copy.width = from.width; copy.height = from.height;
    const ctx = copy.getContext("2d", { willReadFrequently: true }); ctx.drawImage(from, 0, 0); return ctx; }"""
ASKED = "(({ dark, excess, lat, lon, dusk, dawn }) => ({ dark, excess, lat, lon, dusk, dawn }))(page.trial.asked)"


@pytest.fixture(scope="module")
def wide(open_for_module, real_run):
    return shared(open_for_module("programmes", real_run("programmes")))


@pytest.fixture
def page(wide):
    """The one page of this module's last tests, as in the plan."""
    wide.evaluate("geozone.clear(); if (!document.getElementById('moment').hidden) document.querySelector('#moment .close').click(); document.getElementById('tried-back').click()")
    until(wide, "document.documentElement.dataset.tried === 'exact'")
    return wide


def test_keys_alone_move_tolerance_and_setting(page):
    plan, middle = page.evaluate(ASKED), page.evaluate("[map_geozone.getCenter().lat, map_geozone.getCenter().lng]")
    page.focus("#find-field")
    order = []
    for _ in range(60):
        page.keyboard.press("Tab")
        order.append(page.evaluate("document.activeElement.dataset.ask || document.activeElement.className.split(' ').find(name => name === 'gz-ring') || document.activeElement.type"))
        if order[-1] == "range":
            page.keyboard.press("ArrowRight")
        elif order[-1] in ("lat", "dusk"):
            page.keyboard.press("ArrowUp")
            page.keyboard.press("Enter")
        elif order[-1] == "gz-ring":
            page.keyboard.press("ArrowLeft")
            page.keyboard.press("Shift+ArrowDown")
            break
    assert [name for name in order if name in ("dark", "range", "excess", "lat", "lon", "dusk", "dawn", "gz-ring")] == [
        "dark", "range", "excess", "range", "lat", "lon", "dusk", "dawn", "gz-ring"]
    until(page, "document.documentElement.dataset.tried === 'exact'")
    seen = {name: round(value - plan[name], 6) for name, value in page.evaluate(ASKED).items()}
    assert seen == {"dark": 0.1, "excess": 0.1, "lat": -0.9, "lon": -0.1, "dusk": 1, "dawn": 0}, "a tenth of a degree is the keypad's step"
    after = page.evaluate("[map_geozone.getCenter().lat, map_geozone.getCenter().lng]")
    assert np.abs(np.subtract(after, middle)).max() < 0.02, "the arrow keys do not move the map as well: that would be half a degree"
    assert "36.0° S, 140.1° E" in page.get_attribute(".gz-ring", "aria-label") and "36.0° S" in page.inner_text("#tried-words")
    page.focus("#tried-back")
    page.keyboard.press("Enter")
    assert page.evaluate(ASKED) == plan and page.evaluate("document.activeElement.id") == "map_geozone"


def test_the_ring_is_dragged_in_steps_of_the_keypad(page):
    x, y = page.evaluate("(b => [b.x + b.width / 2, b.y + b.height / 2])(document.querySelector('.gz-ring').getBoundingClientRect())")
    page.mouse.move(x, y)
    page.mouse.down()
    for k in range(1, 9):
        page.mouse.move(x + 7 * k, y - 5 * k)
    page.wait_for_timeout(60)
    assert page.evaluate("page.trial.moved") and page.is_hidden("#tried"), "nothing shifts under the hand"
    page.mouse.up()
    until(page, "document.documentElement.dataset.tried === 'exact'")
    asked, held = page.evaluate(ASKED), page.evaluate("document.querySelector('.gz-ring')._leaflet_pos && [page.setting.lat_deg, page.setting.lon_deg]")
    assert asked["lat"] > held[0] and asked["lon"] > held[1] and all(abs(asked[name] * 10 - round(asked[name] * 10)) < 1e-9 for name in ("lat", "lon"))
    assert page.is_visible("#tried")


def test_what_holds_for_the_plan_only_says_so(page):
    tried(page, dark=2)
    assert page.locator(".plan-note:visible").count() > 2 and page.is_visible(".programmes > .plan-note")
    page.evaluate("geozone.choose(3)")
    assert page.inner_text("#panel").count("As in the plan, not as tried.") == 1 and "As tried, not as in the plan." in page.inner_text("#panel")
    page.check("input[name=view][value=groups]")
    assert "This view shows the plan" in page.inner_text("#tried-words") and page.inner_text("#headline") == page.evaluate("page.groups.headline")
    assert page.is_visible(".lead[data-only=groups] > .plan-note")
    page.check("input[name=view][value=shared]")
    page.evaluate("window.dispatchEvent(new Event('beforeprint'))")
    assert page.is_visible("#tried-words") and page.is_hidden("#tried-back") and page.is_hidden(".try"), "paper says that it is not the plan"
    page.evaluate("window.dispatchEvent(new Event('afterprint'))")
    page.click("#tried-back")
    assert page.locator(".plan-note:visible").count() == 0


def meant_and_given(answers, night, way):
    """From when to when light is needed and lamps are lit at each site in a night, from geozone's own arrays [UTC minutes]."""
    sites, setting, dark = answers.sites, answers.setting, answers.altitude_deg
    own = switch_times(lat_deg=sites["lat_deg"], lon_deg=solar_lon_deg(answers), year=answers.year, altitude_deg=dark)
    meant = np.stack([own.dusk_utc_min[:, night], own.dawn_utc_min[:, night]], axis=1)
    if way == "sun":
        return meant, meant
    by_group = {one.name: one.setting for one in answers.groups.plan.settings}
    given = np.empty_like(meant)
    for row, (zone, group) in enumerate(zip(sites["legal_zone"], sites["group"])):
        keyed = keyed_times(by_group[group] if way == "groups" else setting, year=answers.year, altitude_deg=dark, site_clock=clock.offsets(zone, answers.year))
        given[row] = keyed.dusk_utc_min[night], keyed.dawn_utc_min[night]
    return meant, given


@pytest.mark.parametrize("way", ["shared", "groups", "sun"])
def test_the_moments_counts_are_geozones(page, real_run, way):
    answers, night = real_run("programmes"), 171
    meant, given = meant_and_given(answers, night, way)
    for edge in (0, 1):
        low, high = min(meant[:, edge].min(), given[:, edge].min()), max(meant[:, edge].max(), given[:, edge].max())
        for utc in np.linspace(low - 3, high + 3, 9).round(2).tolist():
            needed, lit = ((meant[:, 0] <= utc) & (utc < meant[:, 1])), ((given[:, 0] <= utc) & (utc < given[:, 1]))
            assert page.evaluate("([k, utc, way]) => geozone.showNight(k, utc, way)", [night, utc, way]) == [
                (~needed & ~lit).sum(), (needed & lit).sum(), (needed & ~lit).sum(), (lit & ~needed).sum(), 0]
    assert "Programmes left aside" in page.inner_text("#moment") and page.inner_text(".moment-day") == "Night of 21 June"


def test_a_night_is_chosen_and_played_by_keys(page):
    page.evaluate("geozone.showNight(100, undefined, 'shared')")
    page.focus("#moment input.day")
    page.keyboard.press("ArrowRight")
    assert page.inner_text(".moment-day") == "Night of 12 April" and page.get_attribute("#moment input.day", "aria-valuetext") == "12 April"
    page.focus("#moment input.time")
    before = page.inner_text(".moment-clock")
    page.keyboard.press("ArrowRight")
    assert page.inner_text(".moment-clock") != before and re.fullmatch(r"\d\d:\d\d on 1[23] April: .* unlit, light needed, .* lit without need", page.get_attribute("#moment input.time", "aria-valuetext"))
    page.focus("#moment .play")
    page.keyboard.press("Enter")
    page.wait_for_timeout(900)
    assert page.inner_text("#moment .play") == "Pause"
    page.keyboard.press("Enter")
    assert page.inner_text("#moment .play") == "Play" and page.evaluate("geozone.frames.length") > 4
    painted = page.evaluate(f"""() => {{ const ctx = ({PICTURE})(), c = ctx.canvas, d = ctx.getImageData(0, 0, c.width, c.height).data; let n = 0;
        for (let k = 3; k < d.length; k += 4) if (d[k] === 255) n++; return n; }}""")
    assert painted > 100, "signs are there"
    page.focus("#moment .close")
    page.keyboard.press("Enter")
    assert page.is_hidden("#moment") and page.evaluate("page.siteLayer.night === null")


def test_the_dark_ground_ends_where_the_sun_crosses(page, real_run):
    answers, (lat, lon) = real_run("programmes"), (-35.0, 140.5)
    times = switch_times(lat_deg=lat, lon_deg=lon, year=answers.year, altitude_deg=answers.altitude_deg)
    alpha = f"""([utc, lat, lon]) => {{ geozone.showNight(171, utc, "sun"); const layer = page.siteLayer, p = map_geozone.latLngToLayerPoint([lat, lon]).subtract(layer._bounds.min);
        return ({PICTURE})().getImageData(Math.round(p.x * geozone.pixelRatio()), Math.round(p.y * geozone.pixelRatio()), 1, 1).data[3]; }}"""
    dusk, dawn = times.dusk_utc_min[0, 171], times.dawn_utc_min[0, 171]
    assert [page.evaluate(alpha, [utc, lat, lon]) > 0 for utc in (dusk - 0.5, dusk + 0.5, dawn - 0.5, dawn + 0.5)] == [False, True, True, False]


def test_any_place_is_read(page, real_run):
    answers = real_run("programmes")
    page.evaluate("geozone.showNight(171); document.querySelector('#moment .close').click(); geozone.showPlace(L.latLng(-35.27, 139.43))")
    said = text_of(page, "#panel")
    keyed = switch_times(lat_deg=-35.3, lon_deg=139.4, year=2027, altitude_deg=answers.altitude_deg)
    for minutes in (keyed.dusk_utc_min[0, 171], keyed.dawn_utc_min[0, 171]):
        assert str(to_legal(minutes, "Australia/Adelaide", 2027))[11:16] in said
    found = drift_at([-35.27], [139.43], answers.setting, answers.basis)
    assert said.startswith("35.27° S, 139.43° E") and "Keyed 35.3° S, 139.4° E" in said
    assert f"at most {found.worst_dark_min[0]:.1f} min unlit and {found.worst_excess_min[0]:.1f} min lit too long here: {'beyond' if found.nights_beyond[0] else 'within'} tolerance" in said
    page.keyboard.press("Escape")
    # A click on open ground reads it; on an open panel it closes it; a button reads the middle.
    x, y = page.evaluate("""() => { const box = map_geozone.getContainer().getBoundingClientRect();
        for (let y = 100; y < 500; y += 20) for (let x = 120; x < 600; x += 20) if (!page.siteLayer.near(L.point(x, y), 45).length) return [box.left + x, box.top + y]; }""")
    page.mouse.click(x, y)
    page.wait_for_selector("#panel")
    assert "A switch keyed here reads" in page.inner_text("#panel")
    page.evaluate("geozone.choose(2)")
    page.mouse.click(x, y)
    page.wait_for_selector("#panel", state="hidden")
    page.click(".any-place button")
    assert page.evaluate("document.activeElement.id") == "panel" and "A switch keyed here reads" in page.inner_text("#panel")


def test_in_a_frame_it_tells_six_numbers_and_nothing_else(chromium, written, real_run, tmp_path):
    file = written("programmes", real_run("programmes"))
    host = tmp_path / "host.html"
    host.write_text(f"""<!DOCTYPE html><script>window.heard = []; addEventListener("message", event => heard.push([event.data, event.origin]));</script>
        <iframe sandbox="allow-scripts" src="{file.as_uri()}" width="1200" height="800"></iframe>""", encoding="utf-8")
    context = chromium.new_context(offline=True, reduced_motion="reduce")
    page = context.new_page()
    page.goto(host.as_uri())
    frame = page.frames[1]
    frame.locator("html[data-drawn-ms]").wait_for(state="attached")
    frame.check("input[name=view][value=shared]")
    frame.evaluate("geozone.choose(1)")
    assert page.evaluate("heard") == []
    frame.evaluate("geozone.tryValues({ dark: 4.2, lat: -35.5 })")
    until(page, "heard.length > 0")
    assert page.evaluate("heard") == [[{"geozone": "tried", "lat_deg": -35.5, "lon_deg": 140.2, "dusk_offset_min": 0, "dawn_offset_min": 0, "dark_min": 4.2, "excess_min": 10}, "null"]]
    context.close()


def test_on_a_phone(open_page, real_run):
    page = open_page("programmes", real_run("programmes"), width=360, height=740, touch=True)
    small = lambda: [box for box in boxes(page, "button, select, input[type=number], input[type=range], .gz-ring") if min(box["w"], box["h"]) < 44]
    page.tap("#side-button")
    page.check("input[name=view][value=shared]")
    page.evaluate("document.querySelector('.try').scrollIntoView()")
    page.fill("input[data-ask=dark]", "2.5")
    page.keyboard.press("Enter")
    until(page, "document.documentElement.dataset.tried === 'exact'")
    assert page.is_visible("#tried") and small() == [] and page.evaluate("document.documentElement.scrollWidth") <= 360
    page.tap(".moment button")
    assert page.is_hidden("#side") and small() == [] and page.evaluate("document.documentElement.scrollWidth") <= 360
    bar, stage, walk = (page.locator(name).bounding_box() for name in ("#moment", ".stage", ".bar"))
    assert stage["height"] > 180 and abs(bar["y"] + bar["height"] - walk["y"]) < 2 and bar["width"] == 360
