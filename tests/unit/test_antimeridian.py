"""Areas across the antimeridian: joined for computing, cut for files, and asked for the short way round."""

import geopandas as gpd
import pytest
import shapely

from geozone.places.antimeridian import cut, joined, span_deg
from geozone.places.lattice import solar_lattice
from geozone.places.zoneshapes import zone_polygons_round

FIJI = shapely.union_all([shapely.box(178, -18, 180, -16), shapely.box(-180, -18, -179, -16)])


def test_joined_and_cut_are_each_others_inverse():
    whole = joined(FIJI)
    assert whole.bounds == (178, -18, 181, -16) and len(shapely.get_parts(whole)) == 1
    assert shapely.equals(cut(whole), FIJI) and shapely.equals(cut(FIJI), FIJI)
    line = cut(shapely.LineString([(179, 0), (181, 2)]))
    assert line.length == pytest.approx(8 ** 0.5) and line.bounds == (-180, 0, 180, 2)


def test_what_is_wide_or_whole_stays():
    for shape in (shapely.box(10, 0, 20, 5), shapely.box(-180, -60, 180, 60), shapely.box(-100, 0, 100, 5)):
        assert joined(shape).equals(shape)


@pytest.mark.parametrize("lon, shapes, expected", [
    ([10, 20], [], (10, 20)), ([179, -179], [], (179, -179)), ([5], [], (5, 5)), ([-170, 170, 175], [], (170, -170)),
    ([179.95], [FIJI], (178, -179)), ([0], [shapely.box(-20, 0, 30, 1)], (-20, 30)),
    ([150], [shapely.box(100, 0, 160, 1), shapely.box(120, 0, 130, 1)], (100, 160)),
])
def test_the_shortest_stretch(lon, shapes, expected):
    assert span_deg(lon, shapes) == pytest.approx(expected)


def test_the_lattice_is_as_fine_there_as_elsewhere():
    there = solar_lattice(gpd.GeoDataFrame(geometry=[FIJI], crs=4326))
    here = solar_lattice(gpd.GeoDataFrame(geometry=[shapely.box(38, -18, 41, -16)], crs=4326))
    assert there.inside.sum() == pytest.approx(here.inside.sum(), rel=0.02)
    assert there.lon_deg.max() > 180


def test_zones_round_one_site_beside_the_antimeridian():
    from geozone.places.areas import hull_area

    sites = gpd.GeoDataFrame({"lat_deg": [-16.8], "lon_deg": [179.95]}, geometry=gpd.points_from_xy([179.95], [-16.8]), crs=4326)
    zones = zone_polygons_round(hull_area(sites, 10.0), sites)
    assert set(zones["legal_zone"]) == {"Pacific/Fiji"}
