"""The command `audit`: rows of an as-found list, what is written, and what cannot be used; light against the run's own minutes off."""

import csv
import datetime
import json
import re
import sqlite3

import geopandas
import numpy as np
import pandas as pd
import pytest

import geozone
from geozone.auditing.candidates import SettingSlips
from geozone.auditing.delivered import Intended
from geozone.auditing.worklist import days_of_work, ranked
from geozone.jobs.asfound import found_at
from geozone.jobs.auditlists import found_list
from geozone.jobs.auditplan import audit
from geozone.jobs.job import Job
from geozone.numbers import clock
from geozone.places.foundcells import (
    CellError,
    calendar_date,
    day_first,
    keyed_degrees,
    saving_name,
    standard_minutes,
    threshold_degrees,
    time_of_day,
)
from geozone.places.foundlists import read_found
from geozone.schema.vocabulary import AUDIT_RESULT
from geozone.screens.console import audit_report
from geozone.sharing.drift import drift_at
from geozone.trade.basis import Basis
from geozone.trade.keypad import Keypad
from geozone.trade.readings import Display, Keyed, readings
from geozone.trade.setting import Setting
from geozone.trade.slips import slips_of
from geozone.trade.switchclock import SAVING_RULES, SwitchClock, best_keying

YEAR, DAY = 2027, 80
ADELAIDE = best_keying(clock.offsets("Australia/Adelaide", YEAR), YEAR).switch_clock
RIGHT = Keyed(-34.5, 139.5, ADELAIDE, -4.0)
DISPLAY = Display(includes_offsets=True, dawn="morning")
NAMES = ["mill", "weir", "school", "depot", "quay"]


@pytest.fixture(scope="module")
def job():
    sites = geopandas.GeoDataFrame({"site_id": NAMES, "load_w": [500.0, 500.0, 500.0, 500.0, 500.0]},
                                   geometry=geopandas.points_from_xy([139.4, 139.5, 139.6, 139.45, 139.55], [-34.5] * 5), crs=4326)
    return Job.of(sites, title="Five sites", year=YEAR, dark={"altitude_deg": -4.0}, shared={"lat_deg": -34.5, "lon_deg": 139.5, "legal_zone": "Australia/Adelaide"})


def shown(keyed: Keyed, day=DAY):
    read = readings([keyed], YEAR)
    return [f"{int(one[0, day]) // 60:02d}:{int(one[0, day]) % 60:02d}" for one in (read.dusk_min, read.dawn_min)]


def slip(key):
    return next(one for one in slips_of(RIGHT, Keypad(), datetime.date(2027, 3, 22)) if one.key == key).keyed


def write(path, rows, heads="site_id,read_on,dusk_shown,dawn_shown,clock_shown,true_time"):
    path.write_text(heads + "\n" + "\n".join(",".join(row) for row in rows) + "\n", encoding="utf-8")
    return path


