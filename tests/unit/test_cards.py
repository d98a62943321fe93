"""The cards: what stands on them, under every kind of job, and that nothing of a name is markup."""

import datetime as dt
import re
import shutil
import subprocess
from dataclasses import replace

import numpy as np
import pytest

from geozone.jobs.job import read_job
from geozone.jobs.plan import compute
from geozone.numbers import clock
from geozone.paper.carddata import CardOptions, change_days, clock_text, group_cards, reading_days
from geozone.paper.cards import card_head, card_page, card_sites, cards_pdf, checks
from geozone.paper.cardslips import day_between_rules, edge_text
from geozone.paper.crewlist import crew_table
from geozone.paper.fonts import without_letters
from geozone.paper.words import languages, words_in
from geozone.paper.yearstrip import year_strip
from geozone.places.driving import driving_order
from geozone.schema.tables import check_table
from geozone.trade.keypad import Keypad
from geozone.trade.readings import Display, Keyed
from geozone.trade.slipdifferences import slip_table
from geozone.trade.slips import slips_of
from geozone.trade.switchclock import SAVING_RULES, ClockKeypad, SwitchClock, best_keying

NEEDS_PDFTOTEXT = pytest.mark.skipif(not shutil.which("pdftotext"), reason="pdftotext (Debian: poppler-utils) is not installed")
KNOWN = Display(includes_offsets=True, dawn="morning")


@pytest.fixture(scope="module")
def town(example_run):
    return example_run("town")


@pytest.fixture(scope="module")
def grouped(tmp_path_factory):
    """Eight invented sites in two cabinets either side of a legal-time border, with two programmes of which one shifts dusk."""
    folder = tmp_path_factory.mktemp("grouped")
    rows = [(f"G{i}", -35.0 - 0.01 * i, 140.0 if i < 4 else 142.0, f"C{i // 2}", "late" if i % 4 == 3 else "all night") for i in range(8)]
    (folder / "sites.csv").write_text("site_id,lat,lon,cabinet,regime\n" + "\n".join(",".join(map(str, row)) for row in rows) + "\n")
    (folder / "job.toml").write_text('''
[job]
title = "Two clocks"
year = 2027
sites = "sites.csv"
[dark]
altitude_deg = -4
[tolerance]
dark_min = 3
excess_min = 6
[groups]
keep_together = "cabinet"
curve_to = 0
[programmes]
column = "regime"
[[programme]]
name = "all night"
[[programme.event]]
turn = "on"
at = "dusk"
[[programme.event]]
turn = "off"
at = "dawn"
[[programme]]
name = "late"
[[programme.event]]
turn = "on"
at = "dusk"
shift_min = 10
[[programme.event]]
turn = "off"
at = "23:30"
''')
    return compute(read_job(folder / "job.toml"))


def made(answers, display=KNOWN, clocks=ClockKeypad(), **options):
    options = CardOptions(**options)
    cards = group_cards(answers, options, display, clocks)
    return options, cards


def text_of(answers, tmp_path, display=KNOWN, how="-raw", clocks=ClockKeypad(), **options):
    options, cards = made(answers, display, clocks, **options)
    (tmp_path / "cards.pdf").write_bytes(cards_pdf(answers, cards, options, display))
    return subprocess.run(["pdftotext", how, str(tmp_path / "cards.pdf"), "-"], capture_output=True, text=True, check=True).stdout, cards


@NEEDS_PDFTOTEXT
@pytest.mark.parametrize("size", ["A4", "A6"])
def test_every_setting_site_and_reading_stands_in_the_text(grouped, tmp_path, size):
    text, cards = text_of(grouped, tmp_path, size=size, first_day="2027-04-01")
    flat = " ".join(text.split())
    assert [name for card in cards for name in card_sites(card, grouped)["site_id"]] and len(cards) > 1
    for card in cards:
        places = f"{abs(card.setting.lat_deg):.1f}° S, {card.setting.lon_deg:.1f}° E"
        assert places in flat and card.keying.switch_clock.text().split(", ")[1] in flat
        for site in card_sites(card, grouped)["site_id"]:
            assert site in text
        for day, when in ((90, "Thu 1 Apr"), (93, "Sun 4 Apr *"), (103, "Wed 14 Apr")):
            times = [clock_text(float(one[day]), KNOWN, words_in()) for one in reading_days(card, 2027, KNOWN).values()]
            assert " ".join([when, *times]) in flat
    assert len({card.setting.legal_zone for card in cards}) == 2 and all(name in flat for name in ("C0", "C3"))


