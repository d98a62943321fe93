import json

import geopandas as gpd
import numpy as np
import pytest
import shapely
from pyproj import Geod

from geozone.errors import InputError
from geozone.places.areas import hull_area, read_areas, read_backdrop, sites_in_areas

GEOD = Geod(ellps="WGS84")
SQUARE, EAST = shapely.box(141, -36, 142, -35), shapely.box(142, -36, 143, -35)


def saved(path, shapes, crs=4326, **columns):
    gpd.GeoDataFrame(columns, geometry=shapes, crs=crs).to_file(path)
    return path


def at(*positions):
    lat, lon = np.array(positions, float).T
    return gpd.GeoDataFrame({"lat_deg": lat, "lon_deg": lon}, geometry=gpd.points_from_xy(lon, lat), crs=4326)


def test_names_columns_and_order(tmp_path):
    areas, notes = read_areas(saved(tmp_path / "a.gpkg", [SQUARE, EAST], code=["x", "y"], District=["West", "East"], n=[1, 2]))
    assert areas["area"].tolist() == ["West", "East"] and list(areas.columns[:2]) == ["area", "geometry"]
    assert {"code", "n"} <= set(areas) and areas.crs.to_epsg() == 4326
    assert any('area names from "District"' in n for n in notes)
    assert read_areas(tmp_path / "a.gpkg", "code")[0]["area"].tolist() == ["x", "y"]
    with pytest.raises(InputError, match="areas' names"):
        read_areas(tmp_path / "a.gpkg", "nope")


def test_unnamed_areas_are_numbered(tmp_path):
    areas, notes = read_areas(saved(tmp_path / "a.gpkg", [SQUARE, EAST], n=[5, 6]))
    assert areas["area"].tolist() == ["area 1", "area 2"] and any("numbered" in n for n in notes)
    areas, _ = read_areas(saved(tmp_path / "b.gpkg", [SQUARE, EAST], name=["A", None]))
    assert areas["area"].tolist() == ["A", "area 2"]


def test_outlines_of_one_name_are_one_area(tmp_path):
    areas, notes = read_areas(saved(tmp_path / "a.gpkg", [SQUARE, shapely.box(0, 0, 1, 1), EAST], name=["A", "B", "A"]))
    assert areas["area"].tolist() == ["A", "B"] and areas.geometry[0].area == pytest.approx(2)
    assert any("one area (A)" in n for n in notes)


def test_an_outline_off_the_world_is_refused(tmp_path):
    with pytest.raises(InputError, match="outside -180..180 and -90..90") as caught:
        read_areas(saved(tmp_path / "a.geojson", [SQUARE, shapely.box(200, -36, 201, -35)], name=["A", "B"]))
    assert "200, -36" in str(caught.value) or "201, -36" in str(caught.value)
    assert "coordinate reference system" in str(caught.value)


def test_a_crossed_outline_is_mended(tmp_path):
    bow = shapely.Polygon([(0, 0), (2, 2), (2, 0), (0, 2)])  # two triangles of area 1
    areas, notes = read_areas(saved(tmp_path / "a.gpkg", [bow], name=["Bow"]))
    assert areas.geometry.is_valid.all() and areas.geometry[0].area == pytest.approx(2)
    assert any("mended (Bow)" in n for n in notes)


def test_what_is_no_outline_is_left_out_and_said(tmp_path):
    shapes = [SQUARE, shapely.Point(0, 0), None, shapely.Polygon([(0, 0), (1, 1), (0, 0)])]
    areas, notes = read_areas(saved(tmp_path / "a.gpkg", shapes, name=list("abcd")))
    text = " ".join(notes)
    assert areas["area"].tolist() == ["a"]
    assert "1 outline is empty" in text and "1 feature is a point or line" in text and "encloses nothing" in text
    with pytest.raises(InputError, match="no outline"):
        read_areas(saved(tmp_path / "b.gpkg", [shapely.Point(0, 0)]))


RING = [[141, -36], [142, -36], [142, -35], [141, -36]]


@pytest.mark.parametrize("geometry", [
    {"type": "Polygon", "coordinates": [RING[:2]]}, {"type": "Polygon", "coordinates": [RING[:3]]},
    {"type": "Polygon", "coordinates": RING}, {"type": "MultiPolygon", "coordinates": [RING]}, {"type": "Poligon", "coordinates": [RING]},
    {"type": "Polygon", "coordinates": [[["141", "-36"], ["142", "-36"], ["142", "-35"], ["141", "-36"]]]}, {"type": "Polygon"},
    "POLYGON ((1 1, 2 2, 1 2, 1 1))"])
def test_a_malformed_outline_is_not_called_empty(tmp_path, geometry):
    good = {"type": "Feature", "properties": {"name": "A"}, "geometry": {"type": "Polygon", "coordinates": [RING]}}
    content = {"type": "FeatureCollection", "features": [good, {"type": "Feature", "properties": {"name": "B"}, "geometry": geometry}]}
    (tmp_path / "a.geojson").write_text(json.dumps(content), encoding="utf-8")
    with pytest.raises(InputError, match="malformed") as stopped:
        read_areas(tmp_path / "a.geojson")
    assert "a.geojson, feature 2" in str(stopped.value)


@pytest.mark.parametrize("geometry", [None, {"type": "Polygon", "coordinates": []}])
def test_an_empty_outline_is_left_out_and_said(tmp_path, geometry):
    good = {"type": "Feature", "properties": {"name": "A"}, "geometry": {"type": "Polygon", "coordinates": [RING]}}
    content = {"type": "FeatureCollection", "features": [good, {"type": "Feature", "properties": {"name": "B"}, "geometry": geometry}]}
    (tmp_path / "a.geojson").write_text(json.dumps(content), encoding="utf-8")
    areas, notes = read_areas(tmp_path / "a.geojson")
    assert areas["area"].tolist() == ["A"] and any("1 outline is empty" in note for note in notes)


