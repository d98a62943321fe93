"""Zones in the files of a run, and the sentences that are said about them, under every option that bears on them."""

import json
import shutil

import geopandas as gpd
import pandas as pd
import pytest
import shapely

from geozone.errors import PlanCheckError
from geozone.files.zonefiles import zones_geojson
from geozone.jobs.examples import examples_folder
from geozone.jobs.job import Job, read_job
from geozone.jobs.plan import compute, run
from geozone.jobs.steps import place, read
from geozone.jobs.zoneplan import planned_zones
from geozone.screens.console import report
from geozone.switching.programmeanswers import clock_to_key
from geozone.zoning.zones import ground_units
from geozone.zoning.zonetables import piece_of_sites


def job_of(folder, change=lambda text: text, zones="\n[zones]\n"):
    shutil.copytree(examples_folder() / "border", folder / "border")
    path = folder / "border" / "job.toml"
    text = path.read_text(encoding="utf-8")
    path.write_text(change(text[:text.index("[groups]")] if "[groups]" in text else text) + zones, encoding="utf-8")
    return read_job(path)


@pytest.fixture(scope="module")
def finished(tmp_path_factory):
    job = job_of(tmp_path_factory.mktemp("zones"))
    return job, run(job, job.folder / "out"), job.folder / "out"


def test_every_file_tells_the_same_zones(finished):
    job, answers, out = finished
    table = pd.read_csv(out / "zones.csv", encoding="utf-8-sig")
    ground = json.loads((out / "zones.geojson").read_text(encoding="utf-8"))["features"]
    layer = gpd.read_file(out / "geozone.gpkg", layer="zones")
    figures = json.loads((out / "summary.json").read_text(encoding="utf-8"))["zones"]
    assert table["zone"].tolist() == [one["id"] for one in ground] == layer["zone"].tolist() == [one["zone"] for one in figures["zones"]]
    assert figures["count"] == len(table) == 5 and figures["proved"] and figures["certified"] and figures["undecided_km2"] == 0 and figures["gap"] == 0
    assert figures["worst_dark_min"] == pytest.approx(table["worst_dark_min"].max(), abs=0.006) and figures["worst_excess_min"] <= 6
    assert table["lat_deg"].tolist() == [one["properties"]["lat_deg"] for one in ground] and all(table["certified"] == "yes")
    for one, shape in zip(ground, layer.geometry, strict=True):
        assert shapely.geometry.shape(one["geometry"]).symmetric_difference(shape).area < 1e-4 * shape.area
        # RFC 7946, section 3.1.6: outer rings counterclockwise.
        assert all(part.exterior.is_ccw for part in shapely.get_parts(shapely.geometry.shape(one["geometry"])))
    left = pd.read_csv(out / "unserved_areas.csv", encoding="utf-8-sig")
    assert set(left["area"]) == {"Eastmark", "South Reach"} == {one["area"] for one in figures["unserved"]}
    assert (left["dark_min"] > 3).all() and (left["proved"] == "yes").all()
    assert zones_geojson(answers.zoning.zones) == (out / "zones.geojson").read_bytes()


def test_a_site_has_the_zone_of_its_ground_and_of_its_clock(finished):
    _, answers, out = finished
    sites, zones = answers.sites, answers.zoning.zones.set_index("zone")
    assert set(sites["zone"]) <= {"", *zones.index} and (sites["zone"] != "").sum() == zones["sites"].sum() > 300
    for name, row in zones.iterrows():
        mine = sites[sites["zone"] == name]
        assert row.geometry.buffer(0.02).contains(shapely.MultiPoint(list(mine.geometry))) and row["sites"] == len(mine)
        assert set(mine["area"]) <= {part.split(" (")[0] for part in row["areas"].split("; ")}
        # What is keyed is the clock of every site in it.
        assert {clock_to_key(zone, answers.basis) for zone in mine["legal_zone"]} <= {row["clock_to_key"]}
    left = answers.zoning.unserved.set_index("area")["sites"]
    assert left.sum() == sites["area"].isin(left.index).sum() - (sites["area"].isin(left.index) & (piece_of_sites(
        sites, ground_units(answers.area_pieces, 2027), 2027) < 0)).sum()
    assert pd.read_csv(out / "sites.csv", encoding="utf-8-sig")["zone"].fillna("").tolist() == sites["zone"].tolist()


def test_what_the_terminal_says(finished):
    _, answers, out = finished
    text = report(answers, out)
    assert "Zones       5 zones of whole outlines for 6 outlines in 7 pieces of one clock each; 2 of them in no zone (proved: no fewer will do)." in text
    assert "no one setting serves Eastmark; with 3.5 min unlit and 6.9 min lit too long allowed one would" in text
    assert "Corner (71% of it)" in text and "lie in no zone" in text and "Groups and zones" not in text


