"""Every file of a run, from a small hand-made record of answers."""

import csv
import dataclasses
import json
import re
import sqlite3

import geopandas as gpd
import numpy as np
import pandas as pd
import pyogrio
import pytest
import shapely
from python_calamine import CalamineWorkbook

from geozone.answers import Answers
from geozone.errors import OutputError
from geozone.files import outputs as files
from geozone.trade.basis import Basis
from geozone.trade.setting import Setting, Tolerance

NAMES = ["Station Street", "=HYPERLINK(\"http://example.invalid\")", "</script><img onerror=alert(1)>", "Café ${alert(1)} `"]
EXPECTED = ["columns.csv", "geozone.gpkg", "map.html", "rejects.csv", "sites.csv", "sites.xlsx", "spread.csv", "summary.json"]


@pytest.fixture
def answers():
    n = len(NAMES)
    sites = gpd.GeoDataFrame({
        "site_id": [f"S{i}" for i in range(n)], "name": NAMES, "lat_deg": [-35.1, -35.2, -35.3, -35.4],
        "lon_deg": [140.1, 140.2, 140.3, 141.4], "legal_zone_given": "", "load_w": [100.0, np.nan, 300.0, 80.5],
        "row": range(2, 2 + n), "feeder": ["+F1", "F1", "-5", "F2"], "area": ["A", "A", "", "B"],
        "legal_zone": ["Australia/Adelaide"] * 3 + ["Australia/Melbourne"], "legal_zone_source": "boundary data",
        "clock_rule": [0, 0, 0, 1], "boundary_m": [np.inf, 5000.0, 1999.6, 40000.0],
        "confirm_zone": [False, False, True, False], "solar_lon_deg": [140.1, 140.2, 140.3, 141.4],
        "worst_dark_min": [0.5, 5.25, 2.0, 30.1], "worst_dark_night": ["2027-12-14"] * 3 + [""],
        "worst_dark_edge": "dusk", "worst_excess_min": 1.0, "worst_excess_night": "2027-06-14", "worst_excess_edge": "dawn",
        "nights_beyond": [0, 12, 0, 365], "dark_year_min": 10.0, "excess_year_min": 20.0,
        "tolerance_share": [0.1, 1.05, 0.4, 6.02], "result": ["within", "beyond", "within", "other clock"],
    }, geometry=gpd.points_from_xy([140.1, 140.2, 140.3, 141.4], [-35.1, -35.2, -35.3, -35.4]), crs=4326)
    west, east = shapely.box(140, -36, 141, -35), shapely.box(141, -36, 142, -35)
    areas = gpd.GeoDataFrame({"area": ["A", "B"]}, geometry=[west, shapely.MultiPolygon([east])], crs=4326)
    pieces = gpd.GeoDataFrame({"area": ["A", "B"], "legal_zone": ["Australia/Adelaide", "Australia/Melbourne"],
                               "clock_rule_text": ["UTC+09:30", "UTC+10:00"], "share": [1.0, 1.0]},
                              geometry=[west, east], crs=4326)
    lines = gpd.GeoDataFrame({"kind": ["tolerance", "drift", "dusk"], "factor": [1.0, 0.5, np.nan],
                              "label": ["5 min unlit / 10 min lit too long", "half", "18:05 UTC"]},
                             geometry=[shapely.LineString([(140, -35), (141, -36 - i)]) for i in range(3)], crs=4326)
    lattice = gpd.GeoDataFrame({"lat_deg": [-35.0], "lon_deg": [140.0], "worst_dark_min": [1.0], "worst_excess_min": [1.0],
                                "tolerance_share": [0.2]}, geometry=[shapely.Point(140, -35)], crs=4326)
    spread = pd.DataFrame({"night": ["2027-01-01", "2027-01-02"], "dusk_spread_min": [12.345, np.nan], "points_without": [0, 3]})
    rejects = pd.DataFrame({"file": ["sites.csv"], "row": [9], "value": ["=1+1"], "reason": ["latitude is no number"]})
    return Answers(
        title="Invented town", basis=Basis(2027, -4.0, Tolerance(5, 10)), setting=Setting(-35.1, 140.2, "Australia/Adelaide"),
        search=None, sites=sites, rejects=rejects, areas=areas, area_pieces=pieces, zones=areas.iloc[:0],
        boundaries=lines.iloc[:0], drift_lines=lines, lattice=lattice, spread=spread,
        clock_rules=pd.DataFrame({"text": ["a"], "legal_zones": [["Australia/Adelaide"]], "sites": [3]}), backdrop=None,
        summary={"sites": {"read": np.int64(5), "used": 4}, "drift": {"worst_dark_min": np.float32(5.25)},
                 "second_opinion": {"largest_s": float("nan")}, "list": (np.bool_(True), None, np.array([1.5, np.inf]))},
        notes=("columns guessed",), versions={"geozone": "0.1.0", "tz database": "2026f"})


