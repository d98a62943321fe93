"""What the page says about programmes is what the tables say; the pictures' data are the run's intervals to the minute."""

import json
import runpy
import tomllib
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from geozone.numbers.clock import OffsetSequence, offsets
from geozone.screens.mapdata import page_data
from geozone.screens.mapprogrammes import (
    MOST_FINDINGS,
    SENTENCES,
    foolish_stories,
    group_words,
    here_text,
    page_programmes,
    price,
    sentence,
    spans,
    story_row,
    tenth,
    whole,
)
from geozone.screens.mapyears import clock_steps, packed_intervals
from geozone.screens.webmap import draw_map
from geozone.switching.foolish import KINDS, Finding, Switch
from geozone.trade.setting import Setting
from geozone.trade.switchclock import SAVING_RULES, ClockKeypad

BROWSER = Path(__file__).parents[1] / "browser"
example_answers = runpy.run_path(str(BROWSER / "example_answers.py"))["example_answers"]
EXAMPLES = runpy.run_path(str(BROWSER / "example_programmes.py"))
with_programmes = EXAMPLES["with_programmes"]
GROUPS = {"A": Setting(-35.0, 140.2, "Australia/Adelaide"), "B": Setting(-36.0, 141.6, "Australia/Melbourne", 2, 1)}


@pytest.fixture(scope="module")
def answers():
    return with_programmes(example_answers(40, 8), settings=GROUPS)


@pytest.fixture(scope="module")
def page(answers):
    return page_programmes(answers)


def unpacked(packed, rows):
    """A column, read a second time from the description of its packing alone."""
    values = np.repeat(packed["runs"][::2], packed["runs"][1::2]) if "runs" in packed else np.cumsum(packed["steps"])
    assert len(values) == rows
    return values.astype(int)


def minutes_of(packed, n_night):
    """Every minute from the noon before the first night to the noon after the last but one: lit or not."""
    rows = n_night + 2
    lit = np.zeros(rows * 1440, dtype=bool)
    count = unpacked(packed["count"], rows)
    for nth, (start, stop) in enumerate(zip(packed["from"], packed["to"], strict=True)):
        start, stop = unpacked(start, rows), unpacked(stop, rows)
        for row in np.flatnonzero(count > nth):
            assert 0 <= start[row] < stop[row] <= 1440
            assert not lit[row * 1440 + start[row]:row * 1440 + stop[row]].any()
            lit[row * 1440 + start[row]:row * 1440 + stop[row]] = True
    assert count.max(initial=0) == len(packed["from"])
    return lit


def minutes_meant(ends, base_min, n_night):
    lit = np.zeros((n_night + 2) * 1440, dtype=bool)
    for start, stop in np.rint(ends).astype(int).T + base_min + 720:
        lit[max(start, 0):max(stop, 0)] = True
    return lit


def test_pictures_are_the_intervals_to_the_minute(answers, page):
    years = page["years"]
    assert len(years["pictures"]) == len(answers.programmes.years) >= 5
    for picture, year in zip(years["pictures"], answers.programmes.years, strict=True):
        base = int(year.clock.offset_min[0])
        for packed, ends in ((picture["lit"], year.lit), (years["darks"][picture["dark"]], year.dark)):
            found, meant = minutes_of(packed, 365), minutes_meant(ends, base, 365)
            assert found.sum() > 365 * 60
            assert (found == meant).all()
        assert picture["group"] == year.group and picture["sites"] == year.sites
        assert page["list"][picture["programme"]]["name"] == year.programme


def test_hours_of_a_picture_are_those_of_the_table(answers, page):
    table = answers.programmes.hours
    for picture in page["years"]["pictures"]:
        rows = table[(table["level"] == "programme and group") & (table["group"] == picture["group"])
                     & (table["programme"] == page["list"][picture["programme"]]["name"])]
        assert len(rows) == 1 and picture["lit_h"] == f"{rows['lit_h'].iloc[0]:,.1f}"
        # From noon on 1 January to noon a year later: rows 1 to 365. A start and a stop are off by half a minute at most.
        lit = minutes_of(picture["lit"], 365)[1440:366 * 1440].sum() / 60
        assert lit == pytest.approx(rows["lit_h"].iloc[0], abs=1.0)


