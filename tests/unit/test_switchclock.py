"""A switch's own clock against the tz database, and where no keying is right."""

import doctest

import numpy as np
import pytest

from geozone.errors import InputError
from geozone.numbers import clock
from geozone.trade import switchclock
from geozone.trade.switchclock import SAVING_RULES, ClockKeypad, NthWeekday, SavingRule, SwitchClock, best_keying


def test_examples():
    failed, attempted = doctest.testmod(switchclock)
    assert attempted and failed == 0


@pytest.mark.parametrize("zone, standard, rule", [
    ("America/New_York", -300, "united states"), ("America/St_Johns", -210, "united states"),
    ("Europe/London", 0, "european union"), ("Europe/Helsinki", 120, "european union"),
    ("Australia/Sydney", 600, "southern australia"), ("Australia/Adelaide", 570, "southern australia"),
    ("Australia/Hobart", 600, "southern australia"), ("Australia/Brisbane", 600, "none"),
])
@pytest.mark.parametrize("year", [2012, 2026, 2027, 2028, 2035])
def test_published_rules_give_the_tz_database_sequence(zone, standard, rule, year):
    assert SwitchClock(standard, SAVING_RULES[rule]).sequence(year).key == clock.offsets(zone, year).key


def test_nth_weekdays_by_hand():
    # 2027: Easter Monday is 29 March; first Sunday of April the 4th, last Sunday of October the 31st.
    assert NthWeekday(4, 1, 6, 0).day(2027) == 93 and NthWeekday(10, -1, 6, 0).day(2027) == 303
    assert NthWeekday(2, -1, 1, 0).day(2028) == 59  # Tuesday 29 February 2028


def test_every_zone_without_a_change_can_be_keyed():
    for zone in ("America/Vancouver", "Asia/Kathmandu", "Australia/Eucla", "America/Edmonton"):
        assert best_keying(clock.offsets(zone, 2027), 2027).exact, zone


def test_lord_howe_shifts_half_an_hour():
    found = best_keying(clock.offsets("Australia/Lord_Howe", 2027), 2027)
    assert not found.exact and {abs(span.fast_min) for span in found.wrong} == {30.0}
    assert sum(span.weeks for span in found.wrong) == pytest.approx(26, abs=0.1)
    own = SavingRule("lord howe", NthWeekday(10, 1, 6, 120), NthWeekday(4, 1, 6, 90), 30)
    # Back at 02:00 daylight time, which is 01:30 standard.
    assert best_keying(clock.offsets("Australia/Lord_Howe", 2027), 2027, ClockKeypad(savings=(own,))).exact


def test_a_keypad_that_knows_only_another_countrys_rule():
    keypad = ClockKeypad((570,), (SAVING_RULES["united states"],))
    found = best_keying(clock.offsets("Australia/Adelaide", 2027), 2027, keypad)
    # Right only where both save: 14 March to 4 April and 3 October to 7 November, 8 of 52.1 weeks.
    assert found.wrong_weeks == pytest.approx(365 / 7 - 8, abs=0.05)
    fast = {span.fast_min for span in found.wrong}
    assert fast == {60.0, -60.0}


def test_us_rule_in_europe_is_wrong_in_the_weeks_between():
    # 14 to 28 March and 31 October to 7 November 2027.
    found = best_keying(clock.offsets("Europe/London", 2027), 2027, ClockKeypad((0,), (SAVING_RULES["united states"],)))
    assert [(s.first, s.fast_min, round(s.weeks, 1)) for s in found.wrong] == [("2027-03-14", 60.0, 2.0), ("2027-10-31", 60.0, 1.0)]
    assert "ahead of legal time" in found.wrong[0].text()


def test_a_jurisdiction_that_stopped_changing():
    # British Columbia: -07 all year since 2026 (tz database NEWS 2026b). A switch left on the old rule is late in winter.
    shown = SwitchClock(-480, SAVING_RULES["united states"]).sequence(2027)
    spans = switchclock.wrong_spans(shown, clock.offsets("America/Vancouver", 2027), 2027)
    assert {s.fast_min for s in spans} == {-60.0} and sum(s.weeks for s in spans) == pytest.approx(18, abs=1)


def test_bad_rules():
    for bad in ((0, 1, 6, 0), (1, 5, 6, 0), (1, 1, 7, 0), (1, 1, 6, 1441)):
        with pytest.raises(InputError):
            NthWeekday(*bad)
    with pytest.raises(InputError):
        ClockKeypad((), ())


def test_sequence_is_what_clock_functions_take():
    shown = SwitchClock(570, SAVING_RULES["southern australia"]).sequence(2027)
    assert clock.offset_min_at(shown, np.array([0.0, 150 * 1440.0])).tolist() == [630, 570]
