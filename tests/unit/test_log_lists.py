"""Logs as lists: every form, rows that cannot be used, times in UTC, and what the command writes; joined with readings of the display."""

import csv
import datetime
import json

import geopandas
import numpy as np
import pandas as pd
import pytest

from geozone.errors import InputError
from geozone.jobs.auditplan import audit
from geozone.jobs.job import Job
from geozone.jobs.logged import logged_at
from geozone.places.loglists import read_log
from geozone.places.logtimes import read_times
from geozone.screens.console import audit_report
from geozone.trade.keypad import Keypad
from geozone.trade.readings import Keyed, readings
from geozone.trade.slips import slips_of
from geozone.trade.switchclock import SAVING_RULES, SwitchClock

YEAR = 2027
NAMES = ["mill", "weir", "school", "depot", "quay"]
ZONE = "Australia/Adelaide"
RIGHT = Keyed(-34.5, 139.5, SwitchClock(570, SAVING_RULES["southern australia"]), -4.0)


def write(path, text):
    path.write_text(text, encoding="utf-8")
    return path


def test_both_forms_say_the_same(tmp_path):
    pairs = read_log(write(tmp_path / "a.csv", "Cabinet No;switched on;switched off\nmill;9.3.2027 19:50;10.3.2027 06:49\n"
                                              "weir;09.03.2027 19:51;06:50\nweir;;2027-03-11 06:51\n"))
    single = read_log(write(tmp_path / "b.csv", "cabinet no,time,state\nmill,2027-03-09 19:50,on\nmill,2027-03-10T06:49:00,OFF\nweir,2027-03-09 7:51 pm,1\n"
                                               "weir,2027-03-10 06:50,0\nweir,2027-03-11 06:51,aus\n"))
    frame = pd.DataFrame({"site_id": ["mill", "weir"], "switched_on": [datetime.datetime(2027, 3, 9, 19, 50), datetime.datetime(2027, 3, 9, 19, 51)]})
    frame.to_excel(tmp_path / "c.xlsx", index=False)
    found = [sorted((log.ids[i], t, w) for i, t, w in zip(log.site.tolist(), log.turn.tolist(), log.wall_min.tolist(), strict=True)) for log in (pairs, single)]
    assert found[0] == found[1] and len(found[0]) == 5 and not pairs.faults and not single.faults
    sheet = read_log(tmp_path / "c.xlsx")
    assert sorted(sheet.wall_min.tolist()) == sorted(w for _, t, w in found[0] if t == 1)


def test_legal_time_utc_and_stated_offsets_are_one_instant(tmp_path):
    """19:50 in Adelaide's summer is 09:20 UTC; hand-worked. On 3 October 02:00 to 03:00 does not exist there."""
    for heads, cell in (("switched_on", "2027-03-09 19:50"), ("switched_on", "2027-03-09 09:20Z"), ("switched_on", "2027-03-09T19:50:00+10:30"),
                        ("switched on UTC", "2027-03-09 09:20")):
        log = logged_at(read_log(write(tmp_path / "log.csv", f"site_id,{heads}\nmill,{cell}\n")), NAMES, [ZONE] * 5, YEAR)
        assert log.utc_min.tolist() == [67 * 1440 + 560.0], cell
    path = write(tmp_path / "log.csv", "site_id,switched_off\nmill,2027-10-03 02:30\nmill,2028-01-01 05:50\nmill,2028-01-02 05:50\nghost,2027-03-01 06:00\n")
    log = logged_at(read_log(path), NAMES, [ZONE] * 5, YEAR)
    assert log.utc_min.size == 1 and len(log.rejects) == 3
    assert {row for _, row, _, _ in log.rejects} == {2, 4, 5} and all("Rule: " in why and "Next: " in why for *_, why in log.rejects)


def test_no_row_is_lost(tmp_path):
    log = read_log(write(tmp_path / "log.csv", "site_id,switched_on,switched_off\nmill,2027-03-09 25:50,2027-03-10 06:49\nmill,,\n,2027-03-09 19:50,\nmill,19:50,\n"
                                              "weir,2027-02-29 19:00,\nweir,2027-03-09 19:50,yesterday\n,,\n"))
    assert log.rows == 6 and sorted({row for row, _, _ in log.faults}) == [2, 3, 4, 5, 6, 7]
    assert sorted(log.row.tolist()) == [2, 7] and all("Rule: " in why and "Next: " in why for _, _, why in log.faults)
    states = read_log(write(tmp_path / "log.csv", "site_id,time,state\nmill,2027-03-09 19:50,perhaps\nmill,2027-03-09 19:50,on\n"))
    assert [row for row, _, _ in states.faults] == [2] and states.row.tolist() == [3]


@pytest.mark.parametrize(("heads", "why"), [("site_id,remark", "no on and off times"), ("switched_on,switched_off", "ids cannot be told"),
                                            ("site_id,switched_on,time,state", "both pairs"), ("site_id,switched_on,on", "two columns may hold switched_on")])
def test_what_is_no_log_is_refused(tmp_path, heads, why):
    with pytest.raises(InputError, match=why):
        read_log(write(tmp_path / "log.csv", heads + "\n" + ",".join("1" for _ in heads.split(",")) + "\n"))


def test_times_of_every_form():
    texts = ["2027-03-09 19:50", "2027-03-09 19:50:30", "2027-03-09T09:20Z", "2027-03-09 19:50-03:30", "9/3/2027 19:50", "14/3/2027 7:50 p.m.", "2027-13-09 19:50",
             "2027-03-09 24:00", "2027-03-09", "", "2027-03-09 19:50+0930"]
    read = read_times(np.array(texts, dtype=object))
    day = (datetime.date(2027, 3, 9) - datetime.date(1970, 1, 1)).days * 1440.0
    assert (read.wall_min[:5] - day).tolist() == [1190.0, 1190.5, 560.0, 1190.0, 1190.0] and read.wall_min[5] - day == 5 * 1440 + 1190
    assert read.ahead_min[2:4].tolist() == [0.0, -210.0] and read.ahead_min[10] == 570.0 and sorted(read.faults) == [6, 7, 8]


