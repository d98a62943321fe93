"""Whole runs against a sampler that shares nothing with geozone: sites.csv and groups.csv as a user gets them.

The sun is Skyfield's with the JPL ephemeris DE421, its altitude followed through the year at every site and keyed
position; clock rules, nights, intervals and drift are written out below from their definitions.

Clock rules, in words: South Australia and Victoria keep daylight-saving time from the first Sunday in October, 02:00
standard time, to the first Sunday in April, 03:00 daylight-saving time (Daylight Saving Act 1971 (SA), Summer Time Act 1972
(Vic): from memory). The European Union from the last Sunday in March to the last Sunday in October, both 01:00 UTC
(Directive 2000/84/EC: from memory). Positions are invented.
"""

import calendar
import datetime as dt
from functools import lru_cache
from importlib.resources import files

import numpy as np
import pandas as pd
import pytest
from scipy.interpolate import CubicSpline
from skyfield.api import load, load_file

from geozone.jobs.job import read_job
from geozone.jobs.plan import run

YEAR = 2027
DAY = 1440.0
STEP_MIN = 10.0
# Mean equatorial horizontal parallax of the sun at 1 au: 8.794148 arcsec (IAU 1976).
PARALLAX_RAD = np.radians(8.794148 / 3600.0)


class Sun:
    """The sun over the year as smooth curves of minutes since 1 January 00:00 (UT1, which geozone takes UTC to be)."""

    def __init__(self):
        ephemeris = load_file(str(files("skyfield_data") / "data" / "de421.bsp"))
        scale = load.timescale(builtin=True)
        node = np.arange(-2 * DAY, 368 * DAY, 180.0)
        time = scale.ut1_jd(dt.date(YEAR, 1, 1).toordinal() + 1721424.5 + node / DAY)
        ra, dec, _ = ephemeris["earth"].at(time).observe(ephemeris["sun"]).apparent().radec("date")
        turned = np.unwrap(time.gast * np.pi / 12.0) - np.unwrap(ra.radians)
        self.hour_angle = CubicSpline(node, turned)  # at Greenwich, growing by a turn a day
        self.declination = CubicSpline(node, dec.radians)
        ephemeris.close()

    def altitude_deg(self, minute, lat_deg, lon_deg):
        """Topocentric altitude of the centre, no refraction."""
        lat, angle, dec = np.radians(lat_deg), self.hour_angle(minute) + np.radians(lon_deg), self.declination(minute)
        high = np.arcsin(np.sin(lat) * np.sin(dec) + np.cos(lat) * np.cos(dec) * np.cos(angle))
        return np.degrees(high - PARALLAX_RAD * np.cos(high))

    def noons(self, lon_deg):
        """(366,) solar noons that bound the 365 nights, the first on 1 January by local mean time."""
        middle = DAY * (np.arange(366) + 0.5) - 4.0 * lon_deg
        for _ in range(4):
            off = (self.hour_angle(middle) + np.radians(lon_deg) + np.pi) % (2 * np.pi) - np.pi
            middle = middle - off * DAY / (2 * np.pi)
        return middle

    def midnights(self, lon_deg):
        noon = self.noons(lon_deg)
        middle = 0.5 * (noon[1:] + noon[:-1])
        for _ in range(4):
            off = (self.hour_angle(middle) + np.radians(lon_deg)) % (2 * np.pi) - np.pi
            middle = middle - off * DAY / (2 * np.pi)
        return middle


@lru_cache(maxsize=1)
def sun():
    return Sun()


@lru_cache(maxsize=64)
def dark(lat_deg, lon_deg, threshold_deg):
    """When each night is dark: (begin, end, noons); begin = end where it never is, noon where it is dark at noon."""
    noon = sun().noons(lon_deg)
    tick = np.arange(noon[0] - 5, noon[-1] + 5 + STEP_MIN, STEP_MIN)
    # The lowest point of each night is put among the ticks, so that the shortest darkness is not stepped over.
    low = sun().midnights(lon_deg)
    tick = np.sort(np.concatenate([tick, low, noon]))
    high = sun().altitude_deg(tick, lat_deg, lon_deg) - threshold_deg
    change = np.flatnonzero((high[1:] < 0) != (high[:-1] < 0))
    left, right, sign = tick[change], tick[change + 1], np.sign(high[change + 1])
    for _ in range(40):
        middle = 0.5 * (left + right)
        after = np.sign(sun().altitude_deg(middle, lat_deg, lon_deg) - threshold_deg) == sign
        left, right = np.where(after, left, middle), np.where(after, middle, right)
    root, down = 0.5 * (left + right), sign < 0
    below = sun().altitude_deg(noon, lat_deg, lon_deg) < threshold_deg
    begin, end = np.zeros(365), np.zeros(365)
    for k in range(365):
        inside = (root > noon[k]) & (root < noon[k + 1])
        downs, ups = root[inside & down], root[inside & ~down]
        if below[k] or downs.size:
            begin[k] = noon[k] if below[k] else downs[0]
            end[k] = noon[k + 1] if below[k + 1] else ups[-1]
    return begin, end, noon, below


