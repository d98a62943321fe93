"""The solar lattice and its lines, on fields whose lines are known."""

from datetime import date, datetime
from zoneinfo import ZoneInfo

import geopandas as gpd
import numpy as np
import pytest
import shapely

from geozone.places.lattice import level_lines, solar_lattice
from geozone.sharing.drift import setting_drift
from geozone.sharing.spread import area_spread, drift_field, drift_lines, dusk_lines
from geozone.trade.basis import Basis
from geozone.trade.setting import Setting, Tolerance

AREA = gpd.GeoDataFrame({"area": ["one"]}, geometry=[shapely.box(138.0, -37.0, 143.0, -33.0)], crs="EPSG:4326")


def test_a_plane_has_straight_lines():
    lattice = solar_lattice(AREA)
    lat, lon = lattice.grid
    lines = level_lines(lattice, lon - 138.0, [1.0, 2.5, 99.0])
    assert lines["level"].tolist() == [1.0, 2.5]
    for level, line in zip(lines["level"], lines.geometry):
        points = shapely.get_coordinates(line)
        np.testing.assert_allclose(points[:, 0], 138.0 + level, atol=1e-9)
        assert line.bounds[1] == pytest.approx(-37.0) and line.bounds[3] == pytest.approx(-33.0)  # cut to the area