@pytest.fixture(scope="module")
def job():
    sites = geopandas.GeoDataFrame({"site_id": NAMES, "load_w": [500.0] * 5}, geometry=geopandas.points_from_xy([139.4, 139.5, 139.6, 139.45, 139.55], [-34.5] * 5),
                                   crs=4326)
    return Job.of(sites, title="Five sites", year=YEAR, dark={"altitude_deg": -4.0}, shared={"lat_deg": -34.5, "lon_deg": 139.5, "legal_zone": ZONE})


def log_of(keyed: dict, shift_min=0.0):
    """Rows of a log through 40 nights of winter, when legal time is UTC+9:30, by what displays show."""
    rng, rows = np.random.default_rng(1), ["site_id,switched_on,switched_off"]
    for name, one in keyed.items():
        shown = readings([one], YEAR)
        for night in range(150, 190):
            on, off = (np.datetime64(f"{YEAR}-01-01T00:00") + np.timedelta64(int((night + later) * 1440 + times[0, night] + rng.normal(0, 1.5) + shift_min), "m")
                       for later, times in ((0, shown.dusk_min), (1, shown.coming_dawn_min)))
            rows.append(f"{name},{on},{off}".replace("T", " "))
    return "\n".join(rows) + "\n"


def test_the_command_joins_log_and_readings_and_says_what_both_leave(job, tmp_path, geozone):
    """A clock an hour off, a zone and a longitude are one to a log. A clock that is off shows on no display of dusk and dawn: one that reads right leaves the clock."""
    south = next(one.keyed for one in slips_of(RIGHT, Keypad(), datetime.date(YEAR, 6, 1)) if one.key == "latitude_digit" and one.keyed.lat_deg == -44.5)
    log = log_of({"mill": RIGHT, "weir": RIGHT, "school": south})
    early = log_of({"depot": RIGHT, "quay": RIGHT}, shift_min=-60).split("\n", 1)[1]
    dusk, dawn = (f"{int(one[0, 170]) // 60:02d}:{int(one[0, 170]) % 60:02d}" for one in (readings([RIGHT], YEAR).dusk_min, readings([RIGHT], YEAR).dawn_min))
    read = write(tmp_path / "found.csv", f"site_id,read_on,dusk_shown,dawn_shown,keyed_zone\ndepot,2027-06-20,{dusk},{dawn},\nmill,2027-06-20,{dusk},{dawn},\n")
    done = audit(job, read, tmp_path / "audit", log=write(tmp_path / "log.csv", log + early + "ghost,2027-06-01 17:00,\n"))
    rows = {row["site_id"]: row for row in csv.DictReader((tmp_path / "audit" / "audit.csv").read_text(encoding="utf-8-sig").splitlines())}
    logs = {row["site_id"]: row for row in csv.DictReader((tmp_path / "audit" / "logs.csv").read_text(encoding="utf-8-sig").splitlines())}
    assert [rows[name]["log"] for name in NAMES] == ["agrees", "agrees", "differs", "differs", "differs"] and list(logs) == NAMES
    assert rows["weir"]["reading"] == "agrees" and rows["weir"]["diagnosis"] == "switches as the right setting does" and rows["weir"]["found_row"] == ""
    assert "latitude 44.5 for 34.5" in rows["school"]["diagnosis"] and "44" in logs["school"]["lat_ranges"] and rows["school"]["result"] == "beyond"
    # The display read right, so what is an hour off is the clock alone; with no reading it may be the zone or the longitude.
    assert "clock" in rows["depot"]["diagnosis"] and not {"zone", "longitude"} & set(rows["depot"]["diagnosis"].split()) and rows["depot"]["reading"] == "differs"
    assert "zone" in rows["quay"]["diagnosis"] and int(logs["quay"]["possibilities"]) > 2 and rows["quay"]["next_reading"]
    assert logs["quay"]["pattern"] == "the same way all through: clock, zone, longitude or equal offsets" and abs(float(logs["quay"]["sum_min"]) + 60) < 1.5
    assert done.rejects["value"].tolist() == ["ghost"] and "Log         5 sites" in audit_report(done, tmp_path / "audit")
    figures = json.loads((tmp_path / "audit" / "summary.json").read_text(encoding="utf-8"))["audit"]["log"]
    assert figures["states"]["agrees"] == 2 and figures["states"]["differs"] == 3 and figures["switchings"] == 400
    assert {row["site_id"] for row in csv.DictReader((tmp_path / "audit" / "work.csv").read_text(encoding="utf-8-sig").splitlines())} == {"school", "depot", "quay"}
    # In the place of the as-found list it is taken for what it is; and a whole log in UTC is noticed, and nothing concluded or shifted.
    utc = audit(job, write(tmp_path / "utc.csv", log_of({name: RIGHT for name in NAMES[:4]}, shift_min=-570)), tmp_path / "utc")
    assert set(utc.audit["log"]) == {"not used", ""} and set(utc.audit["reading"]) == {"not read"} and any("look like UTC" in note for note in utc.notes)
    assert len(utc.rejects) == 4 and utc.rejects["value"].str.contains("80 switchings").all() and utc.rejects["reason"].str.contains("Rule: ").all()
    code, _, err = geozone("audit", tmp_path / "none.toml")
    assert code == 2 and "none.toml" in err
    with pytest.raises(InputError, match="nothing to audit"):
        audit(job, None, tmp_path / "none")