def test_an_audit_says_where_to_go_first(job, tmp_path):
    """Hand-worked: longitude's sign wrong there is 279 degrees, 18.6 h or 5.4 h off all year; an hour's slip is an hour off for a part of it."""
    listed = write(tmp_path / "found.csv", [
        ["mill", "2027-03-22", *shown(RIGHT), "10:00", "10:00"],
        ["weir", "2027-03-22", *shown(slip("saving_off_by_hand")), "10:05", "10:05"],
        ["school", "2027-03-22", *shown(slip("longitude_sign")), "10:10", "10:11"],
        ["ghost", "2027-03-22", "19:00", "06:00", "", ""],
        ["depot", "2027-03-22", "19:99", "06:00", "", ""],
        ["", "", "", "", "", ""]])
    done = audit(job, listed, tmp_path / "audit")
    rows = {row["site_id"]: row for row in csv.DictReader((tmp_path / "audit" / "audit.csv").read_text(encoding="utf-8-sig").splitlines())}
    assert list(rows) == NAMES
    assert [rows[name]["reading"] for name in NAMES] == ["agrees", "differs", "differs", "not read", "not read"]
    assert rows["school"]["result"] == "beyond" and "east for west" in rows["school"]["diagnosis"]
    assert 5.3 * 350 < float(rows["school"]["dark_h"]) < 5.5 * 366
    # Several explain an hour; the sentence names more than one.
    assert "summer time off" in rows["weir"]["diagnosis"] and "; or " in rows["weir"]["diagnosis"] and rows["weir"]["next_reading"]
    work = list(csv.DictReader((tmp_path / "audit" / "work.csv").read_text(encoding="utf-8-sig").splitlines()))
    assert [row["site_id"] for row in work] == ["school", "weir"] and {row["work_day"] for row in work} == {"1"}
    assert sorted(row["stop"] for row in work) == ["1", "2"] and float(work[0]["waste_kwh"]) == pytest.approx(0.5 * float(work[0]["excess_h"]), abs=0.6)
    watch = list(csv.DictReader((tmp_path / "audit" / "watch.csv").read_text(encoding="utf-8-sig").splitlines()))
    assert watch and {row["site_id"] for row in watch} == {"mill"} and all(row["from_date"] > "2027-03-22" for row in watch)
    rejects = list(csv.DictReader((tmp_path / "audit" / "rejects.csv").read_text(encoding="utf-8-sig").splitlines()))
    assert [(row["row"], row["value"]) for row in rejects] == [("5", "ghost"), ("6", "19:99")]
    assert all("Rule: " in row["reason"] and "Next: " in row["reason"] for row in rejects)
    # The same in the other files: layers with a look, sheets, and cards of just the two sites to visit.
    layers = {name: geopandas.read_file(tmp_path / "audit" / "audit.gpkg", layer=name) for name in ("audit", "work")}
    assert layers["work"]["site_id"].tolist() == ["school", "weir"] and len(layers["audit"]) == 5 and layers["work"].geometry.x.round(6).tolist() == [139.6, 139.5]
    with sqlite3.connect(tmp_path / "audit" / "audit.gpkg") as kept:
        looks = dict(kept.execute("SELECT f_table_name, styleQML FROM layer_styles"))
    assert all(f'value="{code}"' in looks["work"] for code in AUDIT_RESULT.codes)
    shapes = re.findall(r'<Option name="name" type="QString" value="(\w+)"', looks["work"])
    assert len(shapes) == len(set(shapes)) == len(AUDIT_RESULT.codes)
    book = pd.read_excel(tmp_path / "audit" / "audit.xlsx", sheet_name=None, engine="calamine")
    assert list(book) == ["columns", "work", "audit", "watch", "rejects"] and len(book["work"]) == 2
    cards = (tmp_path / "audit" / "cards.html").read_text(encoding="utf-8")
    assert [[site[0] for site in group["sites"]] for group in json.loads(re.search(r'geozone-data">(.*?)</script>', cards)[1])["groups"]] == [["weir", "school"]]
    assert (tmp_path / "audit" / "cards.pdf").read_bytes()[:5] == b"%PDF-" and "isolate and prove dead" in (tmp_path / "audit" / "audit.html").read_text(encoding="utf-8")
    figures = json.loads((tmp_path / "audit" / "summary.json").read_text(encoding="utf-8"))["audit"]
    assert figures["readings"] == {"agrees": 1, "differs": 2, "no known slip": 0, "not read": 2} and figures["rejected_rows"] == 2
    assert done.summary["audit"]["work"]["sites"] == 2
    with pytest.raises(geozone.InputError, match="no as-found list is named"):
        found_list(job)
    assert found_list(Job.of(job.frames["sites"], year=YEAR, dark={"altitude_deg": -4.0}, audit={"found": "round/june.csv"})).parts[-2:] == ("round", "june.csv")
    # Again into the same folder, and not into that of something else.
    audit(job, listed, tmp_path / "audit")
    (tmp_path / "audit" / "notes.txt").write_text("mine")
    with pytest.raises(geozone.OutputError, match="in use"):
        audit(job, listed, tmp_path / "audit")


def test_the_folder_of_a_run_is_not_replaced(job, tmp_path):
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "summary.json").write_text(json.dumps({"made_by": "geozone", "files": ["summary.json"], "job": {}}))
    with pytest.raises(geozone.OutputError, match="another result"):
        audit(job, write(tmp_path / "found.csv", [["mill", "2027-03-22", "19:00", "06:00", "", ""]]), tmp_path / "out")


