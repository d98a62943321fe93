"""Records refuse what no switch, no calendar and no programme can hold, in four parts."""

import dataclasses
import datetime as dt

import geopandas
import numpy as np
import pytest

from geozone import Basis, Conditions, DarkThreshold, Event, Holidays, InputError, Job, Keypad, Programme, Season, Setting, Tolerance
from geozone.trade.switchclock import ClockKeypad

ON, OFF = Event("on", "dusk"), Event("off", "dawn")


@pytest.mark.parametrize("make, what", [
    (lambda: Setting(99, 500, "UTC"), "lat_deg is out of range"),
    (lambda: Setting(50, 541, "UTC"), "lon_deg is out of range"),
    (lambda: Setting(float("nan"), 0, "UTC"), "lat_deg is out of range"),
    (lambda: Setting("50", 0, "UTC"), "lat_deg is no number"),
    (lambda: Setting(True, 0, "UTC"), "lat_deg is no number"),
    (lambda: Setting(50, None, "UTC"), "lon_deg is no number"),
    (lambda: Setting(50, 0, "Australia/Adelade"), "legal_zone is no legal zone"),
    (lambda: Setting(50, 0, None), "legal_zone is no legal zone"),
    (lambda: Setting(50, 0, "UTC", 1.5), "dusk_offset_min is no whole number"),
    (lambda: Setting(50, 0, "UTC", 0, 721), "dawn_offset_min is out of range"),
    (lambda: Event("On", "dusk"), "turn is not known"),
    (lambda: Event("on", "dusc"), "at is neither dusk nor dawn"),
    (lambda: Event("on", 1441), "at is out of range"),
    (lambda: Event("on", 23.5), "at is no whole number"),
    (lambda: Event("on", True), "at is no whole number"),
    (lambda: Event("on", 300, 5), "a shift belongs to dusk or dawn"),
    (lambda: Event("on", "dusk", 1.5), "shift_min is no whole number"),
    (lambda: Event("on", "dusk", days=frozenset()), "days cannot be used"),
    (lambda: Event("on", "dusk", days=frozenset((7,))), "days cannot be used"),
    (lambda: Event("on", "dusk", days="mon"), "days cannot be used"),
    (lambda: Event("on", "dusk", season=(101, 201)), "season is no Season"),
    (lambda: Season(230, 401), "first is no day of the year"),
    (lambda: Season(401, 1300), "last is out of range"),
    (lambda: Season("04-01", 401), "first is no whole number"),
    (lambda: Programme("", (ON, OFF)), "has no name"),
    (lambda: Programme("p", ()), "has no events"),
    (lambda: Programme("p", ("on", "off")), "has no events"),
    (lambda: Programme("p", (ON, OFF), "nigth"), "night_rule is not known"),
    (lambda: Programme("p", (ON, OFF), areas="North"), "areas are no names"),
    (lambda: Holidays((dt.date(2027, 1, 1),), 7), "counts_as is out of range"),
    (lambda: Holidays(("2027-01-01",)), "a holiday is no date"),
    (lambda: Holidays((dt.datetime(2027, 1, 1),)), "a holiday is no date"),
    (lambda: DarkThreshold(-91), "the dark threshold is not an altitude"),
    (lambda: DarkThreshold("civil"), "the dark threshold is not an altitude"),
    (lambda: DarkThreshold(True), "the dark threshold is not an altitude"),
    (lambda: DarkThreshold(float("nan")), "the dark threshold is not an altitude"),
    (lambda: DarkThreshold(-4.0, 4), "the words of the dark threshold are no text"),
    (lambda: DarkThreshold.of(), "the dark threshold is not told"),
    (lambda: DarkThreshold.of(altitude_deg=-4.0, twilight="civil"), "the dark threshold is not told"),
    (lambda: DarkThreshold.of(lux=20), "the dark threshold is not told"),
    (lambda: Keypad(0.0), "coordinate_step_deg is out of range"),
    (lambda: Keypad(0.1, 721), "offset_limit_min is out of range"),
    (lambda: Tolerance(0, 5), "dark_min is out of range"),
    (lambda: Tolerance(5, 10, 6), "shallow_deg is out of range"),
    (lambda: Keypad(event_limit=0), "event_limit is out of range"),
    (lambda: Keypad(event_limit=2.5), "event_limit is no whole number"),
    (lambda: Keypad(clocks=(570,)), "clocks are no ClockKeypad"),
    (lambda: Basis(2027, "civil"), "dark is no DarkThreshold"),
    (lambda: Basis(2027, True), "dark is no DarkThreshold"),
    (lambda: Basis(2027, -4.0, 5), "tolerance is no Tolerance"),
    (lambda: Basis(2027, -4.0, keypad=0.1), "keypad is no Keypad"),
    (lambda: Basis(2027, -4.0, switch_clock="both"), "switch_clock is not known"),
    (lambda: Basis(1800, -4.0), "the year cannot be computed"),
    (lambda: Conditions(2027, -4.0, holidays=("2027-01-01",)), "holidays is no Holidays"),
    (lambda: Conditions(2027, -4.0, tariff=0.3), "tariff is no Tariff"),
    (lambda: Conditions(2027, -4.0, switch_clock="both"), "switch_clock is not known"),
])
def test_what_cannot_be_is_refused_with_place_value_rule_and_next_step(make, what):
    with pytest.raises(InputError, match=what) as error:
        make()
    assert error.value.where and error.value.rule and error.value.next_step


