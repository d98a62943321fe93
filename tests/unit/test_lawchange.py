"""Changes of law: known ones of three countries by the releases before and after, and what is said of each site. Sources: tests/data/tz/README.md."""

import csv
import datetime
import json
import zoneinfo
from dataclasses import replace
from pathlib import Path

import geopandas
import pytest

import geozone
from geozone.jobs import lawplan
from geozone.jobs.job import Job
from geozone.jobs.lawplan import _other_name, compare_laws, compared
from geozone.jobs.plan import compute
from geozone.numbers import clock
from geozone.places.tzdatabases import TzDatabase, open_database
from geozone.screens.lawreport import law_report
from geozone.trade.lawchange import law_change
from geozone.trade.switchclock import SAVING_RULES, ClockKeypad, SwitchClock

TZ = Path(__file__).parents[1] / "data" / "tz"
US, NONE = SAVING_RULES["united states"], SAVING_RULES["none"]


def change(old, new, zone, year, keypad=ClockKeypad()):
    before, after = open_database(TZ / old), open_database(TZ / new)
    return law_change(lambda y: before.offsets(zone, y), lambda y: after.offsets(zone, y), year, keypad)


def zone_of(release, name):
    with open(TZ / release / name, "rb") as file:
        return zoneinfo.ZoneInfo.from_file(file)


def hours_off(release, name, minutes, first, last):
    """Hours of a span on which the standard library's own reading of a zone is not so many minutes from UTC."""
    zone, at = zone_of(release, name), datetime.datetime.fromisoformat(f"{first}T00:30+00:00")
    end, off = datetime.datetime.fromisoformat(f"{last}T00:30+00:00"), 0
    while at < end:
        off += at.astimezone(zone).utcoffset() != datetime.timedelta(minutes=minutes)
        at += datetime.timedelta(hours=6)
    return off * 6


@pytest.mark.parametrize("year", [2026, 2027])
def test_british_columbia_keeps_its_summer_time(year):
    """Clocks are not put back on 1 November 2026: a keyed rule of the United States puts the switch's back, so it is an hour behind."""
    found = change("2025b", "2026f", "America/Vancouver", year)
    assert (found.state, found.from_date, found.fast_min, found.since_before) == ("visit", "2026-11-01", -60.0, False)
    assert (found.before, found.after) == (SwitchClock(-480, US), SwitchClock(-420, NONE))
    # From 8 March 2026, when clocks were put forward for the last time, either clock is right.
    assert found.right_from == "2026-03-08" and found.after_wrong_weeks == 0.0
    # 1 November to 14 March 2027, by the rule of the United States (15 USC 260a): 133 days.
    assert found.wrong_weeks == pytest.approx(133 / 7, abs=0.01)
    assert hours_off("2026f", "America/Vancouver", -420, "2026-03-09", "2028-01-01") == 0 < hours_off("2026f", "America/Vancouver", -420, "2026-03-01", "2026-03-08")


def test_a_change_before_the_years_that_are_compared_is_still_a_visit():
    found = change("2025b", "2026f", "America/Vancouver", 2029)
    assert (found.state, found.from_date, found.right_from, found.since_before) == ("visit", "2028-01-01", "2028-01-01", True)


def test_mexico_without_summer_time():
    """The keypad's rules have none that is Mexico's; the European is nearest, and puts clocks forward on 26 March 2023 by UTC, the 25th there."""
    found = change("2022e", "2022f", "America/Mexico_City", 2023)
    assert (found.state, found.from_date, found.right_from, found.fast_min) == ("visit", "2023-03-25", "2022-10-30", 60.0)
    assert found.after == SwitchClock(-360, NONE) and found.after_wrong_weeks == 0.0
    assert hours_off("2022f", "America/Mexico_City", -360, "2022-10-31", "2025-01-01") == 0


def test_kazakhstan_moves_its_standard_time():
    """No date on which both clocks are right: the visit is due on the day."""
    found = change("2023d", "2024a", "Asia/Almaty", 2024)
    assert (found.state, found.from_date, found.right_from, found.fast_min) == ("visit", "2024-03-01", "2024-03-01", 60.0)
    assert (found.before, found.after) == (SwitchClock(360, NONE), SwitchClock(300, NONE)) and found.wrong_weeks == pytest.approx(365 / 7)


def test_a_law_for_some_days_keys_nothing():
    """Invented: one year's summer time begins four days later; nothing on the keypad does better than the rule that is keyed."""
    rule = SwitchClock(60, SAVING_RULES["european union"])

    def late(year):
        told = rule.sequence(year)
        return clock.OffsetSequence(told.start_utc_min + [0, 4 * 1440 if year == 2027 else 0, 0], told.offset_min)

    found = law_change(rule.sequence, late, 2027)
    assert (found.state, found.from_date, found.fast_min, found.after) == ("stays", "2027-03-28", 60.0, rule)
    assert found.wrong_weeks == pytest.approx(4 / 7)
    # A keypad with one clock only: whatever the law, that one stays.
    assert change("2023d", "2024a", "Asia/Almaty", 2024, ClockKeypad((360,), (NONE,))).state == "stays"
    assert change("2025b", "2026f", "America/Los_Angeles", 2027).state == "same"


