"""Zones with free borders in the files of a run, on the sheet, and in what is said of them."""

import json
import re
import shutil
from dataclasses import replace

import geopandas as gpd
import pandas as pd
import pytest
import shapely

from geozone.errors import PlanCheckError
from geozone.jobs import zoneplan
from geozone.jobs.examples import examples_folder
from geozone.jobs.job import read_job
from geozone.jobs.plan import run
from geozone.jobs.steps import place, read
from geozone.jobs.whichplace import which
from geozone.jobs.zoneplan import planned_zones
from geozone.numbers import clock
from geozone.paper.keptanswers import kept_bytes, kept_run
from geozone.paper.words import words_in
from geozone.paper.zonewords import zone_lines
from geozone.screens.console import report


@pytest.fixture(scope="module")
def finished(tmp_path_factory):
    """The border example with free borders, and without groups and programmes."""
    folder = shutil.copytree(examples_folder() / "border", tmp_path_factory.mktemp("free") / "border")
    text = (folder / "job.toml").read_text(encoding="utf-8")
    (folder / "job.toml").write_text(text[:text.index("[groups]")] + '[zones]\nby = "free"\ntime_limit_s = 90\n', encoding="utf-8")
    job = read_job(folder / "job.toml")
    return job, run(job, folder / "out"), folder / "out"


def test_what_every_file_says_of_the_zones(finished):
    _, answers, out = finished
    table = pd.read_csv(out / "zones.csv", encoding="utf-8-sig")
    ground = gpd.read_file(out / "zones.geojson")
    figures = json.loads((out / "summary.json").read_text(encoding="utf-8"))["zones"]
    layer = gpd.read_file(out / "geozone.gpkg", layer="zones")
    assert table["zone"].tolist() == ground["zone"].tolist() == layer["zone"].tolist() == [f"Z{n}" for n in range(1, 7)]
    assert figures["by"] == "free" and figures["count"] == figures["lower_bound"] == 6 and figures["certified"] and figures["unserved"] == []
    assert not (out / "unserved_areas.csv").exists()
    # Every outline is shared out wholly among the zones that name it.
    shares: dict = {}
    for areas in table["areas"]:
        for part in areas.split("; "):
            name, share = re.fullmatch(r"(.+?)(?: \((?:(\d+)%|under 1%) of it\))?", part).groups()
            shares[name] = shares.get(name, 0) + (100 if "(" not in part else int(share or 0))
    assert set(shares) == set(answers.areas["area"]) and all(97 <= total <= 102 for total in shares.values())


def test_the_listed_borders_are_those_of_the_map(finished):
    _, answers, out = finished
    table = pd.read_csv(out / "zone_borders.csv", encoding="utf-8-sig")
    zones = gpd.read_file(out / "zones.geojson").set_index("zone")
    keys = {name: clock.offsets(zone, 2027).key for name, zone in zones["legal_zone"].items()}
    meet = {tuple(sorted((a, b))) for a in zones.index for b in zones.index if a < b
            and shapely.intersection(*(shapely.boundary(zones.geometry[one]).buffer(1e-5) for one in (a, b))).area > 1e-8}
    assert {tuple(sorted(pair)) for pair in table[["zone", "neighbour"]].itertuples(index=False)} == meet and len(meet) >= 5
    for _, line in table.groupby("border"):
        one, other = line["zone"].iloc[0], line["neighbour"].iloc[0]
        assert line["corner"].tolist() == list(range(1, len(line) + 1)) and len(line) >= 2
        assert (line["clock_changes"].iloc[0] == "yes") == (keys[one] != keys[other])
        drawn = shapely.LineString(line[["lon_deg", "lat_deg"]].to_numpy())
        assert all(shapely.boundary(zones.geometry[name]).buffer(2e-6).contains(drawn) for name in (one, other))
    assert answers.zoning.borders["border"].nunique() == table["border"].nunique()


def test_a_site_has_the_zone_that_it_stands_in(finished):
    _, answers, out = finished
    sites, zones = answers.sites, gpd.read_file(out / "zones.geojson").set_index("zone")
    mine = sites[sites["zone"] != ""]
    assert len(mine) > 580 and mine["zone"].value_counts().reindex(answers.zoning.zones["zone"], fill_value=0).tolist() == \
        answers.zoning.zones["sites"].tolist()
    for zone, here in mine.groupby("zone"):
        assert shapely.intersects(zones.geometry[zone].buffer(1e-6), here.geometry.to_numpy()).all()
    without = sites[sites["zone"] == ""]
    # They keep their neighbour's clock, or lie outside.
    assert 0 < len(without) < 25
    found = which(out, sites[["site_id", "lat_deg", "lon_deg", "legal_zone", "geometry"]])
    assert (found["zone"] == sites["zone"]).mean() > 0.98 and found.loc[found["zone"] != "", "zone_within"].all()


