"""A job made in memory: the answers of the same job in files, and the whole folder."""

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely

from geozone import InputError, compute, read_job, run
from geozone.jobs.job import Job

SECTIONS = {"tolerance": {"dark_min": 3, "excess_min": 4}, "keypad": {"coordinate_step_deg": 0.5},
            "shared": {"lat_deg": -35.0, "lon_deg": 141.0, "legal_zone": "Australia/Adelaide"}}
LAT, LON = [-35.0, -34.2, -35.1], [139.0, 140.2, 141.4]


@pytest.fixture(scope="module")
def sites():
    return gpd.GeoDataFrame({"name": ["A", "B", "C"], "lamps": [3, 4, 5]}, geometry=gpd.points_from_xy(LON, LAT), crs=4326,
                            index=pd.Index(["s1", "s2", "s3"], name="site_id"))


@pytest.fixture(scope="module")
def areas():
    return gpd.GeoDataFrame({"district": ["west", "east"]}, crs=4326,
                            geometry=[shapely.box(138.5, -36, 140.5, -34), shapely.box(140.5, -36, 142, -34)])


@pytest.fixture(scope="module")
def from_files(sites, areas, tmp_path_factory):
    folder = tmp_path_factory.mktemp("files")
    sites.reset_index().to_file(folder / "s.gpkg", index=False)
    areas.to_file(folder / "a.geojson")
    text = '[job]\ntitle = "Sites"\nyear = 2027\nsites = "s.gpkg"\nareas = "a.geojson"\n[dark]\naltitude_deg = -4.0\n'
    for name, section in SECTIONS.items():
        text += f"[{name}]\n" + "".join(f"{key} = {value!r}\n" for key, value in section.items())
    (folder / "job.toml").write_text(text, encoding="utf-8")
    return compute(read_job(folder / "job.toml"))


def job_of(sites, areas):
    return Job.of(sites, areas, year=2027, dark={"altitude_deg": -4.0}, **SECTIONS)


def test_tables_in_memory_give_the_answers_of_files(sites, areas, from_files):
    before = sites.copy()
    found = compute(job_of(sites, areas))
    pd.testing.assert_frame_equal(pd.DataFrame(found.sites), pd.DataFrame(from_files.sites))
    pd.testing.assert_frame_equal(found.spread, from_files.spread)
    assert found.sites["site_id"].tolist() == ["s1", "s2", "s3"] and found.sites["area"].tolist() == ["west", "west", "east"]
    pd.testing.assert_frame_equal(sites, before)


def test_points_in_metres_are_placed_by_their_own_system(sites, areas, from_files):
    """GDA2020 / MGA zone 54; pyproj's round trip is good to a millimetre, 1e-8 degrees."""
    found = compute(job_of(sites.to_crs(7854), areas.to_crs(3577)))
    assert np.allclose(found.sites[["lat_deg", "lon_deg"]], from_files.sites[["lat_deg", "lon_deg"]], rtol=0, atol=1e-7)
    assert found.sites["result"].tolist() == from_files.sites["result"].tolist()


def test_a_run_writes_tables_map_and_geopackage_without_any_file_before(sites, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    run(job_of(sites, None), tmp_path / "out")
    names = {path.name for path in (tmp_path / "out").iterdir()}
    assert {"sites.csv", "map.html", "geozone.gpkg", "summary.json"} <= names
    assert gpd.read_file(tmp_path / "out" / "geozone.gpkg", layer="sites")["site_id"].tolist() == ["s1", "s2", "s3"]
    assert [path.name for path in tmp_path.iterdir() if not path.name.startswith(".")] == ["out"]


@pytest.mark.parametrize("change, said", [
    ({"sites": pd.DataFrame({"lat": LAT, "lon": LON})}, "sites cannot be used"),
    ({"sites": None}, "job.sites is missing"),
    ({"areas": [1]}, "areas cannot be used"),
    ({"year": "2027"}, "job.year cannot be used"),
    ({"dark": {}}, "exactly one of altitude_deg"),
    ({"tolerence": {"dark_min": 3}}, "did you mean tolerance?"),
    ({"programme": [{"name": "p", "event": [{"turn": "on", "at": "dusk"}]}]}, "never turns the lamps off"),
])
def test_mistakes_are_told_as_those_of_a_file(sites, change, said):
    given = {"sites": sites, "year": 2027, "dark": {"altitude_deg": -4.0}, **change}
    with pytest.raises(InputError) as error:
        Job.of(given.pop("sites"), given.pop("areas", None), **given)
    assert said in str(error.value) and error.value.where == "Job.of"
    assert error.value.rule and error.value.next_step


def test_a_column_and_a_file_that_are_not_there_are_told(sites, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    with pytest.raises(InputError, match="Job.of: groups.keep_together names a column"):
        compute(Job.of(sites, year=2027, dark={"altitude_deg": -4.0}, groups={"keep_together": "lampe", "curve_to": 0}))
    with pytest.raises(InputError, match="there is no such file"):
        run(Job.of("none.csv", year=2027, dark={"altitude_deg": -4.0}), tmp_path / "out")
    with pytest.raises(InputError, match="the table in memory"):
        compute(Job.of(sites.set_geometry(sites.geometry.translate(400)), year=2027, dark={"altitude_deg": -4.0}))