def sunday(month, nth):
    """The nth Sunday of a month of the year, -1 the last, as day of the year from 0."""
    days = [day for day in calendar.Calendar().itermonthdates(YEAR, month) if day.month == month and day.weekday() == 6]
    return (days[nth - 1] if nth > 0 else days[-1]).timetuple().tm_yday - 1


def offset_min(zone, utc_min):
    """Legal time minus UTC, by the rules in the head of this file."""
    utc_min = np.asarray(utc_min, float)
    if zone in ("Australia/Adelaide", "Australia/Melbourne"):
        standard = 570 if zone == "Australia/Adelaide" else 600
        end, start = sunday(4, 1) * DAY + 120 - standard, sunday(10, 1) * DAY + 120 - standard
        return standard + 60 * ((utc_min < end) | (utc_min >= start))
    assert zone in ("Europe/Berlin", "Europe/Stockholm", "Europe/Helsinki")
    standard = 120 if zone == "Europe/Helsinki" else 60
    start, end = sunday(3, -1) * DAY + 60, sunday(10, -1) * DAY + 60
    return standard + 60 * ((utc_min >= start) & (utc_min < end))


def same_rule(a, b):
    every = np.arange(0, 365 * DAY, 30.0)
    return bool((offset_min(a, every) == offset_min(b, every)).all())


def judged(lat, lon, threshold_deg, shallow_deg):
    """Nights on which the sun passes the threshold by at least so much, at midnight and at both noons."""
    if not shallow_deg:
        return np.ones(365, bool)
    noon = sun().altitude_deg(sun().noons(lon), lat, lon)
    deep = sun().altitude_deg(sun().midnights(lon), lat, lon) <= threshold_deg - shallow_deg
    return deep & (noon[1:] >= threshold_deg + shallow_deg) & (noon[:-1] >= threshold_deg + shallow_deg)


def drift(site, setting, threshold_deg):
    """Dark and excess minutes at dusk, at dawn and of whole nights: two (3, 365) arrays."""
    a0, a1, noon, _ = dark(site["lat"], site["lon"], threshold_deg)
    b0, b1, _, key_below = dark(setting["lat"], setting["lon"], threshold_deg)
    lit, key_lit = a1 > a0, b1 > b0

    def acts(minute, offset):
        """The switch acts when its own clock shows what the keyed zone's clock shows at the computed time."""
        minute = minute + offset
        return minute + offset_min(setting["zone"], minute) - offset_min(site["zone"], minute)

    b0 = np.where(key_below[:-1], noon[:-1], acts(b0, setting["dusk"]))
    b1 = np.where(key_below[1:], noon[1:], acts(b1, setting["dawn"]))
    given, wanted = np.where(key_lit, np.maximum(b1 - b0, 0), 0), a1 - a0
    both, nothing = lit & key_lit, np.zeros(365)
    dark_min = np.stack([np.where(both, np.clip(b0 - a0, 0, wanted), nothing), np.where(both, np.clip(a1 - b1, 0, wanted), nothing),
                         np.where(lit & ~key_lit, wanted, nothing)])
    excess_min = np.stack([np.where(both, np.clip(a0 - b0, 0, given), nothing), np.where(both, np.clip(b1 - a1, 0, given), nothing),
                           np.where(key_lit & ~lit, given, nothing)])
    return dark_min, excess_min


