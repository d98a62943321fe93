"""The quick distance against plain brute force, and the zone table's own rules."""

import airportsdata
import geopandas
import numpy as np
import pyproj
import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from geozone.numbers.clock import offsets
from geozone.places.legalzones import add_legal_time, clock_rules, zone_boundaries, zone_number_at, zone_polygons
from geozone.places.zoneborders import Borders, distance_to
from geozone.places.zoneshapes import at_sea

GEOD = pyproj.Geod(ellps="WGS84")


def brute_force_m(points_deg, lat, lon):
    """Geodesic distance to the nearest of densely set points of the border [m]."""
    return GEOD.inv(np.full(len(points_deg), lon), np.full(len(points_deg), lat), *points_deg.T)[2].min()


@settings(max_examples=60, deadline=None)
@given(st.floats(-65, 65), st.floats(-180, 180), st.lists(st.tuples(st.floats(-1, 1), st.floats(-1, 1)), min_size=2,
       max_size=8, unique=True), st.tuples(st.floats(-1, 1), st.floats(-1, 1)))
def test_distance_to_any_line(lat0, lon0, bends, away):
    points = np.array([(lon0 + x, lat0 + y) for x, y in bends])
    line = Borders(points[:-1], points[1:], np.zeros(len(points) - 1, int), np.ones(len(points) - 1, int))
    lat, lon = lat0 + away[1], (lon0 + away[0] + 180) % 360 - 180
    metres, _, _ = distance_to(line, np.array([lat]), np.array([lon]), 1_000_000)
    share = np.linspace(0, 1, 4001)[:, None]
    dense = np.concatenate([a + share * (b - a) for a, b in zip(points[:-1], points[1:])])
    truth = brute_force_m(dense, lat, lon)
    # 0.5 % is what the documentation allows from 5 km on; brute force itself errs by its step, up to 78 m.
    step_m = 111_320 * np.hypot(2, 2) / 4000
    assert metres[0] <= truth * 1.005 + 0.01
    assert metres[0] >= truth * 0.995 - (step_m if truth < 20 * step_m else step_m ** 2 / truth) - 0.01


@pytest.fixture(scope="module")
def river():
    border = zone_boundaries(zone_polygons((140, -38, 144, -33)), 2027)
    return {frozenset((a, b)): shapely.get_coordinates(shapely.segmentize(line, 0.0005))
            for a, b, line in zip(border["zone_a"], border["zone_b"], border.geometry)}


def test_distance_of_sites_near_a_winding_river(river):
    rng = np.random.default_rng(11)
    lon, lat = rng.uniform(141.5, 142.5, 120), rng.uniform(-35, -34, 120)
    sites = geopandas.GeoDataFrame({"lat_deg": lat, "lon_deg": lon}, geometry=geopandas.points_from_xy(lon, lat),
                                   crs="EPSG:4326")
    found = add_legal_time(sites, 2027)
    for site in found.itertuples():
        truth = min(brute_force_m(points, site.lat_deg, site.lon_deg) for pair, points in river.items()
                    if site.legal_zone in pair)
        # Points every 0.0005 degrees lie at most 28 m from the nearest point of the line.
        allowed = 0.005 * truth if truth > 5000 else 1.0
        assert truth - 28 - allowed <= site.boundary_m <= truth + allowed


@settings(max_examples=12, deadline=None)
@given(st.lists(st.tuples(st.floats(-37.9, -33.1), st.floats(138.1, 143.9)), min_size=1, max_size=30), st.randoms())
def test_the_table_obeys_its_own_rules(places, shuffle):
    lat, lon = np.array(places).T
    sites = geopandas.GeoDataFrame({"lat_deg": lat, "lon_deg": lon}, geometry=geopandas.points_from_xy(lon, lat),
                                   crs="EPSG:4326")
    found, rules = add_legal_time(sites, 2027), clock_rules(add_legal_time(sites, 2027), 2027)
    assert rules["sites"].sum() == len(sites) and rules["sites"].is_monotonic_decreasing
    for zone, rule in zip(found["legal_zone"], found["clock_rule"]):
        assert zone in rules.loc[rule, "legal_zones"]
        assert offsets(zone, 2027).key == offsets(rules.loc[rule, "legal_zones"][0], 2027).key
    assert (found.loc[found["boundary_m"] < 2000, "confirm_zone"]).all()
    order = list(range(len(sites)))
    shuffle.shuffle(order)
    again = add_legal_time(sites.iloc[order], 2027).loc[found.index]
    # The map on which the nearest point is picked is centred on the mean position: equal but for rounding.
    assert np.allclose(again["boundary_m"], found["boundary_m"], rtol=1e-6, atol=1e-3)
    columns = ["legal_zone", "clock_rule", "zone_across", "confirm_zone"]
    assert (again[columns] == found[columns]).all(axis=None)


AIRPORTS = [(row["lat"], row["lon"]) for row in airportsdata.load("ICAO").values()]


@settings(max_examples=30, deadline=None)
@given(st.sampled_from(AIRPORTS))
def test_no_border_is_closer_than_the_distance_says(place):
    """Walking straight from a site in any direction, no other land zone is entered before that distance.

    Positions of airportsdata (PyPI, MIT); the zone along the way by the point look-up, a way of its own.
    """
    lat, lon = place
    site = geopandas.GeoDataFrame({"lat_deg": [lat], "lon_deg": [lon]}, geometry=geopandas.points_from_xy([lon], [lat]),
                                  crs="EPSG:4326")
    found = add_legal_time(site, 2027).iloc[0]
    assume(found["legal_zone_source"] == "boundary data" and not found["legal_zone"].startswith("Etc/"))
    own = zone_number_at([lat], [lon])[0]

    def zone_on_the_way(azimuth, metres):
        x, y, _ = GEOD.fwd(np.full(len(metres), lon), np.full(len(metres), lat), np.full(len(metres), azimuth), metres)
        return zone_number_at(y, x)

    steps = np.linspace(0, min(found["boundary_m"] * 0.99, 150_000), 41)
    for azimuth in range(0, 360, 10):
        way = zone_on_the_way(azimuth, steps)
        leaves = np.flatnonzero(way != own)
        if not len(leaves) or way[leaves[0]] < 0 or at_sea()[way[leaves[0]]]:
            continue
        # Another land zone lies ahead: narrow down to a metre where the own one ends.
        inside, outside = steps[leaves[0] - 1], steps[leaves[0]]
        while outside - inside > 1:
            middle = (inside + outside) / 2
            inside, outside = (middle, outside) if zone_on_the_way(azimuth, [middle])[0] == own else (inside, middle)
        beyond = zone_on_the_way(azimuth, [outside])[0]
        # Water between the two: not a border between them.
        assert beyond < 0 or at_sea()[beyond], (azimuth, inside, found["boundary_m"])
