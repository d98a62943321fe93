"""Which setting a place gets that a finished plan did not know: against the run's own tables, and brute force over its settings."""

import json
import shutil

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely

from geozone.errors import InputError
from geozone.files.sums import sealed_summary
from geozone.jobs import whichplace
from geozone.jobs.examples import examples_folder
from geozone.jobs.job import read_job
from geozone.jobs.plan import run
from geozone.jobs.whichplace import finished_plan, which
from geozone.numbers import clock
from geozone.sharing.drift import setting_drift, unwrapped_lon_deg
from geozone.trade.setting import Setting


@pytest.fixture(scope="module")
def finished(tmp_path_factory):
    folder = shutil.copytree(examples_folder() / "border", tmp_path_factory.mktemp("which") / "border")
    text = (folder / "job.toml").read_text(encoding="utf-8")
    (folder / "job.toml").write_text(text[:text.index("[programmes]")].replace("curve_to = 6", "curve_to = 0"), encoding="utf-8")
    job = read_job(folder / "job.toml")
    return run(job, folder / "out"), folder / "out", folder


@pytest.fixture
def out(finished, tmp_path):
    return shutil.copytree(finished[1], tmp_path / "out")


def points(lat, lon, zone=""):
    return gpd.GeoDataFrame({"lat_deg": lat, "lon_deg": lon, "legal_zone_given": zone}, geometry=gpd.points_from_xy(lon, lat), crs="EPSG:4326")


def test_the_plans_own_sites_have_their_zone(finished):
    answers, out, _ = finished
    sites = answers.sites
    given = points(sites["lat_deg"].to_numpy(), sites["lon_deg"].to_numpy(), sites["legal_zone_given"].to_numpy())
    found = which(out, given)
    zone = answers.zoning.zones.set_index("zone")
    # A site on the border of two outlines may be given to either.
    near = np.array([name == "" or zone.geometry[name].boundary.distance(shapely.Point(x, y)) > 1e-4 for name, x, y in
                     zip(found["zone"], sites["lon_deg"], sites["lat_deg"], strict=True)])
    assert near.sum() > 550 and (found["zone"].to_numpy()[near] == sites["zone"].to_numpy()[near]).all()
    assert found.loc[found["zone"] != "", ["zone_within", "certified"]].all(axis=None)
    mine = sites["group"] != ""
    assert (found.loc[mine, "group_within"]).all() and set(found["group"]) <= set(answers.groups.settings["group"])


def test_minutes_are_those_of_each_setting_at_the_place(finished):
    """Brute force over all settings of the plan, one place and one setting at a time."""
    answers, out, _ = finished
    basis, rng = answers.basis, np.random.default_rng(8)
    lat, lon = rng.uniform(-36.3, -33.9, 40), rng.uniform(139.3, 142.2, 40)
    found = which(out, points(lat, lon))
    for row in found.itertuples():
        same = [one for one in answers.groups.plan.settings if clock.offsets(one.setting.legal_zone, 2027).key == clock.offsets(row.legal_zone, 2027).key]
        shares = {}
        for one in same:
            at = setting_drift(lat_deg=[row.lat_deg], lon_deg=unwrapped_lon_deg([row.lon_deg], row.legal_zone, 2027), setting=one.setting, year=2027,
                               altitude_deg=basis.altitude_deg, tolerance=basis.tolerance, keypad=basis.keypad)
            shares[one.name] = (max(at.worst_dark_min[0] / basis.tolerance.dark_min, at.worst_excess_min[0] / basis.tolerance.excess_min), at)
        best = min(shares, key=lambda name: shares[name][0])
        assert row.group == best and row.group_dark_min == pytest.approx(shares[best][1].worst_dark_min[0], abs=1e-9)
        assert row.group_within == (shares[best][0] <= 1)
        if row.zone:
            zone = answers.zoning.zones.set_index("zone").loc[row.zone]
            assert zone.geometry.covers(shapely.Point(row.lon_deg, row.lat_deg)) and row.zone_dark_min <= zone["worst_dark_min"] + 0.0011
            assert Setting(row.key_lat_deg, row.key_lon_deg, row.key_legal_zone, int(row.key_dusk_offset_min), int(row.key_dawn_offset_min)) == \
                next(one.setting for one in answers.zoning.plan.zones if one.name == row.zone)


