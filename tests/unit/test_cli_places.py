"""A job half made over from the example, and every mix of outlines and sites, as a user meets them."""

import json
import shutil

import pytest

from geozone.jobs.examples import examples_folder

# Twelve invented sites near Lake Constance: another continent than the example's.
ELSEWHERE = "site_id,lat,lon\n" + "".join(f"E{i},{47.5 + i / 50},{9.2 + i / 40}\n" for i in range(12))


@pytest.fixture
def job(tmp_path):
    folder = tmp_path / "job"
    shutil.copytree(examples_folder() / "template", folder)
    text = (folder / "job.toml").read_text(encoding="utf-8")
    # Groups are not what is tried here.
    start = text.index("[groups]")
    (folder / "job.toml").write_text(text[:start] + text[text.index("# Switching programmes"):], encoding="utf-8")
    return folder / "job.toml"


def without(job, *lines):
    text = job.read_text(encoding="utf-8").splitlines()
    for line in lines:
        assert any(one.startswith(line) for one in text), line
    job.write_text("\n".join(one for one in text if not one.startswith(lines)), encoding="utf-8")


SETTING = ("lat_deg", "lon_deg", "legal_zone")


def test_own_list_with_the_examples_outlines_and_setting_stops(geozone, job):
    (job.parent / "sites.csv").write_text(ELSEWHERE, encoding="utf-8")
    code, out, err = geozone("run", job)
    assert code == 2 and out == "" and "no site lies in any of the outlines" in err and "take that line out" in err
    without(job, "areas =")
    code, out, err = geozone("run", job)
    assert code == 2 and out == "" and "the setting's position is far from every site" in err
    assert not (job.parent / "out").exists()
    without(job, *SETTING)
    code, out, err = geozone("run", job)
    assert code == 0, err
    summary = json.loads((job.parent / "out" / "summary.json").read_text(encoding="utf-8"))
    # The span of the sites, 0.3 by 0.2 degrees and 10 km round them: a few minutes at most, not the hours between continents.
    assert summary["spread"]["dusk_worst_min"] < 10 and summary["drift"]["sites_other_clock"] == 0
    assert summary["where"]["countries"][0] in ("Switzerland", "Germany") and "Where       " in out


def test_no_site_keeps_the_settings_clock_is_said(geozone, job):
    text = job.read_text(encoding="utf-8")
    job.write_text(text.replace('legal_zone = "Australia/Sydney" ', 'legal_zone = "Europe/Berlin" '), encoding="utf-8")
    code, out, _ = geozone("run", job)
    assert code == 0 and "No site keeps the clock of the setting's legal zone Europe/Berlin; most keep that of Australia/" in out


def outline(name, west, south, east, north):
    ring = [[west, south], [east, south], [east, north], [west, north], [west, south]]
    return {"type": "Feature", "properties": {"area": name}, "geometry": {"type": "Polygon", "coordinates": [ring]}}


def test_only_outlines_with_sites_are_service_area_unless_the_job_says_so(geozone, job):
    content = json.loads((job.parent / "areas.geojson").read_text(encoding="utf-8"))
    content["features"].append(outline("far west", 116, -33, 118, -31))
    (job.parent / "areas.geojson").write_text(json.dumps(content), encoding="utf-8")
    assert geozone("run", job)[0] == 0
    few = json.loads((job.parent / "out" / "summary.json").read_text(encoding="utf-8"))
    assert any("1 outline without sites is left out of the service area (far west)" in note for note in few["notes"])
    text = job.read_text(encoding="utf-8")
    job.write_text(text.replace("# areas_without_sites", "areas_without_sites"), encoding="utf-8")
    assert geozone("run", job)[0] == 0
    all_of_them = json.loads((job.parent / "out" / "summary.json").read_text(encoding="utf-8"))
    assert not any("left out of the service area" in note for note in all_of_them["notes"])
    # 25 degrees of longitude more are 100 minutes more, give or take the difference of latitude.
    assert all_of_them["spread"]["dusk_worst_min"] == pytest.approx(few["spread"]["dusk_worst_min"] + 104, abs=15)


def test_outlines_that_cover_only_some_sites_are_taken_and_said(geozone, job):
    content = json.loads((job.parent / "areas.geojson").read_text(encoding="utf-8"))
    del content["features"][1]
    (job.parent / "areas.geojson").write_text(json.dumps(content), encoding="utf-8")
    code, out, _ = geozone("run", job)
    summary = json.loads((job.parent / "out" / "summary.json").read_text(encoding="utf-8"))
    assert code == 0 and 0 < summary["sites"]["outside_areas"] < summary["sites"]["used"]
    assert f"{summary['sites']['outside_areas']} sites lie outside all areas" in out


@pytest.mark.parametrize("old, new, expected", [
    ('areas = "areas.geojson"', 'areas = "area.geojson"', "did you mean areas.geojson"),
    ('area_names = "area"', 'area_names = "Area name"', "columns: area"),
    ('area_names = "area"', 'area_names = "AREA"', 'did you mean area_names = "area"?'),
    ('# backdrop = "roads.gpkg"', 'backdrop = "roads.geojson"', "there is no such file"),
    ("# areas_without_sites = true", 'areas_without_sites = "yes"', "job.areas_without_sites"),
])
def test_mistakes_about_places(geozone, job, old, new, expected):
    text = job.read_text(encoding="utf-8")
    assert old in text
    job.write_text(text.replace(old, new), encoding="utf-8")
    code, out, err = geozone("run", job)
    assert code == 2 and out == "" and expected in err, err


def test_a_far_backdrop_is_said(geozone, job):
    (job.parent / "roads.geojson").write_text(json.dumps({"type": "FeatureCollection", "features": [outline("x", 9, 47, 10, 48)]}),
                                              encoding="utf-8")
    text = job.read_text(encoding="utf-8")
    job.write_text(text.replace('# backdrop = "roads.gpkg"', 'backdrop = "roads.geojson"'), encoding="utf-8")
    code, out, _ = geozone("run", job)
    assert code == 0 and "does not show on the map" in out


def test_what_can_be_told_at_once_is_told_before_anything_is_compiled(geozone, job, monkeypatch):
    from geozone.screens import console

    monkeypatch.setattr(console, "prepare", lambda *_: pytest.fail("compiled first"))
    text = job.read_text(encoding="utf-8")
    (job.parent / "used").mkdir()
    (job.parent / "used" / "letter.txt").write_text("mine", encoding="utf-8")
    assert "in use" in geozone("run", job, "-o", job.parent / "used")[2]
    job.write_text(text.replace('areas = "areas.geojson"', 'areas = "area.geojson"'), encoding="utf-8")
    assert "did you mean areas.geojson" in geozone("run", job)[2]