def rows(path):
    with open(path, encoding="utf-8-sig", newline="") as file:
        return list(csv.DictReader(file))


def test_all_files_are_there_and_nothing_else(answers, tmp_path):
    assert files.write_outputs(answers, tmp_path / "out", "<html>ä</html>") == ()
    assert sorted(p.name for p in (tmp_path / "out").iterdir()) == EXPECTED
    assert sorted(p.name for p in tmp_path.iterdir()) == ["out"]
    assert (tmp_path / "out" / "map.html").read_bytes() == "<html>ä</html>".encode()


def test_sites_csv_has_the_answers_first_and_the_users_columns_too(answers, tmp_path):
    files.write_outputs(answers, tmp_path / "out", "")
    table = rows(tmp_path / "out" / "sites.csv")
    assert list(table[0])[:5] == ["site_id", "name", "area", "result", "worst_dark_min"]
    assert list(table[0])[-3:] == ["legal_zone_given", "tz_database", "feeder"]
    assert {row["tz_database"] for row in table} == {"2026f"}
    assert "geometry" not in table[0] and "solar_lon_deg" not in table[0]
    assert [row["worst_dark_min"] for row in table] == ["0.5", "5.25", "2.0", "30.1"]
    assert [row["name"] for row in table] == [NAMES[0], "'" + NAMES[1], NAMES[2], NAMES[3]]
    assert [row["feeder"] for row in table] == ["'+F1", "F1", "-5", "F2"]
    assert [row["load_w"] for row in table] == ["100.0", "", "300.0", "80.5"]
    assert [row["boundary_m"] for row in table] == ["", "5000.0", "2000.0", "40000.0"]
    assert [row["confirm_zone"] for row in table] == ["no", "no", "yes", "no"]


def test_the_other_tables(answers, tmp_path):
    files.write_outputs(answers, tmp_path / "out", "")
    assert rows(tmp_path / "out" / "rejects.csv") == [
        {"file": "sites.csv", "row": "9", "value": "'=1+1", "reason": "latitude is no number"}]
    assert rows(tmp_path / "out" / "spread.csv") == [
        {"night": "2027-01-01", "dusk_spread_min": "12.34", "points_without": "0"},
        {"night": "2027-01-02", "dusk_spread_min": "", "points_without": "3"}]
    book = CalamineWorkbook.from_path(tmp_path / "out" / "sites.xlsx")
    assert book.sheet_names == ["columns", "sites", "rejects", "nights", "about"]
    sheet = book.get_sheet_by_name("sites").to_python()
    assert [row[1] for row in sheet] == ["Name", *NAMES]
    assert [row[4] for row in sheet] == ["Unlit, worst [min]", 0.5, 5.25, 2.0, 30.1]
    about = dict(row[:2] for row in book.get_sheet_by_name("about").to_python())
    assert about["version: tz database"] == "2026f"
    assert about["shared setting (given)"] == ("latitude -35.1, longitude 140.2, "
                                               "dusk offset +0 min, dawn offset +0 min")
    assert about["clock of that setting"] == "Australia/Adelaide"


def test_the_summary_is_strict_json_with_null_for_nan(answers, tmp_path):
    files.write_outputs(answers, tmp_path / "out", "")
    text = (tmp_path / "out" / "summary.json").read_text(encoding="utf-8")
    summary = json.loads(text, parse_constant=lambda name: pytest.fail(f"{name} is no JSON"))
    assert list(summary.pop("sha256")) == EXPECTED
    assert summary == {"made_by": "geozone", "sites": {"read": 5, "used": 4}, "drift": {"worst_dark_min": 5.25},
                       "second_opinion": {"largest_s": None}, "list": [True, None, [1.5, None]], "files": EXPECTED}


