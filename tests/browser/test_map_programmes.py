"""Programmes on the page: the picture of a year agrees with the run's intervals, foolish nights are said with their cure."""

import re
import runpy
import tomllib
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from geozone.numbers.clock import offset_min_at
from geozone.screens.mapprogrammes import price
from geozone.trade.basis import DarkThreshold
from geozone.trade.programme import Programme
from geozone.trade.setting import Setting
from geozone.trade.switchclock import SAVING_RULES, ClockKeypad

HERE = Path(__file__).parent
EXAMPLES = runpy.run_path(str(HERE / "example_programmes.py"))
with_programmes, BAKERS = EXAMPLES["with_programmes"], EXAMPLES["BAKERS"]
ONPAGE = runpy.run_path(str(Path(__file__).parent / "onpage.py"))
HOSTILE, text_of = ONPAGE["HOSTILE"], ONPAGE["text_of"]
GROUPS = {"A": Setting(-35.0, 140.2, "Australia/Adelaide"), "B": Setting(-36.0, 141.6, "Australia/Melbourne", 2, 1)}
SHADES = {"day": "#ffffff", "dark": "#d9e0ea", "lit": "#a85a0c", "waste": "#3c2208"}


@pytest.fixture(scope="session")
def answers(example_answers):
    return with_programmes(example_answers(120, 14), settings=GROUPS)


def opened(page, name):
    """Opens a programme by its name; gives its details element."""
    part = page.locator(".programme", has=page.locator(".programme-name", has_text=re.compile(f"^{re.escape(name)}$")))
    part.locator("summary").click()
    part.locator("svg.year-picture").wait_for()
    return part


def meant_at(year, night, minute):
    """What the run says of one minute of a night, on the wall clock: day, dark, lit or waste."""
    wall = night * 1440 + 720 + minute
    utc = wall - offset_min_at(year.clock, np.array([wall - 600.0]))[0]

    def inside(ends):
        return bool(((ends[0] <= utc) & (utc < ends[1])).any())

    lit, dark = inside(year.lit), inside(year.dark)
    return "lit" if lit and dark else "waste" if lit else "dark" if dark else "day"


def near_an_edge(year, night, minute, within_min=4):
    """An edge of the light, or a change of the clock, is too near to judge by a dot of the screen."""
    wall = night * 1440 + 720 + minute
    utc = wall - offset_min_at(year.clock, np.array([wall - 600.0]))[0]
    edges = np.concatenate([year.lit.ravel(), year.dark.ravel()])
    return np.abs(edges - utc).min() <= within_min or np.abs(year.clock.start_utc_min[1:] - utc).min() < 1500


def year_of(answers, programme, group):
    return next(one for one in answers.programmes.years if (one.programme, one.group) == (programme, group))


def colours_at(page, locator, spots):
    """Colours of the screen at (night, minute) of a picture that is in view, read from a screenshot."""
    shot = locator.screenshot()
    return page.evaluate("""async ([bytes, spots]) => {
        const image = await createImageBitmap(new Blob([new Uint8Array(bytes)], { type: "image/png" }));
        const canvas = document.createElement("canvas"); canvas.width = image.width; canvas.height = image.height;
        const ctx = canvas.getContext("2d"); ctx.drawImage(image, 0, 0);
        const { data } = ctx.getImageData(0, 0, image.width, image.height);
        return spots.map(([x, y]) => { const at = 4 * (Math.round(y * image.height) * image.width + Math.round(x * image.width));
            return [...data.slice(at, at + 3)]; }); }""", [list(shot), spots])


def frame_of(svg):
    """The plot inside the picture as shares of it: left, width, top, height."""
    return svg.evaluate("""svg => { const f = svg.querySelector('.year-frame'), [,, w, h] = svg.getAttribute('viewBox').split(' ').map(Number);
        const at = name => Number(f.getAttribute(name)); return [at('x') / w, at('width') / w, at('y') / h, at('height') / h]; }""")


