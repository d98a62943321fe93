"""What switches cost today, worked by hand: a part-night programme under a price by the time of day, with a clock that is an hour ahead."""

import numpy as np
import pytest

from geozone.auditing.candidates import SettingSlips
from geozone.jobs.auditcost import Costs
from geozone.jobs.auditplan import right_settings
from geozone.jobs.job import read_job
from geozone.jobs.plan import compute
from geozone.paper.carddata import keyed_of
from geozone.trade.keypad import Keypad
from geozone.trade.readings import Display
from geozone.trade.switchclock import SAVING_RULES, SwitchClock

JOB = """
[job]
title = "Two"
year = 2027
sites = "sites.csv"
[dark]
twilight = "sunset"
[tolerance]
dark_min = 10
excess_min = 10
[shared]
lat_deg = 49.0
lon_deg = 10.0
legal_zone = "Europe/Berlin"
[[programme]]
name = "evening"
[[programme.event]]
turn = "on"
at = "dusk"
[[programme.event]]
turn = "off"
at = "23:30"
[tariff]
per_kwh = 0.40
currency = "EUR"
[[tariff.band]]
name = "night"
per_kwh = 0.10
from = "23:00"
to = "07:00"
"""


@pytest.fixture(scope="module")
def fleet(tmp_path_factory):
    folder = tmp_path_factory.mktemp("job")
    (folder / "job.toml").write_text(JOB)
    (folder / "sites.csv").write_text("site_id,lat,lon,load_w\na,49.0,10.0,100\nb,49.1,10.1,\n")
    job = read_job(folder / "job.toml")
    answers = compute(job)
    settings, plain, keyings = right_settings(answers)
    right = keyed_of(settings[0], keyings[0], answers.altitude_deg)
    return Costs(job, answers, plain), answers, SettingSlips(right, Keypad(), Display(includes_offsets=True, dawn="morning"), 2027)


def today(fleet, **changes):
    costs, _, setting = fleet
    keyed = setting.right.changed(**changes)
    on, off = setting.acts([keyed])
    costs.holds(0, setting, keyed, on[0], off[0])
    return costs.today[:, 0].copy()


def test_the_right_setting_costs_what_the_run_says(fleet):
    costs, answers, _ = fleet
    hours, per_w = costs.planned[:, 0]
    assert 100 * hours / 1000 == pytest.approx(answers.programmes.sites["kwh"].iloc[0], rel=1e-9)
    assert 100 * per_w == pytest.approx(answers.programmes.sites["cost"].iloc[0], rel=1e-9)
    np.testing.assert_allclose(today(fleet), [hours, per_w], rtol=1e-6)
    costs.agrees(0)
    assert costs.today[:, 0].tolist() == costs.planned[:, 0].tolist()


def test_a_clock_an_hour_ahead_moves_the_evening_out_of_the_cheap_band(fleet):
    """On and off an hour earlier: the same hours, but half an hour each night, 23:00 to 23:30, is paid by day: 365 x 0.5 h x 0.30 a kilowatt."""
    hours, per_w = today(fleet, clock_error_min=60.0)
    planned = fleet[0].planned[:, 0]
    assert hours == pytest.approx(planned[0], abs=1e-6) and per_w - planned[1] == pytest.approx(365 * 0.5 * 0.30 / 1000, abs=1e-9)


def test_a_clock_left_on_standard_time_burns_longer_in_summer(fleet):
    """Dusk stays right and 23:30 comes at 0:30 by law from 28 March to 31 October 2027 (2000/84/EC): 217 nights of one hour, at the night's price."""
    hours, per_w = today(fleet, clock=SwitchClock(60, SAVING_RULES["none"]), clock_error_min=-60.0)
    planned = fleet[0].planned[:, 0]
    assert hours - planned[0] == pytest.approx(217, abs=1e-6) and per_w - planned[1] == pytest.approx(217 * 0.10 / 1000, abs=1e-9)
