import numpy as np
import pyproj
import pytest

from geozone.errors import InputError
from geozone.places.crssearch import plausible_crs
from geozone.places.projections import as_crs, looks_projected, outside_area, to_lon_lat


# Places and their grid references computed with pyproj, the general library; the question is whether the right
# system is among the few suggested.
@pytest.mark.parametrize("code, lon, lat", [(28354, 141.5, -35.2), (7854, 140.0, -34.0), (27700, -1.5, 52.5), (2154, 2.35, 48.85),
                                            (28992, 5.1, 52.1), (2056, 7.45, 46.95), (25832, 9.0, 51.0), (2193, 172.6, -43.5),
                                            (31468, 11.6, 48.1), (3006, 15.0, 60.0)])
def test_the_right_system_is_suggested(code, lon, lat):
    x, y = pyproj.Transformer.from_crs(4326, code, always_xy=True).transform([lon, lon + 0.05], [lat, lat + 0.05])
    fits = plausible_crs(np.array(x), np.array(y))
    assert any(f"EPSG:{code}" in text for text in fits) and 1 <= len(fits) <= 5, fits


def test_numbers_of_no_system():
    assert plausible_crs(np.array([np.nan]), np.array([np.nan])) == []


def test_looks_projected():
    assert looks_projected(np.array([540000.0, np.nan]), np.array([6100000.0, 1]))
    assert not looks_projected(np.array([141.0, 999]), np.array([-35.0, 1])) and not looks_projected(np.array([]), np.array([]))


@pytest.mark.parametrize("bad", ["EPSG:0", "nonsense", "EPSG:5773", "EPSG:4978"])
def test_no_map_system(bad):
    with pytest.raises(InputError):
        as_crs(bad, "a.csv")


def test_codes_as_people_write_them():
    assert as_crs("28354", "a") == as_crs("epsg:28354", "a") == as_crs(28354, "a")
    assert as_crs("EPSG:9518", "a").is_geographic  # WGS 84 with a height: the height is dropped


def test_area_of_use():
    crs = as_crs("EPSG:28354", "a")
    assert outside_area(np.array([141.0, 12, np.nan]), np.array([-35.0, 48, 0]), crs).tolist() == [False, True, True]
    across = as_crs("EPSG:3832", "a")  # WGS 84 / PDC Mercator, its area crosses the antimeridian
    assert not outside_area(np.array([179.0, -179]), np.array([-17.0, -17]), across).any()


def test_degrees_pass_unchanged():
    lon, lat = to_lon_lat(np.array([141.0]), np.array([-35.0]), as_crs("EPSG:4326", "a"))
    assert (lon[0], lat[0]) == (141, -35)