def test_the_fortnight_is_daily_and_the_rest_of_the_year_weekly_with_days_of_a_clock_change_marked(grouped):
    options, cards = made(grouped, first_day="2027-03-25")
    page = card_page(cards[0], grouped, options, KNOWN, words_in())
    table = page["tables"][0]
    assert len(table["fortnight"]) == 14 and len(table["weekly"]) == (365 - 14 + 6) // 7
    assert [row[0] for row in table["fortnight"] if "*" in row[0]] == ["Sun 4 Apr *"]  # tz database: southern Australia's autumn change
    assert {93, 275} == change_days(cards[0], 2027)


def test_a_programme_that_shifts_dusk_has_its_own_card_and_its_shift_is_keyed_once(grouped):
    options, cards = made(grouped)
    late = next(card for card in cards if card.programmes == ("late",))
    plain = next(card for card in cards if card.name == late.name and card.programmes == ("all night",))
    assert late.setting.dusk_offset_min == plain.setting.dusk_offset_min + 10
    rows = card_page(late, grouped, options, KNOWN, words_in())["key"]
    events = next(row for row in rows if row["value"] == "late")["more"]
    assert f"{late.setting.dusk_offset_min} min after dusk" in events
    assert any("already hold the offsets" in row["more"] for row in rows)


@NEEDS_PDFTOTEXT
def test_a_job_without_groups_or_programmes_has_one_card_and_a_master_clock_is_said(town, tmp_path):
    text, cards = text_of(replace(town, basis=replace(town.basis, switch_clock="master")), tmp_path)
    flat = " ".join(text.split())
    assert len(cards) == 1 and cards[0].programmes == () and "On at dusk, off at dawn." in flat
    assert f"One switch commands all these sites, on the clock of {town.setting.legal_zone}" in flat
    assert "Group" not in flat.split("4 If it reads")[0].split("1 Key in")[1]


@NEEDS_PDFTOTEXT
def test_a_clock_that_cannot_follow_the_law_is_said_where_times_are_read(grouped, tmp_path):
    text, cards = text_of(grouped, tmp_path, clocks=ClockKeypad((570, 600), (SAVING_RULES["none"],)))
    flat = " ".join(text.split())
    assert not cards[0].keying.exact
    assert "within 2 minutes of the keyed clock. That is legal time, except:" in flat and "within 2 minutes of legal time" not in flat
    assert "It does not always show legal time" in flat


@NEEDS_PDFTOTEXT
def test_unknown_is_printed_as_both(grouped, tmp_path):
    text, cards = text_of(grouped, tmp_path, Display())
    flat = " ".join(text.split())
    card = next(card for card in cards if card.setting.dusk_offset_min or card.setting.dawn_offset_min)
    columns = reading_days(card, 2027, Display())
    assert list(columns) == ["dusk", "dawn", "coming", "without_dusk", "without_dawn", "without_coming"]
    assert " ".join(clock_text(float(one[0]), Display(), words_in()) for one in columns.values()) in flat and "both are given" in flat


def test_sites_without_a_setting_are_named(grouped):
    sites = grouped.sites.copy()
    sites.loc[sites.index[0], "group"] = ""
    left = replace(grouped, sites=sites)
    options, cards = made(left)
    assert str(sites["site_id"].iloc[0]) not in {site for card in cards for site in card_sites(card, left)["site_id"]}
    from geozone.paper.cards import _unserved

    assert _unserved(left, words_in())["sites"] == str(sites["site_id"].iloc[0]) and _unserved(grouped, words_in()) is None


