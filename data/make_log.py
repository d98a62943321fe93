"""Make the short log of on and off times of the border demo: ``python data/make_log.py [FILE]``.

Fourteen sites through 44 nights of autumn, as a crew's loggers could have seen them: right switches, some slips, lamps on light sensors
under one sky, a switch that scatters for security, and rows that cannot be used. Everything is invented; the same command gives the
same file as long as the plan does. To be run after `make_demo.py`. The sky is from memory: cloud on half of the half-days takes up to
1.2 decades of light, and twilight loses 0.4 decades a degree.
"""

from __future__ import annotations

import csv
import sys
from pathlib import Path

import numpy as np

from geozone.jobs.auditplan import right_settings
from geozone.jobs.job import read_job
from geozone.jobs.plan import compute
from geozone.numbers.clock import offset_min_at, offsets
from geozone.numbers.sun import switch_times
from geozone.paper.carddata import keyed_of
from geozone.trade.readings import readings
from geozone.trade.switchclock import SwitchClock

HERE = Path(__file__).parent
SEED, YEAR = 1414, 2027
FIRST_NIGHT, NIGHTS = 65, 44  # from 7 March, over the end of summer time on 4 April
NOISE_MIN, MISSING = 1.2, 0.06
HEADINGS = ["site_id", "switched_on", "switched_off"]
#: What is wrong at each site, in the order of the sites of these programmes.
KINDS = ("right", "right", "rule off, put right by hand", "longitude digit", "latitude digit", "clock fast", "offsets missing", "sensor", "sensor", "sensor", "scatter")
NIGHT_OFF = ("right", "rule off, clock on standard time")


def demo_answers():
    """The demo's plan."""
    return compute(read_job(HERE / "border" / "job.toml").model_copy(update={"zones": None}))


