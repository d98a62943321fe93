"""Zones of whole outlines: the fewest against brute force, and no point of a zone beyond tolerance, by Skyfield too."""

import datetime as dt
import itertools
from dataclasses import replace
from importlib.resources import files

import geopandas as gpd
import numpy as np
import pytest
import shapely
from skyfield import almanac
from skyfield.api import load, load_file, wgs84

from geozone.errors import InputError
from geozone.jobs.examples import examples_folder
from geozone.jobs.job import read_job
from geozone.jobs.steps import place, read
from geozone.sharing.drift import drift_at, unwrapped_lon_deg
from geozone.trade.basis import Basis, DarkThreshold
from geozone.trade.keypad import Keypad
from geozone.trade.setting import Setting, Tolerance
from geozone.zoning.outlines import area_km2, border_km, outline_points
from geozone.zoning.parts import parts_needed, parts_of_all
from geozone.zoning.zones import ground_units, zones_of


def units(*shapes, zone="Etc/UTC", names=None):
    names = names or [f"D{i}" for i in range(len(shapes))]
    return gpd.GeoDataFrame({"area": names, "legal_zone": zone}, geometry=list(shapes), crs="EPSG:4326")


def basis_of(dark=3.0, excess=6.0, altitude=-4.0, year=2027, keypad=Keypad(), **more):
    return Basis(year, DarkThreshold(altitude), Tolerance(dark, excess, **more), keypad)


