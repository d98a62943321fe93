"""Records refuse what no switch, no calendar and no programme can hold, in four parts."""

import datetime as dt

import numpy as np
import pytest

from geozone import Event, Holidays, InputError, Programme, Season, Setting

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
