"""What the page says, held against the tables of real runs: every sentence about every site, and every word on the page."""

import re
import runpy
from pathlib import Path

import numpy as np
import pytest

from geozone.numbers.intervals import EDGES
from geozone.screens.console import report

NAMES = ("plain", "border", "within", "together", "rules", "master", "programmes", "keypad", "north", "white", "ocean", "many", "one", "unserved")
ONPAGE = runpy.run_path(str(Path(__file__).parent / "onpage.py"))
MONTHS = ONPAGE["MONTHS"]

SENTENCES = """() => page.sites.id.map((id, row) => { const site = geozone.site(page, row), words = geozone.words;
    return [id, words.dark(site, page.year), words.excess(site, page.year), words.nights(site)]; })"""


def test_the_runs_are_all_tried(real_run):
    assert set(NAMES) == set(real_run.names)


def evening(night):
    year, month, day = night.split("-")
    return f"in the night of {int(day)} {MONTHS[int(month) - 1]}" + ("" if year == "2027" else f" {year}")


def claims(kind, minutes, edge, night, plain):
    """What a sentence about a site's worst must hold, and what it must not: written down from the table alone."""
    if minutes == 0:
        return ["under 0.1 minutes" if edge else {"dark": "Never unlit", "excess": "Never lit"}[kind]], ["up to"]
    must = [f"{minutes:,.1f} minute{'' if minutes == 1 else 's'}", evening(night)]
    crossing, clock_time, directions = "the sun does not reach the threshold", "at a clock time", ("Lights up", "Goes out")
    if edge == "clock":
        return [*must, clock_time], [crossing, *directions]
    if edge == "night":
        return ([*must, crossing], [clock_time, *directions]) if plain else (must, [crossing, clock_time, *directions])
    if not plain:
        return [*must, f"at {edge}"], [crossing, clock_time, *directions]
    way = {("dark", "dusk"): "late", ("dark", "dawn"): "early", ("excess", "dusk"): "early", ("excess", "dawn"): "late"}[kind, edge]
    return [*must, {"dusk": "Lights up to", "dawn": "Goes out up to"}[edge], way], [crossing, clock_time]


@pytest.mark.parametrize("name", ["plain", "master", "programmes", "keypad", "north", "white", "ocean", "one"])
def test_every_sentence_about_every_site_is_the_tables(open_page, real_run, name):
    answers = real_run(name)
    sites, programmes = answers.sites.set_index("site_id"), answers.programmes
    plain = {programme.name for programme in programmes.programmes if programme.plain} if programmes else set()
    for site, *sentences, nights in open_page(name, answers).evaluate(SENTENCES):
        row = sites.loc[site]
        for kind, sentence in zip(("dark", "excess"), sentences, strict=True):
            must, must_not = claims(kind, float(np.round(row[f"worst_{kind}_min"], 1)), row[f"worst_{kind}_edge"], row[f"worst_{kind}_night"],
                                    not programmes or row["programme"] in plain)
            assert all(part in sentence for part in must) and not any(part in sentence for part in must_not), (site, sentence)
        assert nights == ("Within tolerance on every night of the year." if row["nights_beyond"] == 0
                          else f"Beyond tolerance on {row['nights_beyond']} night{'' if row['nights_beyond'] == 1 else 's'} of the year.")


def test_the_runs_have_every_edge(real_run):
    found = {edge for name in ("keypad", "north") for kind in ("dark", "excess") for edge in real_run(name).sites[f"worst_{kind}_edge"]}
    assert found >= set(EDGES)


# "1 sites", "1 minutes"; figures of four digits and more without their comma; what a script says where it has nothing to say.
SLIPS = (r"(?<![\d.,\-:+\u2212])1 (?:sites|settings|minutes|nights|rows|groups|clocks|units|switches|times|hours|weeks|findings|pictures)\b", r"\b1\.0 minutes", r"(?<![\d.,])1 (?:unlit|lit) minutes",
         r"(?<![\d\-+:.,])(?!20[0-9]{2}\b)\d{4,}(?:\.\d)? ?(?:min|minutes|unlit|lit|sites|h|hours|kWh|W|km|settings|nights)\b",
         r"\b(?:undefined|NaN|null|None|Infinity|inf|nan)\b", r"  +\S", r"\ba (?:8|11|18)th\b", r"\b[01] sites (?:is|are)\b")