def inside(shape, count, rng):
    """Random points of a shape, half of them near its border."""
    west, south, east, north = shape.bounds
    found = np.empty((0, 2))
    while len(found) < count:
        some = np.column_stack([rng.uniform(west, east, 4 * count), rng.uniform(south, north, 4 * count)])
        found = np.concatenate([found, some[shapely.contains_xy(shape, some)]])
    line = shapely.boundary(shape)
    edge = shapely.get_coordinates(shapely.line_interpolate_point(line, rng.uniform(0, line.length, count // 2)))
    return np.concatenate([found[:count - len(edge)], edge])


@pytest.fixture(scope="module")
def border():
    """The border example's district, an invented one across a real border of legal time."""
    job = read_job(examples_folder() / "border" / "job.toml")
    found = read(job)
    ground = ground_units(place(found.sites, found.areas, job.basis.year).pieces, job.basis.year)
    return ground, replace(job.basis, tolerance=Tolerance(3.0, 6.0)), zones_of(ground, replace(job.basis, tolerance=Tolerance(3.0, 6.0)))


def test_the_districts_of_the_border_example(border):
    """Seven units: one outline is cut by the clock, into two and not three, for two of its zones keep one clock."""
    ground, basis, plan = border
    assert ground["area"].value_counts()["Corner"] == 2 and len(ground) == 7
    assert plan.count == 5 and plan.proved and plan.certified and plan.undecided_km2 == 0 and not plan.overlaps
    missed = {ground["area"][one.piece]: one for one in plan.unserved}
    assert set(missed) == {"Eastmark", "South Reach"} and all(one.proved for one in missed.values())
    assert (plan.zone_of_piece == "").sum() == 2


def test_no_point_of_a_zone_is_beyond_tolerance(border):
    ground, basis, plan = border
    rng = np.random.default_rng(5)
    for zone in plan.zones:
        at = inside(zone.outline, 2000, rng)
        found = drift_at(at[:, 1], unwrapped_lon_deg(at[:, 0], zone.setting.legal_zone, 2027), zone.setting, basis)
        assert (found.worst_dark_min <= basis.tolerance.dark_min).all() and (found.worst_excess_min <= basis.tolerance.excess_min).all()
        # What is said to be the worst is: nothing in it is worse, beyond what a time may stray between two points.
        assert found.worst_dark_min.max() <= zone.worst_dark.minutes + 0.0011 and found.worst_excess_min.max() <= zone.worst_excess.minutes + 0.0011
        assert zone.outline.buffer(1e-6).contains(shapely.Point(zone.worst_dark.lon_deg, zone.worst_dark.lat_deg))


def test_skyfield_finds_the_worst_minutes_of_a_zone(border):
    """Source: Skyfield's own search for risings and settings with DE421, at the zone's worst place and at its keyed one."""
    _, basis, plan = border
    scale, ephemeris = load.timescale(builtin=True), load_file(str(files("skyfield_data") / "data" / "de421.bsp"))

    def crossing(lat, lon, night, edge):
        """Dusk or dawn of the night [days]: the noon that it starts from is the first after its date's midnight by the sun."""
        find = almanac.risings_and_settings(ephemeris, ephemeris["Sun"], wgs84.latlon(lat, lon), horizon_degrees=basis.altitude_deg, radius_degrees=0.0)
        noon = dt.datetime.combine(dt.date.fromisoformat(night), dt.time(12)) - dt.timedelta(hours=lon / 15)
        span = [scale.utc(*(noon + dt.timedelta(hours=h)).timetuple()[:5]) for h in (0, 24)]
        at, rises = almanac.find_discrete(*span, find)
        return next(t.tt for t, up in zip(at, rises) if bool(up) == (edge == "dawn"))

    try:
        for zone in plan.zones[:3]:
            for worst, dusk_sign in ((zone.worst_dark, 1), (zone.worst_excess, -1)):
                late = (crossing(zone.setting.lat_deg, zone.setting.lon_deg, worst.night, worst.edge)
                        - crossing(worst.lat_deg, worst.lon_deg, worst.night, worst.edge)) * 1440
                late += zone.setting.dusk_offset_min if worst.edge == "dusk" else zone.setting.dawn_offset_min
                assert late * dusk_sign * (1 if worst.edge == "dusk" else -1) == pytest.approx(worst.minutes, abs=0.05)
    finally:
        ephemeris.close()


def test_by_area_against_brute_force_over_eight_districts():
    """Every way to share settings among eight districts on a coarse keypad without offsets: the smallest number that serves all."""
    basis = basis_of(6.0, 6.0, keypad=Keypad(0.5, 0))
    shapes = [shapely.box(x, y, x + 0.5, y + 0.4) for x, y in [(10, 50), (10.5, 50), (11, 50), (11.6, 50.1), (10, 50.5), (10.7, 50.6), (11.9, 50.6), (12.4, 50)]]
    plan = zones_of(units(*shapes), basis)
    served = []
    for lat, lon in itertools.product(np.arange(49.0, 52.01, 0.5), np.arange(8.0, 15.01, 0.5)):
        fits = frozenset(i for i, shape in enumerate(shapes) if _serves(shape, Setting(float(lat), float(lon), "Etc/UTC"), basis))
        served.append(fits)
    best = next(count for count in range(1, 9) for some in itertools.combinations({one for one in served if one}, count)
                if frozenset().union(*some) == frozenset(range(8)))
    assert plan.count == best and plan.lower_bound <= best and not plan.unserved and best > 1


def _serves(shape, setting, basis):
    """By a grid over all of the ground, not by the outline."""
    west, south, east, north = shape.bounds
    lon, lat = (one.ravel() for one in np.meshgrid(np.linspace(west, east, 12), np.linspace(south, north, 12)))
    found = drift_at(lat, lon, setting, basis)
    return bool((found.worst_dark_min <= basis.tolerance.dark_min - 0.002).all() and (found.worst_excess_min <= basis.tolerance.excess_min - 0.002).all())


@pytest.mark.parametrize("count", [1, 2, 3, 5])
def test_districts_in_a_row_need_what_the_closed_form_says(count):
    """A strip along a parallel needs 4 W / (dark + excess) zones with offsets, rounded up. Taken at 0.96 of a multiple: offsets are whole
    minutes and positions 0.4 minutes apart, so that a setting meets its middle to 0.1 minutes, and the strip has a width."""
    basis = basis_of(5.0, 5.0)
    each = 0.96 * 2.5
    shapes = [shapely.box(5 + i * each / 2, 45.0, 5 + (i + 1) * each / 2, 45.002) for i in range(2 * count)]
    plan = zones_of(units(*shapes), basis)
    assert plan.count == count and plan.proved and plan.certified


def test_what_lies_between_the_points_strays_by_no_more_than_is_said():
    """Slanted edges at several latitudes, thresholds and seasons: times at random points of the edge between the points of the outline."""
    rng = np.random.default_rng(3)
    for south, altitude in ((0.0, -4.0), (35.0, -4.0), (50.0, -6.0), (57.0, -4.0), (-45.0, -0.833)):
        shape = shapely.Polygon([(10, south), (12, south + 1.5), (12.5, south + 1.4), (10.2, south - 0.1)])
        basis = basis_of(altitude=altitude)
        lat, lon, certain = outline_points(shape, basis)
        assert certain
        setting = Setting(round(south + 0.7, 1), 11.0, "Etc/UTC")
        edge = shapely.LineString(shapely.get_coordinates(shape)[:2])
        at = shapely.get_coordinates(shapely.line_interpolate_point(edge, rng.uniform(0, edge.length, 1000)))
        mine = shapely.distance(shapely.points(np.column_stack([lon, lat])), edge) < 1e-9
        known = drift_at(lat[mine], lon[mine], setting, basis)
        found = drift_at(at[:, 1], at[:, 0], setting, basis)
        assert found.worst_dark_min.max() <= known.worst_dark_min.max() + 0.001
        assert found.worst_excess_min.max() <= known.worst_excess_min.max() + 0.001


@pytest.mark.parametrize("shape, more", [(shapely.box(10, 69, 11, 70), {}), (shapely.box(10, 60, 11, 60.5), {"shallow_deg": 1.0})])
def test_where_the_sun_grazes_or_nights_are_left_out_nothing_is_certified(shape, more):
    basis = basis_of(60.0, 60.0, **more)
    assert not outline_points(shape, basis)[2]
    plan = zones_of(units(shape), basis)
    assert not any(zone.certified for zone in plan.zones) and plan.undecided_km2 == pytest.approx(sum(zone.area_km2 for zone in plan.zones))


def test_sizes_on_the_ellipsoid():
    """One degree by one at the equator is 12,309 km2 and an edge of it 111.3 and 110.6 km (WGS 84 series, common tables)."""
    assert area_km2(shapely.box(0, 0, 1, 1)) == pytest.approx(12309, rel=1e-3)
    assert border_km([shapely.box(0, 0, 1, 1), shapely.box(1, 0, 2, 1), shapely.box(5, 5, 6, 6)]) == pytest.approx(110.57, rel=1e-3)
    assert border_km([shapely.box(0, 0, 1, 1), shapely.box(1, 1, 2, 2)]) == 0


def test_holes_islands_and_overlaps():
    """A hole's ground belongs to nobody; islands are one unit; outlines over each other are named, slivers are not."""
    ring = shapely.box(10, 50, 11, 51).difference(shapely.box(10.4, 50.4, 10.6, 50.6))
    islands = shapely.MultiPolygon([shapely.box(11.1, 50, 11.2, 50.1), shapely.box(11.4, 50, 11.5, 50.1)])
    over, sliver = shapely.box(10.9, 50, 11.05, 50.3), shapely.box(11.0 - 1e-6, 50.5, 11.05, 50.6)
    plan = zones_of(units(ring, islands, over, sliver, names=["ring", "islands", "over", "sliver"]), basis_of(10, 10))
    assert plan.count == 1 and plan.overlaps == (("ring", "over"),)
    assert not plan.zones[0].outline.contains(shapely.Point(10.5, 50.5))


@pytest.mark.parametrize("south", [88.95, -89.9])
def test_at_a_pole_a_longitude_says_nothing(south):
    with pytest.raises(InputError, match="reaches a pole"):
        zones_of(units(shapely.box(10, south, 11, south + 0.1)), basis_of())


@pytest.mark.parametrize("table", [units(shapely.Polygon()), units(shapely.box(0, 0, 0, 1)), units()])
def test_what_is_no_outline_is_refused(table):
    with pytest.raises(InputError, match="outline"):
        zones_of(table, basis_of())


def test_parts_of_an_outline_that_no_setting_serves():
    """A strip along a parallel of W degrees needs ceil(4 W / (dark + excess)) settings: 4 minutes of sun time a degree (closed form).

    Well inside the multiples: a keypad of tenths of a degree misses a part's middle by up to 0.2 minutes.
    """
    basis = Basis(2027, -4.0, Tolerance(2, 2))
    for degrees, needed in ((0.8, 1), (1.6, 2), (2.4, 3)):
        strip = shapely.box(140.2, -35.001, 140.2 + degrees, -35.0)
        found = parts_needed(strip, "Australia/Adelaide", basis, 20.0)
        assert found.at_least == found.of_points == needed and found.points > 100
    assert parts_of_all([strip, strip], ["Australia/Adelaide"] * 2, basis, 0.0) == [None, None]