HOSTILE = ["#let x = 1", "*bold* _it_ $x$", "<script>alert(1)</script>", '=HYPERLINK("x")', "@ref <l>", "\\u{41} // c",
           "Ελλάδα Ωμέγα", "Київ Ґанок", "Đường Nguyễn Huệ"]


@NEEDS_PDFTOTEXT
def test_names_of_many_scripts_and_markup_print_as_they_are(town, tmp_path):
    sites = town.sites.copy()
    sites.loc[sites.index[:len(HOSTILE) + 2], "name"] = [*HOSTILE, "x" * 200, "a\u200db"]
    text, _ = text_of(replace(town, sites=sites, title="#panic() & <b>"), tmp_path)
    flat, bare = " ".join(text.split()), "".join(text.split())
    for name in (*HOSTILE, "#panic() & <b>"):
        assert "".join(name.split()) in bare, name
    assert "x" * 200 in bare and "?" not in flat


@NEEDS_PDFTOTEXT
def test_names_from_right_to_left_come_out_in_their_order(town, tmp_path):
    """The reader takes the letters from where they stand on the page, and turns lines from right to left round itself."""
    names = ["שלום עולם", "مرحبا بالعالم"]
    sites = town.sites.copy()
    sites.loc[sites.index[:2], "name"] = names
    text, _ = text_of(replace(town, sites=sites), tmp_path, how="-layout")
    assert all(f"\u202b{name}\u202c" in text for name in names)


def test_a_letter_that_no_font_has_is_named_and_prints_as_a_question_mark(town):
    assert without_letters(["Straße", "Đường", "Ґанок", "中山路", "a\u200db"]) == {"中": ["中山路"], "山": ["中山路"], "路": ["中山路"]}
    from geozone.paper.typesetting import printable

    assert printable("中山路 12") == "??? 12" and printable("a\u200db") == "a\u200db"


@pytest.mark.parametrize("rule, between", [("european union", dt.date(2027, 11, 3)), ("united states", dt.date(2027, 11, 3)),
                                           ("southern australia", None), ("none", None)])
def test_the_day_between_two_rules_changes(rule, between):
    """Changes of 2027 (tz database): US 14 March and 7 November, EU 28 March and 31 October, southern Australia 4 April and 3 October:
    for a week in autumn the United States still keep summer time; Australia's rule is told from both by either solstice."""
    assert day_between_rules(SwitchClock(60, SAVING_RULES[rule]), 2027) == between


def test_white_nights_are_said_in_words():
    """61.5 N at -6 degrees: no time around 21 June; north for south shows one; a threshold of sunset does as well."""
    right = Keyed(61.5, 24.9, best_keying(clock.offsets("Europe/Helsinki", 2027), 2027).switch_clock, -6.0)
    table = slip_table(right, slips_of(right, Keypad(), dt.date(2027, 6, 21)), KNOWN, year=2027, first_day=171)
    kinds = {slip.key: row.dusk_time for row in table.rows for slip in row.slips}
    assert kinds["latitude_sign"] == kinds["threshold_sunset"] == "appears"
    assert all(np.isnan(row.dusk_min[0]) for row in table.rows if row.dusk_time == "appears")
    assert edge_text((np.nan, np.nan), "appears", words_in()) == "a time" and edge_text((np.nan, np.nan), "none", words_in()) == "no time"
    assert "longitude_sign" in {one.slip.key for one in table.unseen}  # no time on either side: it cannot be told now
    assert all(one.first is None or not 171 <= (one.first - np.datetime64("2027-01-01")).astype(int) < 178 for one in table.unseen)