def test_pictures_are_small(page):
    def size(data):
        return len(json.dumps(data, separators=(",", ":")))

    years = page["years"]
    assert all(size(picture) + size(years["darks"][picture["dark"]]) <= 6000 for picture in years["pictures"])
    assert len(years["darks"]) == 2, "one darkness for each setting, whatever the programme"


@pytest.mark.parametrize("ends", [
    np.empty((2, 0)),
    [[-5000.0, 700.4], [-4000.0, 100_000.6]],
    [[0.0, 720.0, 1440.2], [719.6, 1440.0, 1440.4]],
    [[-900.0], [600_000.0]],
    [[100.0, 140.0, 180.0, 222.7], [110.0, 150.0, 190.0, 223.3]],
    [[364 * 1440.0], [366 * 1440.0]],
])
@pytest.mark.parametrize("base_min", [0, 570, -600])
def test_odd_intervals_come_back(ends, base_min):
    packed = packed_intervals(ends, base_min, 365)
    assert (minutes_of(packed, 365) == minutes_meant(np.asarray(ends, dtype=float), base_min, 365)).all()
    json.dumps(packed)


def test_clock_in_steps():
    legal = offsets("Australia/Adelaide", 2027)
    steps = clock_steps(legal)
    assert steps["first"] == 630 and [offset for _, offset in steps["changes"]] == [570, 630]
    # 4 April 2027 03:00 and 3 October 2027 02:00 in Adelaide, as UTC minutes of the year.
    assert [np.datetime64("2027-01-01T00:00") + np.timedelta64(utc, "m") for utc, _ in steps["changes"]] == \
        [np.datetime64("2027-04-03T16:30"), np.datetime64("2027-10-02T16:30")]
    assert clock_steps(OffsetSequence(np.array([-np.inf]), np.array([0.5]))) == {"first": 0.5, "changes": []}


def test_every_programme_has_its_tables_figures(answers, page):
    table = answers.programmes.hours.query("level == 'programme'").set_index("programme")
    assert [row["name"] for row in page["list"]] == [one.name for one in answers.programmes.programmes]
    assert sum(row["sites"] for row in page["list"]) == len(answers.sites)
    for row, programme in zip(page["list"], answers.programmes.programmes, strict=True):
        hours = table.loc[programme.name]
        assert row["events"] == [event.text() for event in programme.events] and row["night_rule"] == programme.night_rule_text
        assert row["lit_h"] == f"{hours['lit_h']:,.1f}" and row["site_h"] == f"{hours['site_h']:,.0f}"
        assert row["kwh"] == f"{hours['kwh']:,.0f}" and row["cost"] == f"{hours['cost']:,.0f}"
        assert row["dark_h"] == f"{hours['dark_h']:,.1f}" and row["excess_h"] == f"{hours['excess_h']:,.1f}"
        assert row["loaded"] == hours["sites_with_load"] < row["sites"] + 1


def test_comparison(answers, page):
    table = answers.programmes.comparison
    assert [row["way"] for row in page["comparison"]] == list(table.index) and "groups" in table.index
    for row in page["comparison"]:
        assert row["dark_h"] == f"{table.loc[row['way'], 'dark_h']:,.1f}" and row["excess_h"] == f"{table.loc[row['way'], 'excess_h']:,.1f}"
        assert row["kwh"] == f"{table.loc[row['way'], 'kwh']:,.0f}" and row["cost"] == f"{table.loc[row['way'], 'cost']:,.0f}"
    less = table.loc["dusk to dawn"] - table.loc["own setting"]
    assert page["saved"]["site_h"] == f"{less['site_h']:,.0f}" and page["saved"]["kwh"] == f"{less['kwh']:,.0f}"
    assert page["without_load"] == answers.sites["load_w"].isna().sum() > 0


def test_no_load_and_no_price_are_not_nought(answers):
    poor = example_answers(12, 3)
    poor.sites["load_w"] = np.nan
    page = page_programmes(with_programmes(poor, price=0.0, timetable=None))
    assert all(row["kwh"] == row["cost"] == "" for row in page["list"] + page["comparison"]) and page["without_load"] == 0
    assert page["timetable"] is None
    free = page_programmes(with_programmes(example_answers(12, 3), price=0.0, timetable=None))
    assert all(row["kwh"] and not row["cost"] for row in free["list"])