@pytest.mark.parametrize("programme, group", [("all night", "A"), ("part of the night", "B"), ("bakers' lane", "A")])
def test_dots_of_the_picture_agree_with_the_run(open_page, answers, programme, group):
    page = open_page("programmes", answers)
    part = opened(page, programme)
    choice = part.locator(".year-choice select")
    if choice.count():
        label = next(text for text in choice.locator("option").all_inner_texts() if text.startswith(f"group {group}"))
        choice.select_option(label=label)
    part.locator(".enlarge").click()
    svg = page.locator("dialog svg.year-picture")
    # Lines over the shades are left out for this test: they are looked at elsewhere.
    page.evaluate("document.querySelectorAll('.year-grid, .year-midnight, .year-change, .year-cursor, .year-hatch').forEach(e => e.remove())")
    left, width, top, height = frame_of(svg)
    year, spots, meant = year_of(answers, programme, group), [], []
    for night in range(3, 365, 11):
        for minute in range(15, 1440, 45):
            if not near_an_edge(year, night, minute, within_min=6):
                spots.append([left + (night + 0.5) / 365 * width, top + (1 - minute / 1440) * height])
                meant.append(meant_at(year, night, minute))
    assert len(spots) > 700 and set(meant) == ({"day", "dark", "lit", "waste"} if programme == "bakers' lane" else {"day", "lit"}
                                                if programme == "all night" else {"day", "dark", "lit"})
    found = np.array(colours_at(page, svg, spots))
    palette = np.array([[int(code[k:k + 2], 16) for k in (1, 3, 5)] for code in SHADES.values()])
    nearest = np.abs(found[:, None] - palette).sum(axis=2)
    names = [list(SHADES)[k] for k in nearest.argmin(axis=1)]
    wrong = [(spot, a, b) for spot, a, b in zip(spots, names, meant, strict=True) if a != b]
    assert not wrong and nearest.min(axis=1).max() < 12


def test_grey_tells_the_shades_apart(open_page, answers):
    page = open_page("programmes", answers)
    part = opened(page, "bakers' lane")
    fills = {kind: part.locator(f".shades .year-{kind}").evaluate("e => getComputedStyle(e).fill") for kind in SHADES}
    grey = sorted(np.dot([int(v) for v in re.findall(r"\d+", fill)], [0.299, 0.587, 0.114]) for fill in fills.values())
    assert min(np.diff(grey)) > 30
    assert part.locator(".shades .year-hatch").count() == 1
    assert "url(#" in part.locator("svg path[data-kind=waste]").first.get_attribute("fill")
    other = opened(page, "all night")
    assert other.locator(".shades li").all_inner_texts() == ["daylight", "dark, lamps off", "lamps on"]
    assert other.locator("svg path[data-kind=waste]").first.get_attribute("d") == ""


def test_slider_reads_each_night(open_page, answers):
    page = open_page("programmes", answers)
    part = opened(page, "part of the night")
    part.locator(".year-choice select").select_option(index=1)
    label = part.locator(".year-choice select option").nth(1).inner_text()
    assert label.startswith("group B")
    year = year_of(answers, "part of the night", "B")
    slider = part.locator(".year-slider")
    slider.focus()
    page.keyboard.press("Home")
    for _ in range(14):
        page.keyboard.press("ArrowRight")
    words = text_of(page, ".programme[open] .year-night")
    assert slider.get_attribute("aria-valuetext") == words

    def wall(utc):
        minute = int(np.rint(utc) + offset_min_at(year.clock, np.array([utc]))[0])
        return f"{minute // 60 % 24:02d}:{minute % 60:02d}"

    noon = 14 * 1440 + 720 - year.clock.offset_min[0]
    lit = [f"{wall(a)} to {wall(b)}" for a, b in year.lit.T if noon <= a < noon + 1440]
    dark = [f"{wall(a)} to {wall(b)}" for a, b in year.dark.T if noon <= a < noon + 1440]
    assert len(dark) == 1 and lit
    assert words == f"Night of 15 January: dark {dark[0]}; lamps on {' and '.join(lit)}."
    assert part.locator(".year-cursor").get_attribute("d") != ""


def test_picture_says_the_essentials(open_page, answers):
    page = open_page("programmes", answers)
    svg = opened(page, "bakers' lane").locator("svg.year-picture")
    assert svg.get_attribute("role") == "img"
    words = svg.get_attribute("aria-label")
    group = re.search(r"group (\w)", words)[1]
    finding = next(f for f in answers.programmes.findings if f.switch.label == group and f.kind == "on after dawn")
    assert f"They are on in daylight for more than an hour on {len(finding.nights)} nights." in words
    table = answers.programmes.hours.query("level == 'programme and group' and programme == \"bakers' lane\"").set_index("group")
    assert f"Lamps are on {table.loc[group, 'lit_h']:,.1f} hours a year at one site." in words
    changes = svg.locator(".year-tick", has_text="clock").all_text_contents()
    assert changes == ["clock −60 min", "clock +60 min"]
    ticks = svg.locator(".year-tick").all_text_contents()
    assert all(month in ticks for month in "Jan Feb Mar Apr May Jun Jul Aug Sep Oct Nov Dec".split()) and ticks.count("12:00") == 2 and "00:00" in ticks


