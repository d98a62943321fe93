"""The public functions over GeoDataFrames, for people who script."""

import geopandas as gpd
import pandas as pd
import pytest
import shapely

import geozone


def test_every_public_name_is_there():
    for name in geozone.__all__:
        assert getattr(geozone, name) is not None
    for name in ("switch_times", "setting_drift", "site_drift", "read_sites", "best_shared_setting"):
        assert callable(getattr(geozone, name))
    with pytest.raises(AttributeError):
        geozone.no_such_name  # noqa: B018


def test_the_main_job_over_a_geodataframe():
    lat, lon = [-35.0, -34.2, -35.1], [139.0, 140.2, 141.4]
    sites = gpd.GeoDataFrame({"lat_deg": lat, "lon_deg": lon}, geometry=gpd.points_from_xy(lon, lat), crs=4326,
                             index=["c", "a", "b"])
    placed = geozone.add_legal_time(sites, 2027)
    assert placed["legal_zone"].tolist() == ["Australia/Adelaide", "Australia/Adelaide", "Australia/Melbourne"]
    setting = geozone.Setting(-35.0, 139.0, "Australia/Adelaide")
    judged = geozone.site_drift(placed, setting, geozone.Basis(2027, -4.0, geozone.Tolerance(4, 4)))
    assert judged.index.tolist() == ["c", "a", "b"]
    assert judged["result"].tolist() == ["within", "beyond", "other clock"]
    # Site a lies 1.2 degrees east, 4.8 minutes of dusk by longitude alone.
    assert judged.loc["a", "worst_dark_min"] > 4.8
    pd.testing.assert_frame_equal(judged.loc[["b"]], geozone.site_drift(
        placed.loc[["b"]], setting, geozone.Basis(2027, -4.0, geozone.Tolerance(4, 4))))
    area = gpd.GeoDataFrame({"area": ["x"]}, geometry=[shapely.box(139, -35.5, 141.5, -34)], crs=4326)
    lattice = geozone.solar_lattice(area, 20)
    inside_lat, inside_lon = lattice.points_within()
    by_night = geozone.area_spread(lat_deg=inside_lat, lon_deg=inside_lon, year=2027, altitude_deg=-4.0)
    assert len(by_night) == 365 and by_night["dusk_spread_min"].min() > 4 * 2.5 - 0.1
