"""Slips and what they make a display read."""

import datetime

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from geozone.errors import InputError
from geozone.numbers import clock
from geozone.trade.keypad import Keypad
from geozone.trade.readings import Display, Keyed, readings, wrapped
from geozone.trade.slipdifferences import CLOCK_HARM_MIN, HARM_MIN, slip_table
from geozone.trade.slips import slips_of
from geozone.trade.switchclock import SAVING_RULES, SwitchClock, best_keying

YEAR = 2027
ADELAIDE = best_keying(clock.offsets("Australia/Adelaide", YEAR), YEAR).switch_clock
RIGHT = Keyed(-34.5, 140.0, ADELAIDE, -4.0, -12, 7)


def table(right=RIGHT, display=Display(includes_offsets=True, dawn="morning"), day=171, on=datetime.date(2027, 6, 21)):
    return slip_table(right, slips_of(right, Keypad(), on), display, year=YEAR, first_day=day)


def names(slips):
    return {slip.key for slip in slips}


def test_slips_change_what_they_say():
    """Hand-worked: 34.5 S 140.0 E, UTC+09:30 with daylight saving, offsets -12 and +7."""
    found = {slip.key + "".join(f" {value}" for _, value in slip.values): slip.keyed
             for slip in slips_of(RIGHT, Keypad(), datetime.date(2027, 6, 5))}
    assert found["latitude_sign"].lat_deg == 34.5
    assert found["longitude_sign"].lon_deg == -140.0
    assert found["latitude_point_left 3.5 34.5"].lat_deg == -3.4 or found["latitude_point_left 3.5 34.5"].lat_deg == -3.5
    assert found["latitude_swapped 43.5 34.5"].lat_deg == -43.5
    assert found["minutes_as_decimals"].lat_deg == -34.3
    assert found["zone_part_lost"].clock.standard_min == 540
    assert found["zone_sign"].clock.standard_min == -570
    assert found["saving_off_by_hand"].clock == SwitchClock(570, SAVING_RULES["none"])
    assert found["offsets_exchanged"].dusk_offset_min == 7
    assert found["dusk_offset_digit -11 -12"].dusk_offset_min == -11
    assert found["day_and_month"].date_error_days == (datetime.date(2027, 5, 6) - datetime.date(2027, 6, 5)).days
    # Latitude 140 does not exist, so the two cannot be exchanged here, nor can a point move to 345 degrees.
    assert "exchanged" not in found and "latitude_point_right 345.0 34.5" not in found
    assert all(abs(keyed.lat_deg) <= 90 and abs(keyed.lon_deg) <= 180 for keyed in found.values())


def test_two_slips_with_the_same_setting_are_one():
    """35.5: two digits swapped is no slip; at 34.4, 4 for 3 in the first place and a swap would both be 44.x or 43.4."""
    slips = slips_of(RIGHT, Keypad(), datetime.date(2027, 6, 21))
    assert len({slip.keyed for slip in slips}) == len(slips) and RIGHT not in {slip.keyed for slip in slips}
    assert [slip.weight for slip in slips] == sorted((slip.weight for slip in slips), reverse=True)


@pytest.mark.parametrize("day, date", [(14, datetime.date(2027, 1, 15)), (77, datetime.date(2027, 3, 19)),
                                       (171, datetime.date(2027, 6, 21)),
                                       (275, datetime.date(2027, 10, 3))])
@pytest.mark.parametrize("right", [RIGHT, Keyed(62.5, 9.9, best_keying(clock.offsets("Europe/Oslo", YEAR), YEAR).switch_clock, -4.0, 3, -3),
                                   Keyed(19.9, -155.4, SwitchClock(-600), -50 / 60)])
