"""Shared borders and cut areas on hand-made squares under the names of real zones."""

import geopandas
import numpy as np
import pytest
import shapely

from geozone.places.zonepieces import crossed_areas, cut_areas, zone_boundaries
from geozone.places.zoneshapes import zone_polygons


def table(column, shapes):
    return geopandas.GeoDataFrame({column: list(shapes)}, geometry=list(shapes.values()), crs="EPSG:4326")


# The real border between the two runs near 140.96 E; these squares meet at 141.
ZONES = table("legal_zone", {"Australia/Adelaide": shapely.box(139, -38, 141, -34),
                             "Australia/Melbourne": shapely.box(141, -38, 144, -34)})


def areas(**shapes):
    return table("area", shapes)


def test_border_of_two_squares():
    border = zone_boundaries(ZONES, 2027)
    assert border[["zone_a", "zone_b"]].values.tolist() == [["Australia/Adelaide", "Australia/Melbourne"]]
    assert border.geometry.iloc[0].geom_type == "MultiLineString"
    assert shapely.equals(border.geometry.iloc[0], shapely.MultiLineString([[(141, -38), (141, -34)]]))
    assert border["same_clock"].tolist() == [False] and border["same_clock"].dtype == bool


def test_same_clock_is_by_offsets_and_year():
    both = table("legal_zone", {"Australia/Melbourne": shapely.box(0, 0, 1, 1), "Australia/Sydney": shapely.box(1, 0, 2, 1)})
    assert zone_boundaries(both, 2027)["same_clock"].tolist() == [True]
    # British Columbia and Yukon had one clock until autumn 2020, and have one again from 2027 on (tz database 2026b).
    north = table("legal_zone", {"America/Vancouver": shapely.box(0, 0, 1, 1),
                                 "America/Whitehorse": shapely.box(0, 1, 1, 2)})
    assert [zone_boundaries(north, year)["same_clock"].item() for year in (2019, 2023, 2027)] == [True, False, True]


def test_no_zones_no_borders():
    none = zone_boundaries(ZONES.iloc[:0], 2027)
    assert len(none) == 0 and list(none.columns) == ["zone_a", "zone_b", "same_clock", "geometry"]
    assert len(zone_boundaries(ZONES.iloc[:1], 2027)) == 0


def test_real_borders_run_where_both_outlines_do():
    zones = zone_polygons((139, -38, 143, -33))
    border = zone_boundaries(zones, 2027).set_index(["zone_a", "zone_b"])
    assert ("Australia/Adelaide", "Australia/Melbourne") in border.index
    outline = dict(zip(zones["legal_zone"], zones.geometry.boundary))
    for (a, b), line in border.geometry.items():
        points = shapely.points(shapely.get_coordinates(line))
        # 30 m, how far the search looks aside, is 0.0003 degrees.
        assert shapely.distance(points, outline[a]).max() < 4e-4
        assert shapely.distance(points, outline[b]).max() < 4e-4


def test_an_area_across_the_border_is_cut():
    pieces = cut_areas(areas(across=shapely.box(140, -36, 142, -35), west=shapely.box(139.5, -36, 140, -35)), ZONES, 2027)
    assert pieces[["area", "legal_zone"]].values.tolist() == [["across", "Australia/Adelaide"],
                                                             ["across", "Australia/Melbourne"],
                                                             ["west", "Australia/Adelaide"]]
    assert pieces["share"].tolist() == pytest.approx([.5, .5, 1])
    assert pieces["clock_rule_text"].tolist()[:2] == ["UTC+09:30, +10:30 to 4 Apr and from 3 Oct",
                                                      "UTC+10:00, +11:00 to 4 Apr and from 3 Oct"]
    assert shapely.equals(pieces.geometry.iloc[1], shapely.box(141, -36, 142, -35))
    assert pieces.crs == "EPSG:4326"


def test_shares_are_surfaces_on_the_ellipsoid_not_square_degrees():
    zones = table("legal_zone", {"Europe/Oslo": shapely.box(0, 60, 10, 70), "Europe/Stockholm": shapely.box(0, 50, 10, 60)})
    share = cut_areas(areas(tall=shapely.box(1, 50, 9, 70)), zones, 2027)["share"]
    # Sphere: the surface between two parallels goes with the difference of their sines; on the ellipsoid 0.3 % off.
    sines = np.sin(np.radians([50, 60, 70]))
    assert share.iloc[0] == pytest.approx((sines[1] - sines[0]) / (sines[2] - sines[0]), abs=0.003)


def test_a_strip_along_the_border_is_a_difference_of_outlines():
    # 0.001 degrees is 91 m at 35 S.
    pieces = cut_areas(areas(west=shapely.box(140, -36, 141.001, -35)), ZONES, 2027)
    assert pieces["legal_zone"].tolist() == ["Australia/Adelaide"] and pieces["share"].tolist() == [1]
    assert shapely.equals(pieces.geometry.iloc[0], shapely.box(140, -36, 141.001, -35))