def slips(text):
    return [match[0] for slip in SLIPS for match in re.finditer(slip, text)]


def test_the_slips_would_be_seen():
    assert slips("1 sites") and slips("of 1 settings.") and slips("12345.6 minutes") and slips("2468 W") and slips("x undefined") and slips("1.0 minutes")
    assert not slips("21 sites, 1 site, 1,234 sites, in 2027 minutes, V-001 sites, 0.1 minutes, 11.1 minutes unlit, 61 nights, 1,234.5 dark")


@pytest.mark.parametrize("name", NAMES)
def test_no_slip_on_page_or_console(open_page, real_run, name, tmp_path):
    answers = real_run(name)
    page = open_page(name, answers)
    texts = {"console": re.sub(r" {2,}", " ", report(answers, tmp_path))}  # which stands in columns
    for view in (["groups", "shared"] if answers.groups else ["shared"]):
        page.evaluate("view => geozone.showView(map_geozone, page, view)", view)
        texts[view] = page.evaluate("[...document.querySelectorAll('details')].forEach(e => e.open = true) || document.body.innerText")
        for row in range(0, len(answers.sites), 5):
            texts[f"{view} {row}"] = page.evaluate("row => { geozone.choose(row); return document.getElementById('panel').innerText; }", row)
    for where, text in texts.items():
        assert not slips(re.sub(r"[ \t]*\n[ \t]*", "\n", text).replace("\t", " ")), (where, slips(text))


def test_a_run_without_a_plan_says_nothing_of_witnesses(open_page, real_run):
    page = open_page("unserved", real_run("unserved"))
    assert page.locator(".why, .existing-sentence").count() == 0
    assert page.inner_text("#headline") == "No setting that the keypad holds serves any of the 32 sites."
    assert page.evaluate("page.sites.id.every((_, row) => geozone.groupPanel(page, row).textContent.startsWith('In no group: no setting that the keypad holds'))")


@pytest.mark.parametrize("name, on_page, on_console, on_neither", [
    ("border", ["A setting holds one clock.", "Any two on one clock would break the tolerance on some night, whatever is keyed."],
     "They are kept apart by their clocks and the tolerance.", ["“district”"]),
    ("within", ["A setting holds one clock.", "No group leaves its “district”.", "if no group leaves its “district”"],
     "They are kept apart by their clocks, the rule that no group leaves its “district”", ["Any two of them"]),
    ("together", ["if each “cabinet” stays together", "A setting holds one clock."], "They are kept apart by their clocks and the tolerance.", ["“district”"]),
    ("rules", ["if each “cabinet” stays together, no group leaves its “district” and no offsets are keyed"],
     "A setting holds one clock. No group leaves its “district”.", ["Any two of them"]),
    ("ocean", ["A setting holds one clock."], "They are kept apart by their clocks.", ["Any two", "the tolerance on"]),
])
def test_the_page_and_the_console_name_the_rules(open_page, real_run, tmp_path, name, on_page, on_console, on_neither):
    answers = real_run(name)
    page, console = open_page(name, answers), report(answers, tmp_path)
    text = page.inner_text("#headline") + " " + page.inner_text(".why")
    assert all(words in text for words in on_page) and answers.groups.headline in console
    line = next(line for line in console.splitlines() if on_console in line)
    assert len(line.strip()) <= 120
    assert not any(words in text or words in console for words in on_neither)