def test_rows_of_one_day_are_put_together_and_contradictions_are_not_believed(tmp_path):
    heads = "cabinet no;date;dusk;dawn;keyed lat"
    path = tmp_path / "list.csv"
    path.write_text(heads.replace("cabinet no", "site_id") + "\nmill;22.3.2027;19:21;;-34,5\nmill;22.3.2027;;07:02;\nweir;22.3.2027;19:21;;\nweir;22.3.2027;19:20;;\n"
                    "quay;21.3.2027;19:23;;\nquay;22.3.2027;19:21;;\nschool;22.3.2026;19:21;;\n", encoding="utf-8")
    found = found_at(read_found(path), NAMES, [RIGHT] * 5, Keypad(), YEAR)
    assert found.site.tolist() == [0, 4] and found.read.dusk_min.tolist() == [1161.0, 1161.0] and found.read.dawn_min[0] == 422.0
    assert found.read.lat_deg[0] == -34.5 and found.read.day.tolist() == [80, 80]
    assert sorted(found.rejects["row"].tolist()) == [4, 5, 8] and found.rejects["reason"].str.contains("contradict").sum() == 2
    assert any("1 earlier one" in note for note in found.notes)


def test_a_workbook_and_a_table_with_nothing_in_it(tmp_path):
    pd.DataFrame({"site_id": ["mill"], "read_on": [datetime.date(2027, 3, 22)], "dusk_shown": [datetime.time(19, 21)]}).to_excel(tmp_path / "found.xlsx", index=False)
    found = found_at(read_found(tmp_path / "found.xlsx"), NAMES, [RIGHT] * 5, Keypad(), YEAR)
    assert found.read.dusk_min.tolist() == [1161.0] and found.read.day.tolist() == [80]
    for heads, rule in (("site_id,read_on,remark", "nothing that was read"), ("site_id,dusk_shown", "when the switches were read"),
                        ("read_on,dusk_shown", "ids cannot be told"),
                        ("site_id,read_on,dusk,sunset", "two columns may hold dusk_shown")):
        with pytest.raises(geozone.InputError, match=rule):
            read_found(write(tmp_path / "bad.csv", [["1"] * len(heads.split(","))], heads))


@pytest.mark.parametrize(("take", "text"), [
    (time_of_day, "24:00"), (time_of_day, "7.5"), (time_of_day, "13:00 pm"), (calendar_date, "2027-02-30"), (calendar_date, "3/4/2027"), (calendar_date, "spring"),
    (lambda text: keyed_degrees(text, "lat", 0.1), "951"), (lambda text: keyed_degrees(text, "lat", 0.1), "north"), (lambda text: standard_minutes(text, YEAR), "+25"),
    (lambda text: saving_name(text, "none"), "on"), (threshold_degrees, "dusky"), (threshold_degrees, "-95")])
def test_cells_that_are_none_say_rule_and_next_step(take, text):
    with pytest.raises(CellError, match=r"Rule: .+ Next: .+"):
        take(text)


def test_cells_of_every_form():
    assert day_first(["3/4/2027", "14/4/2027"]) is True and day_first(["4/14/2027"]) is False and day_first(["3/4/2027"]) is None
    assert calendar_date("3/4/2027", True) == datetime.date(2027, 4, 3) and calendar_date("3/4/2027", False) == datetime.date(2027, 3, 4)
    assert time_of_day("12:10 am") == 10.0 and time_of_day("19h05") == 1145.0 and time_of_day("19:05:59") == 1145.0
    assert keyed_degrees("03.5", "lat", 0.1) == 3.5 and keyed_degrees("35", "lat", 0.1) == 35.0 and keyed_degrees("1400", "lon", 0.1) == 140.0
    assert threshold_degrees("civil") == -6.0 and threshold_degrees("-4,5") == -4.5 and saving_name("on", "european union") == "european union"


def test_light_is_what_a_run_says_it_is():
    """The same year of light by the run's own kernel, which knows no slips: right settings, also in white nights and polar night."""
    for lat, lon, zone, saving, altitude in ((-34.5, 140.0, "Australia/Adelaide", "southern australia", -4.0), (62.0, 10.0, "Europe/Oslo", "european union", -6.0),
                                             (69.6, 19.0, "Europe/Oslo", "european union", -0.8333)):
        basis = Basis(YEAR, altitude)
        keyed = Keyed(lat, lon, SwitchClock(best_keying(clock.offsets(zone, YEAR), YEAR).switch_clock.standard_min, SAVING_RULES[saving]), altitude, -2, 3)
        on, off = SettingSlips(keyed, Keypad(), DISPLAY, YEAR).acts([keyed])
        mine = Intended([lat + 0.3, lat], [lon, lon + 0.4], basis)
        theirs = drift_at([lat + 0.3, lat], [lon, lon + 0.4], Setting(lat, lon, zone, -2, 3), basis)
        for i in range(2):
            one = mine.held_against(i, on[0], off[0])
            assert np.allclose([one.worst_dark_min, one.worst_excess_min, one.dark_h * 60, one.excess_h * 60],
                               [theirs.worst_dark_min[i], theirs.worst_excess_min[i], theirs.dark_year_min[i], theirs.excess_year_min[i]], atol=1e-6)