def watched(answers) -> list[tuple[int, str]]:
    """Row of the site table and what is wrong there; the light sensors stand in one town."""
    programme, ids = answers.sites["programme"].astype(str).tolist(), answers.sites["site_id"].astype(str).tolist()
    whole = [i for i, name in enumerate(programme) if name == "dusk to dawn"]
    town = ids[whole[len(whole) // 2]].split("-")[0]
    near = [i for i in whole if ids[i].startswith(town)]
    apart = [whole[k * (len(whole) - 1) // 9] for k in range(9) if whole[k * (len(whole) - 1) // 9] not in near]
    part = [i for i, name in enumerate(programme) if name == "part-night"]
    found, sensor, other = [], iter(near), iter(apart)
    for kind in KINDS:
        found.append((next(sensor) if kind == "sensor" else next(other), kind))
    return found + [(part[(k + 1) * len(part) // 3], kind) for k, kind in enumerate(NIGHT_OFF)] + [(next(sensor), "a few nights")]


def rows(answers) -> list[dict]:
    """The log: a row an on and the off after it, and rows that cannot be used."""
    settings, _, keyings = right_settings(answers)
    rng = np.random.default_rng(SEED)
    cloud = np.where(rng.random((2, 366)) < 0.5, rng.uniform(0.2, 1.2, (2, 366)), 0.0)
    ids, made = answers.sites["site_id"].astype(str).tolist(), []
    for site, kind in watched(answers):
        right = keyed_of(settings[site], keyings[site], answers.altitude_deg)
        legal = offsets(str(answers.sites["legal_zone"].iloc[site]), YEAR)
        if kind in ("sensor", "scatter"):
            on, off = _by_the_sky(answers, site, cloud, rng) if kind == "sensor" else _at(right, legal, "right", rng.uniform(-15, 15, (2, 365)))
        else:
            on, off = _at(right, legal, kind, np.zeros((2, 365)))
        nights = range(FIRST_NIGHT, FIRST_NIGHT + (5 if kind == "a few nights" else NIGHTS))
        part_night = str(answers.sites["programme"].iloc[site]) == "part-night"
        for night in nights:
            pairs = [(on[night], off[night])]
            if part_night:
                pairs = _part_night(on[night], off[night], night, legal, kind)
            for begin, end in pairs:
                cells = [_text(one + rng.normal(0, NOISE_MIN), legal) if rng.random() > MISSING else "" for one in (begin, end)]
                if any(cells):
                    made.append({"site_id": ids[site], "switched_on": cells[0], "switched_off": cells[1]})
    return [*made[:40], {**made[3], "site_id": "ZZ-001"}, {**made[10], "switched_off": "2027-03-17 25:71"}, {**made[20], "switched_on": "2026-03-27 19:41"}, *made[40:]]


def _at(right, legal, kind: str, scatter) -> tuple[np.ndarray, np.ndarray]:
    """When a switch acts [UTC minute]: its display's times, when its own clock shows them."""
    keyed, fast = right, np.zeros(365)
    if kind == "rule off, put right by hand":
        # Put right eight days after summer time has ended; until then an hour behind what it was set to.
        keyed = right.changed(clock=SwitchClock(right.clock.standard_min))
        fast = np.where(np.arange(365) < 93 + 8, 60.0, 0.0)
    elif kind == "rule off, clock on standard time":
        keyed = right.changed(clock=SwitchClock(right.clock.standard_min))
    elif kind == "longitude digit":
        keyed = right.changed(lon_deg=right.lon_deg - 10.0)
    elif kind == "latitude digit":
        keyed = right.changed(lat_deg=right.lat_deg + 10.0)
    elif kind == "offsets missing":
        keyed = right.changed(dusk_offset_min=0, dawn_offset_min=0)
    elif kind == "clock fast":
        fast = np.full(365, 17.0)
    shown, own = readings([keyed], YEAR), keyed.clock.sequence(YEAR)
    day = np.arange(365)
    found = []
    for minute, on in ((shown.dusk_min[0], day), (shown.coming_dawn_min[0], day + 1)):
        wall = on * 1440.0 + minute
        found.append(wall - offset_min_at(own, wall - keyed.clock.standard_min) - fast)
    return found[0] + scatter[0], found[1] + scatter[1]


def _by_the_sky(answers, site: int, cloud, rng) -> tuple[np.ndarray, np.ndarray]:
    """On as it gets dark and off as it gets light, under cloud as if the sun stood lower; a third of the cloud is the lamp's own."""
    lat, lon = float(answers.sites["lat_deg"].iloc[site]), float(answers.sites["lon_deg"].iloc[site])
    low, high = (switch_times(lat_deg=[lat], lon_deg=[lon], year=YEAR, altitude_deg=answers.altitude_deg + up) for up in (0.0, 1.0))
    decades = cloud[:, :365] * np.clip(1 + 0.3 * rng.normal(size=(2, 365)), 0, None)
    return tuple(getattr(low, name)[0] + decades[k] / 0.4 * (getattr(high, name)[0] - getattr(low, name)[0])
                 for k, name in enumerate(("dusk_utc_min", "dawn_utc_min")))


def _part_night(dusk: float, dawn: float, night: int, legal, kind: str) -> list[tuple[float, float]]:
    """The night's two parts: off at 23:30 and on at 05:15, at 01:00 only on Fridays and Saturdays."""
    late = (night + 4) % 7 in (4, 5)  # 1 January 2027 was a Friday
    clocks = []
    for wall in ((night + 1) * 1440.0 + 60.0 if late else night * 1440.0 + 1410.0, (night + 1) * 1440.0 + 315.0):
        utc = wall - 570.0
        # A clock on standard time is an hour behind in summer, so it acts an hour late.
        clocks.append(utc if kind != "right" else utc - (offset_min_at(legal, utc) - 570.0))
    return [(dusk, clocks[0])] + ([] if late else [(clocks[1], dawn)])


def _text(utc: float, legal) -> str:
    wall = utc + float(offset_min_at(legal, utc))
    return str(np.datetime64(f"{YEAR}-01-01T00:00") + np.timedelta64(int(np.floor(wall)), "m")).replace("T", " ")


if __name__ == "__main__":
    target = Path(sys.argv[1]) if len(sys.argv) > 1 else HERE / "border" / "switched.csv"
    with open(target, "w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, HEADINGS, lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows(demo_answers()))
