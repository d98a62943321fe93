"""Functions over tables take any points in any coordinate system, add legal time themselves, and change no result by it."""

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely

import geozone
from geozone import InputError, Setting, Tolerance
from geozone.places.located import column_of, located, table_in_degrees

LAT, LON = [-35.0, -34.2, -35.1], [139.0, 140.2, 141.4]
HERE = Setting(-35.0, 139.0, "Australia/Adelaide")
BASIS = geozone.Basis(2027, -4.0, Tolerance(4, 4))


@pytest.fixture(scope="module")
def plain():
    return gpd.GeoDataFrame({"lamps": [1, 2, 3]}, geometry=gpd.points_from_xy(LON, LAT), crs=4326, index=["c", "a", "b"])


@pytest.fixture(scope="module")
def timed(plain):
    return geozone.add_legal_time(plain.assign(lat_deg=LAT, lon_deg=LON), 2027)


@pytest.fixture(scope="module")
def district():
    return gpd.GeoDataFrame({"area": ["x"]}, geometry=[shapely.box(138.9, -35.5, 140.9, -34)], crs=4326)


@pytest.mark.parametrize("deed", [
    lambda sites: geozone.site_drift(sites, HERE, BASIS),
    lambda sites: geozone.clock_rules(sites, 2027),
    lambda sites: geozone.hull_area(sites),
    lambda sites: geozone.group_hulls(sites, ["A", "A", "B"]),
    lambda sites: geozone.site_hours(sites.assign(load_w=100.0), (geozone.Programme("p", (geozone.Event("on", "dusk"), geozone.Event("off", "dawn"))),),
                                     geozone.Conditions.of(BASIS)),
    lambda sites: pd.DataFrame({"group": geozone.groups_of(sites, BASIS).group_of_site}),
], ids=["site_drift", "clock_rules", "hull_area", "group_hulls", "site_hours", "groups_of"])
def test_a_bare_table_gives_what_a_prepared_one_gives(deed, plain, timed):
    pd.testing.assert_frame_equal(pd.DataFrame(deed(plain)), pd.DataFrame(deed(timed)))


def test_a_table_in_metres_gives_the_same_verdicts(plain, timed, district):
    """GDA2020 / MGA zone 54 and Web Mercator; pyproj's round trip is good to a millimetre."""
    for crs in (7854, 3857):
        metres = plain.to_crs(crs)
        found = geozone.site_drift(metres, HERE, BASIS)
        meant = geozone.site_drift(timed, HERE, BASIS)
        assert found["result"].tolist() == meant["result"].tolist() == ["within", "beyond", "other clock"]
        assert np.allclose(found["worst_dark_min"], meant["worst_dark_min"], atol=1e-5) and found.index.tolist() == ["c", "a", "b"]
        area, _ = geozone.sites_in_areas(metres, district.to_crs(3577))
        assert area.tolist() == ["x", "x", ""]
    lattice, other = geozone.solar_lattice(district, 20), geozone.solar_lattice(district.to_crs(3857), 20)
    assert np.allclose(lattice.points_within(), other.points_within(), atol=1e-7)


def test_a_prepared_table_is_used_as_it_is(timed):
    assert located(timed) is timed and table_in_degrees(timed, "sites") is timed


def test_a_legal_zone_of_the_list_is_kept(plain):
    found = geozone.site_drift(plain.assign(legal_zone="Australia/Adelaide"), HERE, BASIS)
    assert "other clock" not in found["result"].tolist()
    with pytest.raises(InputError, match="unknown legal zone"):
        geozone.site_drift(plain.assign(legal_zone="Adelade"), HERE, BASIS)


@pytest.mark.parametrize("spoil, what", [
    (lambda t: "sites.csv", "the sites are no table"),
    (lambda t: t.iloc[:0], "holds no sites"),
    (lambda t: pd.DataFrame(t.drop(columns="geometry")), "the sites have no geometry"),
    (lambda t: t.set_crs(None, allow_override=True), "no coordinate reference system"),
    (lambda t: t.set_geometry(t.to_crs(3857).buffer(5).to_crs(4326)), "a site is no point"),
    (lambda t: t.set_geometry([None, *t.geometry[1:]], crs=4326), "a site is no point"),
    (lambda t: t.to_crs(3857).set_crs(4326, allow_override=True), "not where their coordinate reference system says"),
])
def test_what_is_no_table_of_points_is_refused_in_four_parts(plain, spoil, what):
    for deed in (lambda t: geozone.site_drift(t, HERE, BASIS), lambda t: geozone.groups_of(t, BASIS), lambda t: geozone.add_legal_time(t, 2027)):
        with pytest.raises(InputError, match=what) as error:
            deed(spoil(plain))
        assert error.value.where and error.value.rule and error.value.next_step


def test_a_column_that_is_not_there_is_answered_with_the_nearest(plain):
    with pytest.raises(InputError, match="no such column") as error:
        geozone.groups_of(plain, BASIS, within="lamp")
    assert error.value.next_step == "did you mean lamps?"
    assert column_of(plain, "lamps", "sites").tolist() == [1, 2, 3]
    with pytest.raises(InputError, match="the areas have no such column"):
        geozone.sites_in_areas(plain, plain)
