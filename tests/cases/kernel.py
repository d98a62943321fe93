"""Cases of dusk, dawn and minutes off, computed by geozone's compiled kernels for the page's own arithmetic (web/almanac.js, drifts.js).

    python tests/cases/kernel.py          # writes kernel.json beside this file

Both languages read that file: tests/web/almanac.test.mjs, and tests/unit/test_mapsky.py, which also computes it anew. The kernels
themselves are held against authorities in tests/reference.
"""

import json
from pathlib import Path

from geozone.numbers import clock, shallow
from geozone.numbers.almanac import almanac
from geozone.numbers.shallow import judged_nights
from geozone.numbers.sun import sin_threshold, switch_times
from geozone.screens.mapdata import headline
from geozone.screens.mapsky import clock_steps, sun_nodes
from geozone.sharing.drift import legal_lon_deg, setting_drift
from geozone.trade.keypad import Keypad
from geozone.trade.setting import Setting, Tolerance

FILE = Path(__file__).with_suffix(".json")
YEAR = 2027
NIGHTS = (0, 1, 40, 79, 150, 171, 172, 200, 265, 354, 355, 363, 364)
# Ordinary nights, both hemispheres; white and polar nights; beside a pole; longitudes beyond one turn.
PLACES = ((0.0, 0.0), (-35.1, 140.2), (51.5, -0.1), (-33.9, 18.4), (60.2, 24.9), (63.0, 10.0), (66.5, 13.2), (69.6, 18.9), (-67.0, 140.0), (78.2, 15.6),
          (89.5, 40.0), (-89.9, -120.0), (-13.8, 188.2), (18.0, -179.9))
SKIES = ((-0.8333, 0.0), (-4.0, 0.0), (-6.0, 1.0))
# Setting, tolerance, threshold and its depth, sites. The last sites of each are on other ground than the setting.
DRIFTS = (
    (Setting(-35.1, 140.2, "Australia/Adelaide"), (3, 6), (-4.0, 0.0), ((-35.1, 140.2), (-34.5, 139.9), (-36.4, 140.9), (-33.0, 141.5))),
    (Setting(-35.1, 140.2, "Australia/Adelaide", 4, -3), (3, 6), (-4.0, 0.0), ((-35.1, 140.2), (-34.5, 139.9), (-36.4, 140.9))),
    (Setting(60.0, 24.0, "Europe/Helsinki"), (15, 30), (-6.0, 0.0), ((60.2, 24.9), (61.3, 24.0), (59.5, 23.1))),
    (Setting(61.5, 24.0, "Europe/Helsinki", -5, 5), (15, 30), (-6.0, 1.0), ((60.2, 24.9), (61.3, 24.0), (63.0, 25.0))),
    (Setting(65.0, 20.0, "Europe/Oslo"), (8, 16), (-0.8333, 0.0), ((63.5, 10.5), (66.5, 13.2), (69.6, 18.9), (70.2, 25.4))),
    (Setting(0.0, 10.0, "Africa/Libreville", 700, -700), (100, 100), (-6.0, 0.0), ((0.0, 10.0), (2.0, 12.0))),
)
# The same with every switch on a clock of its own that is not the keyed one.
CLOCKS = (Setting(-35.1, 140.2, "Australia/Adelaide", 0, 2), "Australia/Melbourne", (3, 6), (-4.0, 0.0), ((-35.3, 141.2), (-36.0, 142.0)))


def sky(altitude_deg: float, shallow_deg: float) -> dict:
    deep, clear = shallow.limits(altitude_deg, shallow_deg)
    return {"sinh": sin_threshold(altitude_deg), "deep": deep, "clear": clear}


def number(value: float):
    """To a millionth of a minute; None for none."""
    return None if value != value else round(float(value), 6)


def times(altitude_deg: float, shallow_deg: float) -> list:
    lat, lon = zip(*PLACES)
    found = switch_times(lat_deg=lat, lon_deg=lon, year=YEAR, altitude_deg=altitude_deg)
    judged = judged_nights(lat, lon, YEAR, altitude_deg, shallow_deg)
    return [[k, night, number(found.dusk_utc_min[k, night]), number(found.dawn_utc_min[k, night]), int(found.state[k, night]), int(judged[k, night])]
            for k in range(len(PLACES)) for night in NIGHTS]


def drifts(setting, tolerance, dark, sites, zone=None) -> dict:
    lat, lon = zip(*sites)
    altitude_deg, shallow_deg = dark
    found = setting_drift(lat_deg=lat, lon_deg=lon, setting=setting, year=YEAR, altitude_deg=altitude_deg, tolerance=Tolerance(*tolerance, shallow_deg),
                          keypad=Keypad(0.1, 720), legal_zone=None if zone is None else [zone] * len(sites))
    columns = (found.worst_dark_min, found.worst_dark_night, found.worst_dark_edge, found.worst_excess_min, found.worst_excess_night,
               found.worst_excess_edge, found.nights_beyond, found.dark_year_min, found.excess_year_min, found.nights_not_judged)
    rows = [[value if isinstance(value, str) else number(value) for value in row] for row in zip(*columns)]
    return {"sky": sky(*dark), "keyed": {"lat": setting.lat_deg, "lon": setting.lon_deg, "dusk": setting.dusk_offset_min, "dawn": setting.dawn_offset_min},
            "legal_lon": legal_lon_deg(setting.legal_zone, YEAR), "tolerance": {"dark": tolerance[0], "excess": tolerance[1]},
            "clocks": None if zone is None else [clock_steps(clock.offsets(name, YEAR)) for name in (setting.legal_zone, zone)],
            "sites": [list(site) for site in sites], "found": rows}


def headlines() -> list:
    """Counts of sites, and the page's first sentence about them."""
    counts = [{"sites": n, "within": n - beyond - other, "beyond": beyond, "other_clock": other}
              for n, beyond, other in ((1, 0, 0), (1, 1, 0), (1, 0, 1), (2, 0, 0), (2, 2, 0), (3, 1, 1), (1200, 0, 0), (1200, 1, 1150), (1200, 1200, 0), (1200, 0, 2))]
    return [[one, headline(one)] for one in counts]


def cases() -> dict:
    return {"nights": int(almanac(YEAR).n_night), "nodes": sun_nodes(YEAR), "places": [list(place) for place in PLACES],
            "skies": [{**sky(*one), "times": times(*one)} for one in SKIES], "headlines": headlines(),
            "drifts": [drifts(*one) for one in DRIFTS] + [drifts(CLOCKS[0], *CLOCKS[2:], zone=CLOCKS[1])]}


if __name__ == "__main__":
    FILE.write_text(json.dumps(cases(), separators=(",", ":")) + "\n", encoding="utf-8")