def test_clock_changes_stand_at_their_nights(open_page, answers):
    page = open_page("programmes", answers)
    svg = opened(page, "all night").locator("svg.year-picture")
    left, width, _, _ = frame_of(svg)
    w = float(svg.get_attribute("viewBox").split()[2])
    at = [float(re.match(r"M([\d.]+)", d)[1]) / w for d in svg.locator(".year-change").evaluate_all("all => all.map(e => e.getAttribute('d'))")]
    # The nights of 4 April and 3 October 2027 are the first on the new time.
    nights = [(pd.Timestamp(day) - pd.Timestamp("2027-01-01")).days for day in ("2027-04-04", "2027-10-03")]
    assert at == pytest.approx([left + night / 365 * width for night in nights], abs=1e-4)


def test_foolish_nights_come_first_with_their_cure(open_page, answers):
    page = open_page("programmes", answers)
    findings = [f for f in answers.programmes.findings if f.kind == "on after dawn"]
    said = page.inner_text(".foolish-sentence >> nth=0")
    assert said.startswith("The lamps stay on all day after") and "at 4 sites." in said and str(max(len(f.nights) for f in findings)) in said
    assert page.inner_text(".programme-alert strong") == said
    section = page.evaluate("[...document.querySelector('section.programmes').children].filter(e => e.checkVisibility()).map(e => e.className || e.tagName)")
    assert section[:2] == ["H2", "warnings"]
    cure = answers.programmes.cures["bakers' lane"]
    text = text_of(page, ".foolish")
    assert all(change in text for change in cure.changes) and "no faulty night is left" in text
    assert all(event.text() in text for event in cure.programme.events)
    assert price(cure) in text and "its 4 sites together: " in text
    page.click(".programme-alert")
    assert page.evaluate("document.activeElement.textContent") == "Programmes"
    assert page.locator(".programmes h2").evaluate("e => { const b = e.getBoundingClientRect(); return b.top >= 0 && b.bottom <= innerHeight; }")


def test_lines_of_the_cure_are_shown_and_copied(open_page, answers):
    page = open_page("programmes", answers)
    page.context.grant_permissions(["clipboard-read", "clipboard-write"])
    lines = page.locator(".cure-lines")
    assert not lines.locator("pre").is_visible()
    show = lines.get_by_role("button", name="Show the lines for the job file")
    show.focus()
    page.keyboard.press("Enter")
    assert lines.locator("pre").is_visible()
    toml = lines.locator("pre").evaluate("e => e.textContent")
    assert toml == answers.programmes.cures["bakers' lane"].toml and tomllib.loads(toml)["programme"][0]["name"] == "bakers' lane"
    lines.get_by_role("button", name="Copy the lines").click()
    lines.locator("[role=status]", has_text="Copied.").wait_for()
    assert page.evaluate("navigator.clipboard.readText()") == toml


def test_lines_are_selected_where_the_clipboard_is_shut(open_page, answers):
    page = open_page("programmes", answers)
    page.evaluate("void (navigator.clipboard.writeText = () => Promise.reject(new Error('shut')))")
    page.locator(".cure-lines").get_by_role("button", name="Show the lines").click()
    page.locator(".cure-lines").get_by_role("button", name="Copy the lines").click()
    page.locator(".cure-lines [role=status]", has_text="The lines are selected").wait_for()
    assert page.evaluate("getSelection().toString()").strip() == answers.programmes.cures["bakers' lane"].toml.strip()


def test_site_panel_says_programme_and_hours(open_page, answers):
    page = open_page("programmes", answers)
    table = answers.programmes.sites.set_axis(answers.sites["site_id"])
    chosen = [*table[table.programme == "bakers' lane"].index[:2], *table[table.kwh.isna()].index[:2], *table[table.kwh.notna()].index[:2]]
    for site in chosen:
        page.fill("#find-field", site)
        page.keyboard.press("Enter")
        page.wait_for_selector(f'#panel[data-site="{site}"]')
        text, row = text_of(page, "#panel"), table.loc[site]
        assert f"Programme {row.programme}" in text and f"Operating hours {row.lit_h:,.1f} h a year" in text
        assert (f"Energy {row.kwh:,.1f} kWh a year" in text) if row.kwh == row.kwh else "Energy" not in text
        assert ("The lamps stay on all day after" in text) == (row.programme == "bakers' lane")
        assert page.locator("#panel .key-events .events li").all_inner_texts() == row.key_events.split("; ")
        idle = [edge for edge in ("dusk", "dawn") if edge not in row.key_events]
        assert ("Nothing is switched at " + " or ".join(idle) in text) if idle else "Nothing is switched at" not in text
        assert ("Key it once" in text) == any(word in row.key_events for word in ("setting +", "setting -", "programme +", "programme -"))