def test_a_strip_of_a_kilometre_is_the_width_of_a_pen_on_a_generalised_map_one_of_two_is_not():
    # 0.011 degrees is 1.0 km at 35.5 S: 1.1 % of the area. 0.022 degrees: 2.0 km, 2.2 %: too wide for a sliver.
    assert len(cut_areas(areas(west=shapely.box(140, -36, 141.011, -35)), ZONES, 2027)) == 1
    assert len(cut_areas(areas(west=shapely.box(140, -36, 141.022, -35)), ZONES, 2027)) == 2


def test_a_strip_of_a_kilometre_counts_where_it_is_much_of_the_area():
    # 12 by 11 km with 1 km of it beyond the border: 8 %.
    assert cut_areas(areas(town=shapely.box(140.88, -35.1, 141.011, -35)), ZONES, 2027)["share"].round(2).tolist() == [.92, .08]


def test_many_slivers_of_one_clock_count_together():
    # Teeth along the border, 1 km wide and 5 km apart: 1.1 %, told as one; twice as deep and dense they are 4.5 %.
    def toothed(deep, count):
        teeth = [shapely.box(141, south, 141 + deep, south + 0.009) for south in np.linspace(-36, -35.02, count)]
        return shapely.union_all([shapely.box(140, -36, 141, -35), *teeth])
    assert len(cut_areas(areas(few=toothed(.05, 20)), ZONES, 2027)) == 1
    assert len(cut_areas(areas(many=toothed(.1, 50)), ZONES, 2027)) == 2


def test_crossed_are_areas_whose_clock_changes():
    three = table("legal_zone", {**dict(zip(ZONES["legal_zone"], ZONES.geometry)), "Australia/Sydney": shapely.box(141, -34, 144, -33)})
    pieces = cut_areas(areas(both=shapely.box(140, -36, 142, -35), one_clock=shapely.box(142, -34.5, 143, -33.5)), three, 2027)
    assert pieces["area"].tolist() == ["both", "both", "one_clock", "one_clock"]
    assert crossed_areas(pieces, 2027) == ["both"]


def test_a_narrow_area_is_cut_all_the_same():
    # A road, 20 m wide and 40 km long, with a tenth of it beyond the border.
    road = shapely.box(140.64, -35.0001, 141.04, -35)
    assert cut_areas(areas(road=road), ZONES, 2027)["share"].tolist() == pytest.approx([.9, .1])


def test_a_corner_below_both_limits_is_ignored():
    # 220 m x 180 m of 111 km x 91 km: 0.04 km2.
    big = shapely.union(shapely.box(140, -36, 141, -35), shapely.box(140.9, -35.5, 141.002, -35.498))
    assert len(cut_areas(areas(big=big), ZONES, 2027)) == 1


def test_pieces_make_up_the_area():
    outline = shapely.Point(141, -36).buffer(1)
    pieces = cut_areas(areas(disc=outline), ZONES, 2027)
    assert shapely.area(shapely.symmetric_difference(shapely.union_all(pieces.geometry.to_numpy()), outline)) < 1e-9
    assert pieces["share"].sum() == pytest.approx(1)


def test_water_goes_with_the_nearest_piece():
    coast = areas(coast=shapely.box(140.5, -39, 141.5, -37))
    pieces = cut_areas(coast, ZONES, 2027)
    assert len(pieces) == 2
    assert shapely.area(shapely.symmetric_difference(shapely.union_all(pieces.geometry.to_numpy()),
                                                     coast.geometry.iloc[0])) < 1e-9


def test_disputed_land_is_given_once():
    # Both squares claim 140.5-141; the point look-up says Adelaide there.
    overlapping = table("legal_zone", {"Australia/Adelaide": shapely.box(139, -36, 140.9, -35),
                                       "Australia/Melbourne": shapely.box(140.5, -36, 144, -35)})
    pieces = cut_areas(areas(both=shapely.box(140, -35.9, 142, -35.1)), overlapping, 2027).set_index("legal_zone")
    assert pieces.geometry["Australia/Adelaide"].bounds[2] == pytest.approx(140.9)
    assert pieces.geometry["Australia/Melbourne"].bounds[0] == pytest.approx(140.9)


def test_an_area_at_sea_gets_the_look_ups_zone():
    pieces = cut_areas(areas(rig=shapely.box(-30, -5, -29, -4)), ZONES.iloc[:0], 2027)
    assert pieces["legal_zone"].tolist() == ["Etc/GMT+2"] and pieces["share"].tolist() == [1]


def test_no_areas():
    assert len(cut_areas(areas(x=shapely.box(140, -36, 141, -35)).iloc[:0], ZONES, 2027)) == 0


def test_a_real_district_on_the_river():
    zones = zone_polygons((140, -37, 142.5, -33))
    pieces = cut_areas(areas(corner=shapely.box(140.5, -34.5, 141.5, -33.5)), zones, 2027)
    assert set(pieces["legal_zone"]) == {"Australia/Adelaide", "Australia/Melbourne", "Australia/Sydney"}
    assert pieces["share"].is_monotonic_decreasing and pieces["share"].sum() == pytest.approx(1)
