"""The demo jobs are what their README says, and the generator makes them again."""

import csv
import json
import os
import re
import runpy
import subprocess
import sys
import tomllib
from collections import Counter
from pathlib import Path

import geopandas as gpd
import pandas as pd
import pytest
import shapely
from python_calamine import CalamineWorkbook
from timezonefinder import TimezoneFinder

from geozone.errors import OutputError
from geozone.jobs import examples
from geozone.jobs.job import Job, JobFile, read_job
from geozone.jobs.keys import keys_of
from geozone.numbers.daylight import THRESHOLDS
from geozone.places.sites import SiteReading, read_sites

ROOT = Path(__file__).parents[2]
DATA = ROOT / "data"
BAD_IDS = {"NEW-040", "NEW-095", "NEW-150", "NEW-210", "NEW-265", "NEW-330", "NEW-402", "NEW-455"}


@pytest.fixture(scope="module")
def rows():
    with open(DATA / "border" / "sites.csv", encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


@pytest.fixture(scope="module")
def good(rows):
    return [row for row in rows if not row["name"].endswith(" (new)")]


@pytest.fixture(scope="module")
def finder():
    return TimezoneFinder()


def zone_on_land(finder, row):
    return finder.timezone_at_land(lng=float(row["lon"]), lat=float(row["lat"]))


def reading_of(job: Job) -> SiteReading:
    return SiteReading(**job.columns.model_dump(exclude_none=True))


def test_the_generator_reproduces_the_shipped_files(tmp_path):
    subprocess.run([sys.executable, "-B", DATA / "make_demo.py", tmp_path], check=True, timeout=120)
    # The as-found list and the log are made by scripts of their own, see test_audit_demo.
    shipped = sorted(path.relative_to(DATA) for path in DATA.glob("*/*") if path.is_file() and path.name not in ("as_found.csv", "switched.csv"))
    assert sorted(path.relative_to(tmp_path) for path in tmp_path.rglob("*") if path.is_file()) == shipped
    for name in shipped:
        if name.suffix == ".gpkg":  # the bytes depend on the SQLite in use
            ours, again = gpd.read_file(DATA / name), gpd.read_file(tmp_path / name)
            assert list(ours["name"]) == list(again["name"]) and list(ours["class"]) == list(again["class"])
            assert ours.geometry.geom_equals_exact(again.geometry, 0).all()
        elif name.suffix == ".xlsx":
            ours, again = (CalamineWorkbook.from_path(folder / name) for folder in (DATA, tmp_path))
            assert [ours.get_sheet_by_name(sheet).to_python() for sheet in ours.sheet_names] == [
                again.get_sheet_by_name(sheet).to_python() for sheet in again.sheet_names]
        else:
            assert (tmp_path / name).read_bytes() == (DATA / name).read_bytes(), name


def test_border_counts(rows, good):
    assert (len(rows), len(good)) == (629, 620)
    assert len({row["site_id"] for row in good}) == 620
    towns = {row["place"] for row in good if row["use"] != "highway"}
    assert len(towns) == 25
    assert {row["contract"] for row in good} == {f"K{i}" for i in range(1, 9)}
    assert set(Counter(row["cabinet"] for row in good).values()) == {2, 3, 4}
    assert all(row["load_w"].isdigit() and int(row["load_w"]) > 0 for row in good)


def test_sites_of_a_cabinet_are_neighbours_and_keep_one_clock(good, finder):
    """Issue 3 keeps cabinets together: one that lies in two places or on two clocks could never share a setting."""
    cabinets = {}
    for row in good:
        cabinets.setdefault(row["cabinet"], []).append(row)
    for members in cabinets.values():
        points = shapely.MultiPoint([(float(row["lon"]), float(row["lat"])) for row in members])
        assert max(points.bounds[2] - points.bounds[0], points.bounds[3] - points.bounds[1]) < 0.02, members[0]["cabinet"]
        assert len({row["legal_zone"] or zone_on_land(finder, row) for row in members}) == 1


def test_contracts_ignore_who_is_whose_neighbour(good, finder):
    """Several existing contracts mix two clocks: no single setting can serve them, and the report is to say so."""
    clocks = {}
    for row in good:
        zone = row["legal_zone"] or zone_on_land(finder, row)
        clocks.setdefault(row["contract"], set()).add("west" if zone == "Australia/Adelaide" else "east")
    assert sum(len(found) == 2 for found in clocks.values()) >= 4


def test_border_sites_lie_on_land_in_the_zones_they_should(good, finder):
    zones = Counter(zone_on_land(finder, row) for row in good)
    assert set(zones) == {"Australia/Adelaide", "Australia/Melbourne", "Australia/Sydney"}
    assert zones["Australia/Adelaide"] > 400 and zones["Australia/Melbourne"] > 100 and zones["Australia/Sydney"] > 20


def test_one_place_keeps_the_neighbours_time(good, finder):
    given = [row for row in good if row["legal_zone"]]
    assert {row["place"] for row in given} == {"Overline"} and len(given) == 18
    assert {row["legal_zone"] for row in given} == {"Australia/Adelaide"}
    assert {zone_on_land(finder, row) for row in given} == {"Australia/Melbourne"}


def test_districts_tile_the_service_area_and_one_is_cut_by_the_border(good, finder):
    districts = gpd.read_file(DATA / "border" / "districts.geojson")
    assert len(districts) == 6 and districts["district"].is_unique and districts.is_valid.all()
    whole = shapely.union_all(districts.geometry)
    assert whole.geom_type == "Polygon" and len(whole.interiors) == 0
    assert sum(shapely.area(districts.geometry.array)) == pytest.approx(shapely.area(whole), rel=1e-12)
    points = gpd.GeoDataFrame(geometry=gpd.points_from_xy([float(r["lon"]) for r in good], [float(r["lat"]) for r in good]),
                              crs=4326)
    inside = gpd.sjoin(points, districts, predicate="within")
    assert len(inside) == 620 and inside.index.is_unique
    states = {}
    for row, district in zip(good, inside.sort_index()["district"], strict=True):
        states.setdefault(district, set()).add(zone_on_land(finder, row) == "Australia/Adelaide")
    assert {name for name, found in states.items() if len(found) == 2} == {"Corner"}
    assert set(states) == set(districts["district"])


def test_geojson_is_as_rfc_7946_wants_it():
    for name in ("border/districts.geojson", "template/areas.geojson"):
        for feature in json.loads((DATA / name).read_text(encoding="utf-8"))["features"]:
            (ring,) = feature["geometry"]["coordinates"]
            assert ring[0] == ring[-1] and shapely.LinearRing(ring).is_ccw


def test_the_backdrop_joins_the_places():
    roads = gpd.read_file(DATA / "border" / "roads.gpkg")
    assert roads.crs.to_epsg() == 4326 and set(roads.geom_type) == {"LineString"}
    assert set(roads["class"]) == {"highway", "road", "street"}
    assert (roads["class"] != "street").sum() == 12


def test_reading_the_border_list_rejects_the_nine_bad_rows_and_no_other():
    job = read_job(DATA / "border" / "job.toml")
    found = read_sites(job.beside(job.job.sites), reading_of(job))
    assert len(found.sites) == 620
    assert len(found.rejects) == 9
    with open(DATA / "border" / "sites.csv", encoding="utf-8", newline="") as file:
        lines = list(csv.reader(file))
    rejected = {lines[row - 1][0] for row in found.rejects["row"]}
    assert rejected == BAD_IDS | {"STO-002"}
    assert (found.sites["legal_zone_given"] == "Australia/Adelaide").sum() == 18
    assert {"feeder", "cabinet", "contract", "use"} <= set(found.sites.columns)


def test_readme_names_every_bad_row_and_the_counts(rows):
    text = (DATA / "README.md").read_text(encoding="utf-8")
    assert set(re.findall(r"NEW-\d{3}", text)) == BAD_IDS
    assert f"has {len(rows)} rows: 620 sites" in text


def test_the_town_is_read_from_degrees_minutes_and_seconds(finder):
    job = read_job(DATA / "town" / "job.toml")
    found = read_sites(job.beside(job.job.sites), reading_of(job))
    assert len(found.sites) == 40 and len(found.rejects) == 1
    assert job.shared.given is False
    # The first site by hand: 36 + m/60 + s/3600 from the cell's own text.
    cell = CalamineWorkbook.from_path(DATA / "town" / "sites.xlsx").get_sheet_by_index(0).to_python()[1][2]
    degrees, minutes, seconds = map(float, re.fullmatch(r"(\d+)°(\d+)'([\d.]+)\"S", cell).groups())
    assert found.sites["lat_deg"][0] == pytest.approx(-(degrees + minutes / 60 + seconds / 3600), abs=1e-9)
    zones = {finder.timezone_at_land(lng=x, lat=y) for x, y in zip(found.sites["lon_deg"], found.sites["lat_deg"])}
    assert zones == {"Australia/Melbourne"}
    spread = found.sites[["lat_deg", "lon_deg"]].max() - found.sites[["lat_deg", "lon_deg"]].min()
    assert spread.max() < 0.05  # 4 minutes a degree: 12 seconds across the town at most


def template_keys(text):
    shown, section = set(), None
    for line in text.splitlines():
        if found := re.match(r"(?:# )?\[+([\w.]+)\]+", line):
            section = found[1]
        elif section and (found := re.match(r"(?:# )?(\w+) = ", line)):
            shown.add((section, found[1]))
    return shown


def uncommented(text):
    """A template with every key in force that a "#" keeps back; remarks of prose stay away."""
    return "\n".join(line.removeprefix("# ") for line in text.splitlines() if re.match(r"(# )?(\[|\w+ = )", line)) + "\n"


def test_the_template_shows_every_key_that_a_job_knows_and_no_other():
    shown = template_keys((DATA / "template" / "job.toml").read_text(encoding="utf-8"))
    # A daylight-saving rule of one's own is shown as a sentence.
    assert shown == {(key.section, key.name) for key in keys_of(JobFile) if key.section != "keypad.saving_rule"}


def test_the_sentence_of_the_template_names_every_key_of_a_saving_rule():
    text = (DATA / "template" / "job.toml").read_text(encoding="utf-8")
    sentence = text[text.index("[[keypad.saving_rule]]"):text.index("nth = -1 is the last")]
    for key in keys_of(JobFile):
        assert key.section != "keypad.saving_rule" or re.search(rf"\b{key.name}\b", sentence), key.name


def test_the_templates_programmes_are_read_when_uncommented(tmp_path):
    lines = uncommented((DATA / "template" / "job.toml").read_text(encoding="utf-8")).splitlines()
    (tmp_path / "job.toml").write_text("\n".join(line for line in lines if line.split(" = ")[0] not in set(THRESHOLDS) - {"altitude_deg"}), encoding="utf-8")
    found = read_job(tmp_path / "job.toml").switching
    (programme,) = found.programmes
    assert [event.text() for event in programme.events] == ["on 10 min after dusk", "off at 23:30, Mon-Fri, 1 Oct to 31 Mar"]
    assert found.column == "programme" and found.timetable == ("fortnight", 5) and found.tariff.bands[0].per_kwh == 0.2


def test_every_optional_key_of_the_template_is_valid_toml_when_uncommented():
    text = (DATA / "template" / "job.toml").read_text(encoding="utf-8")
    lines = re.findall(r"^# (\w+ = .*)$", text, flags=re.M)
    assert len(lines) > 20
    for line in lines:
        assert len(tomllib.loads(line)) == 1


@pytest.mark.parametrize("name, folder", examples.EXAMPLES.items())
def test_a_written_example_is_complete_and_its_job_is_readable(tmp_path, name, folder):
    job_path = examples.write_example(name, tmp_path / "new" / "job")
    assert sorted(p.name for p in job_path.parent.iterdir()) == sorted(
        p.name for p in (DATA / folder).iterdir() if p.is_file())
    job = read_job(job_path)
    for file in (job.job.sites, job.job.areas, job.job.backdrop):
        assert file is None or job.beside(file).is_file()


def test_the_template_reads_without_a_question_in_one_clock(tmp_path, finder):
    job = read_job(examples.write_example("template", tmp_path / "t"))
    found = read_sites(job.beside(job.job.sites), reading_of(job))
    assert len(found.sites) == 12 and len(found.rejects) == 0
    areas = gpd.read_file(job.beside(job.job.areas))
    assert len(areas) == 2 and found.sites.within(shapely.union_all(areas.geometry)).all()
    assert {finder.timezone_at_land(lng=x, lat=y) for x, y in zip(found.sites["lon_deg"], found.sites["lat_deg"])} == {
        "Australia/Sydney"}


def test_no_border_of_legal_time_runs_through_the_plain_examples():
    """The town with its margin of 10 km, and the template's outlines, would otherwise need an explanation."""
    from geozone.places.areas import hull_area
    from geozone.places.zoneshapes import zone_polygons

    job = read_job(DATA / "town" / "job.toml")
    town = hull_area(read_sites(job.beside(job.job.sites), reading_of(job)).sites)
    for areas in (town, gpd.read_file(DATA / "template" / "areas.geojson")):
        zones = zone_polygons(tuple(areas.total_bounds))
        for outline in areas.geometry:
            assert zones.intersects(outline).sum() == 1


def test_writing_an_example_twice_is_fine_and_keeps_the_results_beside_it(tmp_path):
    job = examples.write_example("template", tmp_path / "t")
    (tmp_path / "t" / "out").mkdir()
    (tmp_path / "t" / "sites.csv").unlink()
    assert examples.write_example("template", tmp_path / "t") == job
    assert {p.name for p in (tmp_path / "t").iterdir()} == {"areas.geojson", "job.toml", "out", "sites.csv"}


def test_a_changed_job_or_a_folder_in_use_is_never_overwritten(tmp_path):
    job = examples.write_example("template", tmp_path / "t")
    job.write_text("# mine")
    with pytest.raises(OutputError, match="never overwritten"):
        examples.write_example("template", tmp_path / "t")
    assert job.read_text() == "# mine"
    (tmp_path / "photos").mkdir()
    (tmp_path / "photos" / "a.jpg").write_text("x")
    with pytest.raises(OutputError, match="in use"):
        examples.write_example("template", tmp_path / "photos")
    assert os.listdir(tmp_path / "photos") == ["a.jpg"]
    (tmp_path / "file").write_text("x")
    for path in (tmp_path / "file", tmp_path / "file" / "below"):
        with pytest.raises(OutputError):
            examples.write_example("template", path)


def test_no_invented_place_is_an_airport_city_of_australia():
    """airportsdata (MIT): the only open gazetteer at hand, so a weak check; the rest is the author's knowledge."""
    airportsdata = pytest.importorskip("airportsdata")
    real = {airport["city"].casefold() for airport in airportsdata.load().values() if airport["country"] == "AU"}
    assert len(real) > 100
    sites = pd.read_csv(DATA / "border" / "sites.csv", dtype=str)
    assert not {place.casefold() for place in sites["place"].unique()} & real


def test_the_wheel_takes_the_demo_jobs_along():
    """The full check builds a wheel (tests/docs/test_wheel.py); this one needs no network: the mapping names data/."""
    setuptools = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["tool"]["setuptools"]
    assert setuptools["package-dir"]["geozone.demo_data"] == "data"
    assert "geozone.demo_data" in setuptools["packages"]
    (pattern,) = setuptools["package-data"]["geozone.demo_data"]
    assert {path.parent.name for path in DATA.glob(pattern) if path.is_file()} >= {"border", "town", "template"}


def test_of_a_run_the_repository_keeps_the_map_and_the_pictures(tmp_path):
    make = runpy.run_path(str(ROOT / "maps" / "make.py"))
    out, home = tmp_path / "out", tmp_path / "home"
    (out / "pictures").mkdir(parents=True)
    for name in ("map.html", "sites.csv", "summary.json", "pictures/hours.png"):
        (out / name).write_text(name)
    home.mkdir()
    (home / "old.csv").write_text("left from an earlier version")
    make["kept"](out, home)
    assert sorted(path.relative_to(home).as_posix() for path in home.rglob("*") if path.is_file()) == ["map.html", "pictures/hours.png"]
    for name in make["PICTURES"]:
        stored = {path.relative_to(ROOT / "maps" / name).parts[0] for path in (ROOT / "maps" / name).rglob("*") if path.is_file()}
        assert stored <= {"map.html", "pictures"} and "map.html" in stored
        for kind in make["PICTURES"][name]:
            assert (ROOT / "maps" / f"{name}-{kind}.png").is_file()