def test_under_one_master_clock_nothing_is_said_of_other_clocks(open_page, real_run, tmp_path):
    answers = real_run("master")
    assert len(answers.clock_rules) == 2, "the run has sites on two clocks"
    page = open_page("master", answers)
    text = page.inner_text(".counts") + page.inner_text("#headline")
    assert "another clock" not in text and "Worst of all sites" in page.inner_text("#legend")
    assert "another clock" not in report(answers, tmp_path)


@pytest.mark.parametrize("name", ["plain", "ocean", "within", "north"])
def test_each_dusk_label_has_its_date_and_the_clock_of_its_ground(open_page, real_run, name):
    page = open_page(name, real_run(name))
    labels = page.evaluate("page.outlines.drift.filter(line => line.kind === 'dusk').map(line => [line.label, line.more])")
    assert labels and all(re.fullmatch(r"\d\d:\d\d", first) and re.fullmatch(r"\d+ [A-Z][a-z]{2}, UTC[+-]\d\d:\d\d", more) for first, more in labels)
    assert len({more for _, more in labels}) > 1, "several clocks, each with its own labels"
    if page.locator("input[name=view]").count():
        page.check("input[name=view][value=shared]")
    page.check("[data-part=dusk]")
    shown = page.evaluate("[...document.querySelectorAll('.gz-label-dusk')].filter(e => !e.hidden).map(e => e.innerText)")
    assert shown and all(re.fullmatch(r"\d\d:\d\d\n\d+ [A-Z][a-z]{2}, UTC[+-]\d\d:\d\d", text) for text in shown)


HIDDEN = """() => { const frame = map_geozone.getContainer().getBoundingClientRect(), layer = page.siteLayer;
    const boxes = [...document.querySelectorAll(".gz-label")].filter(e => e.checkVisibility()).map(e => [e.innerText, e.getBoundingClientRect()]);
    const found = [];
    for (let k = 0; k < layer.nSeen; k++) { const p = map_geozone.layerPointToContainerPoint([layer.seenX[k], layer.seenY[k]]);
      const x = p.x + frame.left, y = p.y + frame.top;
      for (const [text, b] of boxes) if (x > b.left && x < b.right && y > b.top && y < b.bottom) found.push([page.sites.id[layer.seen[k]], text]); }
    return found; }"""


@pytest.mark.parametrize("width, height, touch", [(1440, 900, False), (1024, 768, False), (360, 740, True)])
@pytest.mark.parametrize("name", ["many", "within", "north"])
def test_no_label_hides_a_site_and_every_group_has_its_letter(open_page, real_run, name, width, height, touch):
    answers = real_run(name)
    page = open_page(name, answers, width=width, height=height, touch=touch)
    for moment in ("screen", "paper"):
        if moment == "paper":
            page.evaluate("window.dispatchEvent(new Event('beforeprint'))")
        assert page.evaluate(HIDDEN) == []
        if answers.groups:
            labels = page.evaluate("""[...document.querySelectorAll('.gz-label-group')].filter(e => !e.hidden).map(e =>
                [e.innerText, e.getBoundingClientRect().height, parseFloat(getComputedStyle(e).lineHeight)])""")
            assert {text for text, _, _ in labels} == set(answers.groups.settings["group"])
            assert all(height < 2 * line for _, height, line in labels), "a name of two letters stands on one line"


