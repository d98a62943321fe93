"""Foolish nights and their cures."""

import tomllib
from dataclasses import replace

import numpy as np
import pytest

from geozone.jobs.programme_sections import read_programmes
from geozone.switching.conditions import Conditions
from geozone.switching.cure import cure_of
from geozone.switching.foolish import KINDS, Switch, findings_table, foolish_nights, year_at
from geozone.switching.programme_year import intended
from geozone.trade.keypad import Keypad
from geozone.trade.programme import DUSK_TO_DAWN, Event, Programme, Season
from geozone.trade.setting import Setting

WEST = Switch("west", Setting(-35.1, 141.0, "Australia/Adelaide"), "Australia/Adelaide", ("a", "b"))
EAST = Switch("east", Setting(-37.5, 143.0, "Australia/Melbourne"), "Australia/Melbourne", ("c",))
ON_OFF = (Event("on", "dusk"), Event("off", "dawn"))
HOW = {"year": 2027, "altitude_deg": -4.0}
CONDITIONS = Conditions(2027, -4.0)


def kinds(programme, switches=(WEST,), **how):
    return {f.kind for f in foolish_nights(programme, switches, replace(CONDITIONS, **how))}


def split(on_at, **kw):
    return Programme("split", (ON_OFF[0], Event("off", 1410), Event("on", on_at), ON_OFF[1]), **kw)


def test_plain_programmes_have_no_foolish_night():
    assert kinds(DUSK_TO_DAWN, (WEST, EAST)) == set()
    assert kinds(Programme("p", (Event("on", "dusk", -10), Event("off", 1410))), (WEST, EAST)) == set()
    # At 03:30 the morning period always comes before dawn here.
    assert kinds(split(210), (WEST, EAST)) == set()


def test_morning_on_after_dawn():
    found = foolish_nights(split(330), [WEST], CONDITIONS)
    assert [f.kind for f in found] == ["on after dawn"] and found[0].event == 2
    # December days of fifteen hours; each such night costs the time from 05:30 to the next dusk.
    assert all(d[5:7] in ("09", "10", "11", "12") for d in found[0].dates(2027))
    assert found[0].hours == pytest.approx(14.5 * len(found[0].nights), rel=0.06)
    assert "stay on through the day" in found[0].text and "west" in found[0].text


def test_off_before_on():
    found = foolish_nights(Programme("p", (ON_OFF[0], Event("off", 1230), Event("on", 300), ON_OFF[1])), [EAST], CONDITIONS)
    assert [f.kind for f in found] == ["off before on"] and found[0].event == 0


def test_on_before_off():
    # The early-morning "on", an hour before dawn, comes before the "off" of 04:30 in summer: then it is dark until dusk.
    found = foolish_nights(Programme("p", (ON_OFF[0], Event("off", 300), Event("on", "dawn", -60), ON_OFF[1])), [WEST], CONDITIONS)
    assert [f.kind for f in found] == ["on before off"] and found[0].event == 1


def test_never_happens():
    assert kinds(Programme("p", (*ON_OFF, Event("off", 1410, season=Season(229, 229))))) == {"never happens"}
    far_north = Switch("n", Setting(69.6, 18.9, "Europe/Oslo"), "Europe/Oslo")
    summer = Programme("p", (Event("on", "dusk", season=Season(601, 630)), Event("off", 1410)))
    assert "never happens" in kinds(summer, (far_north,))


def test_white_night_without_dawn():
    north = Switch("n", Setting(66.0, 20.0, "Europe/Stockholm"), "Europe/Stockholm")
    assert "no dusk or dawn" in kinds(split(60), (north,)) | kinds(split(300), (north,))


@pytest.mark.parametrize("zone, lat, lon, gap, fold", [
    ("Australia/Adelaide", -35.1, 141.0, 150, 150), ("America/New_York", 40.7, -74.0, 150, 90),
    ("Australia/Lord_Howe", -31.55, 159.08, 135, 105),
])
def test_clock_changes(zone, lat, lon, gap, fold):
    switch = Switch("s", Setting(lat, lon, zone), zone)
    for minute, kind in ((gap, "left out by the clock"), (fold, "twice on the clock")):
        p = Programme("p", (ON_OFF[0], Event("off", minute), ON_OFF[1]))
        found = [f for f in foolish_nights(p, [switch], CONDITIONS) if f.kind == kind]
        assert len(found) == 1 and len(found[0].nights) == 1
    # At stake when the event in the gap is missed: from the change until dawn.
    p = Programme("p", (ON_OFF[0], Event("off", gap), ON_OFF[1]))
    stake = next(f for f in foolish_nights(p, [switch], CONDITIONS) if f.kind == "left out by the clock").hours
    assert 2 < stake < 5


