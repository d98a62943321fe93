"""Borders and distances on hand-made outlines and at real places."""

import numpy as np
import pyproj
import pytest
import shapely

from geozone.places.zoneborders import Borders, borders_among, borders_near, distance_to
from geozone.places.zoneshapes import UNITS_PER_DEG, at_sea, zone_names


def rings(*outlines):
    """Segments and zone numbers of closed outlines given in degrees."""
    segments, zone = [], []
    for number, outline in enumerate(outlines):
        points = np.rint(np.array(outline + outline[:1]) * UNITS_PER_DEG).astype(np.int64)
        segments.append(np.hstack([points[:-1], points[1:]]))
        zone.append(np.full(len(outline), number))
    return np.concatenate(segments), np.concatenate(zone)


def looker(*outlines):
    shapes = [shapely.Polygon(outline) for outline in outlines]

    def zone_at(lat_deg, lon_deg):
        found = np.full(len(lat_deg), -1)
        for number, shape in reversed(list(enumerate(shapes))):
            found[shapely.contains_xy(shape, lon_deg, lat_deg)] = number
        return found
    return zone_at


def length_deg(borders):
    return np.hypot(*(borders.end_deg - borders.start_deg).T).sum()


WEST = [(0, 0), (1, 0), (1, 1), (0, 1)]
EAST = [(1, 0), (2, 0), (2, 1), (1, 1)]


def never(lat_deg, lon_deg):
    return np.full(len(lat_deg), -1)


def test_a_shared_edge_is_the_border_and_the_coasts_are_not():
    borders = borders_among(*rings(WEST, EAST), looker(WEST, EAST))
    assert length_deg(borders) == pytest.approx(1)
    assert set(borders.start_deg[:, 0]) | set(borders.end_deg[:, 0]) == {1.0}
    assert borders.zone_a.tolist() == [0] and borders.zone_b.tolist() == [1]


def test_twins_need_no_look():
    assert len(borders_among(*rings(WEST, EAST), never)) == 1


def test_a_corner_in_the_middle_of_the_neighbours_edge():
    south, north = [(1, 0), (2, 0), (2, .5), (1, .5)], [(1, .5), (2, .5), (2, 1), (1, 1)]
    borders = borders_among(*rings(WEST, south, north), looker(WEST, south, north))
    pair = {(a, b): length_deg(borders.where((borders.zone_a == a) & (borders.zone_b == b)))
            for a, b in {(0, 1), (0, 2), (1, 2)}}
    # The long edge of the western zone and the short ones opposite are the same line, seen from either side.
    assert pair[1, 2] == pytest.approx(1)
    assert pair[0, 1] == pytest.approx(1, abs=0.02) and pair[0, 2] == pytest.approx(1, abs=0.02)


@pytest.mark.parametrize("shift_deg", [1e-4, -1e-4])
def test_a_gap_or_overlap_of_11_metres_is_still_a_border(shift_deg):
    east = [(1 + shift_deg, 0), (2, 0), (2, 1), (1 + shift_deg, 1)]
    borders = borders_among(*rings(WEST, east), looker(WEST, east))
    assert length_deg(borders) == pytest.approx(2, abs=0.05)  # both edges, 11 m apart
    assert np.allclose(borders.start_deg[:, 0], 1, atol=2e-4)


def test_a_gap_of_a_kilometre_is_no_border():
    east = [(1.01, 0), (2, 0), (2, 1), (1.01, 1)]
    assert len(borders_among(*rings(WEST, east), looker(WEST, east))) == 0


def test_an_island_in_another_zone():
    hole = [(.4, .4), (.6, .4), (.6, .6), (.4, .6)]
    segments, zone = rings(WEST, hole, hole)
    zone[zone == 2] = 0  # the hole's ring belongs to the zone around it
    borders = borders_among(segments, zone, never)
    assert length_deg(borders) == pytest.approx(.8)


def test_nothing_among_nothing():
    assert len(borders_among(np.empty((0, 4), np.int64), np.empty(0, np.int64), never)) == 0


def line(*points):
    points = np.array(points, dtype=float)
    return Borders(points[:-1], points[1:], np.zeros(len(points) - 1, int), np.ones(len(points) - 1, int))


def test_distance_east_west_and_beyond_the_end():
    equator_deg_m = np.pi / 180 * 6378137.0
    meridian = line((10, -1), (10, 1))
    metres, a, b = distance_to(meridian, np.array([0, 0, 3, 0, 0]), np.array([10.01, 9, 10, 10, 13]), 200_000)
    assert metres[0] == pytest.approx(0.01 * equator_deg_m, rel=1e-6)
    assert metres[1] == pytest.approx(equator_deg_m, rel=1e-5)
    # Two degrees of meridian from 1 to 3 N on the ellipsoid, 221.15 km, is out of reach, 3 degrees east too.
    assert np.isinf(metres[[2, 4]]).all() and metres[3] == pytest.approx(0, abs=0.01)
    assert a.tolist() == [0, 0, -1, 0, -1] and b.tolist() == [1, 1, -1, 1, -1]


def test_distance_across_the_antimeridian():
    metres, _, _ = distance_to(line((-179.99, -20), (-179.99, -19)), np.array([-19.5]), np.array([179.99]), 200_000)
    assert metres[0] == pytest.approx(pyproj.Geod(ellps="WGS84").inv(179.99, -19.5, -179.99, -19.5)[2], rel=1e-5)


def test_distance_near_the_pole():
    metres, _, _ = distance_to(line((0, 89.5), (90, 89.5), (180, 89.5)), np.array([89.5]), np.array([-90.0]), 200_000)
    # The ends of the line are the nearest points: a quarter turn away, seen over the pole.
    assert metres[0] == pytest.approx(pyproj.Geod(ellps="WGS84").inv(-90, 89.5, 0, 89.5)[2], rel=1e-3)


def test_no_border_no_distance():
    none = line((0, 0), (1, 1)).where(np.zeros(1, bool))
    metres, a, _ = distance_to(none, np.array([0.0]), np.array([0.0]), 1000)
    assert np.isinf(metres).all() and a.tolist() == [-1]


def test_borders_around_a_site_reach_as_far_as_asked():
    around = borders_near(np.array([-35.0]), np.array([140.0]), 200_000)
    names = {tuple(sorted((str(zone_names()[a]), str(zone_names()[b]))))
             for a, b in zip(around.zone_a, around.zone_b) if not at_sea()[a] and not at_sea()[b]}
    assert ("Australia/Adelaide", "Australia/Melbourne") in names
    assert len(borders_near(np.array([]), np.array([]), 200_000)) == 0
