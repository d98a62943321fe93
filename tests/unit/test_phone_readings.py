"""The script of the phone's page computes dusk and dawn itself; here it stands against the program's readings, under node."""

import datetime as dt
import json
import os
import shutil
import subprocess
from pathlib import Path

import numpy as np
import pytest

from geozone.numbers import clock
from geozone.numbers.almanac import almanac
from geozone.paper.carddata import GroupCard
from geozone.paper.phonedata import _keyed, _slip, _steps, sun_nights
from geozone.paper.words import words_in
from geozone.trade.keypad import Keypad
from geozone.trade.readings import Keyed, readings
from geozone.trade.setting import Setting
from geozone.trade.slipdifferences import SlipTable
from geozone.trade.slips import slips_of
from geozone.trade.switchclock import best_keying

# The first and the last year that can be computed, whose neighbours cannot, and one between.
YEARS = (2027, 1972, 2098)
SCRIPT = Path(__file__).parents[1] / "scripts" / "readings.test.mjs"
# Both hemispheres, both sides of Greenwich, a half-hour zone, days of clock changes, white nights (61.5 N at -6 degrees).
SETTINGS = {"south": ("Australia/Adelaide", -34.5, 140.0, -4.0, -12, 7, "morning"), "west": ("America/Denver", 39.7, -105.0, -50 / 60, 3, -3, None),
            "north": ("Europe/Helsinki", 61.5, 24.9, -6.0, 0, 5, "coming")}


def case(year, name, zone, lat, lon, altitude, dusk, dawn, shows):
    keying = best_keying(clock.offsets(zone, year), year)
    right = Keyed(lat, lon, keying.switch_clock, altitude, dusk, dawn)
    visit = dt.date(year, 3, 12)
    slips = slips_of(right, Keypad(), visit)
    day = (visit - dt.date(year, 1, 1)).days
    card = GroupCard(name, (), Setting(lat, lon, zone, dusk, dawn), keying, right, tuple(slips), SlipTable((), (), None, None))
    nights = almanac(year).n_night
    found = readings([right, *(slip.keyed for slip in slips)], year)
    clocks = {}
    group = {"name": name, "right": (base := _keyed(right, clocks)), "slips": [_slip(slip, base, clocks, words_in()) for slip in card.slips]}
    page = {"year": year, "sun": sun_nights(year), "groups": [group], "display": {"offsets": True, "dawn": shows, "error": 1.0, "hours": 24}}
    page["clocks"] = [_steps(one, year) for one in clocks]

    def edges(row, days):
        return {edge: [None if np.isnan(v) else float(v) for v in np.atleast_1d(times[row][days])]
                for edge, times in (("dusk", found.dusk_min), ("dawn", found.dawn_min), ("coming", found.coming_dawn_min))}

    rows = [edges(1 + i, np.array([day])) for i in range(len(slips))]
    return {"name": name, "page": page, "visit": day, "right": [edges(0, slice(None))], "grazing": [[grazing(right, k, year) for k in range(nights)]],
            "slips": [[{**{edge: one[0] for edge, one in row.items()}, "grazing": grazing(slip.keyed, day, year)}
                       for row, slip in zip(rows, slips, strict=True)]]}


def grazing(keyed, day, year):
    """How far the sun's lowest or highest point is from the threshold [degree], the least over the nights that a date may mean."""
    held = day + keyed.date_error_days
    if keyed.year_error:
        held = day
    table = almanac(year)
    declination = np.degrees(np.arcsin(table.sin_declination[np.clip(np.array([held - 1, held]), 0, table.n_night - 1), 0]))
    lowest, highest = np.abs(keyed.lat_deg + declination) - 90, 90 - np.abs(keyed.lat_deg - declination)
    return float(min(np.abs(lowest - keyed.altitude_deg).min(), np.abs(highest - keyed.altitude_deg).min()))


@pytest.mark.parametrize("year", YEARS)
def test_the_pages_readings_are_the_programs(tmp_path, year):
    node = shutil.which("node")
    if node is None:
        if os.environ.get("CI"):
            pytest.fail("needs node")
        pytest.skip("needs node")
    file = tmp_path / "cases.json"
    # The first and the last year that can be computed have no neighbour on one side; a setting each is enough for that.
    settings = {name: SETTINGS[name] for name in {1972: ("north",), 2098: ("south",)}.get(year, tuple(SETTINGS))}
    file.write_text(json.dumps([case(year, name, *rest) for name, rest in settings.items()]), encoding="utf-8")
    done = subprocess.run([node, "--test", str(SCRIPT)], capture_output=True, text=True, env={**os.environ, "GEOZONE_CASES": str(file)})
    assert done.returncode == 0, done.stdout[-3000:]
    assert f"pass {3 * len(settings)}" in done.stdout.replace("ℹ ", "# ").replace("# ", "")
