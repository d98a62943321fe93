"""Borders that would rather run along a line: cells split by it, what a kilometre counts for, and lines that stay where they are."""

import numpy as np
import pyproj
import pytest
import shapely

from geozone.zoning.groundcells import cut_ground
from geozone.zoning.leastborder import least_border, neighbours
from geozone.zoning.straightborders import put_together
from geozone.zoning.weighedborders import ALONG, lines_of, split_cells, straightened, weighed

GROUND = shapely.box(10, 50, 12, 51)
ROAD = shapely.LineString([(10.83, 49.9), (11.04, 50.37), (10.91, 50.66), (11.17, 51.1)])


@pytest.fixture(scope="module")
def cells():
    """Two settings, one for the west and one for the east, and a strip in the middle that both serve."""
    found = cut_ground(GROUND, 0.1)
    east = shapely.bounds(found.shapes)[:, 2]
    return found, np.column_stack([east <= 11.35, east > 10.7])


def test_parts_lie_on_one_side_and_nothing_is_lost(cells):
    found, member = cells
    parts, served = split_cells(found, member, np.array([ROAD], dtype=object))
    west = shapely.polygonize([shapely.union_all([GROUND.boundary, ROAD])]).geoms[0]
    share = shapely.area(shapely.intersection(parts.shapes, west)) / shapely.area(parts.shapes)
    assert len(parts.shapes) > len(found.shapes) and (np.minimum(share, 1 - share) < 1e-6).all()
    assert shapely.area(parts.shapes).sum() == pytest.approx(GROUND.area, rel=1e-12)
    # A part is served by what serves the cell in which it lies.
    cell = shapely.STRtree(found.shapes).query(shapely.point_on_surface(parts.shapes), predicate="within")[1]
    assert (served == member[cell]).all()


def test_what_a_side_counts_for_is_its_length_on_the_ground(cells):
    """Against pyproj's geodesics, which know the ellipsoid: the sphere of the weights is within half a per cent."""
    found, member = cells
    parts, _ = split_cells(found, member, np.array([ROAD], dtype=object))
    pairs, length = neighbours(parts)
    counted = weighed(parts, pairs, length, np.array([ROAD], dtype=object))
    geod, same = pyproj.Geod(ellps="WGS84"), (parts.boxes[pairs[:, 0]] == parts.boxes[pairs[:, 1]]).all(axis=1)
    true = [geod.geometry_length(shapely.intersection(*parts.shapes[pair])) / 1e3 for pair in pairs]
    assert same.sum() > 10 and counted == pytest.approx(np.where(same, ALONG, 1.0) * true, rel=0.005)
    on_road = counted[same].sum() / ALONG
    assert on_road == pytest.approx(geod.geometry_length(shapely.intersection(ROAD, GROUND)) / 1e3, rel=0.005)


def test_sides_of_cells_on_a_line_count_less_too(cells):
    found, member = cells
    meridian = np.array([shapely.LineString([(11.1, 49), (11.1, 52)])], dtype=object)
    parts, _ = split_cells(found, member, meridian)
    pairs, length = neighbours(parts)
    counted = weighed(parts, pairs, length, meridian)
    middle = shapely.get_coordinates(shapely.centroid(shapely.intersection(parts.shapes[pairs[:, 0]], parts.shapes[pairs[:, 1]])))
    on = np.abs(middle[:, 0] - 11.1) < 1e-9
    assert on.sum() == 10 and counted == pytest.approx(np.where(on, ALONG, 1.0) * length)


def zones_of(found, member, lines):
    parts, served = split_cells(found, member, lines)
    pairs, length = neighbours(parts)
    of_cell, proved = least_border(served, pairs, weighed(parts, pairs, length, lines))
    assert proved
    return put_together(parts, of_cell)


def test_the_border_follows_the_road_and_stays_on_it(cells):
    found, member = cells
    road = np.array([ROAD], dtype=object)
    for shapes in (zones_of(found, member, road), straightened(zones_of(found, member, road), 0.2, road)):
        border = shapely.intersection(shapely.boundary(shapes[0]), shapely.boundary(shapes[1]), grid_size=1e-7)
        assert border.length == pytest.approx(shapely.intersection(ROAD, GROUND).length, rel=1e-3) and ROAD.buffer(1e-6).contains(border)
        assert shapes[0].area + shapes[1].area == pytest.approx(GROUND.area, rel=1e-9)
    # Its corners are the road's, and two at the edges.
    line = shapely.line_merge(border)
    assert len(shapely.get_coordinates(line)) == len(ROAD.coords)


def test_without_the_road_it_is_straight(cells):
    found, member = cells
    shapes = straightened(zones_of(found, member, np.empty(0, dtype=object)), 0.2, np.empty(0, dtype=object))
    assert shapely.intersection(shapely.boundary(shapes[0]), shapely.boundary(shapes[1]), grid_size=1e-7).length == pytest.approx(1.0, abs=1e-6)


def test_an_island_and_a_hole_stay_what_they_are():
    """A ring of cells within others: a border that meets no other one."""
    found = cut_ground(shapely.box(0, 0, 1, 1), 0.1)
    middle = shapely.get_coordinates(shapely.centroid(found.shapes))
    shapes = put_together(found, (np.abs(middle - 0.5).max(axis=1) < 0.2).astype(int))
    for road in (np.empty(0, dtype=object), lines_of([shapely.box(0.3, 0.2, 0.6, 0.6)])):
        straight = straightened(shapes, 0.05, road)
        assert straight is not None and len(straight[0].interiors) == 1 and straight[1].area == pytest.approx(0.16)
        assert straight[0].area + straight[1].area == pytest.approx(1.0)


def test_lines_that_would_cross_are_not_made():
    """A bay as wide as a cell: steps of half a degree would cut its ends off from each other."""
    found = cut_ground(shapely.box(0, 0, 1, 1), 0.1)
    at = shapely.get_coordinates(shapely.centroid(found.shapes))
    shapes = put_together(found, ((at[:, 1] > 0.5) ^ ((np.abs(at[:, 0] - 0.55) < 0.06) & (at[:, 1] < 0.95))).astype(int))
    none = np.empty(0, dtype=object)
    for step in (2.0, 0.2, 0.05):
        straight = straightened(shapes, step, none)
        if straight is not None:
            assert straight[0].intersection(straight[1]).area < 1e-12 and straight[0].area + straight[1].area == pytest.approx(1.0)
    assert straight is not None