@pytest.mark.parametrize("programme", [
    split(330), split(330, night_rule="date"), split(345),
    Programme("p", (ON_OFF[0], Event("off", 1230), Event("on", 300), ON_OFF[1])),
    Programme("p", (ON_OFF[0], Event("off", 300), Event("on", "dawn", -60), ON_OFF[1])),
    Programme("p", (ON_OFF[0], Event("off", 150), Event("on", 160), ON_OFF[1])),
    Programme("p", (*ON_OFF, Event("off", 1410, season=Season(229, 229)))),
    Programme("friday", (ON_OFF[0], Event("off", 1410, days=frozenset((0, 1, 2, 3, 6))), Event("on", 330), ON_OFF[1])),
])
def test_cures_work_when_they_are_run_again(programme):
    switches = (WEST, EAST)
    before = foolish_nights(programme, switches, CONDITIONS)
    cure = cure_of(programme, switches, CONDITIONS)
    assert before and cure.verified and not cure.left and cure.wrong_after_h <= cure.wrong_before_h
    # The proposed lines are a programme of the job file, and run clean.
    (read,) = read_programmes(tomllib.loads(cure.toml)["programme"])
    assert read == cure.programme and foolish_nights(read, switches, CONDITIONS) == []


def test_nothing_to_cure():
    assert cure_of(DUSK_TO_DAWN, (WEST,), CONDITIONS) is None


def test_a_cure_that_the_keypad_cannot_hold_is_not_called_verified():
    cure = cure_of(split(330), (WEST,), replace(CONDITIONS, keypad=Keypad(event_limit=4)))
    assert not cure.verified and any("more events" in text for text in cure.left)


def test_table():
    programme = split(330)
    table = findings_table(foolish_nights(programme, (WEST, EAST), CONDITIONS), [programme], 2027)
    assert set(table["kind"]) <= set(KINDS) and (table["nights"] > 0).all()
    west = table[table["switch"] == "west"].iloc[0]
    assert west["sites"] == 2 and west["site_hours"] == pytest.approx(2 * west["hours"], abs=0.02)
    assert findings_table([], [programme], 2027).empty


def test_foolish_nights_on_a_clock_that_cannot_be_keyed_right():
    """A switch kept on standard time shows 05:15 at 06:15 legal time, so "on at 05:30" is "on at 06:30" in summer."""
    from geozone.numbers import clock
    from geozone.trade.switchclock import SwitchClock

    programme = Programme("p", (Event("on", "dusk"), Event("off", 1320), Event("on", 330), Event("off", "dawn")))
    setting = Setting(-35.6, 141.4, "Australia/Melbourne")
    standard = SwitchClock(600).sequence(2027)
    right = Switch("right", setting, "Australia/Melbourne", ("S",))
    wrong = Switch("wrong", setting, "Australia/Melbourne", ("S",), standard)
    assert not foolish_nights(programme, [right], CONDITIONS)
    (found,) = foolish_nights(programme, [wrong], CONDITIONS)
    # The same nights as an hour later on the legal clock while summer time holds, and none besides.
    later = Programme("p", (Event("on", "dusk"), Event("off", 1320), Event("on", 390), Event("off", "dawn")))
    legal = foolish_nights(later, [right], CONDITIONS)
    summer = clock.offset_min_at(clock.offsets("Australia/Melbourne", 2027), np.arange(365) * 1440.0 + 1440 + 330 - 660) == 660
    expected = {night for finding in legal for night in finding.nights if summer[night]}
    assert set(found.nights) == expected and len(expected) > 60
    cure = cure_of(programme, [wrong], CONDITIONS)
    assert cure.verified and not foolish_nights(cure.programme, [wrong], CONDITIONS)


def test_off_that_comes_twice_is_told_but_needs_no_cure():
    """The second "off" finds the lamps off. A cure would take light away on every night of the year."""
    zone = "Australia/Adelaide"
    switch = Switch("s", Setting(-35.1, 141.0, zone), zone)
    programme = Programme("p", (ON_OFF[0], Event("off", 150, season=Season(401, 410)), ON_OFF[1]))
    (found,) = foolish_nights(programme, [switch], CONDITIONS)
    assert found.kind == "twice on the clock" and found.harmless
    assert cure_of(programme, [switch], CONDITIONS) is None


def test_the_price_of_a_moved_switch_off_is_told():
    """Off at 02:30 falls into the hour that is left out in spring; moved out of it, every night is shorter or longer by as much."""
    zone = "Australia/Adelaide"
    switch = Switch("s", Setting(-35.1, 141.0, zone), zone)
    programme = Programme("p", (ON_OFF[0], Event("off", 150), ON_OFF[1]))
    cure = cure_of(programme, [switch], CONDITIONS)
    moved = next(event.at for event in cure.programme.events if not event.by_sun)
    assert cure.verified and moved != 150
    # By hand: (150 - moved) minutes on each of 365 nights, as long as it is earlier.
    assert cure.dark_after_h == pytest.approx(max(0, 150 - moved) * 365 / 60, abs=1.5)
    assert cure.dark_after_min == pytest.approx(max(0, 150 - moved), abs=61)