def test_for_one_place_on_the_terminal(geozone, finished):
    _, out, _ = finished
    code, text, _ = geozone("which", out, "--lat", "-35.1", "--lon", "140.2")
    row = which(out, points([-35.1], [140.2])).iloc[0]
    assert code == 0 and f"Zone        {row['zone']}\n" in text and f"that of {row['group']} fits best" in text and "within 3 and 6 min" in text
    assert f"here at most {row['zone_dark_min']:.1f} min unlit (night of {row['zone_dark_night']})" in text
    code, text, _ = geozone("which", out, "--lat", "51.5", "--lon", "0")
    assert code == 0 and "Zone        none: outside all zones\n" in text and "Groups      none keeps this clock" in text
    code, text, _ = geozone("which", out, "--lat", "-35.1", "--lon", "140.2", "--zone", "Australia/Sydney")
    assert code == 0 and "Zone        none: on the ground of Z5, but not on its clock" in text


def test_for_a_list_as_a_file(geozone, finished, tmp_path, monkeypatch):
    _, out, folder = finished
    monkeypatch.chdir(tmp_path)
    code, text, _ = geozone("which", out, folder / "sites.csv")
    table = pd.read_csv(tmp_path / "which.csv", encoding="utf-8-sig", dtype=str, keep_default_na=False)
    assert code == 0 and f"{len(table):,} places, {(table['zone'] == '').sum():,} without a setting of the plan; 9 rows of the list could not be used" in text
    assert table.loc[table["zone"] == "", "key_lat_deg"].eq("").all() and table.loc[table["zone"] != "", "key_dusk_offset_min"].str.fullmatch(r"-?\d+").all()
    before = (tmp_path / "which.csv").read_bytes()
    code, _, err = geozone("which", out, folder / "sites.csv")
    assert code == 2 and "the file is there already" in err and (tmp_path / "which.csv").read_bytes() == before


@pytest.mark.parametrize("given", [[], ["list.csv", "--lat", "1", "--lon", "2"], ["--lat", "1"], ["list.csv", "--zone", "UTC"]])
def test_what_is_meant_must_be_said(geozone, finished, given):
    code, out, err = geozone("which", finished[1], *given)
    assert (code, out) == (2, "") and "it is not said which places are meant" in err


@pytest.mark.parametrize("lat, lon", [("95", "0"), ("0", "999"), ("nan", "0")])
def test_a_place_that_is_none(geozone, finished, lat, lon):
    code, out, err = geozone("which", finished[1], "--lat", lat, "--lon", lon)
    assert (code, out) == (2, "") and "Traceback" not in err


def test_a_folder_that_is_no_plan(geozone, out, tmp_path, monkeypatch):
    def said():
        code, text, err = geozone("which", out, "--lat", "-35", "--lon", "140")
        assert (code, text) == (2, "") and "Traceback" not in err
        return err

    assert "there is no finished run" in geozone("which", tmp_path / "nowhere", "--lat", "1", "--lon", "1")[2]
    monkeypatch.setattr(whichplace, "__version__", "9.9")
    assert "another version: geozone" in said() and "this is 9.9" in said()
    monkeypatch.undo()
    zones = (out / "zones.geojson").read_bytes()
    (out / "zones.geojson").write_bytes(zones.replace(b"-35.2", b"-35.3"))
    assert "changed since" in said() and "zones.geojson" in said()
    (out / "zones.geojson").unlink()
    assert "changed since" in said()
    (out / "zones.geojson").write_bytes(zones)
    summary = json.loads((out / "summary.json").read_text(encoding="utf-8"))
    plain = {name: value for name, value in summary.items() if name not in ("groups", "sha256")} | {"files": [one for one in summary["files"] if one != "zones.geojson"]}
    (out / "summary.json").write_bytes(sealed_summary(plain, out, plain["files"]))
    assert "the run has neither zones nor groups" in said()
    (out / "summary.json").write_text(json.dumps({**summary, "sha256": 3}))
    assert "no finished run" in said()
    (out / "summary.json").write_bytes((out / "summary.json").read_bytes()[:100])
    assert "no finished run" in said()


def test_from_python_a_plan_is_read_once(finished):
    plan = finished_plan(finished[1])
    assert which(plan, points([-35.1], [140.2])).iloc[0]["zone"] == which(finished[1], points([-35.1], [140.2])).iloc[0]["zone"]
    with pytest.raises(InputError):
        finished_plan(finished[2])