@pytest.mark.parametrize("make, near", [
    (lambda: Event("On", "dusk"), "on"), (lambda: Event("on", "Dusk"), "dusk"),
    (lambda: Programme("p", (ON, OFF), "nigth"), "night"),
    (lambda: Setting(50, 0, "Australia/Adelade"), "Australia/Adelaide"),
])
def test_the_near_name_is_suggested(make, near):
    with pytest.raises(InputError) as error:
        make()
    assert near in error.value.next_step and "did you mean" in error.value.next_step


def test_numbers_of_arrays_and_unwrapped_longitudes_are_fine():
    """Search loops and tables hand in numpy's numbers; a site at 179 east may be 539 inside a run."""
    assert Setting(np.float64(-35.1), np.float32(188.0), "Pacific/Apia", np.int64(-2)).lon_deg == 188.0
    assert Setting(0, -540, "UTC").lon_deg == -540 and Setting(90, 540.0, "UTC").lat_deg == 90
    assert Event("off", np.int64(1440)).at == 1440 and Season(229, np.int64(1231)).first == 229
    # A shift and an offset added, as it is said to the crew.
    assert Event("on", "dusk", 99 + 720).text() == "on 819 min after dusk"


def test_a_basis_is_frozen_can_be_a_key_and_is_handed_on_whole():
    basis = Basis(np.int64(2027), -4, Tolerance(3, 6), Keypad(0.5, 20, event_limit=8), "master")
    assert type(basis.year) is int and basis.dark == DarkThreshold(-4.0) and hash(basis) == hash(dataclasses.replace(basis))
    with pytest.raises(dataclasses.FrozenInstanceError):
        basis.year = 2028
    conditions = Conditions.of(basis, wall_clocks={})
    assert all(getattr(conditions, one.name) == getattr(basis, one.name) for one in dataclasses.fields(Basis))
    # Another year, and all the rest as it was; the check is made again.
    assert dataclasses.replace(basis, year=2030).keypad is basis.keypad
    with pytest.raises(InputError, match="year cannot be computed"):
        dataclasses.replace(basis, year=2100)


def test_a_threshold_is_told_in_one_of_three_ways():
    """Civil twilight ends at 6 degrees; sunset at 50' (US Naval Observatory's definitions)."""
    assert DarkThreshold.of(twilight="civil", altitude_deg=None).altitude_deg == -6.0
    assert DarkThreshold.of(twilight="sunset").altitude_deg == pytest.approx(-50 / 60)
    by_light = DarkThreshold.of(illuminance_lx=20)
    assert -6 < by_light.altitude_deg < -3 and by_light.words.startswith("20 lx under a clear sky")
    # The same altitude in other words is another threshold to a reader.
    assert DarkThreshold(-6.0) != DarkThreshold.of(twilight="civil") and DarkThreshold(3.0).words.endswith("above the horizon")


def test_a_job_makes_its_basis_once():
    sites = geopandas.GeoDataFrame({"name": ["A"]}, geometry=geopandas.points_from_xy([141.0], [-35.0]), crs=4326)
    job = Job.of(sites, year=2027, dark={"twilight": "civil"}, tolerance={"dark_min": 3, "shallow_deg": 1},
                 keypad={"event_limit": 4, "utc_offsets": ["+09:30"], "offset_limit_min": 20}, shared={"clock": "master"})
    assert job.basis == Basis(2027, DarkThreshold.of(twilight="civil"), Tolerance(3, 10, 1),
                              Keypad(0.1, 20, 4, ClockKeypad(standard_min=(570,))), "master")
    assert job.basis is job.basis