def test_driving_goes_area_by_area_and_always_on_to_the_nearest():
    """Hand-worked: from the north-west corner down a row; the other area last, although its site is nearer; over the antimeridian."""
    lat, lon = [0.0, 0.0, 0.0, 0.0, -0.1], [179.9, -180.0, -179.9, -179.85, 179.9]
    assert driving_order(lat, lon, ["a", "a", "a", "b", "a"]).tolist() == [0, 1, 2, 4, 3]
    rng = np.random.default_rng(5)
    lat, lon, area = rng.uniform(50, 51, 60), rng.uniform(5, 6, 60), rng.choice(list("xyz"), 60)
    order = driving_order(lat, lon, area)
    assert sorted(order) == list(range(60))
    assert sum(area[a] != area[b] for a, b in zip(order, order[1:])) == 2


def test_the_crews_list_is_in_driving_order_a_row_for_what_is_keyed_into_each_cabinet(grouped):
    table = crew_table(grouped, ClockKeypad())
    check_table("crew", table)
    # Hand-worked: from the north, each pair on its side of the border; in C1 and C3 one of two sites has the programme that shifts dusk.
    assert table["cabinet"].tolist() == ["C0", "C1", "C1", "C2", "C3", "C3"] and table["drive"].tolist() == [1, 2, 3, 4, 5, 6]
    assert table["sites"].tolist() == [2, 1, 1, 2, 1, 1] and table["site_ids"].tolist()[0] == "G0; G1"
    assert table["programme"].tolist() == ["all night", "all night", "late", "all night", "all night", "late"]
    assert set(table["key_digits"].str.len()) == {len("351, 1400")} and (table["key_clock_off"] == "").all()


@NEEDS_PDFTOTEXT
def test_the_crews_list_says_what_the_cards_say(grouped, tmp_path):
    text, cards = text_of(grouped, tmp_path)
    pages = text.split("\f")
    parts = [" ".join(" ".join(pages[begin:end]).split()) for begin, end in _spans(pages, [card_head(card, words_in()) for card in cards])]
    heads = {(card.name, name): part for card, part in zip(cards, parts, strict=True) for name in card.programmes}
    for row in crew_table(grouped, ClockKeypad()).itertuples():
        card = heads[row.group, row.programme]
        for told in (row.key_position, f"{row.key_degrees_minutes}; on a keypad without a point: {row.key_digits}", f"{row.key_standard_time} {row.key_summer_time}",
                     f"Offset at dusk {row.key_dusk}", f"Offset at dawn {row.key_dawn}", *row.key_events.removeprefix(f"{row.programme}: ").split(". ")):
            assert "".join(told.split()) in "".join(card.split()), told  # lines may end within a zone's name
        assert all(site in card for site in row.site_ids.split("; "))


def _spans(pages, heads):
    """First page and last but one of each card, by the heads on their pages."""
    of = [next(i for i, head in enumerate(heads) if page.startswith(head)) for page in pages if page.strip()]
    return [(of.index(i), len(of) - of[::-1].index(i)) for i in range(len(heads))]


def test_the_crews_list_warns_of_a_shift_keyed_twice_where_the_card_does(grouped):
    warned = {(card.name, card.programmes): bool(card.setting.dusk_offset_min or card.setting.dawn_offset_min) for card in made(grouped)[1]}
    rows = list(crew_table(grouped, ClockKeypad()).itertuples())
    assert any(warned.values()) and rows
    assert all(("key each shift once" in row.key_events) == warned[row.group, (row.programme,)] for row in rows)


def test_no_check_sends_to_a_table_which_the_phone_does_not_show(grouped):
    said = checks(made(grouped)[1][0], KNOWN, words_in())
    assert any("against the times below" in text for text in said) and not any("table" in text for text in said)


def test_a_run_without_groups_has_a_list_for_the_crew_a_row_a_site(town):
    table = crew_table(town, ClockKeypad())
    check_table("crew", table)
    assert sorted(table["site_ids"]) == sorted(town.sites["site_id"].astype(str)) and set(table["group"]) == {""}
    assert set(table["key_events"]) == {"On at dusk, off at dawn."} and "programme" not in table and len(set(table["key_position"])) == 1
    order = driving_order(town.sites["lat_deg"], town.sites["lon_deg"], town.sites["area"].astype(str))
    assert table["site_ids"].tolist() == town.sites["site_id"].astype(str).iloc[order].tolist()