def test_every_site_is_told_what_to_key(tmp_path, monkeypatch):
    held = []
    monkeypatch.setattr(lawplan, "compute", lambda *given: held.append(compute(*given)) or held[0])
    places = {"quay": (49.3, -123.1), "lake": (49.9, -119.5), "sound": (47.6, -122.3), "plain": (49.7, -112.8)}
    at = geopandas.points_from_xy([lon for _, lon in places.values()], [lat for lat, _ in places.values()])
    sites = geopandas.GeoDataFrame({"site_id": list(places)}, geometry=at, crs=4326)
    job = Job.of(sites, title="Coast", year=2027, dark={"altitude_deg": -0.8333}, shared={"lat_deg": 49.0, "lon_deg": -122.0, "legal_zone": "America/Vancouver"})
    done = compare_laws(job, TZ / "2025b", TZ / "2026f", tmp_path / "rules")
    rows = {row["site_id"]: row for row in csv.DictReader((tmp_path / "rules" / "rules.csv").read_text(encoding="utf-8-sig").splitlines())}
    assert [rows[name]["change"] for name in places] == ["visit", "visit", "same", "not known"]
    assert rows["quay"]["key_clock"] == "UTC-07:00, no summer time" and rows["quay"]["from_date"] == "2026-11-01" and float(rows["quay"]["clock_off_min"]) == -60
    assert sorted(rows[name]["stop"] for name in ("quay", "lake")) == ["1", "2"] and rows["sound"]["work_day"] == rows["sound"]["from_date"] == ""
    # Nothing is known of a zone that neither database has; nothing is claimed either.
    assert rows["plain"]["key_clock"] == rows["plain"]["clock_before"] == "" and any("America/Edmonton" in note for note in done.notes)
    figures = json.loads((tmp_path / "rules" / "summary.json").read_text(encoding="utf-8"))["rules"]
    assert figures["changes"] == {"visit": 2, "stays": 0, "same": 1, "not known": 1} and figures["from"]["version"] == "2025b"
    said = law_report(done, Path("rules"))
    assert "Compared    2025b (2025b) with 2026f (2026f), the years 2026 to 2028" in said and "Visit       2 sites on 1 day, the first by 2026-11-01" in said
    assert "key UTC-07:00, no summer time; it shows legal time from 2026-03-08 already" in said and "qualified people" in said and "nobody sets the clock" in said
    # One master switch is one visit, and its own zone's law counts at every site.
    one = replace(held[0], basis=replace(job.basis, switch_clock="master"))
    master = compared(one, open_database(TZ / "2025b"), open_database(TZ / "2026f"))
    assert set(master.rules["change"]) == {"visit"} and master.rules["work_day"].isna().all() and master.summary["rules"]["visits"]["days"] == 0
    assert "Visit       the one switch that commands 4 sites by 2026-11-01" in law_report(master, Path("rules"))
    with pytest.raises(geozone.InputError, match="are the same"):
        compare_laws(job, "installed", "installed", tmp_path / "rules")
    areas = geopandas.GeoDataFrame({"area": ["x"]}, geometry=[at[0].buffer(0.1)], crs=4326)
    with pytest.raises(geozone.InputError, match="for the sites of a list"):
        compare_laws(Job.of(None, areas, year=2027, dark={"altitude_deg": -0.8333}), "a", "b", tmp_path / "rules")
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "summary.json").write_text(json.dumps({"made_by": "geozone", "files": ["summary.json"], "job": {}}))
    with pytest.raises(geozone.OutputError, match="another result"):
        compare_laws(job, TZ / "2025b", TZ / "2026f", tmp_path / "out")


def test_a_zone_with_a_new_name_is_known_by_its_old_one():
    """As Europe/Kiev became Europe/Kyiv: the later release keeps the old name for the same zone."""
    coast, south = ((TZ / "2025b" / "America" / name).read_bytes() for name in ("Vancouver", "Los_Angeles"))
    new = TzDatabase("new", "", {"A/New": coast, "A/Old": coast, "A/South": south})
    assert _other_name("A/New", TzDatabase("old", "", {"A/Old": coast}), new, range(2026, 2028)) == "A/Old"
    # Two names for it that were two laws then: which of them is meant is not known.
    almaty = (TZ / "2023d" / "Asia" / "Almaty").read_bytes()
    both = TzDatabase("new", "", {"A/New": coast, "A/Old": coast, "A/Older": coast})
    assert _other_name("A/New", TzDatabase("old", "", {"A/Old": coast, "A/Older": almaty}), both, range(2026, 2028)) == ""
