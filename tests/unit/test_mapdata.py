"""What the page says and carries."""

import json
import runpy
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely

from geozone.schema.vocabulary import VERDICT
from geozone.screens import mapoutlines
from geozone.screens.mapdata import headline, offset_words, page_data
from geozone.screens.mapwords import clock_words

example_answers = runpy.run_path(str(Path(__file__).parents[1] / "browser" / "example_answers.py"))["example_answers"]


def sites_table(lat, lon, **columns):
    n = len(lat)
    return pd.DataFrame({"site_id": [f"S{k}" for k in range(n)], "name": "", "lat_deg": lat, "lon_deg": lon,
                         "load_w": np.nan, **columns})


@pytest.fixture(scope="module")
def answers():
    return example_answers(200, 12)


def column(data, name):
    packed, n = data["sites"]["columns"][name], data["sites"]["count"]
    values = np.repeat(packed["runs"][::2], packed["runs"][1::2]) if "runs" in packed else np.cumsum(packed["steps"])
    assert len(values) == n
    return values


def test_every_site_is_there_with_its_own_figures(answers):
    data = page_data(answers)
    sites = answers.sites.set_index("site_id")
    assert sorted(data["sites"]["id"]) == sorted(sites.index)
    here = sites.loc[data["sites"]["id"]]
    assert np.abs(column(data, "lat") / 1e5 - here["lat_deg"]).max() <= 0.5e-5 + 1e-12
    assert np.abs(column(data, "lon") / 1e5 - here["lon_deg"]).max() <= 0.5e-5 + 1e-12
    for name, source in {"dark": "worst_dark_min", "excess": "worst_excess_min", "dark_year": "dark_year_min",
                         "excess_year": "excess_year_min"}.items():
        assert (column(data, name) / 10 == here[source].round(1).to_numpy()).all()
    assert [VERDICT.codes[k] for k in column(data, "verdict")] == here["result"].tolist()
    assert (column(data, "nights_beyond") == here["nights_beyond"].to_numpy()).all()
    nights = data["sites"]["tables"]["nights"]
    assert [nights[k] if k >= 0 else "" for k in column(data, "dark_night")] == here["worst_dark_night"].tolist()
    load = column(data, "load")
    assert ((load == -1) == here["load_w"].isna().to_numpy()).all()
    areas = data["sites"]["tables"]["areas"]
    assert [areas[k] if k >= 0 else "" for k in column(data, "area")] == here["area"].tolist()


def test_counts_add_up(answers):
    counts = page_data(answers)["counts"]
    assert counts["within"] + counts["beyond"] + counts["other_clock"] == counts["sites"] == 200
    assert max(counts["beyond_dark"], counts["beyond_excess"]) <= counts["beyond"] <= counts["beyond_dark"] + counts["beyond_excess"]


@pytest.mark.parametrize("n, within, beyond, other, sentence", [
    (1, 1, 0, 0, "One setting serves the one site."),
    (2, 2, 0, 0, "One setting serves both sites."),
    (1200, 1200, 0, 0, "One setting serves all 1,200 sites."),
    (9, 8, 1, 0, "One setting serves 8 of 9 sites; 1 is beyond tolerance."),
    (9, 4, 3, 2, "One setting serves 4 of 9 sites; 3 are beyond tolerance and 2 keep another clock."),
    (9, 0, 9, 0, "The setting serves none of the 9 sites; 9 are beyond tolerance."),
    (1, 0, 0, 1, "The setting does not serve the one site: it keeps another clock."),
])
def test_headline(n, within, beyond, other, sentence):
    assert headline({"sites": n, "within": within, "beyond": beyond, "other_clock": other}) == sentence


def test_words():
    assert [offset_words(k) for k in (0, 3, -12)] == ["no offset", "3 min later", "12 min earlier"]


def test_infinite_and_missing_distances_are_left_out():
    answers = example_answers(sites=sites_table([-35.0, -35.1, -35.2], [140.5, 140.6, 140.7]))
    answers.sites["boundary_m"] = [np.inf, np.nan, 1449.0]
    data = page_data(answers)
    by_id = dict(zip(data["sites"]["id"], column(data, "boundary").tolist()))
    assert by_id == {"S0": -1, "S1": -1, "S2": 14}


def test_page_is_json_without_nan(answers):
    assert json.loads(json.dumps(page_data(answers), allow_nan=False))["year"] == 2027


def test_row_order_does_not_change_what_a_site_says(answers):
    from dataclasses import replace
    shuffled = replace(answers, sites=answers.sites.sample(frac=1, random_state=1).reset_index(drop=True))
    one, other = page_data(answers), page_data(shuffled)
    for name in ("dark", "excess", "verdict", "lat"):
        assert dict(zip(one["sites"]["id"], column(one, name))) == dict(zip(other["sites"]["id"], column(other, name)))


def test_sides_of_a_boundary(answers):
    """Walking north along 141 east, the west is on the left: by the compass."""
    borders = page_data(answers)["outlines"]["boundaries"]
    heavy = [border for border in borders if not border["same_clock"]]
    assert len(heavy) == 2
    for border in heavy:
        northward = sum(border["line"][3::2]) > 0
        west = border["left"] if northward else border["right"]
        assert west == ["Australia/Adelaide", "UTC+09:30, +10:30 to 4 Apr and from 3 Oct"]


def test_names_are_placed_inside_their_area():
    moon = shapely.Point(140, -35).buffer(1).difference(shapely.Point(140.4, -35).buffer(0.9))
    places = mapoutlines.places_for_a_name(moon)
    points = np.array(places).reshape(-1, 2) / 1e5
    assert len(points) > 3 and shapely.contains_xy(moon, points[:, 0], points[:, 1]).all()