JOBS = {
    "35 south": dict(
        threshold=-4.0, tolerance=(3, 6), shallow=0.0, setting=dict(lat=-35.1, lon=140.2, zone="Australia/Adelaide", dusk=1, dawn=-2),
        sites=[("S1", -35.12, 139.31, "Australia/Adelaide"), ("S2", -34.60, 140.70, "Australia/Adelaide"),
               ("S3", -35.05, 140.15, "Australia/Adelaide"), ("S4", -35.40, 141.60, "Australia/Melbourne"),
               ("S5", -36.20, 142.40, "Australia/Melbourne")], margin_min=0.02),
    "52 north": dict(
        threshold=-6.0, tolerance=(5, 10), shallow=0.0, setting=dict(lat=52.4, lon=9.7, zone="Europe/Berlin", dusk=0, dawn=0),
        sites=[("M1", 52.37, 9.73, "Europe/Berlin"), ("M2", 51.60, 10.10, "Europe/Berlin"), ("M3", 53.50, 8.60, "Europe/Berlin")],
        margin_min=0.03, programme=True),
    "63 to 69 north": dict(
        threshold=-0.8333, tolerance=(8, 12), shallow=0.0, setting=dict(lat=65.6, lon=22.1, zone="Europe/Stockholm", dusk=0, dawn=5),
        sites=[("N1", 63.83, 20.26, "Europe/Stockholm"), ("N2", 65.58, 22.15, "Europe/Stockholm"),
               ("N3", 67.85, 20.22, "Europe/Stockholm"), ("N4", 68.60, 21.10, "Europe/Stockholm"), ("N5", 65.85, 24.15, "Europe/Helsinki")],
        margin_min=1.0),
    "63 to 69 north, shallow nights left out": dict(
        threshold=-0.8333, tolerance=(20, 30), shallow=1.0, setting=dict(lat=65.6, lon=22.1, zone="Europe/Stockholm", dusk=0, dawn=5),
        sites=[("N1", 63.83, 20.26, "Europe/Stockholm"), ("N2", 65.58, 22.15, "Europe/Stockholm"),
               ("N3", 67.85, 20.22, "Europe/Stockholm"), ("N4", 68.60, 21.10, "Europe/Stockholm")], margin_min=0.1),
}
PROGRAMME = """
[[programme]]
name = "part-night"
[[programme.event]]
turn = "on"
at = "dusk"
[[programme.event]]
turn = "off"
at = "23:30"
[[programme.event]]
turn = "on"
at = "03:30"
[[programme.event]]
turn = "off"
at = "dawn"
"""


@pytest.fixture(scope="module", params=list(JOBS))
def finished(request, tmp_path_factory):
    """A job with its run's tables."""
    job, folder = JOBS[request.param], tmp_path_factory.mktemp("run")
    pd.DataFrame(job["sites"], columns=["site_id", "lat", "lon", "legal_zone"]).to_csv(folder / "sites.csv", index=False)
    setting = job["setting"]
    (folder / "job.toml").write_text(f"""
[job]
title = "sampled"
year = {YEAR}
sites = "sites.csv"
[dark]
altitude_deg = {job["threshold"]}
[tolerance]
dark_min = {job["tolerance"][0]}
excess_min = {job["tolerance"][1]}
shallow_deg = {job["shallow"]}
[shared]
lat_deg = {setting["lat"]}
lon_deg = {setting["lon"]}
legal_zone = "{setting["zone"]}"
dusk_offset_min = {setting["dusk"]}
dawn_offset_min = {setting["dawn"]}
[groups]
curve_to = 0
time_limit_s = 5
""" + (PROGRAMME if job.get("programme") else ""), encoding="utf-8")
    run(read_job(folder / "job.toml"), folder / "out")
    tables = {name: pd.read_csv(folder / "out" / f"{name}.csv", keep_default_na=False) for name in ("sites", "groups")}
    return job, tables


def rows(job, tables):
    by_id = tables["sites"].set_index("site_id")
    return [(dict(lat=lat, lon=lon, zone=zone), by_id.loc[name]) for name, lat, lon, zone in job["sites"]]