def test_light_of_wrong_clocks():
    """Hand-worked: a clock an hour fast turns lamps on and off an hour early: 365 h unlit and 365 h lit too long. Rule off, clock on standard time: right."""
    slips = {one.key: one.keyed for one in slips_of(RIGHT, Keypad(), datetime.date(2027, 3, 22))}
    setting = SettingSlips(RIGHT, Keypad(), DISPLAY, YEAR)
    site = Intended([-34.5], [139.5], Basis(YEAR, -4.0))
    found = {key: site.held_against(0, *(one[0] for one in setting.acts([slips[key]]))) for key in ("clock_hour", "saving_off_on_standard", "clock_half_day")}
    assert found["clock_hour"].dark_h == pytest.approx(365, abs=0.1) and found["clock_hour"].worst_excess_min == pytest.approx(60, abs=0.01)
    assert found["saving_off_on_standard"].dark_h == pytest.approx(0, abs=1e-6) and found["saving_off_on_standard"].within
    # A rule that is off and a clock five minutes slow besides is no clock on standard time: late by 5 min in winter, early by 55 in summer.
    odd = RIGHT.changed(clock=SwitchClock(ADELAIDE.standard_min), clock_error_min=-5.0)
    light = site.held_against(0, *(one[0] for one in setting.acts([odd])))
    assert light.worst_dark_min == pytest.approx(55, abs=0.01) and light.worst_excess_min == pytest.approx(55, abs=0.01)
    # Lit by day instead: dark for almost the whole of the year's nights, and lit for as long in the light.
    assert found["clock_half_day"].dark_h == pytest.approx(found["clock_half_day"].excess_h, rel=0.01) and found["clock_half_day"].dark_h > 3500


def test_order_and_days_of_work():
    """By hand: the worst first; a day is the worst that is left and its nearest; equal ones as listed; none lost."""
    assert ranked([10.0, 10.0, np.nan, 30.0], [1.0, 2.0, 9.0, 0.0]).tolist() == [3, 1, 0, 2]
    rng = np.random.default_rng(2)
    lat, lon, rank = rng.uniform(-36, -34, 50), rng.uniform(178, 182, 50), rng.permutation(50)
    day, stop = days_of_work(lat, (lon + 180) % 360 - 180, rank, 12)
    assert np.bincount(day)[1:].tolist() == [12, 12, 12, 12, 2] and day[np.argmin(rank)] == 1
    for number in range(1, 6):
        assert sorted(stop[day == number]) == list(range(1, (day == number).sum() + 1))
    first = np.argmin(rank)
    away = (lat - lat[first]) ** 2 + ((lon - lon[first]) * np.cos(np.radians(lat[first]))) ** 2
    assert away[day == 1].max() <= away[day != 1].min()


def test_the_command(geozone, tmp_path):
    """Errors are one clean message with exit code 2."""
    code, out, err = geozone("audit", tmp_path / "none.toml", tmp_path / "none.csv")
    assert code == 2 and "none.toml" in err


def test_control_characters_of_a_job_do_not_reach_the_terminal(tmp_path):
    """The terminal would take them for orders: a title that clears the screen."""
    sites = geopandas.GeoDataFrame({"site_id": ["mill"], "load_w": [500.0]}, geometry=geopandas.points_from_xy([139.5], [-34.5]), crs=4326)
    hostile = Job.of(sites, title="Five\x1b[2Jsites", year=YEAR, dark={"altitude_deg": -4.0},
                     shared={"lat_deg": -34.5, "lon_deg": 139.5, "legal_zone": "Australia/Adelaide"})
    done = audit(hostile, write(tmp_path / "found.csv", [["mill", "2027-03-22", *shown(slip("longitude_sign")), "10:10", "10:11"]]), tmp_path / "audit")
    said = audit_report(done, tmp_path / "audit")
    assert len(done.work) == 1 and "mill: " in said and "\x1b" not in said