@pytest.mark.parametrize("change, said, never", [
    (lambda text: text.replace("dark_min = 3", "dark_min = 0.05").replace("excess_min = 6", "excess_min = 0.05"),
     "No zone: no one setting was found that serves any of the", "of whole outlines"),
    (lambda text: text.replace("dark_min = 3", "dark_min = 60").replace("excess_min = 6", "excess_min = 60"),
     "2 zones of whole outlines for 6 outlines in 7 pieces of one clock each (proved: no fewer will do).", "in no zone ("),
    (lambda text: text.replace("[tolerance]", "[tolerance]\nshallow_deg = 1.0"), "Not certified: Z1", "more in zones.csv"),
    (lambda text: text.replace("\nareas =", "\n#areas ="), "1 outline in 2 pieces of one clock each", "6 outlines")])
def test_sentences_in_corners(tmp_path, change, said, never):
    job = job_of(tmp_path, change)
    listed = (tmp_path / "border" / "sites.csv").read_text(encoding="utf-8").splitlines(keepends=True)
    (tmp_path / "border" / "sites.csv").write_text("".join([listed[0], *listed[1::20]]), encoding="utf-8")
    answers = compute(job)
    text = report(answers, tmp_path)
    assert said in text and never not in text
    plan = answers.zoning.plan
    assert (len(answers.zoning.zones) == 0) == ("No zone" in answers.zoning.headline) and plan.count == len(answers.zoning.zones)
    assert plan.certified or plan.undecided_km2 > 0


def test_where_zones_pay_little_that_is_said():
    """Six of 24 outlines are so wide that no setting holds all over them, as 1.5 degrees of longitude make 6 minutes."""
    boxes = [shapely.box(8 + 0.3 * k, 50, 8.2 + 0.3 * k, 50.1) for k in range(18)] + [shapely.box(8 + 1.6 * k, 51, 9.5 + 1.6 * k, 51.2) for k in range(6)]
    areas = gpd.GeoDataFrame({"area": [f"A{k:02d}" for k in range(24)]}, geometry=boxes, crs=4326)
    tight = {"dark_min": 2.5, "excess_min": 2.5}
    answers = compute(Job.of(areas=areas, area_names="area", year=2027, dark={"altitude_deg": -4.0}, tolerance=tight, zones={}))
    said = next(note for note in answers.notes if "pay little" in note)
    assert said.startswith("Zones of whole outlines pay little here: 6 of 24 outlines lie in none or not wholly in one, and the others take ")
    assert f"take {len(answers.zoning.zones)} zones." in said and len(answers.zoning.unserved) == 6


def test_on_a_master_clock_and_beside_groups_it_is_said_what_zones_are(tmp_path):
    job = job_of(tmp_path, lambda text: text.replace('clock = "own"', 'clock = "master"'), "\n[groups]\ncurve_to = 0\n[zones]\n")
    notes = " ".join(compute(job).notes)
    assert "Groups and zones answer different questions: " in notes and "Zones are made for switches on their own legal clocks" in notes


def test_a_plan_that_fails_its_own_check_is_left_out_and_said(tmp_path):
    job = job_of(tmp_path)
    found = read(job)
    placed = place(found.sites, found.areas, 2027)

    def fails(*_, **__):
        raise PlanCheckError("planted")

    answers, columns, notes = planned_zones(job, placed.sites, placed.pieces, None, fails)
    assert answers is None and columns is None and "planted" in notes[0] and "please report it" in notes[0]


def test_overlaps_are_named(tmp_path):
    job = job_of(tmp_path)
    found = read(job)
    areas = found.areas.copy()
    one = areas.iloc[[0]].assign(area="Twin")
    areas = gpd.GeoDataFrame(pd.concat([areas, one], ignore_index=True), crs=areas.crs)
    placed = place(found.sites, areas, 2027)
    _, _, notes = planned_zones(job, placed.sites, placed.pieces, None)
    assert any(f"Outlines lie over each other: {areas['area'][0]} and Twin" in note for note in notes)


def test_at_a_pole_there_are_no_zones_and_it_is_said(tmp_path):
    job = job_of(tmp_path)
    found = read(job)
    placed = place(found.sites, found.areas, 2027)
    polar = placed.pieces.iloc[[0]].assign(geometry=[shapely.box(10, -89.5, 20, -88)])
    answers, columns, notes = planned_zones(job, placed.sites, gpd.GeoDataFrame(polar, crs=4326), None)
    assert answers is None and columns is None and "within 1.1 degrees of a pole" in notes[0]


def test_an_unknown_way_is_refused(tmp_path):
    from geozone.errors import InputError

    with pytest.raises(InputError, match="zones"):
        job_of(tmp_path, zones='\n[zones]\nby = "hexagon"\n')