def test_foolish_nights_and_their_cure(answers, page):
    found = answers.programmes
    assert {one["programme"] for one in page["foolish"]} == {2} and page["more_foolish"] == 0
    story, findings = page["foolish"][0], [f for f in found.findings if f.kind == "on after dawn"]
    nights = max(len(f.nights) for f in findings)
    assert nights > 60 and story["sites"] == sum(len(f.switch.sites) for f in findings) == 4
    assert story["sentence"].startswith("The lamps stay on all day after ") and f"{nights} nights at 4 sites." in story["sentence"]
    assert ("up to" in story["sentence"]) == (len({len(f.nights) for f in findings}) > 1)
    assert story["event"] == "on at 06:15" and story["why"] == KINDS["on after dawn"]
    assert story["hours"] == f"{max(f.hours for f in findings):,.1f}"
    every = {date for f in findings for date in f.dates(2027)}
    assert {date for span in story["spans"] for date in span} <= every
    assert all(any(first <= date <= last for first, last in story["spans"]) for date in every)

    (cure,) = page["cures"]
    own = found.cures["bakers' lane"]
    assert cure["verified"] and cure["changes"] == list(own.changes) and cure["toml"] == own.toml
    read = tomllib.loads(cure["toml"])["programme"][0]
    assert read["name"] == "bakers' lane" and len(read["event"]) == len(cure["events"]) > len(page["list"][2]["events"])
    assert cure["before_h"] == f"{own.wrong_before_h:,.1f}" and cure["after_h"] == f"{own.wrong_after_h:,.1f}"
    assert cure["price"] == price(own) and own.wrong_after_h < own.wrong_before_h / 50


def test_a_cure_that_is_none_says_so():
    page = page_programmes(with_programmes(example_answers(12, 3), event_limit=4, timetable=None))
    (cure,) = page["cures"]
    assert not cure["verified"] and "more events than the keypad holds" in cure["left"][0]


def test_an_inexact_clock_says_what_it_costs():
    keypad = ClockKeypad(savings=(SAVING_RULES["none"],))
    answers = with_programmes(example_answers(12, 3), keypad=keypad, timetable=None)
    rows = page_programmes(answers)["clocks"]
    assert rows and all(not row["exact"] and row["wrong"] for row in rows)
    assert [float(row["excess_h"].replace(",", "")) for row in rows] == answers.programmes.clocks["excess_h"].round(1).tolist()
    assert sum(float(row["dark_h"].replace(",", "")) for row in rows) > 100


def test_timetable(answers, page):
    summary = answers.programmes.summary["timetable"]
    assert page["timetable"] == {"period": "fortnight", "rounding_min": 5, "dark": f"{summary['worst_dark_min']:.1f}",
                                 "excess": f"{summary['worst_excess_min']:.1f}", "left_out": 4, "not_kept": summary["periods_not_kept"]}
    only = EXAMPLES["BAKERS"]
    bare = page_programmes(with_programmes(example_answers(4, 2), (only,)))["timetable"]
    assert bare["dark"] == bare["excess"] == "" and bare["left_out"] == 4


def test_every_site_has_its_programme_and_hours(answers):
    data = page_data(answers)
    n = data["sites"]["count"]
    column = {name: unpacked(data["sites"]["columns"][name], n) for name in ("programme", "lit", "kwh", "foolish")}
    here = answers.programmes.sites.set_axis(answers.sites["site_id"]).loc[data["sites"]["id"]]
    names = [row["name"] for row in data["programmes"]["list"]]
    assert [names[k] for k in column["programme"]] == here["programme"].tolist()
    assert (column["lit"] / 10 == here["lit_h"].round(1)).all()
    assert ((column["kwh"] == -1) == here["kwh"].isna()).all() and here["kwh"].isna().any()
    known = here["kwh"].notna().to_numpy()
    assert (column["kwh"][known] / 10 == here["kwh"].round(1)[known]).all()
    assert ((column["foolish"] >= 0) == (here["programme"] == "bakers' lane")).all()


def test_without_programmes_nothing_of_them_is_in_the_page(answers):
    plain = example_answers(12, 3)
    assert page_programmes(plain) is None
    data = page_data(plain)
    assert "programmes" not in data and not {"programme", "lit", "kwh"} & set(data["sites"]["columns"])
    assert "yearPicture" not in draw_map(plain) and "year-waste" not in draw_map(plain)
    assert "yearPicture" in draw_map(answers) and "year-waste" in draw_map(answers)


