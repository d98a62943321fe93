"""Burning hours by latitude, the north-south sum, and the energy equation.

Dark hours: computed with NREL's SPA by 30-second sampling, 2025, longitude 0 (not with geozone); tolerance 1 h.
Round figures: 12 h x 365 = 4380, MIL-HDBK-1133 p. 18; about 4,100 h dusk to dawn at 37.5 N and about 4,000, public
tariffs. Energy: E = N P H / 1000, MIL-HDBK-1133 equation 1.
"""

import numpy as np
import pandas as pd
import pytest

from geozone.switching.assigned import Assigned
from geozone.switching.conditions import Conditions
from geozone.switching.hours import comparison_of_settings, hours_by, site_hours
from geozone.switching.programme_year import lit_hours
from geozone.switching.tariff import energy_kwh
from geozone.trade.programme import DUSK_TO_DAWN

LATITUDES = [0, 30, 40, 50, 60, -35]
SUNSET = [4337.8, 4318.9, 4305.8, 4284.6, 4239.8, 4341.5]
FOUR_BELOW = [4177.0, 4130.1, 4088.3, 4013.9, 3839.5, 4140.3]


def yearly(lat, altitude, year=2025, **how):
    lat = np.atleast_1d(np.asarray(lat, float))
    return lit_hours(lat_deg=lat, lon_deg=np.zeros(lat.size), year=year, altitude_deg=altitude, **how).sum(axis=1)


def test_dark_hours_by_latitude():
    assert yearly(LATITUDES, -0.8333) == pytest.approx(SUNSET, abs=1)
    assert yearly(LATITUDES, -4.0) == pytest.approx(FOUR_BELOW, abs=1)


@pytest.mark.parametrize("year, total", [(2025, 8760), (2028, 8784)])
def test_north_and_south_share_the_year(year, total):
    # The sun is below 0 degrees here when it is above at the antipode of longitude; over a year the longitude drops out.
    lat = np.array([5.0, 20, 35, 50, 60])
    assert yearly(lat, 0.0, year) + yearly(-lat, 0.0, year) == pytest.approx(total, abs=1)
    # The identity holds for the Earth's centre. Seen from its surface the sun is 8.794" lower, which near the poles,
    # where it crosses slowly, is more than an hour a year: there the threshold is set back by that much.
    lat = np.array([5.0, 50, 70, 80])
    below = -8.794148 / 3600
    assert yearly(lat, below, year) + yearly(-lat, below, year) == pytest.approx(total, abs=1)


def test_round_figures_of_the_trade():
    assert 4050 < yearly(37.5, -4.0)[0] < 4150
    assert yearly(37.5, -0.8333)[0] == pytest.approx(4380, rel=0.02)


def test_white_nights_and_polar_night():
    # Longyearbyen: no civil night in summer, none but night around the winter solstice.
    months = lit_hours(lat_deg=[78.2], lon_deg=[15.6], legal_zone="Arctic/Longyearbyen", year=2025, altitude_deg=-6.0)[0]
    assert months[4] == months[5] == months[6] == 0
    assert months[11] == pytest.approx(31 * 24, abs=1)


def test_energy_equation():
    assert energy_kwh(100, 4380, count=100) == 43_800


def test_a_site_of_100_lamps():
    sites = pd.DataFrame({"lat_deg": [37.5], "lon_deg": [0.0], "solar_lon_deg": [0.0], "legal_zone": ["UTC"], "load_w": [10_000.0]})
    table = site_hours(sites, [DUSK_TO_DAWN], Conditions(2025, -4.0))
    assert table["kwh"][0] == pytest.approx(10 * yearly(37.5, -4.0)[0])
    by = hours_by(table, "programme")
    assert by.loc["dusk to dawn", "lit_h"] == pytest.approx(table["lit_h"][0])
    ways = comparison_of_settings(sites, Assigned((DUSK_TO_DAWN,)), Conditions(2025, -4.0))
    assert ways.loc["own setting", "kwh"] == pytest.approx(ways.loc["dusk to dawn", "kwh"])