def test_a_finger_on_many_sites_gets_the_list_of_them(open_page, real_run):
    answers = real_run("many")
    page = open_page("many", answers, width=360, height=740, touch=True)
    town = answers.sites.iloc[-6:]
    x, y = page.evaluate("""id => { const p = map_geozone.latLngToContainerPoint(page.siteLayer.latLng(page.sites.id.indexOf(id)));
        const box = map_geozone.getContainer().getBoundingClientRect(); return [box.left + p.x, box.top + p.y]; }""", town["site_id"].iloc[0])
    page.touchscreen.tap(x, y)
    page.wait_for_selector("#panel[data-listed]")
    listed = page.evaluate("[...document.querySelectorAll('#panel [data-pick]')].map(e => e.dataset.pick)")
    assert set(town["site_id"]) <= set(listed) and page.inner_text("#panel h2") == f"{len(listed)} sites here"
    assert page.get_attribute("#panel", "data-site") is None, "none of them was picked"
    # The list covers the south of the map: groups there get no letter with a line from somewhere else.
    top, lines = page.locator("#panel").bounding_box()["y"], page.locator(".gz-leaders line.gz-leader").all()
    assert lines and all(line.bounding_box()["y"] + line.bounding_box()["height"] <= top + 8 for line in lines)
    one = town["site_id"].iloc[3]
    page.tap(f'#panel [data-pick="{one}"]')
    assert page.get_attribute("#panel", "data-site") == one
    page.tap("#panel .back-to-list")
    assert page.get_attribute("#panel", "data-listed") == str(len(listed))
    assert min(box["height"] for box in (e.bounding_box() for e in page.locator("#panel [data-pick]").all())) >= 44


def test_the_list_is_reached_by_keys(open_page, real_run):
    answers = real_run("many")
    page = open_page("many", answers)
    town = answers.sites.iloc[-6:]
    page.evaluate("at => map_geozone.setView(at, map_geozone.getZoom(), { animate: false })", [town["lat_deg"].iloc[0], town["lon_deg"].iloc[0]])
    page.focus("#map_geozone")
    page.keyboard.press("Enter")
    page.wait_for_selector("#panel[data-listed]")
    picks = page.evaluate("[...document.querySelectorAll('#panel [data-pick]')].map(e => e.dataset.pick)")
    assert page.evaluate("document.activeElement.dataset.pick") == picks[0] and len(picks) >= len(town)
    page.keyboard.press("ArrowDown")
    assert page.evaluate("document.activeElement.dataset.pick") == picks[1]
    page.keyboard.press("Enter")
    assert page.get_attribute("#panel", "data-site") == picks[1]
    page.keyboard.press("Escape")
    assert page.is_hidden("#panel")


def test_a_mouse_on_several_signs_gets_the_list_and_on_one_the_site(open_page, real_run):
    answers = real_run("many")
    page = open_page("many", answers)
    at = """id => { const p = map_geozone.latLngToContainerPoint(page.siteLayer.latLng(page.sites.id.indexOf(id)));
        const box = map_geozone.getContainer().getBoundingClientRect(); return [box.left + p.x, box.top + p.y]; }"""
    site = answers.sites["site_id"].iloc[-1]
    x, y = page.evaluate(at, site)
    page.mouse.move(x, y)
    page.wait_for_selector("#panel.glance")
    assert "sites here: click for the list" in page.inner_text("#panel .hint")
    page.mouse.click(x, y)
    page.wait_for_selector("#panel[data-listed]")
    page.click("#panel .quiet")  # come closer
    x, y = page.evaluate(at, site)
    page.mouse.click(x, y)
    page.wait_for_selector(f'#panel[data-site="{site}"]')


def test_the_area_has_no_seam_at_the_antimeridian(open_page, real_run):
    page = open_page("ocean", real_run("ocean"))
    assert page.evaluate("page.outlines.areas.length") == 1 and page.evaluate("page.outlines.areas[0].rings.length") == 1
    assert page.evaluate("page.outlines.world.length") > 3


def test_why_a_zone_is_to_be_confirmed_covers_every_reason(open_page, real_run):
    """Near a border, off the coast or at sea, or given against the boundary data: `add_legal_time` flags all of these."""
    sites = real_run("ocean").sites
    afloat = sites[sites["confirm_zone"] & ~(sites["boundary_m"] < 2000)]
    assert len(afloat), "the run has sites off the coast"
    page = open_page("ocean", real_run("ocean"))
    page.evaluate("id => geozone.choose(page.sites.id.indexOf(id))", afloat["site_id"].iloc[0])
    text = page.inner_text("#panel .confirm")
    assert all(reason in text for reason in ("a boundary is near", "off the coast", "disagree"))