LONDON = Switch("london", Setting(51.5, 0.0, "Europe/London"), "Europe/London", ("a", "b", "c"))
EARLY_WEEK = Programme("early week", (ON_OFF[0], Event("off", 1230, days=frozenset(range(5))),
                                      Event("on", 240, season=Season(1001, 331)), ON_OFF[1]))


def test_a_cure_leaves_the_weekdays_alone_that_are_right():
    """Off at 20:30 from Monday to Friday comes before dusk in summer; Saturdays and Sundays are as ordered and stay lit."""
    cure = cure_of(EARLY_WEEK, [LONDON], CONDITIONS)
    assert cure.verified and cure.sites == 3 and cure.dark_one_h < 1 and cure.dark_after_h == pytest.approx(3 * cure.dark_one_h)
    dusk = [event for event in cure.programme.events if event.at == "dusk"]
    assert {(event.days, event.season is None) for event in dusk} == {(frozenset(range(5)), False), (frozenset((5, 6)), True)}
    assert "only Mon-Fri" in cure.changes[0]
    # A keypad of four events cannot hold that one: then the whole week is suspended, and the price says what it costs.
    small = cure_of(EARLY_WEEK, [LONDON], replace(CONDITIONS, keypad=Keypad(event_limit=4)))
    assert small.verified and len(small.programme.events) == 4 and small.dark_one_h > 200
    # By hand: weekend nights of that season last from dusk to dawn.
    lost = np.diff(intended(DUSK_TO_DAWN, lat_deg=51.5, lon_deg=0.0, legal_zone="Europe/London", **HOW).ends, axis=0)[0] / 60
    dropped = next(event.season for event in small.programme.events if event.at == "dusk")
    summer = [k for k in range(365) if dropped.last < int((np.datetime64("2027-01-01")
                                                           + k).astype(object).strftime("%m%d")) < dropped.first]
    weekend = [k for k in summer if (np.datetime64("2027-01-01") + k).astype(object).weekday() >= 5]
    assert small.dark_one_h == pytest.approx(sum(lost[k] for k in weekend), abs=2.5)


def test_weekdays_with_seasons_of_their_own():
    """Later to bed on Fridays: its season of being too early is shorter, and each has its own."""
    programme = Programme("p", (ON_OFF[0], Event("off", 1200, days=frozenset((6, 0, 1, 2, 3))), Event("off", 1260, days=frozenset((4,))),
                                Event("on", 300, season=Season(1001, 331)), ON_OFF[1]))
    cure = cure_of(programme, [LONDON], CONDITIONS)
    seasons = {event.days: event.season for event in cure.programme.events if event.at == "dusk"}
    assert cure.verified and set(seasons) == {frozenset((6, 0, 1, 2, 3)), frozenset((4,)), frozenset((5,))}
    assert seasons[frozenset((5,))] is None and seasons[frozenset((4,))].last > seasons[frozenset((6, 0, 1, 2, 3))].last
    assert cure.dark_one_h < 5


def test_a_column_of_hours_adds_up_although_nights_have_several_causes():
    programme = Programme("p", (ON_OFF[0], Event("off", 1200), Event("on", 330), Event("off", "dawn"),
                                Event("on", 345, days=frozenset((0, 1)))))
    switches = (WEST, EAST, LONDON)
    found = foolish_nights(programme, switches, CONDITIONS)
    table = findings_table(found, [programme], 2027)
    true = 0.0
    for switch in switches:
        year = year_at(programme, switch, CONDITIONS)
        a, b = (np.concatenate([one.ends.T, [[1e9, 1e9]]]) for one in (year.meant, year.obeyed))
        grid = np.unique(np.concatenate([a.ravel(), b.ravel(), year.noon]))
        grid = grid[(grid >= year.noon[0]) & (grid <= year.noon[-1])]
        middle = (grid[1:] + grid[:-1]) / 2
        lit = [np.searchsorted(one[:, 0], middle, "right") != np.searchsorted(one[:, 1], middle, "right") for one in (a, b)]
        true += float(np.diff(grid)[lit[0] != lit[1]].sum()) / 60 * len(switch.sites)
    # The sum of a column, against the intervals cut into pieces here; nights of under half a minute are no foolish nights.
    assert table["counted_site_h"].sum() == pytest.approx(true, abs=0.5 / 60 * 365 * 6) and true > 3000
    assert table["site_hours"].sum() > 1.2 * true


def test_many_kinds_of_switch_have_one_cure_that_was_run_at_all_of_them():
    switches = [Switch(f"s{k}", Setting(50.0 + k, 0.0, "Europe/London"), "Europe/London", (f"a{k}", f"b{k}")) for k in range(9)]
    cure = cure_of(EARLY_WEEK, switches, CONDITIONS)
    assert cure.verified and cure.sites == 18 and foolish_nights(cure.programme, switches, CONDITIONS) == []
    assert {event.days for event in cure.programme.events if event.at == "dusk"} == {frozenset(range(5)), frozenset((5, 6))}
    # The southern switches give up what the northern have to: less than a weekday's evenings of some weeks, never a weekend.
    assert cure.dark_one_h < 30