def test_a_foolish_site_can_be_gone_to(open_page, answers):
    page = open_page("programmes", answers)
    go = page.locator(".foolish-site").first
    site = go.inner_text()
    go.click()
    page.wait_for_selector(f'#panel[data-site="{site}"]')


def test_figures_of_list_and_comparison(open_page, answers):
    page = open_page("programmes", answers)
    table = answers.programmes.hours.query("level == 'programme'").set_index("programme")
    for name, row in table.iterrows():
        text = " ".join(opened(page, name).inner_text().split())
        for words in (f"{row.lit_h:,.1f} h a year", f"{row.site_h:,.0f} h a year", f"{row.kwh:,.0f} kWh a year", f"{row.cost:,.0f} AUD a year",
                      f"{row.dark_h:,.1f} h unlit, {row.excess_h:,.1f} h lit too long"):
            assert words in text, words
    for way, row in answers.programmes.comparison.iterrows():
        cells = page.locator(f'.ways tr[data-way="{way}"] td').all_inner_texts()
        assert [cell.split()[0] for cell in cells] == [f"{row.dark_h:,.1f}", f"{row.excess_h:,.1f}", f"{row.kwh:,.0f}"]
        assert cells[2].split()[1] == f"{row.cost:,.0f}"
    dated = answers.programmes.summary["timetable"]
    assert f"at worst {dated['worst_dark_min']:.1f} min unlit and {dated['worst_excess_min']:.1f} min lit too long" in text_of(page, ".dated")


def test_inexact_clocks_and_a_cure_that_is_none(open_page, example_answers):
    answers = with_programmes(example_answers(40, 8), keypad=ClockKeypad(savings=(SAVING_RULES["none"],)), event_limit=3, timetable=None)
    page = open_page("inexact", answers)
    text = text_of(page, ".clocks")
    for row in answers.programmes.clocks.itertuples():
        assert row.clock in text and row.keyed in text and f"{row.dark_h:,.1f} h unlit and {row.excess_h:,.1f} h lit too long" in text
    assert "Not a full correction. Left:" in page.inner_text(".foolish")
    (cure,) = answers.programmes.cures.values()
    assert cure.clock_note and cure.clock_note in text_of(page, ".foolish")
    assert page.locator(".dated").count() == 0
    # One setting on two clocks: each has its picture, told apart by its clock.
    options = page.locator(".programme").first.locator("option").evaluate_all("all => all.map(e => e.textContent)")
    assert len(options) == len(set(options)) == 2 and all("UTC+" in text for text in options)


def test_hostile_names_stay_text(open_page, example_answers):
    base = example_answers(40, 8)
    programmes = [Programme(f"{text} {k}", BAKERS.events) for k, text in enumerate(HOSTILE)]
    settings = {"<img src=x onerror=alert(1)>": GROUPS["A"], "</script><b>B</b>": GROUPS["B"]}
    found = with_programmes(base, tuple(programmes), settings=settings, currency="<b>$</b>")
    answers = replace(found, basis=replace(found.basis, dark=DarkThreshold(-4.0, "<i>dark</i>")))
    page = open_page("hostile programmes", answers)
    page.evaluate("void (window.alert = () => { throw new Error('a name was run') })")
    assert page.locator(".programme-name").all_inner_texts() == [one.name for one in programmes]
    for k, summary in enumerate(page.locator(".programme summary").all()):
        summary.click()
        page.locator(".programme[open] svg.year-picture").nth(k).wait_for()
    assert page.locator("svg.year-picture").count() == len(programmes)
    page.locator(".cure-lines button").first.click()
    page.evaluate("window.dispatchEvent(new Event('beforeprint'))")
    assert page.evaluate("document.querySelectorAll('img, .programmes .theirs *, .programme-sheet .theirs *, .programmes script, option > *').length") == 0
    assert "<b>$</b>" in page.inner_text(".programme[open]") and "<i>dark</i>" in page.inner_text(".programme-sheet")
    assert page.evaluate("document.scripts.length") == 4