def test_the_crews_list_and_the_card_drive_the_same_way(grouped):
    """One group whose cabinets lie in two areas: the order of crew.csv is that of the card, cabinet by cabinet."""
    sites = grouped.sites.copy()
    sites["group"], sites["cabinet"] = grouped.groups.plan.settings[0].name, [f"C{i % 3}" for i in range(len(sites))]
    sites["area"] = ["North", "South", "North", "South", "South", "North", "East", "South"][:len(sites)]
    one = replace(grouped, sites=sites, programmes=None)
    table = crew_table(one, ClockKeypad())
    assert table["area"].str.contains("; ").any() and len(table) == 3
    card = next(card for card in group_cards(one, CardOptions(), KNOWN, ClockKeypad()) if card.rows)
    on_card = list(dict.fromkeys(sites["cabinet"].iloc[list(card.rows)]))
    assert table["cabinet"].tolist() == on_card


MASTER = """
[job]
title = "One master"
year = 2027
sites = "sites.csv"
[dark]
altitude_deg = -4
[shared]
lat_deg = -35.0
lon_deg = 141.0
legal_zone = "Australia/Adelaide"
clock = "master"
"""
PROGRAMMES = """
[programmes]
column = "regime"
[[programme]]
name = "all night"
event = [{ turn = "on", at = "dusk" }, { turn = "off", at = "dawn" }]
[[programme]]
name = "late"
event = [{ turn = "on", at = "dusk", shift_min = 10 }, { turn = "off", at = "23:30" }]
"""


def commanded(folder, sites=500, more=""):
    """Invented sites either side of a legal-time border on one master clock, a fifth of them with a programme that shifts dusk."""
    rows = [f"M{i},{-35.0 - 0.001 * i},{140.0 if i % 2 else 142.0},{'late' if i % 5 == 0 else 'all night'}" for i in range(sites)]
    (folder / "sites.csv").write_text("site_id,lat,lon,regime\n" + "\n".join(rows) + "\n")
    (folder / "job.toml").write_text(MASTER + more)
    return compute(read_job(folder / "job.toml"))


def test_under_one_master_clock_the_crews_list_has_the_master_alone(tmp_path):
    answers = commanded(tmp_path)
    table = crew_table(answers, ClockKeypad())
    check_table("crew", table)
    assert table["cabinet"].tolist() == ["master switch"] and table["sites"].tolist() == [500] and table[["lat_deg", "lon_deg"]].isna().all(axis=None)
    assert table["master"].tolist() == ["One switch commands all these sites, on the clock of Australia/Adelaide: key this card into it."]
    named = table["site_ids"][0].split("; ")
    assert named[:2] == ["M0", "M1"] and len(named) == 401 and named[-1] == "100 more, in sites.csv."


def test_under_one_master_clock_the_crews_list_has_a_row_for_what_is_keyed_by_programme(tmp_path):
    answers = commanded(tmp_path, 10, PROGRAMMES)
    table = crew_table(answers, ClockKeypad())
    check_table("crew", table)
    assert table["programme"].tolist() == ["all night", "late"] and table["sites"].tolist() == [8, 2] and table["site_ids"][1] == "M0; M5"
    assert table["key_dusk"].tolist() == ["none", "10 min later"] and "off at 23:30" in table["key_events"][1] and "23:30" not in table["key_events"][0]


@NEEDS_PDFTOTEXT
@pytest.mark.parametrize("language", languages())
def test_under_one_master_clock_a_card_asks_for_one_visit_and_names_what_is_commanded(tmp_path, language):
    text, cards = text_of(commanded(tmp_path, 5), tmp_path, language=language)
    words, flat = words_in(language), " ".join(text.split())
    assert " ".join(words("card_commands", sites=", ".join(f"M{i}" for i in cards[0].rows)).split()) in flat
    assert words("card_switch") in flat and words("card_list") not in flat


def test_a_plan_under_a_master_clock_is_keyed_at_its_own_sites(grouped):
    answers = replace(grouped, basis=replace(grouped.basis, switch_clock="master"))
    assert crew_table(answers, ClockKeypad()).equals(crew_table(grouped, ClockKeypad()))