def test_outlines_stay_within_their_budget():
    angle = np.linspace(0, 2 * np.pi, 150_000, endpoint=False)
    wobble = 1 + 0.05 * np.sin(4000 * angle)
    coast = shapely.Polygon(np.column_stack([140 + wobble * np.cos(angle), -35 + wobble * np.sin(angle)]))
    thin = mapoutlines.thinned(gpd.GeoSeries([coast], crs=4326))
    assert len(thin.get_coordinates()) <= mapoutlines.MOST_VERTICES
    assert abs(thin.iloc[0].area / coast.area - 1) < 0.05


def test_both_sides_of_the_antimeridian_lie_side_by_side():
    sites = gpd.GeoDataFrame({"lat_deg": [-17.0, -16.0], "lon_deg": [179.5, -179.5]},
                             geometry=shapely.points([179.5, -179.5], [-17.0, -16.0]), crs=4326)
    frame = mapoutlines.Frame(sites, sites.iloc[:0])
    assert frame.crosses and frame.bounds[2] - frame.bounds[0] < 2
    assert frame.unrolled(sites.geometry).x.tolist() == [179.5, 180.5]


def test_a_town_map_opens_on_its_sites_and_has_no_coarse_coast():
    answers = example_answers(sites=sites_table([-35.2, -35.201], [140.3, 140.302]), districts=False)
    data = page_data(answers)
    assert data["outlines"]["world"] == []
    south, west, north, east = data["first"]
    assert south > data["bounds"][0] and east < data["bounds"][3] and south < -35.201 < -35.2 < north


def test_a_wide_map_has_land_around_it(answers):
    rings = page_data(answers)["outlines"]["world"]
    assert rings and sum(len(ring) for polygon in rings for ring in polygon) < 2 * mapoutlines.MOST_WORLD_VERTICES


LAND_AND_SEA = [  # place, longitude, latitude, land? From any atlas.
    ("Norwegian Sea", 0, 68, False), ("Barents Sea", 40, 72, False), ("Atlantic off Iceland", -30, 66, False),
                  ("Baffin Bay", -66, 72, False),
    ("Lapland", 26, 67, True), ("Chukotka west of 180", 175, 67, True), ("Chukotka east of 180", -175, 66.5, True),
                  ("Bering Sea", -178, 60, False),
    ("Viti Levu", 178.0, -17.8, True), ("Vanua Levu", 179.3, -16.6, True), ("Upolu", -171.75, -13.93, True),
                  ("between Fiji and Samoa", -176, -16, False),
    ("Antarctica", 60, -75, True), ("Ross Sea", -175, -75, False), ("South Pole", 100, -88, True)]


@pytest.mark.parametrize("place, lon, lat, land", LAND_AND_SEA)
def test_land_is_where_land_is(place, lon, lat, land):
    """Also where the file's outline jumps across the antimeridian; whichever way a map counts its longitudes."""
    for site_lon in (lon, lon - 0.5 if lon > 179 else lon + 0.5):
        sites = gpd.GeoDataFrame({"lat_deg": [lat - 0.5, lat + 0.5], "lon_deg": [lon, (site_lon + 180) % 360 - 180]},
                                 geometry=shapely.points([lon, (site_lon + 180) % 360 - 180], [lat - 0.5, lat + 0.5]), crs=4326)
        frame = mapoutlines.Frame(sites, sites.iloc[:0])
        shapes = [shapely.Polygon(np.cumsum(np.array(rings[0]).reshape(-1, 2), axis=0) / 1e5) for rings in mapoutlines.world(frame)]
        shown = lon + 360 if frame.crosses and lon < 0 else lon
        assert any(shapely.contains_xy(shape, shown, lat) for shape in shapes) == land, place


def test_sites_on_one_side_with_an_area_that_reaches_over():
    sites = gpd.GeoDataFrame({"lat_deg": [-16.5, -16.6], "lon_deg": [179.9, 179.95]},
                             geometry=shapely.points([179.9, 179.95], [-16.5, -16.6]), crs=4326)
    areas = gpd.GeoDataFrame({"area": ["a"]}, geometry=[shapely.MultiPolygon([shapely.box(179, -17, 180, -16),
                                                                              shapely.box(-180, -17, -179.5, -16)])], crs=4326)
    frame = mapoutlines.Frame(sites, areas)
    assert frame.crosses and frame.extent_deg < 2


def test_backdrop_lines_and_polygons_become_lines():
    shapes = gpd.GeoDataFrame(geometry=[shapely.LineString([(140, -35), (141, -36)]), shapely.box(140, -36, 140.5, -35.5),
                                        shapely.Point(140, -35), shapely.LineString([(10, 50), (11, 51)])], crs=4326)
    data = page_data(example_answers(50, 5, backdrop=shapes))
    assert sorted(len(line) for line in data["outlines"]["backdrop"]) == [4, 10]


def test_cut_areas_are_named_with_their_shares(answers):
    lines = page_data(answers)["cut_areas"]
    assert any(line.startswith("Border Plains: ") and "Australia/Adelaide" in line for line in lines)
    assert not any(line.startswith("Lower Mallin") for line in lines)


@pytest.mark.parametrize("to_key, words", [
    ("UTC+09:30, summer time as in southern Australia", "UTC+09:30, summer time as in southern Australia (Australia/Adelaide)"),
    ("UTC+10:00, no summer time; not legal time: 2027-01-01 to 2027-04-04 (13.2 weeks): 30 min behind legal time",
     "UTC+10:00, no summer time, not always legal time (Australia/Adelaide)"),
    ("", "Australia/Adelaide")])
def test_a_settings_clock_in_words(to_key, words):
    """The caution stays where the weeks are left out."""
    assert clock_words(to_key, "Australia/Adelaide") == words