def test_no_programmes_no_section(open_page, example_answers):
    page = open_page("plain", example_answers(60, 6))
    assert page.locator(".programmes, .programme-alert, .year-picture").count() == 0
    assert page.evaluate("geozone.programmes") is None
    page.fill("#find-field", "CB-0001")
    page.keyboard.press("Enter")
    page.wait_for_selector('#panel[data-site="CB-0001"]')
    assert "Programme" not in page.inner_text("#panel") and "Operating hours" not in page.inner_text("#panel")


def test_sound_programmes_have_no_warning(open_page, example_answers):
    page = open_page("sound", with_programmes(example_answers(12, 3), (EXAMPLES["ALL_NIGHT"], EXAMPLES["PART_NIGHT"]), timetable=None))
    assert page.locator(".programmes").count() == 1 and page.locator(".programme-alert, .foolish").count() == 0


def test_phone(open_page, answers):
    page = open_page("programmes", answers, width=360, height=740, touch=True)
    page.tap("#side-button")
    page.tap(".programme-alert")
    for k, summary in enumerate(page.locator(".programme summary").all()):
        summary.tap()
        page.locator(".programme[open] svg.year-picture").nth(k).wait_for()
    page.locator(".cure-lines button").first.tap()
    widths = page.evaluate("['html', '#side', '.programmes'].map(s => document.querySelector(s)).map(e => [e.scrollWidth, e.clientWidth])")
    assert all(scroll <= client for scroll, client in widths) and widths[0][1] == 360
    boxes = page.evaluate("""[...document.querySelectorAll('.programmes svg.year-picture, .programmes pre, .programmes table, .year-slider')]
        .map(e => e.getBoundingClientRect()).map(b => [b.left, b.right])""")
    assert len(boxes) == 8 and all(0 <= left < right <= 360 for left, right in boxes)
    small = page.evaluate("""[...document.querySelectorAll('.programme summary, .foolish-site, .programme select, .programmes button')]
        .map(e => e.getBoundingClientRect()).filter(b => b.width && (b.width < 44 || b.height < 43.5)).length""")
    assert small == 0
    svg = page.locator("svg.year-picture").nth(1)
    svg.scroll_into_view_if_needed()
    svg.tap()
    assert "Night of" in page.locator(".year-night").nth(1).inner_text()


def test_keyboard_alone(open_page, answers):
    page = open_page("programmes", answers)
    summary = page.locator(".programme summary").nth(2)
    summary.focus()
    page.keyboard.press("Enter")
    # A browser tells of an opened part a moment later; the picture is drawn then.
    page.locator(".programme[open] .year-slider").wait_for()
    reached = []
    for _ in range(4):
        page.keyboard.press("Tab")
        reached.append(page.evaluate("document.activeElement.className || document.activeElement.tagName"))
        if reached[-1].startswith("quiet"):
            break
    assert "year-slider" in reached and reached[-1] == "quiet enlarge"
    page.keyboard.press("Enter")
    assert page.locator("dialog[open]").count() == 1
    page.keyboard.press("Escape")
    page.locator("dialog").wait_for(state="detached")
    assert page.evaluate("document.activeElement.textContent") == "Enlarge the picture"


def test_paper_has_every_programme(open_page, answers, tmp_path):
    page = open_page("programmes", answers)
    pdf = page.pdf(format="A4", landscape=True)
    assert page.locator(".programme-sheet").count() == 0, "the sheet is taken away after printing"
    assert len(re.findall(rb"/Type\s*/Page[^s]", pdf)) >= 2
    page.evaluate("window.dispatchEvent(new Event('beforeprint'))")
    sheet = page.locator(".programme-sheet")
    assert sheet.locator(".sheet-programme > h3").all_inner_texts() == [one.name for one in answers.programmes.programmes]
    assert sheet.locator("svg.year-picture").count() == 3 and not page.locator("section.programmes").is_visible()
    text = " ".join(sheet.inner_text().split())
    assert "The lamps stay on all day after" in text and "corrections.toml" in text and "Ways to set the switches" in text
    inside = sheet.evaluate("""sheet => [...sheet.querySelectorAll('*')].every(e => { const b = e.getBoundingClientRect();
        return e.closest('defs') || b.right <= 1050.5 && b.left >= -0.5; })""")
    assert inside