def test_same_programmes_same_page(answers):
    again = with_programmes(example_answers(40, 8), settings=GROUPS)
    assert draw_map(again) == draw_map(answers)


def finding(kind, nights, hours, sites=("S1",), label="A", event=2):
    return Finding(kind, "bakers' lane", event, Switch(label, GROUPS["A"], "Australia/Adelaide", sites), tuple(nights), hours, "text")


@pytest.mark.parametrize("story, words, here", [
    ([finding("on after dawn", [3], 14.0)], "The lamps stay on all day after 1 night at 1 site.", ["The lamps stay on all day after 1 night."]),
    ([finding("on after dawn", [3, 4], 4.0)], "The lamps stay on after dawn on 2 nights at 1 site.", None),
    ([finding("on before off", range(1200 // 10), 90.0, ("S1", "S2"))], "The lamps stay off when they should be on on 120 nights at 2 sites.", None),
    ([finding("on after dawn", [3], 14.0), finding("on after dawn", [3, 4], 28.0, ("S2", "S3"), "B")],
     "The lamps stay on all day after up to 2 nights at 3 sites.", ["The lamps stay on all day after 1 night.", "The lamps stay on all day after 2 nights."]),
    ([finding("left out by the clock", [93], 1.0)], "A switching falls into an hour that the clock leaves out on 1 day at 1 site.", None),
    ([finding("never happens", range(365), 0.0)], "An event never comes in the year at 1 site.", ["An event never comes in the year."]),
])
def test_sentences(answers, story, words, here):
    row = story_row(story, answers.programmes, 2027, [one.name for one in answers.programmes.programmes])
    assert row["sentence"] == words
    # At a site: what its own switch does, not what the worst of them does.
    assert here is None or [here_text(story, one) for one in story] == here
    assert row["at_stake"] == (story[0].kind == "left out by the clock")


def test_every_kind_has_a_sentence():
    assert set(SENTENCES) | {"never happens"} == set(KINDS)
    assert all(sentence([finding(kind, [3], 1.0)]) for kind in KINDS)


def test_the_costliest_story_comes_first_and_long_lists_end(answers):
    many = [finding("other", [k], 1.0 + k, event=k % 4, label=f"L{k}") for k in range(4)]
    many += [finding(kind, [3], 50.0, ("S1", "S2"), event=e) for kind in ("on after dawn", "off before on", "on before off")
             for e in range(4)]
    programmes = replace(answers.programmes, findings=tuple(many))
    stories = foolish_stories(programmes)
    assert len(stories) == 16 and stories[0][0].hours == 50.0 and stories[-1][0].hours == 1.0
    page = page_programmes(replace(answers, programmes=programmes))
    assert len(page["foolish"]) == MOST_FINDINGS and page["more_foolish"] == 4


def test_small_words():
    assert [group_words(label) for label in ("A", "AB", "shared", "no group: X1", "a<b")] == \
        ["group A", "group AB", "the shared setting", "no group: X1", "a<b"]
    assert [tenth(1234.56), tenth(float("nan")), whole(1234.5), whole(float("inf"))] == ["1,234.6", "", "1,234", ""]
    days = pd.date_range("2027-01-01", periods=5).strftime("%Y-%m-%d").tolist() + ["2027-03-01", "2027-03-20"]
    assert spans(days) == [["2027-01-01", "2027-01-05"], ["2027-03-01", "2027-03-20"]]


def test_the_price_of_a_cure_in_words(answers):
    one = answers.programmes.cures["bakers' lane"]
    say = lambda all_h, one_h, sites: price(replace(one, dark_after_h=all_h, dark_one_h=one_h, dark_after_min=2.2, sites=sites))
    assert say(0.0, 0.0, 3) == "No light that was first meant is lost." and "less than 0.1 h a year" in say(0.02, 0.01, 3)
    assert say(1234.5, 411.5, 3) == ("The price: 1,234.5 h a year of light that was first meant are lost at its 3 sites together, "
                                     "at most 411.5 h at one of them and at most 3 min in a night.")
    assert say(0.1, 0.04, 3).endswith("less than 0.1 h at each and at most 3 min in a night.")
    assert say(7.0, 7.0, 1).endswith("lost at its one site, at most 3 min in a night.")