def test_the_geopackage_has_five_layers_one_geometry_type_each_and_a_look(answers, tmp_path):
    files.write_outputs(answers, tmp_path / "out", "")
    path = tmp_path / "out" / "geozone.gpkg"
    found = {name: kind for name, kind in pyogrio.list_layers(path) if name != "layer_styles"}
    assert found == {"sites": "Point", "areas": "MultiPolygon", "area_pieces": "MultiPolygon",
                     "drift_lines": "LineString", "grid": "Point"}
    sites = gpd.read_file(path, layer="sites")
    assert sites["name"].tolist() == NAMES
    assert sites["result"].tolist() == answers.sites["result"].tolist()
    assert shapely.get_coordinates(sites.geometry).tolist() == shapely.get_coordinates(answers.sites.geometry).tolist()
    connection = sqlite3.connect(path)
    try:
        looks = dict(connection.execute("SELECT f_table_name, styleQML FROM layer_styles WHERE useAsDefault").fetchall())
        (described,) = connection.execute("SELECT description FROM gpkg_contents WHERE table_name = 'sites'").fetchone()
    finally:
        connection.close()
    assert set(looks) == set(found)
    assert "UTC+09:30" in looks["area_pieces"] and "tolerance line" in looks["drift_lines"]
    assert described == ("A row a site of the list that could be used. Invented town: year 2027, sun 4 degrees below the horizon; geozone "
                         "0.1.0, tz database 2026f")


def test_a_line_in_several_pieces_is_stored_piece_by_piece_with_its_label(answers, tmp_path):
    line = shapely.MultiLineString([[(140, -35), (141, -35)], [(140, -36), (141, -36)]])
    lines = answers.drift_lines.iloc[:1].set_geometry([line], crs=4326)
    files.write_outputs(dataclasses.replace(answers, drift_lines=lines), tmp_path / "out", "")
    back = gpd.read_file(tmp_path / "out" / "geozone.gpkg", layer="drift_lines")
    assert back.geom_type.tolist() == ["LineString"] * 2
    assert back["label"].tolist() == ["5 min unlit / 10 min lit too long"] * 2


def test_a_run_without_any_line_or_reject_still_has_every_layer_and_file(answers, tmp_path):
    bare = dataclasses.replace(answers, drift_lines=answers.drift_lines.iloc[:0], rejects=answers.rejects.iloc[:0])
    files.write_outputs(bare, tmp_path / "out", "")
    assert sorted(p.name for p in (tmp_path / "out").iterdir()) == EXPECTED
    assert len(pyogrio.list_layers(tmp_path / "out" / "geozone.gpkg")) == 6
    assert rows(tmp_path / "out" / "rejects.csv") == []


def test_the_columns_that_the_looks_ask_for_exist(answers):
    asked = [(layer, column) for layer in files.layers(answers) for column in re.findall(r'\b(?:attr|fieldName)="([^"]+)"', layer.look)]
    assert {"result", "label"} <= {column for _, column in asked}
    for layer, column in asked:
        assert column in layer.table.columns, (layer.name, column)


def test_a_second_run_gives_the_same_bytes(answers, tmp_path):
    for name in ("one", "two"):
        files.write_outputs(answers, tmp_path / name, "<html>")
    for name in EXPECTED:
        assert (tmp_path / "one" / name).read_bytes() == (tmp_path / "two" / name).read_bytes(), name


def test_a_long_list_gets_no_workbook_and_says_so(answers, tmp_path, monkeypatch):
    monkeypatch.setattr(files, "XLSX_ROW_LIMIT", 3)
    (said,) = files.write_outputs(answers, tmp_path / "out", "")
    assert "sites.xlsx was left out" in said
    assert sorted(p.name for p in (tmp_path / "out").iterdir()) == [name for name in EXPECTED if name != "sites.xlsx"]


@pytest.mark.parametrize("writer", ["write_geopackage", "write_csv", "write_xlsx", "write_summary"])
@pytest.mark.parametrize("failure, expected", [(OSError(28, "No space left on device"), OutputError),
                                               (KeyboardInterrupt(), KeyboardInterrupt)])
def test_a_writer_that_fails_leaves_the_old_result(answers, tmp_path, monkeypatch, writer, failure, expected):
    target = tmp_path / "out"
    files.write_outputs(answers, target, "old")
    before = {p.name: p.read_bytes() for p in target.iterdir()}

    def fail(*args, **options):
        raise failure

    monkeypatch.setattr(files, writer, fail)
    with pytest.raises(expected):
        files.write_outputs(dataclasses.replace(answers, title="new"), target, "new")
    assert {p.name: p.read_bytes() for p in target.iterdir()} == before
    assert sorted(p.name for p in tmp_path.iterdir()) == ["out"]


def test_our_own_site_table_is_a_table_that_gdal_reads(answers, tmp_path):
    files.write_outputs(answers, tmp_path / "out", "")
    back = pyogrio.read_dataframe(tmp_path / "out" / "sites.csv")
    assert back["site_id"].tolist() == ["S0", "S1", "S2", "S3"]
