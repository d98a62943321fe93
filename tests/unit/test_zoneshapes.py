"""The boundary data as it comes from the package."""

import numpy as np
import pytest
import shapely
import timezonefinder_data

from geozone.places.zoneshapes import (
    UNITS_PER_DEG,
    at_sea,
    boundary_version,
    outlines_in,
    polygons_in,
    rings_of,
    zone_names,
    zone_number_at,
    zone_polygons,
)

SOUTH_EAST = (138.0, -38.0, 144.0, -33.0)


@pytest.fixture(scope="module")
def south_east():
    return zone_polygons(SOUTH_EAST)


def test_version_is_the_datas_own_stamp():
    assert boundary_version() == (timezonefinder_data.DATA_DIR / "data_version.txt").read_text().strip()


def test_sea_zones_are_told_from_land():
    names = zone_names()
    assert at_sea()[list(names).index("Etc/GMT-10")] and not at_sea()[list(names).index("Australia/Sydney")]


def test_zone_numbers_at_places():
    found = zone_names()[zone_number_at([-34.93, -37.81, 0.0], [138.60, 144.96, -30.0])]
    assert found.tolist() == ["Australia/Adelaide", "Australia/Melbourne", "Etc/GMT+2"]


def test_longitudes_beyond_180_are_wrapped():
    assert zone_number_at([-13.8], [188.2])[0] == zone_number_at([-13.8], [-171.8])[0]
    assert zone_number_at([91.0], [0.0])[0] == zone_number_at([90.0], [0.0])[0]


def test_rings_are_closed_and_lie_in_their_box():
    found = list(outlines_in(np.array(SOUTH_EAST) * UNITS_PER_DEG, sea=False))
    assert len(found) > 2
    for _, outline, box in found:
        for ring in rings_of(outline):
            assert (ring[0] == ring[-1]).all()
            assert (ring.min(axis=0) >= box[:2]).all() and (ring.max(axis=0) <= box[2:]).all()


def test_polygons_are_clipped_valid_land_zones(south_east):
    assert south_east["legal_zone"].tolist() == ["Australia/Adelaide", "Australia/Melbourne", "Australia/Sydney"]
    assert south_east.geometry.is_valid.all() and south_east.crs == "EPSG:4326"
    w, s, e, n = south_east.total_bounds
    assert w >= 138 and s >= -38 and e <= 144 and n <= -33


def test_polygons_agree_with_the_point_look_up(south_east):
    rng = np.random.default_rng(7)
    lon, lat = rng.uniform(138, 144, 2000), rng.uniform(-38, -33, 2000)
    names = zone_names()[zone_number_at(lat, lon)]
    for zone, shape in zip(south_east["legal_zone"], south_east.geometry):
        assert (shapely.contains_xy(shape, lon, lat) == (names == zone)).all()


def test_land_is_covered_once(south_east):
    overlap = shapely.area(shapely.intersection(south_east.geometry.iloc[0], south_east.geometry.iloc[1]))
    assert overlap == pytest.approx(0, abs=1e-9)


def test_simplified_outlines_are_lighter_and_still_meet(south_east):
    light = zone_polygons(SOUTH_EAST, simplify_deg=0.002)
    count = [int(shapely.get_num_coordinates(table.geometry.to_numpy()).sum()) for table in (light, south_east)]
    assert count[0] < count[1] / 5
    assert light["legal_zone"].tolist() == south_east["legal_zone"].tolist()
    gap = shapely.area(shapely.symmetric_difference(shapely.union_all(light.geometry.to_numpy()),
                                                    shapely.union_all(south_east.geometry.to_numpy())))
    assert gap < 0.01  # along the coast only, out of 30 square degrees


def test_a_rectangle_across_the_antimeridian():
    for bounds in ((170, -25, -165, -10), (170, -25, 195, -10), (-190, -25, -165, -10)):
        found = zone_polygons(bounds)
        assert {"Pacific/Fiji", "Pacific/Apia", "Pacific/Tongatapu"} <= set(found["legal_zone"])
        west, _, east, _ = found.total_bounds
        assert -180 <= west and east <= 180
        inside = shapely.get_coordinates(found.geometry.to_numpy())[:, 0]
        assert ((inside >= 170) | (inside <= -165)).all()


def test_open_sea_has_no_land_zone():
    found = zone_polygons((-30, -5, -28, -3))
    assert len(found) == 0 and list(found.columns) == ["legal_zone", "geometry"]


def test_polygons_in_sorts_out_the_rest():
    mixed = shapely.GeometryCollection([shapely.box(0, 0, 1, 1), shapely.Point(3, 3), shapely.LineString([(0, 0), (5, 5)]),
                                        shapely.MultiPolygon([shapely.box(2, 2, 3, 3), shapely.box(4, 4, 5, 5)])])
    assert len(polygons_in(mixed)) == 3
    assert polygons_in(shapely.Polygon()) == []


def test_a_wide_map_is_thinned_first_and_its_borders_stay_shared():
    from geozone.places.zonepieces import zone_boundaries

    bounds = (5.0, 44.0, 20.0, 54.0)
    fine, wide = zone_polygons(bounds, simplify_deg=0.0005), zone_polygons(bounds, simplify_deg=0.01)
    assert shapely.is_valid(wide.geometry.to_numpy()).all()
    assert shapely.get_num_coordinates(wide.geometry).sum() < 0.2 * shapely.get_num_coordinates(fine.geometry).sum()
    size = [dict(zip(zones["legal_zone"], shapely.area(zones.geometry.to_numpy()))) for zones in (fine, wide)]
    large = [name for name, square_deg in size[0].items() if square_deg > 1.0]
    assert len(large) >= 8 and all(abs(size[1][name] / size[0][name] - 1.0) < 0.005 for name in large)
    # No more overlap than the data has where claims do, and no strip of no man's land.
    overlap = [sum(of.values()) - shapely.union_all(zones.geometry.to_numpy()).area for of, zones in zip(size, (fine, wide))]
    assert abs(overlap[1] - overlap[0]) < 1e-4 * sum(size[0].values())
    assert sum(size[1].values()) == pytest.approx(sum(size[0].values()), rel=1e-3)
    pairs = {(row.zone_a, row.zone_b): row.geometry for row in zone_boundaries(wide, 2027).itertuples()}
    long = [row for row in zone_boundaries(fine, 2027).itertuples() if row.geometry.length > 1.0]
    assert len(long) > 20
    for row in long:
        along = shapely.points(shapely.get_coordinates(shapely.segmentize(row.geometry, 0.005)))
        away = shapely.distance(along, pairs[row.zone_a, row.zone_b])
        # Half a raster step and what is drawn straight; enclaves along a railway are smaller than that.
        assert np.mean(away > 0.02) < 0.02 and away.max() < 0.03, (row.zone_a, row.zone_b)