def test_every_slip_keyed_into_a_switch_reads_as_the_table_says_on_each_day_of_the_week(right, day, date):
    """The table merges and ranges; here each slip's own readings stand against the right ones."""
    display = Display(includes_offsets=True, dawn="morning")
    slips = slips_of(right, Keypad(), date)
    found = slip_table(right, slips, display, year=YEAR, first_day=day)
    listed = [slip for row in found.rows for slip in row.slips] + [one.slip for one in found.unseen]
    assert len(listed) == len(set(map(id, listed)))
    base, all_alone = readings([right], YEAR), readings([slip.keyed for slip in slips], YEAR)
    week = slice(day, day + 7)
    for i, slip in enumerate(slips):
        off = [wrapped(getattr(all_alone, edge)[i] - getattr(base, edge)[0]) for edge in ("dusk_min", "dawn_min")]
        gone = any((np.isnan(getattr(all_alone, edge)[i]) != np.isnan(getattr(base, edge)[0])).any() for edge in ("dusk_min", "dawn_min"))
        harms = gone or max(np.nanmax(np.abs(one)) for one in off) >= HARM_MIN or abs(slip.keyed.clock_error_min) >= CLOCK_HARM_MIN
        assert harms == (slip in listed), slip.key
        row = next((row for row in found.rows if slip in row.slips), None)
        if row is not None:
            for (low, high), one in zip((row.dusk_min, row.dawn_min), off):
                known = one[week][~np.isnan(one[week])]
                # One printed number, the middle of the row, is good to a minute where the row does not say that it moves.
                assert ((known >= low - 1e-9) & (known <= high + 1e-9)).all()
                if not row.moves:
                    assert (np.abs(known - (low + high) / 2) <= 1.0 + 1e-9).all(), (slip.key, low, high)


def test_a_slip_that_reads_right_in_the_week_is_listed_with_the_day_from_which_it_shows():
    """21 June is winter in Adelaide: summer time off cannot be seen before it begins on 3 October (tz database)."""
    found = table()
    first = {one.slip.key: str(one.first) for one in found.unseen}
    assert first["saving_off_by_hand"] == "2027-10-03"
    assert first["clock_half_day"] == "None"
    summer = table(day=14, on=datetime.date(2027, 1, 15))
    assert "saving_off_by_hand" in {name for row in summer.rows for name in names(row.slips)}


def test_offsets_show_only_where_the_display_includes_them():
    wrong = "dusk_offset_sign"
    without = table(display=Display(includes_offsets=False, dawn="morning"))
    assert wrong in {one.slip.key for one in without.unseen if one.first is None}
    unknown = next(row for row in table(display=Display()).rows if wrong in names(row.slips))
    assert unknown.needs_offsets and unknown.dusk_min[0] == pytest.approx(24.0)


@given(exact=st.floats(0, 1439.99), off=st.floats(-1, 1), rounds=st.booleans())
@settings(max_examples=300, deadline=None)
def test_no_right_reading_is_called_wrong(exact, off, rounds):
    """A switch whose own sun is up to a minute off, which cuts seconds off or rounds them."""
    shown = np.floor(exact + off + (0.5 if rounds else 0.0)) % 1440
    assert Display().fits(shown, exact)


def test_a_reading_three_minutes_off_is_called_wrong():
    assert not Display().fits(603.0, 600.2) and not Display().fits(597.0, 600.0) and not Display().fits(np.nan, 600.0)
    assert Display().fits(np.nan, np.nan) and Display(hours=12).fits(0.0, 720.4)


def test_dates_reach_into_the_neighbouring_years():
    """1 January held on 31 December is the same sun to a minute; last year's date at most a few minutes at 34 degrees."""
    ahead = readings([RIGHT, RIGHT.changed(date_error_days=1), RIGHT.changed(year_error=-1)], YEAR)
    assert abs(ahead.dusk_min[1, -1] - ahead.dusk_min[0, -1]) < 1.0
    assert np.abs(wrapped(ahead.dusk_min[2] - ahead.dusk_min[0]))[10:80].max() < 1.0


@pytest.mark.parametrize("wrong", [dict(dawn="evening"), dict(hours=10), dict(error_min=-1)])
def test_a_display_that_does_not_exist_is_refused(wrong):
    with pytest.raises(InputError):
        Display(**wrong)


def test_what_holds_for_one_slip_of_a_row_is_not_said_of_its_neighbours():
    """In summer, 60 minutes early: lamps are right only where the clock was left on standard time, not where the zone is wrong."""
    from geozone.paper.carddata import joined_slips
    from geozone.paper.words import words_in

    words = words_in()
    row = next(row for row in table(day=14, on=datetime.date(2027, 1, 15)).rows if any(slip.right_lamps for slip in row.slips))
    assert not all(slip.right_lamps for slip in row.slips)
    text = joined_slips(row.slips, words, 99)
    claim = f"({words('lamps_right')})"
    assert text.count(claim) == 1
    assert text.split(claim)[0].rstrip().endswith(words("slip_saving_off_on_standard"))