def test_reprojected(tmp_path):
    square = gpd.GeoSeries([SQUARE], crs=4326).to_crs(28354)
    areas, _ = read_areas(saved(tmp_path / "a.shp", list(square), crs=28354, name=["A"]))
    assert areas.total_bounds == pytest.approx([141, -36, 142, -35], abs=1e-4)
    (tmp_path / "a.prj").unlink()
    with pytest.raises(InputError, match="no coordinate reference system"):
        read_areas(tmp_path / "a.shp")
    assert len(read_areas(tmp_path / "a.shp", crs="EPSG:28354")[0]) == 1


def test_wrong_files(tmp_path):
    (tmp_path / "a.csv").write_text("id,lat,lon\n1,2,3\n")
    with pytest.raises(InputError, match="no outlines"):
        read_areas(tmp_path / "a.csv")
    with pytest.raises(InputError, match="no such file"):
        read_areas(tmp_path / "b.gpkg")
    for layer in ("wards", "towns"):
        gpd.GeoDataFrame(geometry=[SQUARE], crs=4326).to_file(tmp_path / "c.gpkg", layer=layer)
    with pytest.raises(InputError, match="'wards', 'towns'"):
        read_areas(tmp_path / "c.gpkg")
    assert len(read_areas(tmp_path / "c.gpkg", layer="towns")[0]) == 1


# The margin is measured on the ellipsoid with pyproj's geodesic, which hull_area does not use.
@pytest.mark.parametrize("sites", [[(-35, 141)], [(-35, 141), (-36, 142)], [(-35, 141), (-35.5, 141), (-36, 141)],
                                   [(60, 10), (60, 16), (63, 12)], [(-17, 179.8), (-17.2, -179.7), (-16.8, 179.9)]])
@pytest.mark.parametrize("margin_km", [0.5, 10, 50])
def test_the_margin_is_kept_in_metres(sites, margin_km):
    hull = hull_area(at(*sites), margin_km)
    shape = hull.geometry[0]
    assert hull["area"].tolist() == ["service area"] and shape.is_valid
    assert shapely.contains(shape, at(*sites).geometry.to_numpy()).all()
    for lat, lon in sites:
        for azimuth in range(0, 360, 15):
            inside = GEOD.fwd(lon, lat, azimuth, margin_km * 990)[:2]
            assert shape.contains(shapely.Point(inside)) or shape.distance(shapely.Point(inside)) < 1e-6
    edge = np.vstack([np.asarray(p.exterior.coords) for p in shapely.get_parts(shape)])
    edge = edge[np.abs(np.abs(edge[:, 0]) - 180) > 1e-9]
    lat, lon = np.array(sites, float).T
    near = [min(GEOD.inv(np.full(len(lon), x), np.full(len(lat), y), lon, lat)[2]) for x, y in edge]
    if len(sites) == 1:
        assert max(near) < margin_km * 1010
    assert min(near) > margin_km * 990


def test_a_hull_across_the_antimeridian_stays_small_and_is_cut():
    shape = hull_area(at((-17, 179.8), (-17.2, -179.7)), 10).geometry[0]
    assert shape.geom_type == "MultiPolygon" and shape.area < 1 and shape.bounds[0] == -180 and shape.bounds[2] == 180


def test_a_hull_over_a_pole_and_one_over_the_world():
    assert hull_area(at((89, 0), (89, 120), (89, -120)), 10).geometry[0].contains(shapely.Point(50, 89.9))
    wide = hull_area(at((0, -170), (50, 100), (-50, 20)), 10).geometry[0]
    assert wide.is_valid and wide.contains(shapely.Point(20, -49))


def test_margin_is_checked():
    for margin in (0, -1, float("nan")):
        with pytest.raises(InputError, match="margin"):
            hull_area(at((0, 0)), margin)


def test_sites_in_areas():
    areas = gpd.GeoDataFrame({"area": ["West", "East", "All"]}, geometry=[SQUARE, EAST, shapely.box(141, -36, 143, -35)], crs=4326)
    sites = at((-35.5, 141.5), (-35.5, 142.5), (-35.5, 142), (0, 0)).set_index(np.array([7, 3, 9, 1]))
    names, notes = sites_in_areas(sites, areas)
    assert names.tolist() == ["West", "East", "West", ""] and names.index.tolist() == [7, 3, 9, 1] and names.name == "area"
    assert notes[0] == "3 sites lie in more than one area; the first in the file is taken"
    assert len(notes) == 2 and notes[1].startswith("1 site lies outside all areas: judged like the others")
    assert sites_in_areas(sites, areas.iloc[::-1].reset_index(drop=True))[0].tolist() == ["All", "All", "All", ""]
    assert sites_in_areas(sites.iloc[:1], areas.iloc[:1])[1] == ()


def test_backdrop(tmp_path):
    for layer, shape in (("roads", shapely.LineString([(141, -35), (142, -36)])), ("towns", SQUARE)):
        gpd.GeoDataFrame(geometry=[shape, None], crs=4326).to_crs(28354).to_file(tmp_path / "a.gpkg", layer=layer)
    drawn = read_backdrop(tmp_path / "a.gpkg")
    assert len(drawn) == 2 and drawn.crs.to_epsg() == 4326 and drawn.total_bounds[0] == pytest.approx(141, abs=1e-6)
    (tmp_path / "a.csv").write_text("id,lat,lon\n1,2,3\n")
    with pytest.raises(InputError, match="nothing to draw"):
        read_backdrop(tmp_path / "a.csv")
