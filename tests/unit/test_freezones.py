"""Zones with free borders: closed forms, brute force over borders, and no point of a zone beyond tolerance."""

import itertools
import runpy
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import shapely

from geozone.errors import InputError
from geozone.sharing.drift import drift_at, unwrapped_lon_deg
from geozone.trade.keypad import Keypad
from geozone.trade.setting import Setting
from geozone.zoning.freezones import free_zones_of
from geozone.zoning.groundcells import cut_ground, divided, serving
from geozone.zoning.leastborder import joined_up, least_border, neighbours
from geozone.zoning.outlines import border_km
from geozone.zoning.straightborders import border_lines, put_together
from geozone.zoning.weighedborders import along_km, straightened

_CASES = runpy.run_path(str(Path(__file__).parents[1] / "zonecases.py"))
units, basis_of, border_ground = (_CASES[name] for name in ("units", "basis_of", "border_ground"))


@pytest.fixture(scope="module")
def border():
    """The border example's ground."""
    ground, basis = border_ground()
    return ground, basis, free_zones_of(ground, basis, time_limit_s=40)


def near_borders(plan, rng, count):
    """Points all over the zones, and most of them near corners and along borders."""
    for zone in plan.zones:
        corners = shapely.get_coordinates(zone.outline)
        line = shapely.boundary(zone.outline)
        along = shapely.get_coordinates(shapely.line_interpolate_point(line, rng.uniform(0, line.length, count)))
        near = np.concatenate([corners + rng.normal(0, 0.01, corners.shape), along + rng.normal(0, 0.003, along.shape)])
        west, south, east, north = zone.outline.bounds
        anywhere = np.column_stack([rng.uniform(west, east, count), rng.uniform(south, north, count)])
        some = np.concatenate([near, anywhere])
        yield zone, some[shapely.contains_xy(zone.outline, some)]


def test_six_zones_for_the_ground_of_the_border_example(border):
    """Its 620 sites take four settings, its ground six, and whole outlines would leave two of them out."""
    ground, _, plan = border
    assert plan.by == "free" and plan.count == plan.lower_bound == 6 and plan.proved
    assert plan.certified and not plan.unserved and plan.undecided_km2 == 0
    whole = shapely.union_all(ground.geometry.to_numpy())
    outlines = [zone.outline for zone in plan.zones]
    # Nothing is left out and nothing is in two zones.
    assert shapely.union_all(outlines).symmetric_difference(whole).area < 1e-6 * whole.area
    assert sum(one.area for one in outlines) == pytest.approx(whole.area, rel=1e-6)


def test_no_zone_crosses_a_change_of_clock(border):
    ground, _, plan = border
    for zone in plan.zones:
        inside = [shapely.intersection(shape, zone.outline).area / zone.outline.area for shape in ground.geometry]
        clocks = {text for text, share in zip(ground["clock_rule_text"], inside) if share > 1e-6}
        assert len(clocks) == 1 and set(ground["clock_rule_text"].iloc[list(zone.pieces)]) == clocks


def test_borders_run_along_outlines_where_they_can(border):
    """More than the change of clock, which is an outline as well."""
    ground, _, plan = border
    clocks = {ground["legal_zone"].iloc[zone.pieces[0]]: [] for zone in plan.zones}
    for zone in plan.zones:
        clocks[ground["legal_zone"].iloc[zone.pieces[0]]].append(zone.outline)
    law = border_km([shapely.union_all(mine) for mine in clocks.values()])
    assert len(clocks) == 2 and 1.3 * law < along_km(plan, ground) < plan.border_km


def test_no_point_of_a_zone_is_beyond_tolerance(border):
    """Over 10,000 points, most of them near borders and corners."""
    _, basis, plan = border
    rng, tried = np.random.default_rng(7), 0
    for zone, at in near_borders(plan, rng, 3000):
        found = drift_at(at[:, 1], unwrapped_lon_deg(at[:, 0], zone.setting.legal_zone, 2027), zone.setting, basis)
        tried += len(at)
        assert (found.worst_dark_min <= basis.tolerance.dark_min).all() and (found.worst_excess_min <= basis.tolerance.excess_min).all()
        assert found.worst_dark_min.max() <= zone.worst_dark.minutes + 0.0011 and found.worst_excess_min.max() <= zone.worst_excess.minutes + 0.0011
    assert tried > 10_000


def test_borders_are_straight_and_listed(border):
    """From corner to corner: as listed, they are the zones' own outlines."""
    _, _, plan = border
    outlines = [zone.outline for zone in plan.zones]
    lines = border_lines(outlines)
    # The change of clock is the law's line, with all of its corners; the others are our own.
    own = [line for one, other, line in lines if plan.zones[one].setting.legal_zone == plan.zones[other].setting.legal_zone]
    assert 4 <= len(own) < len(lines) <= 16 and sum(map(len, own)) <= 40
    for one, other, corners in lines:
        line = shapely.LineString(corners)
        assert all(shapely.boundary(outlines[at]).buffer(2e-7).contains(line) for at in (one, other))