@pytest.mark.parametrize("finished", [name for name in JOBS if not JOBS[name].get("programme")], indirect=True)
def test_worst_minutes_nights_edges_verdicts_and_counts(finished):
    job, tables = finished
    for site, row in rows(job, tables):
        dark_min, excess_min = drift(site, job["setting"], job["threshold"])
        counts = judged(site["lat"], site["lon"], job["threshold"], job["shallow"])
        beyond = np.zeros(365, bool)
        for kind, minutes, limit in (("dark", dark_min, job["tolerance"][0]), ("excess", excess_min, job["tolerance"][1])):
            of_judged = np.where(counts, minutes, 0.0)
            assert float(row[f"worst_{kind}_min"]) == pytest.approx(of_judged.max(), abs=job["margin_min"]), (row.name, kind)
            if of_judged.max() > job["margin_min"]:
                night = dt.date.fromisoformat(row[f"worst_{kind}_night"]).timetuple().tm_yday - 1
                edge = ("dusk", "dawn", "night").index(row[f"worst_{kind}_edge"])
                assert of_judged[edge, night] >= of_judged.max() - 2 * job["margin_min"], (row.name, kind, night, edge)
            beyond |= of_judged.max(axis=0) > limit
            close = np.abs(of_judged.max(axis=0) - limit) < job["margin_min"]
            assert float(row[f"{kind}_year_min"]) == pytest.approx(minutes.sum(), abs=job["margin_min"] * 40), (row.name, kind)
        assert abs(int(row["nights_beyond"]) - beyond.sum()) <= 2 + close.sum()
        if job["shallow"]:
            assert abs(int(row["nights_not_judged"]) - (~counts).sum()) <= 1
        expected = "beyond" if beyond.any() else "within"
        assert row["result"] == (expected if same_rule(site["zone"], job["setting"]["zone"]) else "other clock")


def test_the_runs_hold_what_they_are_for(finished):
    job, tables = finished
    below = [dark(lat, lon, job["threshold"]) for _, lat, lon, _ in job["sites"]]
    white = sum(int((begin == end).sum()) for begin, end, _, _ in below)
    polar = sum(int(at_noon.sum()) for _, _, _, at_noon in below)
    assert (white > 20 and polar > 20) if "N1" in [site[0] for site in job["sites"]] else white == polar == 0
    if not job.get("programme"):
        assert len(set(tables["sites"]["result"])) >= 2 or job["shallow"]


def test_a_groups_setting_does_at_its_sites_what_the_tables_say(finished):
    job, tables = finished
    groups = tables["groups"].set_index("group")
    served = 0
    for site, row in rows(job, tables):
        if row["group"] == "":
            continue
        served += 1
        group = groups.loc[row["group"]]
        setting = dict(lat=float(group["lat_deg"]), lon=float(group["lon_deg"]), zone=group["legal_zone"],
                       dusk=int(group["dusk_offset_min"]), dawn=int(group["dawn_offset_min"]))
        assert same_rule(site["zone"], setting["zone"])
        dark_min, excess_min = drift(site, setting, job["threshold"])
        counts = judged(site["lat"], site["lon"], job["threshold"], job["shallow"])
        for kind, minutes, limit in (("dark", dark_min, job["tolerance"][0]), ("excess", excess_min, job["tolerance"][1])):
            worst = np.where(counts, minutes, 0.0).max()
            assert float(row[f"group_{kind}_min"]) == pytest.approx(worst, abs=job["margin_min"])
            assert worst <= limit + job["margin_min"]
    assert served >= 2


@pytest.mark.parametrize("finished", [name for name in JOBS if JOBS[name].get("programme")], indirect=True)
def test_burning_hours(finished):
    job, tables = finished
    groups = tables["groups"].set_index("group")
    for site, row in rows(job, tables):
        # What a switch burns that is keyed with its group's setting and obeys each event as it comes.
        group = groups.loc[row["group"]]
        begin, end, _, _ = dark(float(group["lat_deg"]), float(group["lon_deg"]), job["threshold"])
        begin, end = begin + int(group["dusk_offset_min"]), end + int(group["dawn_offset_min"])
        # Off at 23:30 before and on at 03:30 after the midnight that ends the civil day of the night's noon.
        midnight = DAY * np.arange(1, 366)
        off = midnight - 30 - offset_min(site["zone"], midnight - 90)
        on = midnight + 210 - offset_min(site["zone"], midnight + 150)
        minutes = np.maximum(np.minimum(end, off) - begin, 0) + np.maximum(end - np.maximum(on, begin), 0)
        assert float(row["lit_h"]) == pytest.approx(minutes.sum() / 60.0, abs=0.1), row.name