def test_list_and_card_drive_alike_where_a_cabinet_lies_in_two_areas(grouped):
    """Hand-worked: C0 counts to the area of its first site, north, so C2 comes next although C1 is nearer; from there C1 is nearer than C3."""
    sites = grouped.sites.copy()
    sites["lat_deg"], sites["lon_deg"] = np.repeat([-35.0, -35.1, -35.3, -35.55], 2), 140.0
    sites["area"] = ["north", "south", "south", "south", "north", "north", "south", "south"]
    sites["group"], sites["programme"] = sites["group"].iloc[0], "all night"
    answers = replace(grouped, sites=sites)
    card = next(card for card in made(answers)[1] if card.rows)
    assert list(dict.fromkeys(card_sites(card, answers)["cabinet"])) == ["C0", "C2", "C1", "C3"]
    table = crew_table(answers, ClockKeypad())
    assert table["cabinet"].tolist() == ["C0", "C2", "C1", "C3"] and table["area"][0] == "north; south"


def test_the_crews_list_leaves_out_sites_without_a_setting_and_says_when_a_clock_is_off(grouped):
    sites = grouped.sites.copy()
    sites.loc[sites.index[0], "group"] = ""
    table = crew_table(replace(grouped, sites=sites), ClockKeypad((570, 600), (SAVING_RULES["none"],)))
    assert "G0" not in "; ".join(table["site_ids"]).split("; ") and table["sites"].sum() == len(sites) - 1
    assert table["key_clock_off"].str.contains("behind legal time").all() and (table["key_standard_time"] != "").all()


def test_the_small_picture_of_a_year_is_as_large_as_its_hours():
    """Lit from 18:00 to 06:00 UTC on every night: half of the picture; waste over an hour is hatched, under one it is not."""
    nights = np.arange(365) * 1440.0
    lit = np.stack([nights + 1080, nights + 1800])
    flat = clock.offsets("UTC", 2027)
    svg, wasted = year_strip(lit, lit, flat, 2027)
    assert not wasted and svg.count("h1v120.0h-1z") == 2 * 365
    assert year_strip(lit, np.stack([nights + 1080, nights + 1730]), flat, 2027)[1]


def test_the_same_answers_give_the_same_bytes(grouped):
    options, cards = made(grouped)
    assert cards_pdf(grouped, cards, options, KNOWN) == cards_pdf(grouped, cards, options, KNOWN)


@NEEDS_PDFTOTEXT
@pytest.mark.parametrize("size", ["A4", "A6"])
@pytest.mark.parametrize("language", languages())
def test_the_cautions_are_whole_on_every_page_and_clear_of_the_papers_edge(grouped, tmp_path, size, language):
    """poppler's boxes of words, cut at the paper's edge: 3 mm is what common printers leave free (common practice, no source)."""
    words = words_in(language)
    text, _ = text_of(grouped, tmp_path, size=size, language=language)
    pages = text.split("\f")[:-1]
    cautions = [" ".join(words(f"caution_{key}").split()) for key in ("supply", "unlit", "levels", "horizon")]
    assert len(pages) > 2 and all(caution in " ".join(page.split()) for page in pages for caution in cautions)
    boxes = subprocess.run(["pdftotext", "-bbox", str(tmp_path / "cards.pdf"), "-"], capture_output=True, text=True, check=True).stdout
    parts = boxes.split("<page ")[1:]
    assert len(parts) == len(pages)
    for page in parts:
        width, height = (float(re.search(f'{name}="([0-9.]+)"', page).group(1)) for name in ("width", "height"))
        edges = {name: [float(one) for one in re.findall(f'{name}="([0-9.-]+)"', page)] for name in ("xMin", "yMin", "xMax", "yMax")}
        room = min(min(edges["xMin"]), min(edges["yMin"]), width - max(edges["xMax"]), height - max(edges["yMax"]))
        assert room > 3 / 25.4 * 72