def test_a_line_through_grid_points_only_is_no_line():
    lattice = solar_lattice(AREA, 20)
    lat, lon = lattice.grid
    peak = np.full(lat.size, 0.0)
    peak[len(peak) // 2] = 1.0
    assert level_lines(lattice, peak, [1.0]).empty


def test_on_the_tolerance_line_the_drift_is_the_tolerance():
    lattice, tolerance, setting = solar_lattice(AREA), Tolerance(5, 10), Setting(-35.0, 140.4, "Australia/Adelaide")
    field = drift_field(lattice, setting, Basis(2027, -4.0, tolerance))
    lines = drift_lines(lattice, field, tolerance)
    line = lines.loc[lines["kind"] == "tolerance"].geometry.iloc[0]
    on = shapely.get_coordinates(shapely.line_interpolate_point(list(line.geoms)[0], np.linspace(0.02, 0.98, 40),
                                                                normalized=True))
    factor = setting_drift(lat_deg=on[:, 1], lon_deg=on[:, 0], setting=setting, year=2027, altitude_deg=-4.0,
                           tolerance=tolerance).factor(tolerance)
    # Between grid points 5 km apart the line is straight; the drift has creases there of a few seconds.
    np.testing.assert_allclose(factor, 1.0, atol=0.02)
    assert lines.loc[lines["kind"] == "tolerance", "label"].tolist() == ["tolerance: 5 min unlit / 10 min lit too long"]


def test_spread_over_one_parallel_is_four_minutes_a_degree():
    # Closed form: along a parallel dusk moves 4 minutes a degree, less the sun's own motion of 4 s a day.
    table = area_spread(lat_deg=[-35.0, -35.0], lon_deg=[138.0, 143.0], year=2027, altitude_deg=-4.0)
    np.testing.assert_allclose(table["dusk_spread_min"], 20.0, atol=0.05)
    np.testing.assert_allclose(table["dawn_spread_min"], 20.0, atol=0.05)
    assert (table["dusk_earliest_lon_deg"] == 143.0).all()
    assert table["night"].iloc[[0, -1]].tolist() == ["2027-01-01", "2027-12-31"]
    assert (table["points_without"] == 0).all()


def test_white_nights_are_counted_and_do_not_break_the_spread():
    table = area_spread(lat_deg=[60.0, 70.0], lon_deg=[20.0, 20.0], year=2027, altitude_deg=-6.0)
    midsummer = table.set_index("night").loc["2027-06-21"]
    assert midsummer["points_without"] == 1 and midsummer["dusk_spread_min"] == 0.0
    both = area_spread(lat_deg=[69.0, 70.0], lon_deg=[20.0, 20.0], year=2027, altitude_deg=-6.0).set_index("night")
    assert np.isnan(both.loc["2027-06-21", "dusk_spread_min"]) and both.loc["2027-06-21", "points_without"] == 2


def pieces(**shapes):
    zones = {"sa": "Australia/Adelaide", "vic": "Australia/Melbourne", "no": "Europe/Oslo", "fiji": "Pacific/Fiji", "samoa": "Pacific/Apia"}
    return gpd.GeoDataFrame({"legal_zone": [zones[name] for name in shapes]}, geometry=list(shapes.values()), crs="EPSG:4326")


def test_dusk_lines_carry_legal_time():
    lattice = solar_lattice(AREA)
    lines = dusk_lines(lattice, "2027-12-21", pieces=pieces(sa=AREA.geometry.iloc[0]), year=2027, altitude_deg=-4.0)
    assert len(lines) >= 4 and (lines["kind"] == "dusk").all()
    # Sunset at Adelaide in midsummer falls about half past eight, daylight-saving time (common knowledge, no source).
    assert all("20:20" <= label[:5] <= "21:20" and label[5:] == " on 21 Dec, UTC+10:30" for label in lines["label"])
    north = shapely.box(20, 69, 21, 70)
    none = dusk_lines(solar_lattice(AREA.set_geometry([north])), "2027-06-21", pieces=pieces(no=north), year=2027, altitude_deg=-6.0)
    assert none.empty


def test_each_dusk_line_is_in_the_legal_time_of_the_ground_it_lies_on():
    """Held against astral, which shares nothing with the lines; taken once through, it is good to some half minute."""
    from astral import Observer
    from astral.sun import dusk

    west, east = shapely.box(139.5, -36, 141, -34), shapely.box(141, -36, 142.5, -34)
    both = gpd.GeoDataFrame({"area": ["a"]}, geometry=[west.union(east)], crs="EPSG:4326")
    lines = dusk_lines(solar_lattice(both), "2027-12-22", pieces=pieces(sa=west, vic=east), year=2027, altitude_deg=-4.0)
    assert {label[5:] for label in lines["label"]} == {" on 22 Dec, UTC+10:30", " on 22 Dec, UTC+11:00"}
    for label, shape in zip(lines["label"], lines.geometry):
        here = "Australia/Adelaide" if label.endswith("10:30") else "Australia/Melbourne"
        assert shapely.within(shape, shapely.buffer(west if here.endswith("Adelaide") else east, 1e-9))
        for x, y in shapely.get_coordinates(shape)[::20]:
            seen = dusk(Observer(y, x), date=date(2027, 12, 22), depression=4, tzinfo=ZoneInfo(here))
            assert abs((seen - datetime(2027, 12, 22, int(label[:2]), int(label[3:5]), tzinfo=ZoneInfo(here))).total_seconds()) < 60


def test_dusk_lines_across_the_antimeridian_and_the_date_line():
    fiji, samoa = shapely.box(177, -18, 180, -16), shapely.box(-180, -18, -178, -16)
    lattice = solar_lattice(gpd.GeoDataFrame({"area": ["a"]}, geometry=[shapely.MultiPolygon([fiji, samoa])], crs="EPSG:4326"))
    lines = dusk_lines(lattice, "2027-06-21", pieces=pieces(fiji=fiji, samoa=samoa), year=2027, altitude_deg=-4.0)
    for label, shape in zip(lines["label"], lines.geometry):
        lon = shapely.get_coordinates(shape)[:, 0]
        assert lon.max() <= 180 + 1e-9 if label.endswith("on 21 Jun, UTC+12:00") else (label.endswith("on 21 Jun, UTC+13:00")
                                                                                       and lon.min() >= 180 - 1e-9)
    assert len({label[5:] for label in lines["label"]}) == 2


def test_a_dusk_after_midnight_carries_the_date_on_which_it_falls():
    north = shapely.box(24, 64.0, 26, 66.0)
    lines = dusk_lines(solar_lattice(AREA.set_geometry([north])), "2027-06-05", pieces=pieces(no=north), year=2027, altitude_deg=-0.833)
    days = {label[6:] for label in lines["label"] if label[:2] in ("22", "23")}, {label[6:] for label in lines["label"]
                                                                                  if label[:2] == "00"}
    assert days[0] | days[1] and days[0] <= {"on 5 Jun, UTC+02:00"} and days[1] <= {"on 6 Jun, UTC+02:00"}