@pytest.mark.parametrize("parts, tolerance", [(1, (3.0, 6.0)), (2, (5.0, 5.0)), (3, (3.0, 6.0))])
def test_a_strip_along_a_parallel(parts, tolerance):
    """Closed form: 4 minutes a degree, so a strip of W degrees takes ceil(4 W / (dark + excess)) zones, away from exact multiples."""
    width = 0.98 * parts * sum(tolerance) / 4
    plan = free_zones_of(units(shapely.box(10, 40, 10 + width, 40.002)), basis_of(*tolerance, keypad=Keypad(0.02)), time_limit_s=20)
    assert plan.count == parts == plan.lower_bound and plan.certified and not plan.unserved


def test_a_strip_on_both_sides_of_a_clock_border_takes_a_zone_more():
    """1.9 degrees that one setting would serve are cut by the clock, wherever the border runs."""
    west, east = shapely.box(10, 40, 11.3, 40.05), shapely.box(11.3, 40, 11.9, 40.05)
    one = free_zones_of(units(west, east), basis_of(), time_limit_s=10)
    two = free_zones_of(units(west, east, zone=["Europe/Berlin", "Europe/Athens"]), basis_of(), time_limit_s=10)
    assert one.count == one.lower_bound == 1 and two.count == two.lower_bound == 2
    assert [zone.pieces for zone in one.zones] == [(0, 1)] and sorted(zone.pieces for zone in two.zones) == [(0,), (1,)]


def test_islands_of_one_zone():
    """Three islands near each other, and one that is far: a zone may be of several islands."""
    islands = shapely.MultiPolygon([shapely.box(x, 40, x + 0.2, 40.2) for x in (10, 10.4, 10.9, 14)])
    plan = free_zones_of(units(islands), basis_of(), time_limit_s=10)
    assert plan.count == plan.lower_bound == 2 and plan.certified
    assert sorted(len(shapely.get_parts(zone.outline)) for zone in plan.zones) == [1, 3] and plan.border_km == 0


def test_ground_that_no_setting_serves_is_said():
    """On a keypad of five degrees without offsets only what lies by a keyed meridian is within three minutes."""
    plan = free_zones_of(units(shapely.box(8, 39, 12, 41), names=["Plain"]), basis_of(3.0, 3.0, keypad=Keypad(5.0, 0)), time_limit_s=4)
    assert plan.count == 1 and plan.certified and plan.zones[0].setting.lon_deg == 10
    (left,) = plan.unserved
    whole = shapely.box(8, 39, 12, 41)
    served = plan.zones[0].outline.area / whole.area
    assert left.piece == 0 and left.proved and left.factor > 1 and 0.1 < served < 0.2  # a diamond
    total = plan.zones[0].area_km2 + left.area_km2
    assert total == pytest.approx(free_zones_of(units(whole), basis_of(60, 60), time_limit_s=1).zones[0].area_km2, rel=1e-4)
    east, west = shapely.bounds(plan.zones[0].outline)[[2, 0]]
    assert 10 - 0.75 <= west and east <= 10 + 0.75  # three minutes are three quarters of a degree


def test_white_nights_are_not_certified():
    plan = free_zones_of(units(shapely.box(10, 64.5, 10.3, 64.6)), basis_of(10.0, 10.0, shallow_deg=1.0), time_limit_s=10)
    assert plan.count >= 1 and not plan.certified and plan.undecided_km2 > 0


def test_refusals():
    with pytest.raises(InputError, match="no outlines"):
        free_zones_of(units(), basis_of())
    with pytest.raises(InputError, match="no surface"):
        free_zones_of(units(shapely.Polygon([(10, 50), (11, 51), (10, 50)])), basis_of())


def test_cells_are_the_ground():
    """A ring of land with a lake, and an islet: nothing of it is lost, and no cell has anything else."""
    ground = shapely.MultiPolygon([shapely.Point(10.03, 50.01).buffer(0.7).difference(shapely.Point(10.1, 50).buffer(0.3)), shapely.box(11, 50, 11.02, 50.013)])
    cells = cut_ground(ground, 0.1)
    assert shapely.area(cells.shapes).sum() == pytest.approx(ground.area, rel=1e-9)
    assert shapely.union_all(cells.shapes).symmetric_difference(ground).area < 1e-9
    assert set(cells.boxes[:, 2]) == {8} and (cells.boxes[:, :2] % 8 == 0).all()
    smaller = cells.quartered()
    assert shapely.area(smaller.shapes).sum() == pytest.approx(ground.area, rel=1e-9) and set(smaller.boxes[:, 2]) == {4}