def test_what_the_terminal_says(finished):
    job, answers, out = finished
    text = report(answers, out)
    assert "Zones       6 zones with free borders for 6 outlines in 7 pieces of one clock each (proved: no fewer will do, wherever the borders run)." in text
    assert 'With by = "area" it would be 5 zones (proved), with 2 outlines in no zone or not wholly in one' in text
    assert "whole outlines for" not in text and "Not certified" not in text


def test_the_sheet_and_its_copy_for_later(finished, tmp_path):
    _, answers, _ = finished
    assert zone_lines(answers.zoning, words_in("en")) == ["6 lighting zones with free borders. No fewer would do."]
    assert zone_lines(answers.zoning, words_in("de"))[0].startswith("6 Beleuchtungszonen mit freien Grenzen.")
    assert "limites libres" in zone_lines(answers.zoning, words_in("fr"))[0] and "límites libres" in zone_lines(answers.zoning, words_in("es"))[0]
    kept = tmp_path / "paper.zip"
    kept.write_bytes(kept_bytes(answers, {}, {}))
    again = kept_run(kept, "").answers.zoning
    assert again.by == "free" and again.headline == answers.zoning.headline and zone_lines(again, words_in("es")) == zone_lines(answers.zoning, words_in("es"))


def ground_of(job):
    found = read(job)
    return place(found.sites, found.areas, job.basis.year)


def test_sentences_in_corners(finished, tmp_path, monkeypatch):
    """Ground that nothing serves; a check that fails; ground too wide; zones of whole outlines whose own check fails."""
    job, answers, _ = finished
    placed = ground_of(job)
    path = job.folder / "strict.toml"
    path.write_text((job.folder / "job.toml").read_text(encoding="utf-8").replace("dark_min = 3 ", "dark_min = 0.2").replace("excess_min = 6 ", "excess_min = 0.2")
                    .replace("time_limit_s = 90", "time_limit_s = 3"), encoding="utf-8")
    stricter = read_job(path)
    assert stricter.basis.tolerance.dark_min == 0.2
    zoning, columns, notes = planned_zones(stricter, placed.sites, placed.pieces, None)
    assert zoning is None and columns is None and re.fullmatch(
        r"The zones are left out: the tolerance is too small for zones with free borders on this ground: about [\d,]+ zones, 250 at most\. "
        r'Next: allow more minutes, give the outlines of a part of it, or ask for by = "area"\.', notes[0])

    # A keypad of whole degrees without offsets: most of the ground lies too far from any keyed meridian.
    path.write_text((job.folder / "job.toml").read_text(encoding="utf-8").replace("coordinate_step_deg = 0.1", "coordinate_step_deg = 5")
                    .replace("offset_limit_min = 99", "offset_limit_min = 0").replace("time_limit_s = 90", "time_limit_s = 5"), encoding="utf-8")
    zoning, columns, notes = planned_zones(read_job(path), placed.sites, placed.pieces, None)
    assert f"; {len(zoning.unserved)} parts of their ground in no zone (" in zoning.headline and len(zoning.unserved) > 1
    assert len(zoning.unserved) and zoning.unserved["area"].str.contains("% of it").any() and (columns["zone"] == "").sum() > 25
    assert any("lie in no zone: outside the outlines, on ground that no one setting serves, or on another clock" in note for note in notes)
    for row in zoning.unserved.itertuples():
        assert row.dark_min > 3 or row.excess_min > 6 or not row.proved

    def fails(*_, **__):
        raise PlanCheckError("a test")

    monkeypatch.setattr(zoneplan, "zones_of", fails)
    _, _, notes = planned_zones(job, placed.sites, placed.pieces, None, find=lambda *_, **__: answers.zoning.plan)
    assert notes[0].startswith('How many zones it would be with by = "area" is not known: their plan failed')
    assert planned_zones(job, placed.sites, placed.pieces, None, find=fails)[0] is None
    monkeypatch.setattr("geozone.zoning.zones.WIDEST_DEG2", 1.0)
    zoning, _, notes = planned_zones(job, placed.sites, placed.pieces, None)
    assert zoning is None and "too wide for zones with free borders: 7 square degrees, 1 at most. Next: give the outlines" in notes[0]


def test_a_zone_in_parts_is_said(finished):
    job, answers, _ = finished
    placed = ground_of(job)
    plan = replace(answers.zoning.plan, apart=("Z6",))
    _, _, notes = planned_zones(job, placed.sites, placed.pieces, None, find=lambda *_, **__: plan)
    assert any(note.startswith("Z6: lies in several parts with another zone between them.") for note in notes)
    _, _, notes = planned_zones(job, placed.sites, placed.pieces, None, find=lambda *_, **__: replace(plan, apart=()))
    assert not any("in several parts" in note for note in notes)