def test_a_cell_is_served_only_where_all_of_it_is():
    """Against a grid of points in each cell, for settings near and far."""
    basis, ground = basis_of(2.0, 2.0), shapely.box(9.6, 49.6, 10.6, 50.4)
    settings = [Setting(50.0, 10.0, "Etc/UTC"), Setting(50.0, 10.4, "Etc/UTC", 1, 1), Setting(49.7, 10.2, "Etc/UTC", -1, 1), Setting(50, -80, "Etc/UTC")]
    cells = cut_ground(ground, 0.2)
    member = serving(cells, settings, basis)
    assert 0 < member[:, :3].sum() < member[:, :3].size and not member[:, 3].any()
    for shape, row in zip(cells.shapes, member, strict=True):
        west, south, east, north = shape.bounds
        lon, lat = (axis.ravel() for axis in np.meshgrid(np.linspace(west, east, 7), np.linspace(south, north, 7)))
        for setting, served in zip(settings, row, strict=True):
            found = drift_at(lat, lon, setting, basis)
            assert served == bool((found.worst_dark_min <= 2 - 0.001).all() and (found.worst_excess_min <= 2 - 0.001).all())
    done, members, left = divided(cells, settings, basis)
    assert members.any(axis=1).all() and len(members) == len(done.boxes)
    assert shapely.area(done.shapes).sum() + shapely.area(left.shapes).sum() == pytest.approx(ground.area, rel=1e-9)
    assert set(left.boxes[:, 2]) <= {8, 4, 2, 1} and not serving(left, settings, basis).any()


@pytest.mark.parametrize("seed", range(12))
def test_the_shortest_border_against_every_way_to_share_the_cells(seed):
    rng = np.random.default_rng(seed)
    cells = cut_ground(shapely.box(10, 50, 10.4, 50.3), 0.1)
    member = rng.random((12, 3)) < 0.55
    member[np.arange(12), rng.integers(0, 3, 12)] = True
    pairs, length = neighbours(cells)
    assert len(pairs) == 17  # of a board of 4 by 3
    # Sides along a meridian are 11.1 km, along a parallel as much times the cosine of the latitude.
    assert length.max() == pytest.approx(11.12, abs=0.01) and length.min() == pytest.approx(11.12 * np.cos(np.radians(50.2)), abs=0.02)
    of_cell, proved = least_border(member, pairs, length)

    def border(way):
        return length[way[pairs[:, 0]] != way[pairs[:, 1]]].sum()

    assert member[np.arange(12), of_cell].all()
    best = min(border(np.array(way)) for way in itertools.product(*(np.flatnonzero(row) for row in member)))
    assert border(of_cell) >= best - 1e-6 and (border(of_cell) == pytest.approx(best) if proved else True)
    joined = joined_up(of_cell, member, pairs, length)
    assert member[np.arange(12), joined].all()


def test_most_of_these_shortest_borders_are_proved():
    rng, proved = np.random.default_rng(3), 0
    cells = cut_ground(shapely.box(10, 50, 11, 51), 0.1)
    pairs, length = neighbours(cells)
    for _ in range(10):
        # As on real ground: what serves a cell mostly serves its neighbour.
        centres = rng.uniform(0, 1, (4, 2))
        at = shapely.get_coordinates(shapely.centroid(cells.shapes)) - [10, 50]
        member = np.abs(at[:, None] - centres[None]).sum(axis=2) < 0.6
        member[np.arange(len(at)), np.abs(at[:, None] - centres[None]).sum(axis=2).argmin(axis=1)] = True
        proved += least_border(member, pairs, length)[1]
    assert proved >= 9


def test_a_stray_is_given_to_its_neighbour_and_an_island_is_not():
    strip = shapely.MultiPolygon([shapely.box(10, 50, 10.5, 50.1), shapely.box(10.7, 50, 10.8, 50.1)])
    cells = cut_ground(strip, 0.1)
    order = np.argsort(cells.boxes[:, 0])
    cells = cells.chosen(order)
    pairs, length = neighbours(cells)
    assert len(pairs) == 4  # water lies between the strip and its island
    member = np.array([[1, 1], [1, 1], [1, 1], [1, 1], [1, 1], [1, 0]], dtype=bool)
    assert joined_up(np.array([0, 0, 1, 0, 0, 0]), member, pairs, length).tolist() in ([1, 1, 1, 0, 0, 0], [0, 0, 1, 1, 1, 0])
    assert joined_up(np.array([0, 0, 1, 1, 1, 0]), member, pairs, length).tolist() == [0, 0, 1, 1, 1, 0]


def test_steps_become_lines_and_nothing_gapes():
    """A staircase of cells of two sizes, the smaller ones beside it."""
    cells = cut_ground(shapely.box(10, 50, 10.8, 50.8), 0.1)
    middle = shapely.get_coordinates(shapely.centroid(cells.shapes))
    side = (middle[:, 0] - 10 > middle[:, 1] - 50).astype(int)
    one = cells.chosen(np.flatnonzero(side == 0)).quartered()
    both = replace(cells, boxes=np.concatenate([one.boxes, cells.boxes[side == 1]]), shapes=np.concatenate([one.shapes, cells.shapes[side == 1]]))
    stepped = put_together(both, np.repeat([0, 1], [len(one.boxes), int(side.sum())]))
    straight = straightened(stepped, 0.2, np.empty(0, dtype=object))
    assert straight is not None
    assert sum(len(shapely.get_coordinates(shape)) for shape in straight.values()) < 0.5 * sum(len(shapely.get_coordinates(shape)) for shape in stepped.values())
    assert shapely.union_all(list(straight.values())).symmetric_difference(shapely.box(10, 50, 10.8, 50.8)).area < 1e-12
    assert straight[0].intersection(straight[1]).area < 1e-12
